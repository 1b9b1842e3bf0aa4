"""Readings one could make next: every corner a square fits, every diagonal and distance, heights, sweeps.

Instruments without a zero are offered as they are used: two readings in one setting, as a difference. A
square is offered once as it is and once with the reversal, which takes its own error out.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.truing.bodies import Assembly, Body, lies_low
from trysquare.truing.characteristics import Component
from trysquare.truing.features import Features
from trysquare.truing.instruments import Gauge
from trysquare.truing.places import reading_words
from trysquare.truing.readings import Reading

MOST_CANDIDATES = 2000
SQUARE = 0.05  # cosine below which two directions are square


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One or two readings that belong together, and how they make one number: Σ share · reading."""

    gauge: Gauge
    readings: tuple[Reading, ...]
    shares: tuple[float, ...]

    @property
    def work(self) -> float:
        return self.gauge.kind.work * (1 + 0.6 * (len(self.readings) - 1))

    def says(self, assembly: Assembly, features: Features) -> str:
        """What to do, as one says it at the bench."""
        first = reading_words(assembly, features, self.readings[0])
        beside = f"with {self.gauge.words}"
        if self.readings[0].sort in ("gap", "sweep", "level"):
            beside = "" if self.gauge.owned else f"({self.gauge.words})"
        if len(self.readings) == 1:
            return f"{first} {beside}".strip()
        if self.readings[0].sort == "gap":
            return f"{first}; then the same turned over {beside}".strip()
        second = reading_words(assembly, features, self.readings[1])
        return f"{first}, and in the same setting {second} {beside}".strip()


def candidates_for(
    assembly: Assembly, components: Sequence[Component], gauges: Sequence[Gauge]
) -> tuple[Candidate, ...]:
    """Readings that could say something of these components. None beyond an instrument's reach."""
    maker = _Maker(assembly)
    bodies = sorted({body for one in components for body in one.bodies})
    near = sorted({*bodies, *_neighbours(assembly, bodies)})
    found: dict[tuple[object, ...], Candidate] = {}
    by_sort: Mapping[str, Callable[[Gauge], Iterator[Candidate]]] = {
        "gap": lambda gauge: maker.gaps(gauge, near, components),
        "diagonal": lambda gauge: maker.diagonals(gauge, near),
        "offset": lambda gauge: maker.offsets(gauge, near, components),
        "length": lambda gauge: maker.lengths(gauge, near),
        "rock": lambda gauge: maker.rocks(gauge, components),
        "height": lambda gauge: maker.heights(gauge, near),
        "sweep": lambda gauge: maker.sweeps(gauge, bodies),
        "level": lambda gauge: maker.levels(gauge, near),
    }
    for gauge in gauges:
        for sort, make in by_sort.items():
            if not gauge.can_read(sort):
                continue
            for candidate in make(gauge):
                found.setdefault(tuple(one.same for one in candidate.readings), candidate)
                if len(found) >= MOST_CANDIDATES:
                    return tuple(found.values())
    return tuple(found.values())


def _neighbours(assembly: Assembly, bodies: Sequence[int]) -> set[int]:
    """What is joined to them."""
    known = set(bodies)
    found: set[int] = set()
    for link in assembly.links:
        if link.one in known or link.other in known:
            found |= {link.one, link.other}
    return found


