"""What a characteristic is in numbers: the components that its parts, ends and faces make of it.

Each component is a row over the bodies' unknowns, so its value, its uncertainty and what moves it all come
from the same matrices. Signs: an inside angle that is open counts positive; apart towards the second end,
positive.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from trysquare.ground.placement import Array
from trysquare.machine.values import Characteristic
from trysquare.truing.bodies import Assembly, Body
from trysquare.truing.equations import Equations, EquationsBuilder

BY_SHAPE = ("squareness", "twist", "parallelism", "offset", "flush", "height-difference", "centring")
"""Sorts that follow from where the bodies stand."""

PERPENDICULAR = 0.05  # cosine below which two directions are meant to be square
NEIGHBOURS_MM = 60.0  # members whose axes come this near make a corner
COPLANAR_MM = 0.05  # faces drawn in one plane


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One number of a characteristic. `says`: which corner or direction it is. `bodies`: whose it is.
    `span_mm`: over which length its parts lie, for what it means in use."""

    characteristic: str
    says: str
    bodies: tuple[int, ...]
    limit: float
    unit: str
    span_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Components:
    """All components and their rows. `drawn` (k,): what the rows say of the machine as drawn: a component's
    value is the row's less this."""

    rows: tuple[Component, ...]
    equations: Equations
    drawn: Array

    def values(self, x: Array) -> Array:
        """The components' values (k,) at x."""
        found: Array = self.equations.predict(x) - self.drawn
        return found

    def rates(self, x: Array) -> sparse.csr_matrix:
        """Their rates of change (k, n) at x."""
        return self.equations.linearised(x)[1]


def components_of(assembly: Assembly, builder: EquationsBuilder) -> Components:
    """The components of every characteristic whose parts all stand."""
    maker = _Maker(assembly, builder.like())
    for characteristic in assembly.machine.characteristics:
        if characteristic.sort in BY_SHAPE and all(part in maker.numbers for part in characteristic.of):
            maker.make(characteristic)
    equations = maker.build.done()
    return Components(
        rows=tuple(maker.rows),
        equations=equations,
        drawn=equations.predict(np.zeros(equations.unknowns)),
    )


