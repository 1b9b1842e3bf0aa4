"""From bodies, links and readings to equations: what each joint allows, and what each reading says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.machine.values import Machine
from trysquare.truing.bodies import Assembly, Link
from trysquare.truing.equations import Equations, EquationsBuilder, Extra
from trysquare.truing.features import Feature, Features
from trysquare.truing.instruments import Gauge, gauge_of
from trysquare.truing.reading_rows import ROWS
from trysquare.truing.readings import Reading
from trysquare.truing.uncertainty import scatter_of_mean, standard_uncertainty

LOOSE_MM, LOOSE_RAD = 20.0, 0.05  # where a part stands that nothing holds: near where it is drawn
TABLE_MM, TABLE_RAD = 50.0, 0.02  # a plate or table is so high and so level as people set it


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One or several repeats of a reading as one row. `value`: their mean; `uncertainty`: standard, of the
    row without what the instrument shares. `drawn`: what it would read on the machine as drawn."""

    readings: tuple[Reading, ...]
    value: float
    uncertainty: float
    gauge: Gauge | None
    drawn: float

    @property
    def first(self) -> Reading:
        return self.readings[0]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """The equations of an assembly. Rows: first those of cuts and joints, then the observations.

    `held` (n,): unknowns of the body that stands still. `joint_rows`: for each link its six rows, along and
    about the columns of its axes. `cut_rows`: body number to the row of its length. `rows_of`: for each
    observation its row. `unlinked`: bodies that nothing joins to the rest, by whatever does stand together.
    """

    assembly: Assembly
    builder: EquationsBuilder
    equations: Equations
    held: NDArray[np.bool_]
    joint_rows: NDArray[np.int64]
    cut_rows: Mapping[int, int]
    observations: tuple[Observation, ...]
    rows_of: NDArray[np.int64]
    own_errors: Mapping[str, int] = field(default_factory=dict)  # instrument id -> column
    groups: tuple[tuple[int, ...], ...] = ()

    @property
    def prior_rows(self) -> int:
        return self.equations.rows - len(self.rows_of)


