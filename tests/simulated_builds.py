"""Builds that never were: frames from random saws and joints, read with imperfect instruments, and pushed.

The truth is drawn from the same limits that the model knows; what comes of it is exact geometry. Readings
are the truth's, with the instruments' own errors, scatter and unknown zeros. A push moves the true frame as
joints of unlike friction would have it, and by not quite what was asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trysquare.ground.placement import Array
from trysquare.machine.values import Machine
from trysquare.truing.advice import Advice
from trysquare.truing.bodies import Assembly, assembly_of
from trysquare.truing.characteristics import Components, components_of
from trysquare.truing.equations import Equations
from trysquare.truing.model import Model, ModelBuilder, repeats
from trysquare.truing.moves import PUSH_MM, Give, give_of, pressed
from trysquare.truing.network import adjust
from trysquare.truing.readings import Reading
from trysquare.truing.standing import Standing

PLATE_MM = 0.02  # a plate's flatness, standard deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What is read in every build, and what stands meanwhile."""

    machine: Machine
    standing: Standing
    readings: tuple[Reading, ...]
    targets: tuple[str, ...]  # characteristics that must come true
    repeats: int = 2


def planned(
    sort: str, first: str, second: str = "", instrument: str = "", *, turned: bool = False
) -> Reading:
    """A reading of a plan, its value still to come."""
    text = f"{sort} {first} {second} {turned}"
    return Reading(
        id=text, sort=sort, first=first, second=second, value=0.0, instrument=instrument, turned=turned,
        setting="one" if instrument == "pinch-rod" else "",
    )  # fmt: skip


class Workshop:
    """One plan's geometry, made once; builds are drawn from it."""

    def __init__(self, plan: Plan, *, normal: bool = True) -> None:
        self.plan, self.normal = plan, normal
        self.assembly: Assembly = assembly_of(plan.machine, plan.standing)
        self.builder = ModelBuilder(self.assembly)
        self.model: Model = self.builder.done(repeats(plan.readings))
        self.components: Components = components_of(self.assembly, self.model.builder)
        self.gauges = self.builder.gauges

    def error(self, chance: np.random.Generator, half_width: float) -> float:
        """An error known to lie within ± half_width: normal with the same deviation, or even."""
        if self.normal:
            return float(chance.normal(0, half_width / np.sqrt(3)))
        return float(chance.uniform(-half_width, half_width))

    def build(self, chance: np.random.Generator) -> Array:
        """The unknowns of a true frame: every cut and joint with an error of its own."""
        equations = self.model.equations
        observed = equations.observed.copy()
        for number, row in self.model.cut_rows.items():
            observed[row] = self.error(chance, self.assembly.bodies[number].cut_mm)
        for index, link in enumerate(self.assembly.links):
            play = np.r_[link.play.shift_mm, link.play.turn_rad]
            lean = np.r_[np.zeros(3), link.end_rad]
            for place in range(6):
                if link.play.runs and place == 1:
                    continue
                row = self.model.joint_rows[index, place]
                observed[row] = self.error(chance, play[place]) + self.error(chance, lean[place])
        true = replace(equations, observed=observed)
        used = np.arange(equations.rows) < self.model.prior_rows
        return adjust(true, held=self.model.held, used=used).x

    def read(self, chance: np.random.Generator, true: Array, number: int = 1) -> tuple[Reading, ...]:
        """The plan's readings of a true frame."""
        x = true.copy()
        for column in self.model.own_errors.values():
            x[column] = 0.0
        own = {
            name: self.error(chance, gauge.half_width_mm)
            for name, gauge in self.gauges.items()
            if gauge.kind.own_error
        }
        zero = {name: float(chance.uniform(-5, 5)) for name in self.gauges}
        exact = self._without_shared(x)
        found = []
        for observation, row in zip(self.model.observations, self.model.rows_of, strict=True):
            reading, gauge = observation.first, observation.gauge
            assert gauge is not None
            value = exact[row]
            if gauge.kind.own_error:
                share = (reading.at_mm or gauge.full_reach_mm) / gauge.full_reach_mm
                value += own[gauge.id] * share * (1 if reading.turned else -1)
                value += self.error(chance, gauge.kind.reading_mm)
            else:
                half = gauge.half_width_mm / (np.sqrt(2) if gauge.kind.as_difference else 1)
                value += self.error(chance, half)
            value += zero[gauge.id] if gauge.kind.free_zero else 0.0
            for _ in range(self.plan.repeats):
                one = float(value + chance.normal(0, gauge.kind.scatter_mm))
                found.append(replace(reading, value=one, written=f"{one:.3f}", round=number))
        return tuple(found)

    def _without_shared(self, x: Array) -> Array:
        """What each row reads when instruments have neither zero nor error: their unknowns are 0 in x."""
        clean = x.copy()
        for name, column in {**self.builder.own_errors}.items():
            assert name in self.gauges
            clean[column] = 0.0
        for column in self.builder.zeros.values():
            clean[column] = 0.0
        return self.model.equations.predict(clean)

    def truth(self, true: Array) -> Array:
        """The true values of all components."""
        return self.components.values(true)

    def push(self, chance: np.random.Generator, true: Array, advice: Advice) -> Array:
        """The true frame after somebody did what was advised, nearly."""
        equations: Equations = self.model.equations
        _, matrix = equations.linearised(true)
        give = self._unlike(chance, matrix, advice)
        moved = true.copy()
        for one in advice.pushes:
            if one.presses >= 0:  # onto a plate that is flat to a few hundredths
                rate = self.components.rates(moved).toarray()[one.presses]
                out = self.truth(moved)[one.presses] + chance.normal(0, PLATE_MM)
                moved = moved + out * pressed(self.model, matrix, self.plan.standing, rate)  # type: ignore[arg-type]
                continue
            index = next(
                number
                for number, handle in enumerate(give.handles)
                if self.assembly.bodies[handle.body].id == one.part
                and (handle.sign < 0) == (one.end == "a")
                and abs(np.dot(handle.way, one.way)) > 0.9
                and handle.link == one.link
            )
            sign = float(np.sign(np.dot(give.handles[index].way, one.way)))
            size = sign * one.by_mm * (1 + chance.normal(0, 0.05)) + self.error(chance, PUSH_MM)
            moved = moved + give.answers[:, index] * size
        return moved

    def _unlike(self, chance: np.random.Generator, matrix: object, advice: Advice) -> Give:
        """How the true joints give: each with a friction of its own, about a third up or down."""
        links = tuple(
            replace(
                link,
                play=replace(
                    link.play,
                    shift_mm=link.play.shift_mm * np.exp(chance.normal(0, 0.3, 3)),
                    turn_rad=link.play.turn_rad * np.exp(chance.normal(0, 0.3, 3)),
                ),
            )
            for link in self.assembly.links
        )
        model = replace(self.model, assembly=replace(self.assembly, links=links))
        return give_of(model, matrix, self.plan.standing, advice.loosen, presses=np.inf)  # type: ignore[arg-type]


def targets_of(workshop: Workshop) -> Array:
    """Which components belong to the plan's targets."""
    names: Sequence[str] = [row.characteristic for row in workshop.components.rows]
    return np.array([name in workshop.plan.targets for name in names])


__all__ = ["Plan", "Workshop", "planned", "targets_of"]
