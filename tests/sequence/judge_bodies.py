"""The judge's bodies: parts where they stand, what they pass through, keys and irons; do they cross?

A part on its way is the hull of each forward triangle with itself moved on, all united: slow and plain.
Whether a body crosses a part follows from the two alone, so it is asked once for all orders of a machine;
the name a body is remembered by is the part it is of, its place, its way and how far it goes.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Collection, Hashable
from typing import Any

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

from trysquare.catalogue.keys import hex_key
from trysquare.ground.placement import DIRECTIONS, Array, facing
from trysquare.ground.tolerances import CONTACT_MM, OVERLAP_MM3
from trysquare.machine.values import Machine
from trysquare.solid.shapes import Solid, makes_solid, solid_of

Body = Manifold


class Bodies:
    """Bodies in the machine frame, and whether they cross; `plain` asks everything anew each time."""

    def __init__(self, machine: Machine, *, plain: bool = False) -> None:
        self.machine, self.plain = machine, plain
        self.body: dict[str, Body] = {}
        self.solid: dict[str, Solid] = {}
        self.mesh: dict[str, tuple[Array, Any]] = {}
        for part in machine.placed:
            if makes_solid(part.type):
                solid = self.solid[part.id] = solid_of(part.type, machine.folder)
                self.body[part.id] = solid.manifold.transform(part.placement.matrix())
                self.mesh[part.id] = (part.placement.point(solid.points_mm), solid.triangles)
        self.box = {
            name: np.array([points.min(axis=0), points.max(axis=0)])
            for name, (points, _) in self.mesh.items()
        }
        self.middle_mm = {name: box.mean(axis=0) for name, box in self.box.items()}
        low = np.array([box[0] for box in self.box.values()]).min(axis=0)
        high = np.array([box[1] for box in self.box.values()]).max(axis=0)
        self.far_mm = float(math.ceil(np.linalg.norm(high - low) / 50.0) * 50.0)
        self._make: dict[Hashable, Callable[[], Body]] = {}
        self._last: tuple[Hashable, Body] | None = None
        self._swept: dict[Hashable, Body] = {}
        self._crosses: dict[tuple[Hashable, str], bool] = {}
        self._near: dict[Hashable, tuple[str, ...]] = {}
        self._bulk = {name: -float(np.prod(box[1] - box[0])) for name, box in self.box.items()}
        self._touching: dict[str, frozenset[str]] = {}
        self._lowest: dict[tuple[str, str], float] = {}
        # The largest first: what is blocked is then mostly found at once.
        self._names = tuple(sorted(self.body, key=self.bulk))
        self._low = np.array([self.box[name][0] for name in self._names])
        self._high = np.array([self.box[name][1] for name in self._names])

    def bulk(self, name: str) -> float:
        """Less for a larger part, by its box."""
        return self._bulk.get(name, 0.0)

    def touching(self, name: str) -> frozenset[str]:
        """The other parts whose boxes come as near as a tenth of a millimetre to a part's."""
        if name not in self.box:
            return frozenset()
        if name not in self._touching or self.plain:
            low, high = self.box[name]
            near = (self._low <= high + 0.1).all(axis=1) & (self._high >= low - 0.1).all(axis=1)
            names = {self._names[row] for row in np.flatnonzero(near).tolist()}
            self._touching[name] = frozenset(names - {name})
        return self._touching[name]

    def lowest_mm(self, name: str, up: str) -> float:
        """How low a part's lowest corner lies when the machine stands with this side up."""
        if (name, up) not in self._lowest or self.plain:
            heights = (self.mesh[name][0] * DIRECTIONS[up]).sum(axis=1)
            self._lowest[(name, up)] = float(heights.min())
        return self._lowest[(name, up)]

    def sweep(self, name: str, way: Array, far_mm: float, begin: Array | None = None) -> Hashable | None:
        """What a part passes through on a straight way beyond its own place; from `begin` on with its place
        there. None for a part without a solid."""
        if name not in self.mesh:
            return None
        way = way / np.linalg.norm(way)
        start = np.zeros(3) if begin is None else begin
        key = ("sweep", name, tuple(np.round(way, 6)), round(far_mm, 3), tuple(np.round(start, 6)))

        def make() -> Body:
            # In the part's own coordinates: one sort of part goes the same way in many places.
            part = self.machine.part[name]
            own_way, own_start = (vector @ part.placement.turn for vector in (way, start))
            sort = (part.type, tuple(np.round(own_way, 9) + 0.0), far_mm, tuple(np.round(own_start, 9) + 0.0))
            if sort not in self._swept or self.plain:
                self._swept[sort] = _swept(self.solid[name], own_way, far_mm, own_start, begin is not None)
            return self._swept[sort].transform(part.placement.matrix())

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
        self._make.setdefault(key, make)
        return key

    def _made(self, key: Hashable) -> Body:
        """The body of this name. Not kept for all names: thousands where they stand would fill the memory."""
        if self._last is None or self._last[0] != key or self.plain:
            self._last = (key, self._make[key]())
        return self._last[1]

    def crosses(self, key: Hashable, other: str) -> bool:
        if other not in self.body:
            return False
        if self.plain:
            return _is_more_than_contact(self._made(key) ^ self.body[other])
        return other in self._beside(key) and self._crosses_beside(key, other)

    def _crosses_beside(self, key: Hashable, other: str) -> bool:
        known = self._crosses.get((key, other))
        if known is None:
            known = _is_more_than_contact(self._made(key) ^ self.body[other])
            self._crosses[(key, other)] = known
        return known

    def _beside(self, key: Hashable) -> tuple[str, ...]:
        """Parts whose boxes meet the body's, the largest first."""
        if key not in self._near:
            x0, y0, z0, x1, y1, z1 = self._made(key).bounding_box()
            apart = (self._high < (x0, y0, z0)).any(axis=1) | (self._low > (x1, y1, z1)).any(axis=1)
            self._near[key] = tuple(self._names[row] for row in np.flatnonzero(~apart).tolist())
        return self._near[key]

    def any_in_the_way(self, key: Hashable | None, present: Collection[str]) -> bool:
        """Whether the body crosses any of these parts."""
        if key is None:
            return False
        if self.plain:
            return any(self.crosses(key, name) for name in sorted(present, key=self.bulk))
        return any(self._crosses_beside(key, name) for name in self._beside(key) if name in present)

    def blockers(self, key: Hashable | None, present: Collection[str]) -> list[str]:
        """Which of these parts the body crosses, by name."""
        if key is None:
            return []
        if self.plain:
            return [name for name in sorted(present) if self.crosses(key, name)]
        beside = [name for name in self._beside(key) if name in present]
        return sorted(name for name in beside if self._crosses_beside(key, name))


