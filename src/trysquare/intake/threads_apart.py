"""Threads that are drawn as bodies of their own beside their screws and nuts, in whatever tree they stand.

A body counts with a fastener when the whole of it lies within the cylinder of the fastener's own thread: no
wider than the nominal diameter, no longer than the thread, all round its axis, and hollow; pieces of a turn
count with whole ones. A washer, a spacer, a nut or an insert is wider than the thread that it goes with, a
pin is not hollow.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Insert, Nut, Screw, SlotNut
from trysquare.ground.placement import Array, Placement
from trysquare.intake.bodies import Assembly, Body, Problem, Recognition, Shape, Sort

THREADED = frozenset({Sort.SCREW, Sort.NUT, Sort.SLOT_NUT, Sort.INSERT})
PIECES = THREADED | {Sort.WASHER, Sort.MEMBER, Sort.RAIL, Sort.BLOCK, Sort.BEARING, Sort.PULLEY}
LEAST_CONFIDENCE = 0.5  # as for a designation that is used without asking
WIDER_MM, WIDER_RATIO = 0.02, 0.02  # a drawn thread stands out of its nominal diameter by less
ROOTED_RATIO = 1.15  # of a hole's thread: its ridge is drawn with its foot in the metal
SAME_RATIO = 0.05
CORE_RATIO = 0.6  # the root of a coarse thread M1.6 is 0.69 of its diameter, of others more
MOST_SOLID = 0.6  # of its outer cylinder's volume: a thread has a third or less, a pin all
WIDEST_GAP_RAD = math.pi / 2  # between points as seen along the axis: it goes round


@dataclass(frozen=True, slots=True, eq=False)
class _Threaded:
    """A placed fastener: `back` takes the file's world to its coordinates, z along the thread."""

    shape: int
    back: Placement
    radius_mm: float
    low_mm: float  # a pitch beyond its ends: threads are drawn into the head
    high_mm: float
    is_hole: bool

    @property
    def most_mm(self) -> float:
        """How far from the axis its thread may reach."""
        return self.radius_mm * (ROOTED_RATIO if self.is_hole else 1 + WIDER_RATIO) + WIDER_MM


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """The threads' middles (n, 3) and axes (n, 3) in the file's world, and how far a point on them may be:
    along, array (n,), and beside, array (n,)."""

    middles_mm: Array
    axes: Array
    along_mm: Array
    beside_mm: Array

    @staticmethod
    def of(fasteners: Sequence[_Threaded]) -> _Lines:
        places = [one.back.inverse() for one in fasteners]
        middles = [
            place.point((0.0, 0.0, (one.low_mm + one.high_mm) / 2))
            for place, one in zip(places, fasteners, strict=True)
        ]
        return _Lines(
            np.array(middles),
            np.array([place.turn[:, 2] for place in places]),
            np.array([(one.high_mm - one.low_mm) / 2 for one in fasteners]),
            np.array([one.most_mm for one in fasteners]),
        )

    def near(self, point_mm: Array) -> list[int]:
        """The threads within which a point, array (3,), lies, by number."""
        away = point_mm - self.middles_mm
        along = np.einsum("ij,ij->i", away, self.axes)
        beside = np.einsum("ij,ij->i", away, away) - along**2
        return [
            int(one) for one in np.flatnonzero((np.abs(along) < self.along_mm) & (beside < self.beside_mm**2))
        ]


@dataclass(frozen=True, slots=True)
class _Ring:
    """A body within a fastener's thread, from `inner_mm` to `outer_mm` away from the axis."""

    body: int
    inner_mm: float
    outer_mm: float
    goes_round: bool

    def is_like(self, other: _Ring) -> bool:
        """Whether both may be of one thread: some programs make a body of each turn, and of each run-out."""
        within = SAME_RATIO * other.outer_mm
        return abs(self.inner_mm - other.inner_mm) < within and abs(self.outer_mm - other.outer_mm) < within


def threads_joined(
    assembly: Assembly, seen: Mapping[int, Recognition]
) -> tuple[Assembly, dict[int, Recognition]]:
    """The assembly without bodies that are the threads of its fasteners, and what its shapes are.

    `seen` by shape number. Shapes that no body has any more go, and the others are numbered anew.
    """
    fasteners = _fasteners(assembly, seen)
    if not fasteners:
        return assembly, dict(seen)
    rings: dict[int, list[_Ring]] = {}
    lines = _Lines.of(fasteners)
    largest_mm = max(math.hypot(one.high_mm - one.low_mm, 2 * one.most_mm) for one in fasteners)
    candidates = {
        shape.number
        for shape in assembly.shapes
        if _may_be_thread(shape, seen[shape.number]) and float(shape.size_mm.max()) < largest_mm
    }
    for number, body in enumerate(assembly.bodies):
        if body.shape in candidates:
            for place, ring in _rings_of(body, number, assembly.shapes[body.shape], fasteners, lines):
                rings.setdefault(place, []).append(ring)
    gone: set[int] = set()
    told: dict[int, _Ring] = {}
    names: dict[str, None] = {}
    for place, some in rings.items():
        whole = max(some, key=lambda ring: ring.goes_round)
        if whole.goes_round:
            gone.update(ring.body for ring in some if ring.is_like(whole))
            shape = assembly.shapes[fasteners[place].shape]
            told[shape.number] = whole
            names[shape.name or f"shape {shape.number}"] = None
    if not gone:
        return assembly, dict(seen)
    remarked = {number: _remarked(found, told.get(number)) for number, found in seen.items()}
    problem = Problem(
        code="thread-apart", names=tuple(names),
        says="Some screws or nuts have their thread as a body of its own; it counts with them.",
    )  # fmt: skip
    problems = assembly.problems
    if all(each.code != problem.code for each in problems):
        problems = (*problems, problem)
    bodies = [body for number, body in enumerate(assembly.bodies) if number not in gone]
    return _numbered(replace(assembly, problems=problems), bodies, remarked)


