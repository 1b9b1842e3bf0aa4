"""What was read of every characteristic, from the folder's files and from its log, for the book."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trysquare.cli.answers import talk
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.machine.values import Machine
from trysquare.publish.book_built import Built
from trysquare.record.sign_offs import SignOff, sign_offs
from trysquare.truing.log_readings import SaidReading

if TYPE_CHECKING:
    from trysquare.record.state import BuildState
    from trysquare.truing.readings import Reading


def built_of(machine: Machine) -> dict[str, Built]:
    """By characteristic, as it was read last. What cannot be understood is told, and hinders nothing else."""
    return sheet_of(machine)[0]


def sheet_of(machine: Machine) -> tuple[dict[str, Built], tuple[SignOff, ...]]:
    """All that the as-built sheet says of the work: `built_of`, and the sign-offs of the log."""
    state = _state(machine)
    return _built(machine, state), sign_offs(state) if state is not None else ()


def _built(machine: Machine, state: BuildState | None) -> dict[str, Built]:
    readings = _readings(machine, state)
    found = _reported(machine, readings)
    known = {one.id: one for one in machine.characteristics}
    for of, results in (state.results if state is not None else {}).items():
        one = results[-1]
        if of in known and one.value is not None and one.unit == known[of].unit and of not in found:
            found[of] = Built(
                value=one.value, expanded=one.uncertainty or 0.0, verdict=one.verdict, date=one.said.at[:10]
            )
    return found


def said_rows(state: BuildState) -> tuple[SaidReading, ...]:
    """All readings of the log, oldest first."""
    rows = sorted((one for found in state.readings.values() for one in found), key=lambda one: one.said.seq)
    return tuple(
        SaidReading(
            id=one.said.id, number=one.said.seq, of=one.of, value=one.value, unit=one.unit,
            instrument=one.instrument, uncertainty=one.uncertainty, step=one.step or "",
            date=one.said.at[:10], by=one.said.device, note=one.note, set_aside=one.set_aside, row=one.row,
        )
        for one in rows
    )  # fmt: skip


def _state(machine: Machine) -> BuildState | None:
    from trysquare.record.log import FILE_NAME, open_log

    place = Path(machine.folder)
    if not (place / FILE_NAME).is_file():
        return None
    try:
        with open_log(place, machine=machine.name, read_only=True) as log:
            return log.state()
    except ReadingError as error:
        talk(f"{error} What it holds does not count here.")
        return None


def with_said(machine: Machine, written: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """The files' readings and those said at the bench. What cannot be understood there is told."""
    from trysquare.truing.log_readings import last_rounds, said_readings

    state = _state(machine)
    if state is None:
        return written
    problems: list[ReadingError] = []
    said = said_readings(machine, said_rows(state), last_rounds(written), problems)
    for problem in problems:
        talk(f"{problem} It does not count.")
    return (*written, *said)


def _readings(machine: Machine, state: BuildState | None) -> tuple[Reading, ...]:
    from trysquare.truing.log_readings import last_rounds, said_readings
    from trysquare.truing.reading_files import read_readings

    problems: list[ReadingError] = []
    written: tuple[Reading, ...] = ()
    try:
        written = read_readings(machine)
    except ReadingErrors as errors:
        problems += errors.problems
    said = said_rows(state) if state is not None else ()
    found = (*written, *said_readings(machine, said, last_rounds(written), problems))
    for problem in problems:
        talk(f"{problem} It does not count in the as-built sheet.")
    return found


def _reported(machine: Machine, readings: Sequence[Reading]) -> dict[str, Built]:
    """One report at each step that was read at, with all that was read until then; the last word holds."""
    if not readings:
        return {}
    from trysquare.truing.report import report
    from trysquare.truing.standing import at_reading

    order = {step.id: number for number, step in enumerate(machine.steps)}
    found: dict[str, Built] = {}
    for step in sorted({one.step for one in readings if one.step in order}, key=order.__getitem__) or [""]:
        until = order.get(step, len(order))
        then = [one for one in readings if order.get(one.step, -1) <= until]
        here = [one for one in then if one.step == step and not one.set_aside]
        said = report(machine, then, at_reading(machine, step) if step else None, advice=False)
        counting = {each.id for one in said.readings if one.counts for each in one.readings}
        here = [one for one in here if one.id in counting] or here
        date = max((one.date for one in here), default="")
        tools = tuple(dict.fromkeys(one.instrument for one in here if one.instrument))
        asked = {name for one in machine.steps if one.id == step for act in one.actions for name in act.reads}
        for one in said.characteristics:
            name = one.characteristic.id
            if one.worst is None or one.verdict == "not read" or (name in found and name not in asked):
                continue
            judged = one.worst.judged
            own = [each for each in here if each.sort == "direct" and each.first == name]
            found[name] = Built(
                value=judged.value,
                expanded=judged.expanded,
                verdict=str(one.verdict),
                date=max((each.date for each in own), default=date),
                instruments=tuple(dict.fromkeys(each.instrument for each in own if each.instrument)) or tools,
            )
    return found
