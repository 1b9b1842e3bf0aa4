"""Solids of plates and of parts made from boxes and cylinders, and the cutting of a part's holes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from manifold3d import Manifold, OpType

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Insert
from trysquare.ground.errors import ReadingError, TrysquareError
from trysquare.ground.placement import facing, unit
from trysquare.machine.values import Hole, Primitive
from trysquare.solid.bodies import ABOVE_MM, Outline, aimed, bore, box, prism_z, section_of, shaft, sink
from trysquare.solid.drilled import CLEAR_MM, Bore, Piece, clear_bores, drilled

COUNTERSINK_PER_DIAMETER = 2.24
"""Width of a countersink at the surface for each millimetre of thread: the sharp-edged head of
ISO 10642, from memory (M3 6.72, M4 8.96, M5 11.2)."""

NOMINAL_MM: tuple[float, ...] = (1.6, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
"""Coarse threads, to tell which one a clearance hole is for."""


def plate_body(outline_mm: Outline, thickness_mm: float, where: str, holes: Sequence[Hole] = ()) -> Manifold:
    """A plate from z = 0 to its thickness, with holes. An outline may be wound either way, and may run
    back on itself along a slit to make a ring."""
    section = [] if thickness_mm <= 0 else section_of(outline_mm)
    if not section:
        raise ReadingError(
            where=where,
            read=f"{len(outline_mm)} corners, {thickness_mm:g} mm thick",
            expected="an outline that encloses an area, and a thickness above 0",
            remedy="Give the corners in order round the plate, and its thickness in mm.",
        )
    holes = [hole for hole in holes if is_cut(hole)]
    bores = {n: bore for n, hole in enumerate(holes) if (bore := bore_of(hole, thickness_mm)) is not None}
    clear = clear_bores(section, list(bores.values()))
    straight = [bore for bore, is_clear in zip(bores.values(), clear, strict=True) if is_clear]
    body = drilled(section, 0.0, thickness_mm, straight)
    if body is None:
        return with_holes(prism_z(outline_mm, 0.0, thickness_mm), holes)
    done = {n for n, is_clear in zip(bores, clear, strict=True) if is_clear}
    return with_holes(body, [hole for n, hole in enumerate(holes) if n not in done])


def bore_of(hole: Hole, thickness_mm: float) -> Bore | None:
    """A plate's hole as straight pieces; None when it does not run across the plate from one of its faces,
    is countersunk, or ends so near the other face that only the kernel should say what is left."""
    out = 1.0 if hole.direction[2] > 0 else -1.0
    direction = unit(np.asarray(hole.direction, dtype=float))
    square = direction[2] == out
    if hole.countersunk or not square or hole.at_mm[2] != (thickness_mm if out > 0 else 0.0):
        return None
    steps = [(hole.depth_mm + (ABOVE_MM if hole.through else 0.0), hole_diameter_mm(hole))]
    if min(hole.counterbore_mm, hole.counterbore_depth_mm) > 0:
        steps.insert(0, (hole.counterbore_depth_mm, hole.counterbore_mm))
    depths = [0.0, *(min(depth, thickness_mm) for depth, _ in steps)]
    narrowing = all(wide > narrow for (_, wide), (_, narrow) in pairwise(steps))
    long_enough = all(low - high > CLEAR_MM for high, low in pairwise(depths))
    no_skin = all(abs(depth - thickness_mm) > CLEAR_MM for depth, _ in steps)
    if not (narrowing and long_enough and no_skin):
        return None
    first = facing(direction)[:, 0]
    turn_rad = math.atan2(first[1], first[0])
    heights = [thickness_mm - depth if out > 0 else depth for depth in depths]
    pieces = [
        Piece(size, max(span), min(span), turn_rad)
        for (_, size), span in zip(steps, pairwise(heights), strict=True)
    ]
    return Bore(hole.at_mm[0], hole.at_mm[1], tuple(pieces if out > 0 else reversed(pieces)))


def primitives_body(primitives: Sequence[Primitive], where: str, holes: Sequence[Hole] = ()) -> Manifold:
    """Bodies joined and cut in the order they are listed, a cut takes from what stands before it; then
    the holes."""
    body = Manifold()
    group: list[Manifold] = []
    cutting = False
    for primitive in (*primitives, None):
        cut = None if primitive is None else primitive.cut
        if cut is not cutting and group:
            joined = Manifold.batch_boolean(group, OpType.Add)
            body = body - joined if cutting else body + joined
            group = []
        if primitive is not None:
            cutting = primitive.cut
            group.append(primitive_body(primitive, where))
    # Asked of the whole: asked of it half made, the kernel would work everything out twice.
    body = with_holes(body, holes)
    if body.is_empty():
        raise ReadingError(
            where=where,
            read=f"{len(primitives)} primitives",
            expected="bodies with something left after the cuts",
            remedy="List the bodies first, then the cuts.",
        )
    return body


def primitive_body(primitive: Primitive, where: str) -> Manifold:
    """One box or cylinder; a cylinder that cuts is a hole, one that does not is a shaft."""
    sizes = {"box": 3, "cylinder": 2}.get(primitive.shape)
    if sizes is None or len(primitive.size_mm) != sizes or not all(s > 0 for s in primitive.size_mm):
        raise ReadingError(
            where=where,
            read=f"{primitive.shape} {primitive.size_mm}",
            expected="box with three sizes above 0, or cylinder with diameter and length above 0",
            remedy="Correct the primitive's shape or sizes.",
        )
    if primitive.shape == "box":
        x, y, z = primitive.at_mm
        dx, dy, dz = primitive.size_mm
        return box((x, y, z), (x + dx, y + dy, z + dz))
    diameter_mm, length_mm = primitive.size_mm
    make: Callable[[float, float, float], Manifold] = bore if primitive.cut else shaft
    return aimed(make(diameter_mm, 0.0, length_mm), primitive.at_mm, primitive.along)


def thread_mm(name: str) -> float:
    """Nominal diameter of a metric thread's name ("M5" gives 5); 0 if it is none."""
    try:
        return float(name.strip().upper().removeprefix("M").partition("X")[0])
    except ValueError:
        return 0.0


