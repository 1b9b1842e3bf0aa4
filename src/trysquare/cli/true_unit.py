"""What readings say of one unit, as the bench shows it: now, the rounds before, what to type next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trysquare.cli.answers import problem_facts
from trysquare.cli.true_facts import report_facts
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.machine.values import Characteristic, Machine
from trysquare.publish.truing_plot import truing_picture
from trysquare.truing.instruments import gauge_of
from trysquare.truing.log_readings import SaidReading, last_rounds, said_readings
from trysquare.truing.places import reading_words
from trysquare.truing.reading_files import read_readings
from trysquare.truing.readings import SORTS, Reading
from trysquare.truing.report import TruingReport, report
from trysquare.truing.standing import at_reading

MOST_ROUNDS = 4


def unit_facts(machine: Machine, unit: str, step: str, said: Sequence[SaidReading]) -> dict[str, Any]:
    """The whole answer. Readings that cannot be understood stand under `problems`; they hinder no others.

    Raises ReadingError for a step that the machine does not have.
    """
    problems: list[ReadingError] = []
    try:
        written = read_readings(machine)
    except ReadingErrors as errors:
        problems += errors.problems
        written = ()
    readings = (*written, *said_readings(machine, said, last_rounds(written), problems))
    mine = characteristics_of(machine, unit)
    step = step or _step_of(machine, unit, mine, readings)
    order = {one.id: number for number, one in enumerate(machine.steps)}
    until = order.get(step, len(order))
    readings = tuple(one for one in readings if order.get(one.step, -1) <= until)
    standing = at_reading(machine, step) if step else None
    found = report(machine, readings, standing)
    names = {one.id for one in mine}
    facts = report_facts(found)
    facts["characteristics"] = [one for one in facts["characteristics"] if one["characteristic"] in names]
    number = max((one.round for one in readings if one.step == step), default=1)
    earlier, still, before = _earlier(machine, readings, step, number, names)
    pictures = _alike([*before, found])
    for was, drawn in zip(earlier, pictures, strict=False):
        was["plot"] = drawn
    return {
        **facts,
        "unit": unit,
        "round": number,
        "plot": pictures[-1],
        "readings": [
            {
                **said,
                "round": one.readings[0].round,
                "step": one.readings[0].step,
                "row": row_of(one.readings[0], number),
            }
            for said, one in zip(facts["readings"], found.readings, strict=True)
        ],
        "says": _says(found, facts["readings"]),
        "again": _again(found, number + 1),
        "still": still,
        "direct": [one for one in facts["next"]["direct"] if one["characteristic"] in names],
        "by_hand": [one for one in facts["by_hand"] if one["characteristic"] in names],
        "next": [_asked(found, one, number, step) for one in (*found.next.owned, *found.next.borrowed)],
        "earlier": earlier,
        "problems": [problem_facts(problem) for problem in problems],
        "sorts": [
            {"sort": one.id, "unit": one.unit, "says": one.says, "second": one.needs_second}
            for one in SORTS.values()
            if one.id != "direct"
        ],
        "instruments": _instruments(machine),
        "features": _features(machine, unit),
    }


def characteristics_of(machine: Machine, unit: str) -> list[Characteristic]:
    """The characteristics of a unit: one of their parts is of it, or one of its steps reads them."""
    read = {
        name
        for step in machine.steps
        for action in step.actions
        if step.unit == unit
        for name in action.reads
    }
    return [
        one
        for one in machine.characteristics
        if not unit or one.id in read or any(part.startswith(f"{unit}/") for part in one.of)
    ]


def _step_of(machine: Machine, unit: str, mine: Sequence[Characteristic], readings: Sequence[Reading]) -> str:
    """Where the unit stands: its last step that was read at, else its first that asks for a reading."""
    names = {one.id for one in mine}
    asks = [
        step.id
        for step in machine.steps
        if any(action.verb == "read" and names & set(action.reads) for action in step.actions)
    ]
    own = {step.id for step in machine.steps if step.unit == unit} | set(asks) if unit else set(asks)
    read = {one.step for one in readings}
    done = [step.id for step in machine.steps if step.id in own and step.id in read]
    if done:
        return done[-1]
    return asks[0] if unit and asks else ""


def _says(found: TruingReport, facts: Sequence[dict[str, Any]]) -> list[str]:
    """Each reading in a person's words, in the facts' order."""
    shape = found.shape
    told = []
    for one, _ in zip(found.readings, facts, strict=True):
        first = one.readings[0]
        words = first.what if first.sort == "direct" else reading_words(
            shape.assembly, shape.builder.features, first
        )  # fmt: skip
        told.append(words)
    return told


def row_of(one: Reading, number: int, setting: str = "") -> dict[str, str]:
    """A reading's cells, to be posted with another value."""
    cells = {
        "sort": one.sort, "from": one.first, "to": one.second, "round": str(number),
        "at_mm": f"{one.at_mm:g}" if one.at_mm is not None else "", "setting": setting,
        "turned": "yes" if one.turned else "",
    }  # fmt: skip
    return {key: cell for key, cell in cells.items() if cell}


