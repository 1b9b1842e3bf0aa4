"""Slabs with round holes across them, as meshes made at once: many times quicker than cutting hole by hole.

A slab is a section, drawn in x and y, between two heights. A hole runs along z and is made of straight pieces
of different width. Only holes that keep clear of the section's outline and of each other are for here; for
all others there are the solid kernel's booleans.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold, triangulate
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.solid.bodies import circumscribed, facets
from trysquare.solid.meshes import Triangles, manifold_of

CLEAR_MM = 1e-3  # holes nearer than this to something are left to the kernel


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A straight piece of a hole: its diameter, and how far it reaches up and down.

    `turn_rad`: where the first corner of its many-sided outline lies.
    """

    diameter_mm: float
    top_mm: float
    low_mm: float
    turn_rad: float = 0.0

    @property
    def outside_mm(self) -> float:
        """Radius of the corners: flats lie on the true round, as in `bodies.bore`."""
        return circumscribed(self.diameter_mm / 2, facets(self.diameter_mm))

    def ring(self, x_mm: float, y_mm: float) -> Array:
        """Array (n, 2): its corners, counter-clockwise."""
        count = facets(self.diameter_mm)
        angles = self.turn_rad + np.arange(count) * (2 * math.pi / count)
        return np.column_stack([np.cos(angles), np.sin(angles)]) * self.outside_mm + (x_mm, y_mm)


@dataclass(frozen=True, slots=True, eq=False)
class Bore:
    """A round hole along z, as pieces from the top down, each beginning where the one before ends."""

    x_mm: float
    y_mm: float
    pieces: tuple[Piece, ...]

    @property
    def outside_mm(self) -> float:
        return max(piece.outside_mm for piece in self.pieces)


def clear_bores(section: Sequence[Array], bores: Sequence[Bore]) -> NDArray[np.bool_]:
    """Array (n,): which bores lie inside the section, clear of its outline and of all others, with shelves
    between pieces that are wide enough to be drawn."""
    if not bores:
        return np.zeros(0, dtype=bool)
    spot = np.array([(one.x_mm, one.y_mm) for one in bores])
    wide = np.array([one.outside_mm for one in bores])
    starts = np.concatenate([np.asarray(ring) for ring in section])
    ends = np.concatenate([np.roll(np.asarray(ring), -1, axis=0) for ring in section])
    along = ends - starts
    share = np.einsum("nsk,sk->ns", spot[:, None, :] - starts, along) / np.maximum(
        (along**2).sum(axis=1), 1e-30
    )
    nearest = starts + np.clip(share, 0.0, 1.0)[:, :, None] * along
    clear = np.sqrt(((spot[:, None, :] - nearest) ** 2).sum(axis=2)).min(axis=1) > wide + CLEAR_MM
    above = (starts[:, 1] > spot[:, 1:]) != (ends[:, 1] > spot[:, 1:])
    rise = np.where(along[:, 1] == 0, 1.0, along[:, 1])
    right = starts[:, 0] + (spot[:, 1:] - starts[:, 1]) / rise * along[:, 0] > spot[:, :1]
    inside = (above & right).sum(axis=1) % 2 == 1
    apart = np.sqrt(((spot[:, None, :] - spot[None]) ** 2).sum(axis=2)) > wide[:, None] + wide + CLEAR_MM
    np.fill_diagonal(apart, val=True)
    drawn = np.array([all(_steps(one)) for one in bores])
    answer: NDArray[np.bool_] = clear & inside & apart.all(axis=1) & drawn
    return answer


def _steps(bore: Bore) -> list[bool]:
    """Whether each two neighbouring pieces differ enough in width, or stand to each other as one."""
    return [
        max(one.diameter_mm, two.diameter_mm) / 2 > min(one.outside_mm, two.outside_mm) + CLEAR_MM
        for one, two in zip(bore.pieces, bore.pieces[1:], strict=False)
    ]


def drilled(
    section: Sequence[Array], low_mm: float, high_mm: float, bores: Sequence[Bore]
) -> Manifold | None:
    """The slab with clear bores in it; None where the kernel does not take the mesh as it is.

    `section`: rings (n, 2) as the kernel gives them, outlines counter-clockwise and openings clockwise. A
    bore whose first piece begins at `high_mm` is open there, one whose last ends at `low_mm` is open
    there; elsewhere it has a flat end.
    """
    mesh = _Mesh()
    below: list[_Loop] = []
    above: list[_Loop] = []
    for ring in section:
        low, high = mesh.loop(ring, low_mm), mesh.loop(ring, high_mm)
        mesh.wall(low, high)
        below.append(low)
        above.append(high)
    for bore in bores:
        last: _Loop | None = None
        for number, piece in enumerate(bore.pieces):
            ring = piece.ring(bore.x_mm, bore.y_mm)[::-1]  # clockwise: the slab lies to the left
            top, low = mesh.loop(ring, piece.top_mm), mesh.loop(ring, piece.low_mm)
            mesh.wall(low, top)
            if last is not None:
                wider = bore.pieces[number - 1].diameter_mm > piece.diameter_mm
                mesh.face([last.turned(), top] if wider else [top.turned(), last], up=wider)
            elif piece.top_mm == high_mm:
                above.append(top)
            else:
                mesh.face([top.turned()], up=False)
            last = low
        if last is not None and bore.pieces[-1].low_mm == low_mm:
            below.append(last)
        elif last is not None:
            mesh.face([last.turned()], up=True)
    mesh.face(above, up=True)
    mesh.face(below, up=False)
    return manifold_of(np.concatenate(mesh.points), np.concatenate(mesh.triangles))


@dataclass(frozen=True, slots=True, eq=False)
class _Loop:
    """Corners (n, 2) and their point numbers."""

    corners: Array
    numbers: NDArray[np.int64]

    def turned(self) -> _Loop:
        """The same, walked the other way round."""
        return _Loop(self.corners[::-1], self.numbers[::-1])


class _Mesh:
    """Points and triangles as they are added."""

    def __init__(self) -> None:
        self.points: list[Array] = []
        self.triangles: list[Triangles] = []
        self._count = 0

    def loop(self, corners: Array, height_mm: float) -> _Loop:
        numbers = np.arange(self._count, self._count + len(corners))
        self.points.append(np.column_stack([corners, np.full(len(corners), height_mm)]))
        self._count += len(corners)
        return _Loop(corners, numbers)

    def wall(self, low: _Loop, high: _Loop) -> None:
        """Between two loops one above the other; the body lies to the left of both."""
        here, there = low.numbers, np.roll(low.numbers, -1)
        up, across = high.numbers, np.roll(high.numbers, -1)
        self.triangles.append(np.column_stack([here, there, across]))
        self.triangles.append(np.column_stack([here, across, up]))

    def face(self, loops: Sequence[_Loop], *, up: bool) -> None:
        """A flat face within loops, outlines counter-clockwise and openings clockwise; looks up or down."""
        numbers = np.concatenate([loop.numbers for loop in loops])
        rows = triangulate([np.ascontiguousarray(loop.corners) for loop in loops])
        triangles = numbers[np.asarray(rows).astype(np.int64)]
        self.triangles.append(triangles if up else triangles[:, ::-1])