def _may_be_thread(shape: Shape, found: Recognition) -> bool:
    """Whether a body may be a thread, by itself alone."""
    if found.sort in PIECES and found.is_sure:
        return False
    return len(shape.points_mm) > 0


def _fasteners(assembly: Assembly, seen: Mapping[int, Recognition]) -> list[_Threaded]:
    threads: dict[int, tuple[float, float, float, bool]] = {}
    for shape in assembly.shapes:
        found = seen[shape.number]
        if found.sort not in THREADED or not found.designation or found.confidence < LEAST_CONFIDENCE:
            continue
        try:
            size = lookup(found.designation)
        except UnknownDesignation:
            continue
        if isinstance(size, Screw):
            low, high = -found.parameters.get("length_mm", size.length_mm), 0.0
        elif isinstance(size, Nut | SlotNut | Insert):
            along = found.frame.back(shape.points_mm)[:, 2]
            low, high = float(along.min()), float(along.max())
        else:
            continue
        run_out = size.thread.pitch_mm + WIDER_MM
        is_hole = not isinstance(size, Screw)
        threads[shape.number] = (size.thread.diameter_mm / 2, low - run_out, high + run_out, is_hole)
    return [
        _Threaded(body.shape, body.placement.then(seen[body.shape].frame).inverse(), *threads[body.shape])
        for body in assembly.bodies
        if body.shape in threads
    ]


def _rings_of(
    body: Body, number: int, shape: Shape, fasteners: Sequence[_Threaded], lines: _Lines
) -> Iterator[tuple[int, _Ring]]:
    """The fasteners, by their place in the list, within whose thread a body lies, and how it lies there."""
    for place in lines.near(body.placement.point(shape.centroid_mm)):
        one = fasteners[place]
        points = one.back.then(body.placement).point(shape.points_mm)
        ring = _ring(one, number, points, shape.volume_mm3)
        if ring is not None:
            yield place, ring


def _ring(one: _Threaded, body: int, points: Array, volume_mm3: float) -> _Ring | None:
    """A body that lies round the axis within the thread; None when it does not.

    `points`: array (n, 3) in the fastener's coordinates.
    """
    away = np.hypot(points[:, 0], points[:, 1])
    low, high = float(points[:, 2].min()), float(points[:, 2].max())
    outer, inner = float(away.max()), float(away.min())
    if outer > one.most_mm or inner < CORE_RATIO * one.radius_mm:
        return None
    if low < one.low_mm or high > one.high_mm:
        return None
    if volume_mm3 > MOST_SOLID * math.pi * outer**2 * (high - low):
        return None
    angles = np.sort(np.arctan2(points[:, 1], points[:, 0]))
    gaps = np.diff(angles, append=angles[0] + 2 * math.pi)
    return _Ring(body, inner, outer, goes_round=float(gaps.max()) < WIDEST_GAP_RAD)


def _remarked(found: Recognition, ring: _Ring | None) -> Recognition:
    if ring is None:
        return found
    says = f"its thread is a body of its own, Ø{2 * ring.inner_mm:.3g} to Ø{2 * ring.outer_mm:.3g}"
    return replace(found, evidence=(*found.evidence, says))


def _numbered(
    assembly: Assembly, bodies: list[Body], seen: Mapping[int, Recognition]
) -> tuple[Assembly, dict[int, Recognition]]:
    """The assembly with these bodies, and only the shapes that they have."""
    used = {body.shape for body in bodies}
    kept = [shape for shape in assembly.shapes if shape.number in used]
    new = {shape.number: number for number, shape in enumerate(kept)}
    shapes = tuple(
        replace(
            shape, number=new[shape.number],
            mirror_of=new.get(shape.mirror_of) if shape.mirror_of is not None else None,
        )
        for shape in kept
    )  # fmt: skip
    return (
        replace(
            assembly, shapes=shapes, bodies=tuple(replace(body, shape=new[body.shape]) for body in bodies)
        ),
        {new[number]: found for number, found in seen.items() if number in new},
    )