class _Maker:
    def __init__(self, assembly: Assembly) -> None:
        self.assembly = assembly
        self.bodies = assembly.bodies

    def _reading(
        self, gauge: Gauge, sort: str, first: str, second: str = "", *,
        setting: str = "next", turned: bool = False, at_mm: float | None = None,
    ) -> Reading:  # fmt: skip
        return Reading(
            id="next", sort=sort, first=first, second=second, value=0.0, instrument=gauge.id,
            setting=setting if gauge.kind.free_zero else "", turned=turned, at_mm=at_mm,
        )  # fmt: skip

    def _single(self, gauge: Gauge, sort: str, first: str, second: str = "") -> Candidate:
        return Candidate(gauge=gauge, readings=(self._reading(gauge, sort, first, second),), shares=(1.0,))

    def _difference(
        self, gauge: Gauge, sort: str, one: tuple[str, str], other: tuple[str, str]
    ) -> Iterator[Candidate]:
        """Two readings: as a difference where there is no zero, else each for itself."""
        if gauge.kind.free_zero:
            readings = tuple(self._reading(gauge, sort, *pair) for pair in (one, other))
            yield Candidate(gauge=gauge, readings=readings, shares=(1.0, -1.0))
        else:
            yield self._single(gauge, sort, *one)
            yield self._single(gauge, sort, *other)

    # --- each sort

    def gaps(self, gauge: Gauge, near: Sequence[int], components: Sequence[Component]) -> Iterator[Candidate]:
        chosen = set(near)
        pairs = [
            (link.one, link.other)
            for link in self.assembly.links
            if link.one in chosen and link.other in chosen and not link.play.runs
        ]
        pairs += [(one.bodies[0], one.bodies[1]) for one in components if len(one.bodies) == 2]
        for first, second in {frozenset(pair): pair for pair in reversed(pairs)}.values():
            a, b = self.bodies[first], self.bodies[second]
            if not (a.has_ends and b.has_ends) or abs(float(a.along @ b.along)) > SQUARE:
                continue
            for stock, blade in self._corner(a, b):
                if min(a.length_mm, b.length_mm) < gauge.full_reach_mm / 2:
                    continue
                plain = self._reading(gauge, "gap", stock, blade)
                over = self._reading(gauge, "gap", stock, blade, turned=True)
                yield Candidate(gauge=gauge, readings=(plain,), shares=(1.0,))
                yield Candidate(gauge=gauge, readings=(plain, over), shares=(0.5, 0.5))

    def _corner(self, a: Body, b: Body) -> Iterator[tuple[str, str]]:
        """Faces of two square bodies between which a square fits: where both go on from the corner."""
        for side_a in (-1.0, 1.0):
            for side_b in (-1.0, 1.0):
                if _reach(a, b.centre_mm, side_a) < 60 or _reach(b, a.centre_mm, side_b) < 60:
                    continue
                stock = face_toward(b, side_a * a.along)
                blade = face_toward(a, side_b * b.along)
                if stock and blade:
                    yield stock, blade

    def diagonals(self, gauge: Gauge, near: Sequence[int]) -> Iterator[Candidate]:
        for p, q in self._parallel(near, longest=1.2):
            inner, other = (
                face_toward(p, q.centre_mm - p.centre_mm),
                face_toward(q, p.centre_mm - q.centre_mm),
            )
            if not inner or not other:
                continue
            same = 1.0 if float(p.along @ q.along) > 0 else -1.0
            ends = ("b", "a") if same > 0 else ("a", "b")
            length = float(np.hypot(np.linalg.norm(q.centre_mm - p.centre_mm), p.length_mm))
            if gauge.spans(length):
                one = (_at_end(inner, "a"), _at_end(other, ends[0]))
                two = (_at_end(inner, "b"), _at_end(other, ends[1]))
                yield from self._difference(gauge, "diagonal", one, two)

    def offsets(
        self, gauge: Gauge, near: Sequence[int], components: Sequence[Component]
    ) -> Iterator[Candidate]:
        for p, q in self._parallel(near, longest=100.0):
            inner, other = (
                face_toward(p, q.centre_mm - p.centre_mm),
                face_toward(q, p.centre_mm - q.centre_mm),
            )
            apart = float(np.linalg.norm(q.centre_mm - p.centre_mm))
            if not inner or not other or not gauge.spans(apart):
                continue
            stations = _common(p, q)
            if stations is not None:
                (one, two) = ((f"{inner}@{p_at:g}", f"{other}@{q_at:g}") for p_at, q_at in stations)
                yield from self._difference(gauge, "offset", one, two)
        for component in components:  # along a member: from its end to a rail's
            if len(component.bodies) == 2 and not gauge.kind.free_zero:
                body, member = (self.bodies[index] for index in component.bodies)
                if body.has_ends and member.has_ends and abs(float(body.along @ member.along)) > 0.9:
                    for end in ("a", "b"):
                        sign = 1.0 if end == "b" else -1.0
                        same = float(body.along @ member.along) > 0
                        own = end if same else "ab"[end == "a"]
                        gap = _end(member, sign) - _end(body, sign if same else -sign)
                        if gauge.spans(float(np.linalg.norm(gap))):
                            yield self._single(gauge, "offset", f"{member.id}:{end}", f"{body.id}:{own}")

    def lengths(self, gauge: Gauge, near: Sequence[int]) -> Iterator[Candidate]:
        members = [self.bodies[index] for index in near if self.bodies[index].is_member]
        if gauge.kind.free_zero:
            for p, q in itertools.combinations(members, 2):
                if abs(p.length_mm - q.length_mm) < 0.5 and gauge.spans(p.length_mm):
                    yield from self._difference(gauge, "length", (p.id, ""), (q.id, ""))
            return
        for member in members:
            if gauge.spans(member.length_mm):
                yield self._single(gauge, "length", member.id)

    def rocks(self, gauge: Gauge, components: Sequence[Component]) -> Iterator[Candidate]:
        for component in components:
            lying = [self.bodies[index] for index in component.bodies if lies_low(self.assembly, index)]
            for p, q in itertools.combinations(lying, 2):
                if float(abs(p.along @ q.along)) < 0.95:
                    continue
                same = float(p.along @ q.along) > 0
                below_p, below_q = (
                    face_toward(p, np.array([0, 0, -1.0])),
                    face_toward(q, np.array([0, 0, -1.0])),
                )
                if below_p and below_q:
                    corners = [_at_end(below_p, "a"), _at_end(below_p, "b")]
                    corners += [_at_end(below_q, "ba"[not same]), _at_end(below_q, "ab"[not same])]
                    yield self._single(gauge, "rock", corners[0], " ".join(corners[1:]))

    def heights(self, gauge: Gauge, near: Sequence[int]) -> Iterator[Candidate]:
        for index in near:
            body = self.bodies[index]
            if body.is_member and (lies_low(self.assembly, index) or gauge.kind.sort == "height-gauge"):
                below = face_toward(body, np.array([0, 0, -1.0]))
                if below and abs(body.along[2]) < SQUARE:
                    ends = [(_at_end(below, end), "") for end in ("a", "b")]
                    yield from self._difference(gauge, "height", ends[0], ends[1])

    def sweeps(self, gauge: Gauge, bodies: Sequence[int]) -> Iterator[Candidate]:
        guides = [index for index in bodies if self.bodies[index].is_rail]
        for first, second in itertools.permutations(bodies, 2):
            guide, swept = self.bodies[first], self.bodies[second]
            if first not in guides or not swept.has_ends or abs(float(guide.along @ swept.along)) < 0.95:
                continue
            stations = _common(guide, swept)
            if stations is None:
                continue
            for side in ("+y", "-y", "+z"):
                one, two = ((guide.id, f"{swept.id}:{side}@{at:g}") for _, at in stations)
                yield from self._difference(gauge, "sweep", one, two)

    def levels(self, gauge: Gauge, near: Sequence[int]) -> Iterator[Candidate]:
        flat = [self.bodies[index] for index in near if abs(self.bodies[index].along[2]) < SQUARE]
        for p, q in itertools.combinations([body for body in flat if body.has_ends], 2):
            if abs(float(p.along @ q.along)) > 0.95:
                readings = (self._reading(gauge, "level", p.id), self._reading(gauge, "level", q.id))
                same = float(np.sign(p.along @ q.along))
                yield Candidate(gauge=gauge, readings=readings, shares=(1.0, -same))

    # --- geometry

    def _parallel(self, near: Sequence[int], longest: float) -> Iterator[tuple[Body, Body]]:
        """Parallel bodies with ends, beside each other, the longer at most so many times the shorter."""
        some = [self.bodies[index] for index in near if self.bodies[index].has_ends]
        for p, q in itertools.combinations(some, 2):
            if abs(float(p.along @ q.along)) < 0.99:
                continue
            ratio = max(p.length_mm, q.length_mm) / min(p.length_mm, q.length_mm)
            apart = q.centre_mm - p.centre_mm
            across = apart - float(apart @ p.along) * p.along
            if ratio <= longest and float(np.linalg.norm(across)) > 30 and _square_on(p, across):
                yield p, q