class ModelBuilder:
    """Makes a model: links first, then readings."""

    def __init__(self, assembly: Assembly) -> None:
        self.assembly = assembly
        self.machine: Machine = assembly.machine
        self.features = Features(assembly.machine)
        self.build = EquationsBuilder()
        self.numbers = {body.id: index for index, body in enumerate(assembly.bodies)}
        for body in assembly.bodies:
            self.build.body(body.id, body.centre_mm, body.along if body.is_member else None)
        self.gauges = {
            one.id: gauge for one in assembly.machine.instruments if (gauge := gauge_of(one)) is not None
        }
        self.own_errors: dict[str, int] = {}
        self.zeros: dict[tuple[str, ...], int] = {}
        self._table: tuple[int, int, int] | None = None
        self._gravity: tuple[int, int] | None = None
        self.cut_rows: dict[int, int] = {}
        for index, body in enumerate(assembly.bodies):
            if body.is_member:
                column = Extra(column=self.build.lengths[index], factor=1.0)
                self.cut_rows[index] = self.build.linear([column], 0.0, standard_uncertainty(body.cut_mm))
        self.joint_rows = [self._link(link) for link in assembly.links]
        self.groups = _groups(len(assembly.bodies), assembly.links)
        self.held = self._hold()

    # --- cuts and joints

    def _link(self, link: Link) -> list[int]:
        build = self.build
        one = build.point(link.one, link.at_mm, link.with_end)
        other = build.point(link.other, link.at_mm, link.other_with_end)
        shift = standard_uncertainty(1.0) * link.play.shift_mm
        turn = standard_uncertainty(1.0) * np.hypot(link.play.turn_rad, link.end_rad)
        rows = [
            build.projection(
                [(one, 1.0), (other, -1.0)],
                link.axes[:, axis],
                0.0,
                float(shift[axis]),
                turns_with=link.other,
            )
            for axis in range(3)
        ]
        for axis in range(3):
            extras = [
                Extra(column=build.column(body, 3 + place), factor=sign * float(link.axes[place, axis]))
                for body, sign in ((link.one, 1.0), (link.other, -1.0))
                for place in range(3)
            ]
            rows.append(build.linear(extras, 0.0, float(turn[axis])))
        return rows

    def _hold(self) -> list[int]:
        """The largest group's first body stands still; the first of every other is near where it is drawn."""
        if not self.groups:
            return []
        largest = max(range(len(self.groups)), key=lambda index: len(self.groups[index]))
        for index, group in enumerate(self.groups):
            if index != largest:
                for place in range(6):
                    sigma = LOOSE_MM if place < 3 else LOOSE_RAD
                    column = Extra(column=self.build.column(group[0], place), factor=1.0)
                    self.build.linear([column], 0.0, sigma)
        return [self.build.column(self.groups[largest][0], place) for place in range(6)]

    # --- readings

    def feature(self, name: str) -> Feature:
        return self.features.find(name)

    def spot(self, feature: Feature, build: EquationsBuilder) -> int:
        """The point of a feature."""
        body = self.numbers[feature.part]
        placed = self.assembly.bodies[body].placed
        return build.point(body, placed.placement.point(feature.at_mm), feature.with_end)

    def place(self, feature: Feature) -> Array:
        """Where a feature is drawn, machine frame."""
        return self.assembly.bodies[self.numbers[feature.part]].placed.placement.point(feature.at_mm)

    def way(self, feature: Feature) -> Array:
        """Where its normal points, machine frame; zero for a point without one."""
        return self.assembly.bodies[self.numbers[feature.part]].placed.placement.direction(feature.normal)

    def gauge(self, reading: Reading) -> Gauge | None:
        return self.gauges.get(reading.instrument)

    def observe(
        self,
        reading: Reading,
        value: float,
        uncertainty: float,
        build: EquationsBuilder | None = None,
        gauge: Gauge | None = None,
    ) -> int:
        """Adds a row for a reading; its number. Features must be there: `understands` says so."""
        build = build or self.build
        gauge = gauge or self.gauge(reading)
        extras = self._shared(reading, gauge)
        return ROWS[reading.sort](self, build, reading, value, uncertainty, extras)

    def understands(self, reading: Reading) -> bool:
        """Whether all its parts are bodies here."""
        if reading.sort == "direct":
            return False
        words = [reading.first, *reading.second.split()]
        return all(self.feature(word).part in self.numbers for word in words)

    def _shared(self, reading: Reading, gauge: Gauge | None) -> list[Extra]:
        """The instrument's own error and its setting's zero, as further unknowns."""
        if gauge is None:
            return []
        found: list[Extra] = []
        if gauge.kind.free_zero:
            key = (gauge.id, reading.setting, str(reading.round), "" if reading.setting else reading.sort)
            if key not in self.zeros:
                self.zeros[key] = self.build.unknown(f"zero of {gauge.id} {reading.setting}".strip())
            found.append(Extra(column=self.zeros[key], factor=1.0))
        if gauge.kind.own_error:
            share = (reading.at_mm or gauge.full_reach_mm) / gauge.full_reach_mm
            share = 1.0 if reading.sort == "level" else share
            column = self.own_error(gauge)
            found.append(Extra(column=column, factor=share if reading.turned else -share))
        return found

    def own_error(self, gauge: Gauge) -> int:
        """The column of an instrument's own error."""
        if gauge.id not in self.own_errors:
            column = self.build.unknown(f"own error of {gauge.id}")
            self.own_errors[gauge.id] = column
            self.build.linear([Extra(column=column, factor=1.0)], 0.0, gauge.own_uncertainty_mm)
        return self.own_errors[gauge.id]

    def table(self) -> tuple[int, int, int]:
        """Columns of the plate's height and its two slopes."""
        if self._table is None:
            names = ("height of the plate", "rise of the plate along x", "rise of the plate along y")
            height, along, across = (self.build.unknown(name) for name in names)
            self._table = height, along, across
            for column, sigma in zip(self._table, (TABLE_MM, TABLE_RAD, TABLE_RAD), strict=True):
                self.build.linear([Extra(column=column, factor=1.0)], 0.0, sigma)
        return self._table

    def gravity(self) -> tuple[int, int]:
        """Columns of how far the machine stands out of level, along x and y."""
        if self._gravity is None:
            along, across = self.build.unknown("level along x"), self.build.unknown("level along y")
            self._gravity = along, across
            for column in self._gravity:
                self.build.linear([Extra(column=column, factor=1.0)], 0.0, TABLE_RAD)
        return self._gravity

    def done(self, groups: Sequence[tuple[Reading, ...]] = ()) -> Model:
        """The model with these observations; each group is repeats of one reading."""
        prepared = [(group, *self._mean(group)) for group in groups]
        self.table()  # also for readings that are only thought of
        self.gravity()
        for group, _, _ in prepared:  # unknowns and their own rows come before the observations
            self._shared(group[0], self.gauge(group[0]))
        rows = [self.observe(group[0], value, uncertainty) for group, value, uncertainty in prepared]
        equations = self.build.done()
        drawn = equations.predict(np.zeros(equations.unknowns))
        held = np.zeros(equations.unknowns, dtype=bool)
        held[self.held] = True
        return Model(
            assembly=self.assembly,
            builder=self.build,
            equations=equations,
            held=held,
            joint_rows=np.array(self.joint_rows, dtype=np.int64).reshape(-1, 6),
            cut_rows=self.cut_rows,
            observations=tuple(
                Observation(
                    readings=group,
                    value=value,
                    uncertainty=uncertainty,
                    gauge=self.gauge(group[0]),
                    drawn=float(drawn[row]),
                )
                for (group, value, uncertainty), row in zip(prepared, rows, strict=True)
            ),
            rows_of=np.array(rows, dtype=np.int64),
            own_errors=dict(self.own_errors),
            groups=self.groups,
        )

    def _mean(self, group: tuple[Reading, ...]) -> tuple[float, float]:
        """Mean of repeats and its standard uncertainty apart from what the instrument shares."""
        values = [one.value for one in group]
        gauge = self.gauge(group[0])
        own = group[0].half_width_mm
        limits = standard_uncertainty(own) if own else gauge.reading_uncertainty_mm if gauge else 0.0
        scatter = scatter_of_mean(values, known=gauge.kind.scatter_mm if gauge else 0.0)
        return float(np.mean(values)), float(np.hypot(limits, scatter))


def repeats(readings: Sequence[Reading]) -> list[tuple[Reading, ...]]:
    """Readings grouped into repeats of one and the same, in the order of the first of each."""
    groups: dict[tuple[object, ...], list[Reading]] = {}
    for reading in readings:
        groups.setdefault(reading.same, []).append(reading)
    return [tuple(group) for group in groups.values()]


def _groups(count: int, links: Sequence[Link]) -> tuple[tuple[int, ...], ...]:
    """Bodies that hang together by links, each group in order."""
    group = {index: [index] for index in range(count)}
    for link in links:
        one, other = group[link.one], group[link.other]
        if one is not other:
            one += other
            for index in other:
                group[index] = one
    unique = {id(members): tuple(sorted(members)) for members in group.values()}
    return tuple(sorted(unique.values()))
