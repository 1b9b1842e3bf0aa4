"""Which belts are tuned, on which span, with which mass: from the machine and from what was typed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import click

from trysquare.catalogue.drives import read_belt as belt_named
from trysquare.cli import words
from trysquare.cli.answers import NotThere
from trysquare.cli.tune_shared import logged_before
from trysquare.ground.errors import nearest
from trysquare.machine.values import BeltRun, Machine
from trysquare.tuning.belt import (
    CUTTING_HEAD,
    LIGHT_HEAD,
    SPAN_WITHIN_MM,
    Target,
    belt_stiffness,
    expected_hz,
    half_width,
    pull_newton,
    ruled_target,
    table_mass,
    target_for,
    weighed_mass,
)
from trysquare.tuning.belt_reading import BeltOnSpan
from trysquare.tuning.belt_spans import NoTangent, Span, belt_runs, spans_at
from trysquare.tuning.moving_mass import moving_masses
from trysquare.tuning.values import Measured

USUAL_WIDTH_MM = 6.0
USUAL_PITCH_MM = 2.0
# From a thread to a flat belt a hand wide: what lies outside is typed in another unit.
LEAST_GRAM_PER_METRE, MOST_GRAM_PER_METRE = 0.5, 500.0
_NUMBER = r"\d+(?:\.\d*)?|\.\d+"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was typed; None where nothing was."""

    belts: tuple[str, ...] = ()
    span: str | None = None
    at: str | None = None
    length_mm: float | None = None
    length_within_mm: float | None = None
    mass: float | None = None
    mass_within: float | None = None
    weighed: str | None = None
    width_mm: float | None = None
    screw_mm: float | None = None
    takes_in: float = 2.0
    head: str = "light"
    target: float | None = None
    acceleration: float | None = None
    moving_gram: float | None = None
    expect: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A belt to be judged: with its target, and the bounds of the tone that are looked within."""

    of: str
    belt: BeltOnSpan
    span: Span | None
    target: Target
    ruled: bool
    expected_hz: tuple[float, float]
    notes: tuple[str, ...]


def cases(asked: Asked, machine: Machine | None, folder: str | None, count: int) -> list[Case]:
    """One case for each of `count` recordings or tones. Raises UsageError and NotThere."""
    if machine is None:
        return [_plain(asked, index, count) for index in range(count)]
    runs = _runs(asked, machine, count)
    return [_of_machine(asked, machine, folder, run) for run in runs]


def _plain(asked: Asked, index: int, count: int) -> Case:
    if asked.belts or asked.span or asked.at:
        raise click.UsageError("--belt, --span and --at are of a machine: give --machine FOLDER too.")
    if asked.length_mm is None:
        raise click.UsageError("How long is the span? Give --length-mm, or --machine FOLDER.")
    width = asked.width_mm or USUAL_WIDTH_MM
    mass, notes = _mass(asked, f"belt {USUAL_PITCH_MM:g} mm pitch {width:g} mm wide")
    belt = BeltOnSpan(
        name=f"belt {'AB'[index]}" if count == 2 else "the belt",
        span=_typed_length(asked, asked.length_mm),
        mass=mass,
        screw_mm_per_turn=asked.screw_mm,
        belt_mm_per_mm=asked.takes_in,
    )
    return _case(asked, "belt", belt, None, width, *_target(asked, None, None, None), notes)


def _runs(asked: Asked, machine: Machine, count: int) -> list[BeltRun]:
    runs = belt_runs(machine)
    if not runs:
        raise NotThere(
            f"{machine.name} has no belt: write a joint with recipe = 'belt-path', or leave --machine out "
            "and give --length-mm and --mass."
        )
    if not asked.belts:
        if count > len(runs):
            raise click.UsageError(
                f"{machine.name} has {words.count(len(runs), 'belt')}; {count} tones were given."
            )
        return list(runs[:count])
    found = [_run(machine, runs, word) for word in asked.belts]
    if len(found) == 1:
        return found * count
    if len(found) != count:
        raise click.UsageError(
            f"{len(found)} belts are named for {words.count(count, 'tone')}: name one for each."
        )
    return found


def _run(machine: Machine, runs: Sequence[BeltRun], word: str) -> BeltRun:
    known = {run.joint: run for run in runs}
    short = {run.joint.rpartition("/")[2]: run for run in runs}
    run = known.get(word) or short.get(word)
    if run is None:
        raise NotThere(
            f"{machine.name} has no belt '{words.one_line(word)}'. {nearest(word, [*known, *short])}"
        )
    return run


def _of_machine(asked: Asked, machine: Machine, folder: str | None, run: BeltRun) -> Case:
    spans = _spans(asked, machine, run)
    span = _span(asked, run, spans)
    size = belt_named(run.belt)
    width = asked.width_mm or (size.width_mm if size else USUAL_WIDTH_MM)
    mass, notes = _mass(asked, run.belt)
    if asked.length_mm is not None:
        length = _typed_length(asked, asked.length_mm)
    else:
        within = SPAN_WITHIN_MM if asked.length_within_mm is None else asked.length_within_mm
        length = half_width(span.length_mm, within, "mm", f"{machine.name}, span {span.number}")
    if span.changes and asked.at is None and asked.length_mm is None:
        notes.append(
            f"This span grows and shrinks with the head; it is taken as drawn, {span.length_mm:.0f} mm. "
            "--at tells where the head stood."
        )
    belt = BeltOnSpan(
        name=run.joint.rpartition("/")[2],
        span=length,
        mass=mass,
        length_mm=run.length_mm,
        stiffness=belt_stiffness(size.pitch_mm, size.width_mm) if size else None,
        others=tuple((_span_words(one), one.length_mm) for one in spans if one is not span),
        screw_mm_per_turn=asked.screw_mm,
        belt_mm_per_mm=asked.takes_in,
    )
    return _case(asked, run.joint, belt, span, width, *_target(asked, machine, folder, run), notes)


def _case(
    asked: Asked, of: str, belt: BeltOnSpan, span: Span | None, width: float, target: Target,
    ruled: bool, notes: list[str],
) -> Case:  # fmt: skip
    bounds = asked.expect or expected_hz(belt.span.value, belt.mass.value, width)
    return Case(
        of=of, belt=belt, span=span, target=target, ruled=ruled, expected_hz=bounds, notes=tuple(notes)
    )


def _spans(asked: Asked, machine: Machine, run: BeltRun) -> tuple[Span, ...]:
    places = places_of(asked.at, machine)
    try:
        return spans_at(machine, run, places)
    except NoTangent as error:
        raise click.UsageError(f"--at: {error}.") from error
    except ValueError as error:
        raise click.UsageError(f"--at: {error}.") from error


def places_of(text: str | None, machine: Machine) -> dict[str, float]:
    """Where each axis stands, from "90,90" (x, y …) or "x=90,y=20"; raises UsageError."""
    if not text:
        return {}
    known = {axis.id: axis for axis in machine.axes}
    order: list[str] = [name for name in ("x", "y", "z") if name in known] or list(known)
    places: dict[str, float] = {}
    for index, part in enumerate(text.split(",")):
        name, equals, number = part.rpartition("=")
        name = name.strip() if equals else (order[index] if index < len(order) else "")
        if name not in known:
            raise click.UsageError(f"--at: {machine.name} has no axis '{words.one_line(name or part)}'. "
                                   f"{nearest(name, known)}")  # fmt: skip
        try:
            places[name] = float(number)
        except ValueError:
            raise click.UsageError(
                f"--at read '{words.one_line(part)}'; expected millimetres of travel, such as --at 90,90."
            ) from None
    return places


def _span(asked: Asked, run: BeltRun, spans: tuple[Span, ...]) -> Span:
    """The span asked for, by number or a part at its ends; else the longest, which is nearest at hand."""
    if asked.span is None:
        return max(spans, key=lambda one: (not one.changes, one.length_mm))
    if asked.span.isdigit() and 1 <= int(asked.span) <= len(spans):
        return spans[int(asked.span) - 1]
    near = [one for one in spans if asked.span in (one.begins, one.ends)]
    near = near or [one for one in spans if asked.span in one.begins or asked.span in one.ends]
    if len(near) == 1:
        return near[0]
    told = "; ".join(f"{one.number}: {_span_words(one)}, {one.length_mm:.0f} mm" for one in spans)
    what = "is on no span" if not near else f"is on {len(near)} spans"
    raise NotThere(f"--span: '{words.one_line(asked.span)}' {what} of {run.joint}. Its spans are {told}.")


def _span_words(span: Span) -> str:
    return f"{span.begins.rpartition('/')[2]} to {span.ends.rpartition('/')[2]}"


def _typed_length(asked: Asked, length_mm: float) -> Measured:
    within = 0.5 if asked.length_within_mm is None else asked.length_within_mm
    return half_width(length_mm, within, "mm", "as given")


def _mass(asked: Asked, designation: str) -> tuple[Measured, list[str]]:
    if asked.weighed is not None:
        found = re.fullmatch(rf"\s*({_NUMBER})\s*g?\s*[:/]\s*({_NUMBER})\s*(?:mm)?\s*", asked.weighed)
        if found is None or float(found[1]) <= 0 or float(found[2]) <= 0:
            raise click.UsageError(
                f"--weighed read '{words.one_line(asked.weighed)}'; expected grams and millimetres, such as "
                "42:5000."
            )
        weighed = weighed_mass(float(found[1]), float(found[2]))
        _sane_mass(weighed.value, f"--weighed read '{words.one_line(asked.weighed)}', which is")
        return weighed, []
    if asked.mass is not None:
        _sane_mass(asked.mass, "--mass read")
        within = 0.02 * asked.mass if asked.mass_within is None else asked.mass_within
        return half_width(asked.mass, within, "g/m", "as given"), []
    size = belt_named(designation)
    if size is None:
        raise click.UsageError(
            f"The mass of {words.one_line(designation)} is not in our table: give --mass or --weighed."
        )
    return table_mass(size.mass_gram_per_metre), [
        f"The belt's mass, {size.mass_gram_per_metre:g} g/m, is from a table: weigh your own with --weighed."
    ]


def _sane_mass(gram_per_metre: float, read: str) -> None:
    least, most = LEAST_GRAM_PER_METRE, MOST_GRAM_PER_METRE
    if not least <= gram_per_metre <= most:
        raise click.UsageError(
            f"{read} {gram_per_metre:g} g/m; a belt weighs {least:g} to {most:g} g/m, one of 2 mm pitch and "
            "6 mm width about 8. --mass takes grams for a metre; --weighed grams, then millimetres: 42:5000."
        )


def _target(
    asked: Asked, machine: Machine | None, folder: str | None, run: BeltRun | None
) -> tuple[Target, bool]:
    """The builder's ruling goes before everything, then the last one logged, then what the trade says."""
    if asked.target is not None:
        return ruled_target(asked.target), True
    if machine is not None and folder is not None and run is not None:
        kept = _kept_ruling(logged_before(folder, machine, run.joint))
        if kept is not None:
            return kept, True
    band = CUTTING_HEAD if asked.head == "cutting" else LIGHT_HEAD
    if asked.acceleration is None:
        return band, False
    gram = asked.moving_gram
    said = "as given"
    if gram is None and machine is not None:
        masses = moving_masses(machine)
        heaviest = max(masses, key=lambda one: one.gram.value, default=None) if masses else None
        heaviest = _heaviest_on(machine, run, masses) or heaviest
        if heaviest is not None:
            gram, said = heaviest.gram.value, f"what axis {heaviest.axis} moves, reckoned"
    if gram is None:
        raise click.UsageError(
            "--acceleration needs the moving mass: give --moving GRAM or --machine FOLDER."
        )
    target = target_for(band, pull_newton(gram, asked.acceleration))
    return replace(target, basis=f"{target.basis} ({gram:.0f} g, {said})"), False


def _heaviest_on(machine: Machine, run: BeltRun | None, masses: Any) -> Any:
    """The heaviest axis that moves an end or a pulley of this belt."""
    if run is None:
        return None
    touched = {span.begins for span in run.spans} | {span.ends for span in run.spans}
    moved = {axis.id for axis in machine.axes if touched & set(axis.moves)}
    return max((one for one in masses if one.axis in moved), key=lambda one: one.gram.value, default=None)


def _kept_ruling(result: Any) -> Target | None:
    values = getattr(result, "values", None)
    target = values.get("target") if isinstance(values, Mapping) else None
    if not isinstance(target, Mapping) or not target.get("ruled"):
        return None
    aim = target.get("aim_newton")
    if not isinstance(aim, int | float) or not aim > 0:
        return None
    return ruled_target(float(aim), basis=f"your own ruling, kept in the build log, {result.said.at[:10]}")