def _square_on(body: Body, across: Array) -> bool:
    """Whether a direction goes square out of one of its faces."""
    own = body.placed.placement.back_direction(across)
    return float(np.abs(own).max()) > 0.99 * float(np.linalg.norm(own))


def face_toward(body: Body, way: Array) -> str:
    """The face of a body that looks a way most: "base/left-base:+y"; "" for its ends."""
    own = body.placed.placement.back_direction(way)
    axis = int(np.argmax(np.abs(own)))
    if axis == 0 and body.has_ends:
        return ""
    return f"{body.id}:{'+' if own[axis] > 0 else '-'}{'xyz'[axis]}"


def _at_end(face: str, end: str) -> str:
    part, _, side = face.partition(":")
    return f"{part}:{end}{side}"


def _end(body: Body, sign: float) -> Array:
    at: Array = body.centre_mm + sign * body.length_mm / 2 * body.along
    return at


def _reach(body: Body, corner: Array, side: float) -> float:
    """How far a body goes on from abreast of a corner, one way."""
    at = float((corner - body.centre_mm) @ body.along)
    return body.length_mm / 2 - side * at


def _common(p: Body, q: Body) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Two stations near the ends of what they share, each as distances from either body's end a."""
    same = 1.0 if float(p.along @ q.along) > 0 else -1.0
    middle = float((q.centre_mm - p.centre_mm) @ p.along)
    low = max(-p.length_mm / 2, middle - q.length_mm / 2) + 5
    high = min(p.length_mm / 2, middle + q.length_mm / 2) - 5
    if high - low < 30:
        return None
    low_pair, high_pair = (
        (round(at + p.length_mm / 2, 3), round(same * (at - middle) + q.length_mm / 2, 3))
        for at in (low, high)
    )
    return low_pair, high_pair