class _Maker:
    def __init__(self, assembly: Assembly, build: EquationsBuilder) -> None:
        self.assembly, self.build = assembly, build
        self.bodies = assembly.bodies
        self.numbers = {body.id: index for index, body in enumerate(assembly.bodies)}
        self.rows: list[Component] = []
        machine = assembly.machine
        order = dict.fromkeys([step.unit for step in machine.steps] + list(machine.units))
        self._units = {unit: index for index, unit in enumerate(order)}

    def make(self, characteristic: Characteristic) -> None:
        parts = [self.numbers[part] for part in characteristic.of]
        against = [self.numbers[part] for part in characteristic.against if part in self.numbers]
        {
            "squareness": self._squareness,
            "twist": self._twist,
            "parallelism": self._parallelism,
            "offset": self._offset,
            "flush": self._flush,
            "height-difference": self._height_difference,
            "centring": self._centring,
        }[characteristic.sort](characteristic, parts, against)

    def _add(self, characteristic: Characteristic, says: str, bodies: Sequence[int], span_mm: float) -> None:
        self.rows.append(
            Component(
                characteristic=characteristic.id,
                says=says,
                bodies=tuple(bodies),
                limit=characteristic.limit,
                unit=characteristic.unit,
                span_mm=span_mm,
            )
        )

    # --- squareness

    def _squareness(self, one: Characteristic, parts: list[int], against: list[int]) -> None:
        pairs = list(self._against(parts, against)) if against else self._corners(parts)
        if not pairs:
            pairs = list(self._against(parts, self._earlier(parts)))
        for first, second in pairs:
            a, b = self._away(first, second), self._away(second, first)
            span = min(self.bodies[first].length_mm, self.bodies[second].length_mm)
            scale = -100.0 if one.unit == "mm/100" else -span
            self.build.angle(scale, (first, a), (second, b), 0.0, 1.0)
            self._add(one, f"{self.bodies[first].id} to {self.bodies[second].id}", (first, second), span)

    def _corners(self, parts: Sequence[int]) -> list[tuple[int, int]]:
        """Pairs that are meant to be square: those that make a corner, or all where none do."""
        pairs = [pair for pair in itertools.combinations(parts, 2) if self._square(*pair)]
        near = [pair for pair in pairs if self._apart_mm(*pair) <= NEIGHBOURS_MM]
        return near or pairs

    def _against(self, parts: Sequence[int], others: Sequence[int]) -> Iterator[tuple[int, int]]:
        """Each part with the nearest square to it in each direction."""
        for part in parts:
            chosen: list[int] = []
            for other in sorted(others, key=lambda index: (self._apart_mm(part, index), index)):
                way = self.bodies[other].along
                known = [self.bodies[index].along for index in chosen]
                if self._square(part, other) and all(abs(float(way @ along)) < 0.7 for along in known):
                    chosen.append(other)
            yield from ((part, other) for other in chosen)

    def _earlier(self, parts: Sequence[int]) -> list[int]:
        """Members of units built before these: what they stand on."""
        first = min(self._units.get(self.bodies[part].placed.unit, 0) for part in parts)
        members = [index for index, body in enumerate(self.bodies) if body.is_member and index not in parts]
        before = [index for index in members if self._units.get(self.bodies[index].placed.unit, 0) < first]
        return before or members

    def _square(self, one: int, other: int) -> bool:
        return abs(float(self.bodies[one].along @ self.bodies[other].along)) < PERPENDICULAR

    def _apart_mm(self, one: int, other: int) -> float:
        a, b = _nearest_points(self.bodies[one], self.bodies[other])
        return float(np.linalg.norm(a - b))

    def _away(self, one: int, other: int) -> Array:
        """The long direction of a body, away from the corner with another; as it is where there is none."""
        body = self.bodies[one]
        corner, _ = _nearest_points(body, self.bodies[other])
        reach = float((corner - body.centre_mm) @ body.along)
        return -body.along if reach > body.length_mm / 4 else body.along

    # --- twist

    def _twist(self, one: Characteristic, parts: list[int], _: list[int]) -> None:
        ends = [
            (
                part,
                sign,
                self.bodies[part].centre_mm
                + sign * self.bodies[part].length_mm / 2 * self.bodies[part].along,
            )
            for part in parts
            for sign in (-1.0, 1.0)
        ]
        places: Array = np.array([at for _, _, at in ends])
        axes = np.linalg.svd(places - places.mean(axis=0))[2]
        flat: Array = (places - places.mean(axis=0)) @ _tidy(axes)[:2].T
        chosen = [int(np.argmax(flat @ np.array(way))) for way in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        if len(set(chosen)) < 4:
            return
        # shares that add to nothing and see no displacement or turn of the whole: what is left is twist
        table = np.vstack([flat[chosen].T, np.ones(4)])
        shares = np.linalg.svd(table)[2][-1]
        shares = shares / shares[0]
        normal = np.cross(*_tidy(axes)[:2])
        terms = []
        for share, index in zip(shares, chosen, strict=True):
            part, sign, at = ends[index]
            terms.append((self.build.point(part, at, sign), float(share)))
        self.build.projection(terms, normal, 0.0, 1.0)
        size = np.ptp(flat[chosen], axis=0)
        names = list(dict.fromkeys(self.bodies[ends[index][0]].id for index in chosen))
        self._add(one, f"fourth corner of {' and '.join(names)}", parts, float(size.max()))

    # --- parallel, apart, along

    def _parallelism(self, one: Characteristic, parts: list[int], against: list[int]) -> None:
        first, *others = [*against[:1], *parts] if against else parts
        reference = self.bodies[first]
        for other in others:
            body = self.bodies[other]
            middle = float((body.centre_mm - reference.centre_mm) @ reference.along)
            low = max(-reference.length_mm / 2, middle - body.length_mm / 2)
            high = min(reference.length_mm / 2, middle + body.length_mm / 2)
            if high - low < 1.0:
                low, high = -reference.length_mm / 2, reference.length_mm / 2
            span = high - low
            scale = 100 / span if one.unit == "mm/100" else 1.0
            for way, says in self._across(reference, body):
                terms = [
                    (self._along(number, first, station), sign * side * scale)
                    for station, sign in ((high, 1.0), (low, -1.0))
                    for number, side in ((other, 1.0), (first, -1.0))
                ]
                self.build.projection(terms, way, 0.0, 1.0, turns_with=first)
                self._add(one, f"{body.id} {says} {reference.id}", (first, other), span)

    def _across(self, reference: Body, body: Body) -> tuple[tuple[Array, str], tuple[Array, str]]:
        """The direction from one to the other, and that square to both."""
        apart = body.centre_mm - reference.centre_mm
        apart = apart - float(apart @ reference.along) * reference.along
        size = float(np.linalg.norm(apart))
        way = apart / size if size > 1.0 else reference.placed.placement.turn[:, 1]
        return (way, "away from"), (np.cross(reference.along, way), "twisted to")

    def _along(self, number: int, reference: int, station: float) -> int:
        """A point of a body abreast of a station of the reference."""
        body, guide = self.bodies[number], self.bodies[reference]
        spot = guide.centre_mm + station * guide.along
        at = body.centre_mm + float((spot - body.centre_mm) @ body.along) * body.along
        return self.build.point(number, at)

    def _offset(self, one: Characteristic, parts: list[int], against: list[int]) -> None:
        first, second = (parts[0], (parts[1:] + against)[0])
        body, member = self.bodies[first], self.bodies[second]
        sign = self._counted_from(body, member)
        end = member.centre_mm + sign * member.length_mm / 2 * member.along
        toward = -sign * member.along
        half = body.length_mm / 2 if abs(float(body.along @ member.along)) > 0.9 else 0.0
        near = body.centre_mm - half * toward
        terms = [
            (self.build.point(first, near, -float(np.sign(body.along @ toward)) if half else 0.0), 1.0),
            (self.build.point(second, end, sign), -1.0),
        ]
        self.build.projection(terms, toward, 0.0, 1.0, turns_with=second)
        says = f"{body.id} from end {'b' if sign > 0 else 'a'} of {member.id}"
        self._add(one, says, (first, second), member.length_mm)

    def _counted_from(self, body: Body, member: Body) -> float:
        """The member's end that the drawing counts from: as its place says, else the nearer one."""
        tree = self.assembly.machine.tree
        unit, _, name = body.id.partition("/")
        if tree is not None:
            row = tree.lines.get("unit", {}).get(unit, {}).get("place", {}).get(name, {})
            if isinstance(row, dict) and row.get("from") in ("a", "b") and "on" in row:
                return 1.0 if row["from"] == "b" else -1.0
        return 1.0 if float((body.centre_mm - member.centre_mm) @ member.along) > 0 else -1.0

    def _height_difference(self, one: Characteristic, parts: list[int], against: list[int]) -> None:
        first, *others = [*against[:1], *parts] if against else parts
        reference = self.bodies[first]
        normal = reference.placed.placement.turn[:, 2]
        for other in others:
            body = self.bodies[other]
            terms = [
                (self.build.point(other, body.centre_mm), 1.0),
                (self.build.point(first, reference.centre_mm), -1.0),
            ]
            self.build.projection(terms, normal, 0.0, 1.0, turns_with=first)
            span = float(np.linalg.norm(body.centre_mm - reference.centre_mm))
            self._add(one, f"{body.id} over {reference.id}", (first, other), span)

    def _centring(self, one: Characteristic, parts: list[int], against: list[int]) -> None:
        first, second = (parts[0], (parts[1:] + against)[0])
        body, member = self.bodies[first], self.bodies[second]
        across = body.placed.placement.turn[:, 1]
        for sign, end in ((-1.0, "a"), (1.0, "b")):
            at = body.centre_mm + sign * body.length_mm / 2 * body.along
            below = member.centre_mm + float((at - member.centre_mm) @ member.along) * member.along
            terms = [(self.build.point(first, at), 1.0), (self.build.point(second, below), -1.0)]
            self.build.projection(terms, across, 0.0, 1.0, turns_with=second)
            self._add(one, f"end {end} of {body.id} beside {member.id}", (first, second), body.length_mm)

    def _flush(self, one: Characteristic, parts: list[int], against: list[int]) -> None:
        for first, second in itertools.pairwise([*parts, *against]):
            for way, at, other_at in _coplanar(self.bodies[first], self.bodies[second]):
                with_end, other_with_end = self._ends(first, way), self._ends(second, way)
                terms = [
                    (self.build.point(first, at, with_end), 1.0),
                    (self.build.point(second, other_at, other_with_end), -1.0),
                ]
                self.build.projection(terms, way, 0.0, 1.0, turns_with=second)
                says = f"{self.bodies[first].id} over {self.bodies[second].id}"
                self._add(one, says, (first, second), float(np.linalg.norm(at - other_at)))

    def _ends(self, number: int, way: Array) -> float:
        body = self.bodies[number]
        dot = float(way @ body.along)
        return float(np.sign(dot)) if body.is_member and abs(dot) > 0.9 else 0.0


def _tidy(axes: Array) -> Array:
    """Each direction with its largest part positive, so that signs are the same every time."""
    return np.array([row * np.sign(row[np.argmax(np.abs(row))]) for row in axes])


def _nearest_points(one: Body, other: Body) -> tuple[Array, Array]:
    """The points of two bodies' axes that are nearest to each other."""
    apart = other.centre_mm - one.centre_mm
    dot = float(one.along @ other.along)
    a, b = float(apart @ one.along), float(apart @ other.along)
    bent = 1 - dot * dot
    s = (a - dot * b) / bent if bent > 1e-9 else a
    s = float(np.clip(s, -one.length_mm / 2, one.length_mm / 2))
    t = float(np.clip(s * dot - b, -other.length_mm / 2, other.length_mm / 2))
    s = float(np.clip(a + t * dot, -one.length_mm / 2, one.length_mm / 2))
    return one.centre_mm + s * one.along, other.centre_mm + t * other.along


def _coplanar(one: Body, other: Body) -> Iterator[tuple[Array, Array, Array]]:
    """Faces of two bodies drawn in one plane and looking the same way: the way, and a point of each."""
    for axis in range(3):
        way = one.placed.placement.turn[:, axis]
        for other_axis in range(3):
            if abs(float(way @ other.placed.placement.turn[:, other_axis])) < 1 - 1e-6:
                continue
            for sign in (1.0, -1.0):
                out = sign * way
                at = one.centre_mm + one.box.half_mm[axis] * out
                other_at = other.centre_mm + other.box.half_mm[other_axis] * out
                if abs(float(out @ (at - other_at))) <= COPLANAR_MM:
                    yield out, at, other_at
