"""Everything that readings say of a machine: verdicts, blunders, what to do, what to read next.

`report` is the one way in for the terminal, the bench and the book: values in, values out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.machine.values import Characteristic, Machine
from trysquare.truing.advice import Advice, advise
from trysquare.truing.blunders import Blunder, Checked, Snooped, checked, snoop
from trysquare.truing.bodies import Assembly, assembly_of
from trysquare.truing.causes import Cause, likely_causes
from trysquare.truing.characteristics import BY_SHAPE, Components, components_of
from trysquare.truing.direct import direct_components, direct_doubts
from trysquare.truing.direct_next import DirectNext, by_hand, direct_next
from trysquare.truing.doubts import Doubt, doubts_of
from trysquare.truing.meaning import meaning
from trysquare.truing.model import Model, ModelBuilder, repeats
from trysquare.truing.network import Adjustment, adjust
from trysquare.truing.next_reading import NextReadings, next_readings
from trysquare.truing.readings import Reading, latest
from trysquare.truing.results import CharacteristicResult, ComponentResult, but_good, opened
from trysquare.truing.standing import Standing, at_reading, while_truing
from trysquare.truing.uncertainty import COVERAGE
from trysquare.truing.verdicts import Judged, Verdict, judge, worst_of

SEEN = 0.02  # share of its variance that readings take off a component before it counts as read
MOST_ENDS = 4
UNSEEN = 0.9  # share of its variance left along a direction that no reading sees


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingResult:
    """A reading beside what all others say it should be. `counts`: whether it took part; `doubt`, `blunder`,
    `causes`: why not. `checked` is None for readings that are not of the shape."""

    readings: tuple[Reading, ...]
    value: float
    counts: bool
    checked: Checked | None
    doubt: Doubt | None = None
    blunder: Blunder | None = None
    causes: tuple[Cause, ...] = ()
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """The adjusted shape, for drawing and for moving on. All in the frame of the body that is held."""

    assembly: Assembly
    builder: ModelBuilder
    model: Model
    snooped: Snooped
    components: Components
    rates: Array

    @property
    def adjustment(self) -> Adjustment:
        return self.snooped.adjustment


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TruingReport:
    """What readings say. `unseen`: what no reading sees, in words. `own_errors`: of instruments with one,
    what the readings tell of it: value and U at full reach, mm. `by_hand`: of bad ones that were read as they
    are, what a hand does. `direct`: open ones to be read as they are."""

    machine: str
    standing: Standing
    characteristics: tuple[CharacteristicResult, ...]
    readings: tuple[ReadingResult, ...]
    doubts: tuple[Doubt, ...]
    advice: Advice | None
    next: NextReadings
    unseen: tuple[str, ...]
    own_errors: Mapping[str, tuple[float, float]]
    chi_square: float
    freedom: int
    shape: Shape
    by_hand: tuple[tuple[str, str], ...] = ()
    direct: tuple[DirectNext, ...] = ()

    @property
    def verdict(self) -> Verdict:
        return worst_of([one.verdict for one in self.characteristics if one.components])


def report(
    machine: Machine,
    readings: Sequence[Reading],
    standing: Standing | None = None,
    *,
    advice: bool = True,
) -> TruingReport:
    """What these readings say of this machine. `standing`: what is there and how tight; left out: as at the
    last step that a reading names, else all there and what is to be trued snug. `advice`: also what to do and
    what to read next."""
    standing = standing or standing_for(machine, readings)
    current = [one for one in latest(tuple(readings)) if not one.set_aside]
    named = {word.partition(":")[0] for one in current for word in (one.first, *one.second.split())}
    assembly = assembly_of(machine, standing, named)
    builder = ModelBuilder(assembly)
    of_shape = [one for one in current if builder.understands(one)]
    groups = repeats(of_shape)
    model = builder.done(groups)
    asked = direct_doubts(machine, current, builder.gauges)
    doubts = (*doubts_of(model, [one for one in current if one not in of_shape]), *asked)
    excluded = frozenset(one.observation for one in doubts if one.sets_aside and one.observation is not None)
    snooped = snoop(model, excluded)
    components = components_of(assembly, model.builder)
    solved = snooped.adjustment
    rates = components.rates(solved.x).toarray()
    results = _results(model, snooped, components, rates)
    aside = [each for one in asked if one.sets_aside for each in one.readings]
    direct = direct_components(machine, current, builder.gauges, aside)
    characteristics = tuple(
        _characteristic(one, assembly, components, results, direct) for one in machine.characteristics
    )
    judged = [one.judged for one in results]
    settled = [
        one.characteristic.id
        for one in characteristics
        if one.characteristic.id in direct and one.verdict in (Verdict.GOOD, Verdict.BAD)
    ]
    shape = Shape(
        assembly=assembly, builder=builder, model=model, snooped=snooped, components=components, rates=rates
    )
    return TruingReport(
        machine=machine.name,
        standing=standing,
        characteristics=characteristics,
        readings=_readings(readings, shape, doubts, current),
        doubts=doubts,
        advice=advise(
            model,
            solved,
            components.rows,
            but_good(judged, components, characteristics, direct),
            rates,
            standing,
        )
        if advice
        else None,
        next=next_readings(builder, model, solved, components.rows, judged, rates, settled)
        if advice
        else NextReadings(owned=(), borrowed=(), considered=0),
        unseen=unseen_directions(shape),
        own_errors={
            name: (
                float(solved.x[column]),
                float(COVERAGE * np.sqrt(solved.covariance[column, column])),
            )
            for name, column in model.own_errors.items()
        },
        chi_square=solved.chi_square,
        freedom=solved.freedom,
        shape=shape,
        by_hand=tuple(
            (one.characteristic.id, says)
            for one in characteristics
            if advice and one.verdict is Verdict.BAD and one.characteristic.id in direct
            if (says := by_hand(one.characteristic))
        ),
        direct=direct_next(machine, opened(machine, standing, characteristics, direct, current))
        if advice
        else (),
    )


def standing_for(machine: Machine, readings: Sequence[Reading]) -> Standing:
    """What stands while these readings are made: as at the last step that one of them names."""
    order = {step.id: index for index, step in enumerate(machine.steps)}
    steps = [one.step for one in readings if one.step in order]
    return at_reading(machine, max(steps, key=order.__getitem__)) if steps else while_truing(machine)


def _results(model: Model, snooped: Snooped, components: Components, rates: Array) -> list[ComponentResult]:
    """Every component judged, without what it means."""
    solved = snooped.adjustment
    values = components.values(solved.x)
    spread = solved.uncertainty(rates)
    before = np.arange(model.equations.rows) < model.prior_rows
    prior = adjust(model.equations, held=model.held, used=before) if len(model.rows_of) else solved
    known = prior.uncertainty(rates)
    determined = solved.determines(rates)
    seen = 1 - (spread / np.maximum(known, 1e-12)) ** 2
    return [
        ComponentResult(
            says=row.says,
            judged=judge(
                float(values[index]),
                float(spread[index]),
                row.limit,
                read=bool(seen[index] >= SEEN and determined[index]),
            ),
            seen=float(np.clip(seen[index], 0.0, 1.0)),
            determined=bool(determined[index]),
            meaning="",
        )
        for index, row in enumerate(components.rows)
    ]


def _characteristic(
    one: Characteristic,
    assembly: Assembly,
    components: Components,
    results: Sequence[ComponentResult],
    direct: Mapping[str, tuple[tuple[str, Judged], ...]],
) -> CharacteristicResult:
    if one.sort in BY_SHAPE and one.id not in direct:
        mine = tuple(
            ComponentResult(
                says=result.says,
                judged=result.judged,
                seen=result.seen,
                determined=result.determined,
                meaning=meaning(assembly, one, row, result.judged.value),
            )
            for row, result in zip(components.rows, results, strict=True)
            if row.characteristic == one.id
        )
        missing = [part for part in one.of if assembly.number(part) is None]
        why = f"not there yet: {', '.join(missing[:3])}" if missing else ""
    else:
        mine = tuple(
            ComponentResult(says=says, judged=judged, seen=1.0, determined=True, meaning="")
            for says, judged in direct.get(one.id, ())
        )
        why = "" if mine else f"read it directly: sort direct, from {one.id}"
        if not mine and one.sort == "flatness":
            why = f"sweep {', '.join(one.of)} with a dial at three stations or more"
    verdict = worst_of([each.judged.verdict for each in mine])
    return CharacteristicResult(characteristic=one, components=mine, verdict=verdict, why_not=why)


def _readings(
    all_readings: Sequence[Reading], shape: Shape, doubts: Sequence[Doubt], current: Sequence[Reading]
) -> tuple[ReadingResult, ...]:
    """All readings, those that count first beside what they should be; none is left out."""
    model, snooped = shape.model, shape.snooped
    checks = checked(model, snooped)
    blunders = {one.index: one for one in snooped.blunders}
    doubt_of = {one.observation: one for one in doubts if one.observation is not None}
    found: list[ReadingResult] = []
    told: set[int] = set()
    for index, observation in enumerate(model.observations):
        told |= {id(one) for one in observation.readings}
        blunder, doubt = blunders.get(index), doubt_of.get(index)
        suspect = blunder or (_as_blunder(index, checks[index]) if doubt and doubt.sets_aside else None)
        causes = (
            likely_causes(shape.builder, model, snooped.adjustment, suspect, snooped.blunders)
            if suspect is not None
            else ()
        )
        found.append(
            ReadingResult(
                readings=observation.readings,
                value=observation.value,
                counts=bool(snooped.used[model.rows_of[index]]),
                checked=checks[index],
                doubt=doubt,
                blunder=blunder,
                causes=causes[:3],
            )
        )
    now = {id(one) for one in current}
    aside = {
        id(reading): doubt for doubt in doubts for reading in doubt.readings if doubt.observation is None
    }
    for reading in all_readings:
        if id(reading) in told:
            continue
        why = reading.set_aside or ("" if id(reading) in now else "from before a correction")
        doubt = aside.get(id(reading))
        direct = reading.sort == "direct" and not why and not (doubt and doubt.sets_aside)
        found.append(
            ReadingResult(
                readings=(reading,),
                value=reading.value,
                counts=direct,
                checked=None,
                doubt=doubt,
                why_not=why,
            )
        )
    return tuple(found)


def _as_blunder(index: int, check: Checked) -> Blunder:
    """A reading that was set aside before it could contradict anything, in the form of one that did."""
    spread = abs(check.residual / check.normalised) if check.normalised else 1.0
    return Blunder(
        index=index,
        off=check.residual,
        expected=check.expected,
        uncertainty=spread,
        normalised=check.normalised,
    )


def unseen_directions(shape: Shape) -> tuple[str, ...]:
    """What no reading says anything of, in words, for bodies that some characteristic is about."""
    solved, model = shape.adjustment, shape.model
    words: list[str] = []
    for direction in solved.undetermined:
        names = [model.equations.names[index] for index in np.argsort(-np.abs(direction))[:3]]
        words.append(f"nothing holds or reads {', '.join(dict.fromkeys(names))}: it may be anything")
    open_ = {
        body
        for row, value in zip(shape.components.rows, shape.rates, strict=True)
        for body in row.bodies
        if float(np.abs(value).max()) > 0
    }
    if not len(model.rows_of):
        return tuple(words)
    before = np.arange(model.equations.rows) < model.prior_rows
    prior = adjust(model.equations, held=model.held, used=before)
    for index in sorted(open_):
        body = shape.assembly.bodies[index]
        ways = []
        for axis in (1, 2):
            rate = np.zeros((1, model.equations.unknowns))
            first = model.builder.column(index, 3)
            rate[0, first : first + 3] = body.placed.placement.turn[:, axis]
            known = float(prior.uncertainty(rate)[0])
            if known > 1e-9 and float(solved.uncertainty(rate)[0]) ** 2 > UNSEEN * known**2:
                lean = np.cross(body.placed.placement.turn[:, axis], body.along)
                ways.append(_lean_words(lean))
        if ways and body.has_ends:
            words.append(f"no reading sees whether {body.id} leans {' or '.join(ways)}")
    return (*words, *_ends_not_read(shape, open_))


def _ends_not_read(shape: Shape, bodies: set[int]) -> tuple[str, ...]:
    """How square the ends of members are cut is only known before: it is part of what their joints allow."""
    assembly = shape.assembly
    ends: dict[str, float] = {}
    for link in assembly.links:
        lean = float(np.abs(link.end_rad).max())
        if link.end and lean > 0 and bodies & {link.one, link.other}:
            name = assembly.bodies[link.one].id
            ends[name] = max(lean, ends.get(name, 0.0))
    if not ends:
        return ()
    names = list(ends)
    told = ", ".join(names[:MOST_ENDS]) + (
        f" and {len(names) - MOST_ENDS} more" if len(names) > MOST_ENDS else ""
    )
    words = f"no reading tells how square the ends of {told} are cut: taken as within "
    return (f"{words}±{100 * max(ends.values()):.2g} mm per 100 mm, part of what their corners read",)


def _lean_words(lean: Array) -> str:
    axis = int(np.argmax(np.abs(lean)))
    return ("left or right", "to the front or back", "up or down")[axis]
