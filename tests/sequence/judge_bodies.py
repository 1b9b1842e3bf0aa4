"""The judge's bodies: parts where they stand, what they pass through, keys and irons; do they cross?

A part on its way is the hull of each forward triangle with itself moved on, all united: slow and plain.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Hashable, Iterable
from typing import Any

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

from trysquare.catalogue.keys import hex_key
from trysquare.ground.placement import Array, facing
from trysquare.ground.tolerances import CONTACT_MM, OVERLAP_MM3
from trysquare.machine.values import Machine
from trysquare.solid.shapes import makes_solid, solid_of

Body = Manifold


class Bodies:
    """Bodies in the machine frame, and whether they cross; `plain` asks everything anew each time."""

    def __init__(self, machine: Machine, *, plain: bool = False) -> None:
        self.machine, self.plain = machine, plain
        self.body: dict[str, Body] = {}
        self.mesh: dict[str, tuple[Array, Any]] = {}
        for part in machine.placed:
            if makes_solid(part.type):
                solid = solid_of(part.type, machine.folder)
                self.body[part.id] = solid.manifold.transform(part.placement.matrix())
                self.mesh[part.id] = (part.placement.point(solid.points_mm), solid.triangles)
        self.box = {
            name: np.array([points.min(axis=0), points.max(axis=0)])
            for name, (points, _) in self.mesh.items()
        }
        low = np.array([box[0] for box in self.box.values()]).min(axis=0)
        high = np.array([box[1] for box in self.box.values()]).max(axis=0)
        self.far_mm = float(math.ceil(np.linalg.norm(high - low) / 50.0) * 50.0)
        self._made: dict[Hashable, Body] = {}
        self._crosses: dict[tuple[Hashable, str], bool] = {}

    def bulk(self, name: str) -> float:
        """Less for a larger part, by its box."""
        return -float(np.prod(self.box[name][1] - self.box[name][0])) if name in self.box else 0.0

    def sweep(self, name: str, way: Array, far_mm: float, begin: Array | None = None) -> Hashable | None:
        """What a part passes through on a straight way beyond its own place; from `begin` on with its place
        there. None for a part without a solid."""
        if name not in self.mesh:
            return None
        points, triangles = self.mesh[name]
        way = way / np.linalg.norm(way)
        start = np.zeros(3) if begin is None else begin
        key = ("sweep", name, tuple(np.round(way, 6)), round(far_mm, 3), tuple(np.round(start, 6)))

        def make() -> Body:
            corner = points[triangles] + start
            normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
            ahead = normal @ way > 1e-6 * np.linalg.norm(normal, axis=1)
            prisms = [Manifold.hull_points(np.vstack([c, c + way * far_mm])) for c in corner[ahead]]
            if begin is not None:
                prisms.append(self.body[name].translate(tuple(start)))
            return Manifold.batch_boolean(prisms, OpType.Add)

        return self._keep(key, make)

    def line(self, start: Array, out: Array, size_mm: float, long_mm: float) -> Hashable:
        """A round line: a key's arm, a hot iron."""
        key = ("line", tuple(np.round(start, 6)), tuple(np.round(out, 6)), size_mm, long_mm)
        return self._keep(key, lambda: _stand(Manifold.cylinder(long_mm, size_mm / 2, -1, 64), start, out))

    def swing(self, start: Array, out: Array, size_mm: float, window: int) -> Hashable:
        """A short arm in its socket, the long arm swinging 60° from the window's beginning."""
        key = ("swing", tuple(np.round(start, 6)), tuple(np.round(out, 6)), size_mm, window)

        def make() -> Body:
            tool = hex_key(size_mm)
            angles = math.radians(30.0) * window + np.radians(np.arange(0.0, 61.0, 10.0))
            fan = [(0.0, 0.0), *((tool.long_mm * math.cos(a), tool.long_mm * math.sin(a)) for a in angles)]
            flat = CrossSection([fan]).offset(tool.corners_mm / 2)
            arm = Manifold.extrude(flat, tool.corners_mm).translate((0, 0, tool.short_mm - tool.corners_mm))
            return _stand(Manifold.cylinder(tool.short_mm, tool.corners_mm / 2, -1, 64) + arm, start, out)

        return self._keep(key, make)

    def _keep(self, key: Hashable, make: Callable[[], Body]) -> Hashable:
        if key not in self._made or self.plain:
            self._made[key] = make()
        return key

    def crosses(self, key: Hashable, other: str) -> bool:
        if other not in self.body:
            return False
        if self.plain:
            return _is_more_than_contact(self._made[key] ^ self.body[other])
        if (key, other) not in self._crosses:
            x0, y0, z0, x1, y1, z1 = self._made[key].bounding_box()
            low, high = self.box[other]
            apart = (high < (x0, y0, z0)).any() or (low > (x1, y1, z1)).any()
            self._crosses[(key, other)] = not apart and _is_more_than_contact(
                self._made[key] ^ self.body[other]
            )
        return self._crosses[(key, other)]

    def blockers(self, key: Hashable | None, present: Iterable[str]) -> list[str]:
        return [] if key is None else [name for name in sorted(present) if self.crosses(key, name)]


def _stand(body: Body, start: Array, out: Array) -> Body:
    return body.transform(np.hstack([facing(out), np.asarray(start)[:, None]]))


def _is_more_than_contact(common: Body) -> bool:
    """More volume than a facet's, and somewhere a ball of the contact's width fits in."""
    if common.is_empty() or common.volume() <= OVERLAP_MM3:
        return False
    if 2 * common.volume() > CONTACT_MM * common.surface_area():
        return True
    for piece in common.decompose():
        x0, y0, z0, x1, y1, z1 = piece.bounding_box()
        if min(x1 - x0, y1 - y0, z1 - z0) <= CONTACT_MM:
            continue
        moved = [
            piece.translate(tuple(CONTACT_MM / 2 * np.array(step) / np.linalg.norm(step)))
            for step in itertools.product((-1, 0, 1), repeat=3)
            if any(step)
        ]
        if Manifold.batch_boolean(moved, OpType.Intersect).volume() > 1e-6:
            return True
    return False