def _again(found: TruingReport, number: int) -> list[dict[str, Any]]:
    """What to read once pushed, each with what it should then say."""
    rows = []
    for one in found.advice.expects if found.advice is not None else ():
        first = found.shape.model.observations[one.observation].readings[0]
        setting = f"{first.setting} round {number}" if first.setting else ""
        rows.append(
            {
                "says": one.what, "instrument": first.instrument, "unit": one.unit, "value": one.value,
                "expanded": one.expanded, "row": row_of(first, number, setting), "step": first.step,
                "of": first.what,
            }
        )  # fmt: skip
    return rows


def _asked(found: TruingReport, one: Any, number: int, step: str) -> dict[str, Any]:
    shape = found.shape
    return {
        "says": one.says,
        "owned": one.candidate.gauge.owned,
        "instrument": one.candidate.gauge.id,
        "free_zero": one.candidate.gauge.kind.free_zero,
        "chances": [[name, round(chance, 3)] for name, chance in one.chances if chance >= 0.05],
        "step": step,
        "readings": [
            {
                "says": reading_words(shape.assembly, shape.builder.features, each),
                "unit": each.unit,
                "of": each.what,
                "row": row_of(each, number),
            }
            for each in one.candidate.readings
        ],
    }  # fmt: skip


def _earlier(
    machine: Machine, readings: Sequence[Reading], step: str, number: int, names: set[str]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]], list[TruingReport]]:
    """What earlier rounds said, the first first: their values; what this round was to read again and
    has not yet; and their reports."""
    found: list[dict[str, Any]] = []
    still: list[dict[str, Any]] = []
    reports: list[TruingReport] = []
    read = [row_of(one, number) for one in readings if one.round == number and one.step == step]
    for row in read:
        row.pop("setting", None)
    for before in range(max(1, number - MOST_ROUNDS), number):
        then = tuple(one for one in readings if one.round <= before or one.step != step)
        if not any(one.round == before and one.step == step for one in then):
            continue
        last = before == number - 1
        was = report(machine, then, at_reading(machine, step) if step else None, advice=last)
        still = [
            one
            for one in (_again(was, number) if last else ())
            if {key: cell for key, cell in one["row"].items() if key != "setting"} not in read
        ]
        reports.append(was)
        facts = report_facts(was)
        found.append(
            {
                "round": before,
                "characteristics": [
                    one for one in facts["characteristics"] if one["characteristic"] in names
                ],
            }
        )
    return found, still, reports


def _alike(reports: Sequence[TruingReport]) -> list[dict[str, Any]]:
    """The frames drawn with one factor, so that they can be compared."""
    pictures = [truing_picture(one, bare=True) for one in reports]
    most = min((one.factor for one in pictures if one.factor), default=1.0)
    pictures = [
        truing_picture(found, bare=True, most=most) if one.factor > most else one
        for found, one in zip(reports, pictures, strict=True)
    ]
    return [{"svg": one.svg, "factor": one.factor} for one in pictures]


def _instruments(machine: Machine) -> list[dict[str, Any]]:
    rows = []
    for one in machine.instruments:
        gauge = gauge_of(one)
        if gauge is not None and gauge.kind.reads - {"direct"}:
            rows.append({"id": one.id, "reads": sorted(gauge.kind.reads), "told": gauge.words})
    return rows


def _features(machine: Machine, unit: str) -> list[str]:
    """Members and rails of the unit whose ends and sides can be named."""
    return [
        part.id
        for part in machine.placed
        if (not unit or part.id.startswith(f"{unit}/")) and part.type.length_mm > 0
    ]