def _swept(solid: Solid, way: Array, far_mm: float, start: Array, whole: bool) -> Body:
    """The hulls of forward triangles with themselves moved on, united; `whole`: with the solid at `start`."""
    corner = solid.points_mm[solid.triangles] + start
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    ahead = normal @ way > 1e-6 * np.linalg.norm(normal, axis=1)
    faces = _paired(corner[ahead], normal[ahead])
    prisms = [Manifold.hull_points(np.vstack([face, face + way * far_mm])) for face in faces]
    if whole:
        prisms.append(solid.manifold.translate(tuple(start)))
    return Manifold.batch_boolean(prisms, OpType.Add)


def _paired(corner: Array, normal: Array) -> list[Array]:
    """Faces (3 or 4, 3): triangles, two of one plane that share an edge and make a convex four-sided face
    taken as one, for half as many bodies to unite."""
    flat = normal / np.linalg.norm(normal, axis=1)[:, None]
    waiting: dict[tuple[bytes, bytes], tuple[int, Array]] = {}
    alone = set(range(len(corner)))
    faces: list[Array] = []
    for row, triangle in enumerate(corner):
        for k in range(3):
            here, there, tip = triangle[k], triangle[(k + 1) % 3], triangle[(k + 2) % 3]
            other, its_tip = waiting.get((there.tobytes(), here.tobytes()), (-1, tip))
            waiting[(here.tobytes(), there.tobytes())] = (row, tip)
            if row not in alone or other not in alone or np.abs(flat[row] - flat[other]).max() > 1e-9:
                continue
            ring = np.array([here, its_tip, there, tip])
            side = np.roll(ring, -1, axis=0) - ring
            if (np.cross(side, np.roll(side, -1, axis=0)) @ flat[row] > 0).all():
                alone -= {row, other}
                faces.append(ring)
    return [*faces, *corner[sorted(alone)]]


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