def insert_hole_mm(designation: str) -> float:
    """Hole of a heat-set insert by its designation; 0 when the catalogue does not know it."""
    try:
        insert = lookup(designation)
    except TrysquareError:
        return 0.0
    return insert.hole_mm if isinstance(insert, Insert) else 0.0


def hole_diameter_mm(hole: Hole) -> float:
    """How wide a hole is drawn: at least as its thread's nominal diameter, at least as its insert."""
    diameter_mm = max(hole.diameter_mm, thread_mm(hole.thread) if hole.thread else 0.0)
    return max(diameter_mm, insert_hole_mm(hole.insert)) if hole.insert else diameter_mm


def hole_cutter(hole: Hole) -> Manifold:
    """All the air of one hole about its axis, placed: bore, counterbore, countersink.

    It begins a little above the surface; a through hole also ends a little beyond. A tapped hole
    is as wide as its thread's nominal diameter, one for an insert as wide as the insert.
    """
    diameter_mm = hole_diameter_mm(hole)
    depth_mm = hole.depth_mm + (ABOVE_MM if hole.through else 0.0)
    bodies = [bore(diameter_mm, -depth_mm, ABOVE_MM)]
    if hole.countersunk:
        wide_mm = hole.counterbore_mm or countersink_mm(diameter_mm)
        bodies.append(sink(wide_mm, min((wide_mm - diameter_mm) / 2, hole.depth_mm)))
    elif hole.counterbore_mm > 0 and hole.counterbore_depth_mm > 0:
        bodies.append(bore(hole.counterbore_mm, -hole.counterbore_depth_mm, ABOVE_MM))
    cutter = Manifold.batch_boolean(bodies, OpType.Add) if len(bodies) > 1 else bodies[0]
    return aimed(cutter, hole.at_mm, unit(np.asarray(hole.direction, dtype=float)))


def countersink_mm(hole_mm: float) -> float:
    """Width of the countersink at the surface for the largest thread that passes the hole."""
    passing = [nominal for nominal in NOMINAL_MM if nominal <= hole_mm + 1e-9]
    return max(COUNTERSINK_PER_DIAMETER * (passing[-1] if passing else hole_mm), hole_mm + 0.1)


def is_cut(hole: Hole) -> bool:
    """Whether a hole takes anything away."""
    return hole.depth_mm > 0 and hole.diameter_mm > 0


def with_holes(body: Manifold, holes: Sequence[Hole]) -> Manifold:
    """The body with the holes cut out of it."""
    cutters = [hole_cutter(hole) for hole in holes if is_cut(hole)]
    return body - Manifold.batch_boolean(cutters, OpType.Add) if cutters else body
