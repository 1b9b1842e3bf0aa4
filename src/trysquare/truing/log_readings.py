"""Readings said at the bench, as the log holds them, beside those of the folder's files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.values import Machine
from trysquare.truing.reading_files import RowReader
from trysquare.truing.readings import Reading

LOG = "log"
LATER = "read again later"


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidReading:
    """A reading of the log. `of`: a characteristic, or words for what `row` says: the cells of a reading
    between features. `number`: of the entry, `date`: its day, `set_aside`: why it does not count."""

    id: str
    number: int
    of: str
    value: float
    unit: str = ""
    instrument: str = ""
    uncertainty: float | None = None
    step: str = ""
    date: str = ""
    by: str = ""
    note: str = ""
    set_aside: str = ""
    row: Mapping[str, str] = field(default_factory=dict)


def said_readings(
    machine: Machine, said: Sequence[SaidReading], rounds: Mapping[str, int], problems: list[ReadingError]
) -> tuple[Reading, ...]:
    """The log's readings, oldest first; what cannot be understood is noted in `problems`.

    `rounds`: the last round of each step in the files. A characteristic that is read counts as it was read
    last; it belongs to the round that its step was in.
    """
    reader = RowReader(machine, problems)
    known = {one.id: one for one in machine.characteristics}
    now = dict(rounds)
    last = {(one.step, one.of): one.id for one in said if not one.row and not one.set_aside}
    found: list[Reading] = []
    for one in said:
        if not one.row and one.of not in known:
            continue  # a belt's tone or whatever else somebody noted: not of the shape
        if one.row:
            cells = {**one.row, "value": f"{one.value:.10g}"}
        else:
            if one.set_aside and one.unit != known[one.of].unit:
                continue
            if one.unit != known[one.of].unit:
                problems.append(_other_unit(one, known[one.of].unit))
                continue
            cells = {"sort": "direct", "from": one.of, "value": f"{one.value:.10g}"}
            cells["round"] = str(now.get(one.step, 1))
        if one.uncertainty:
            cells["half_width_mm"] = f"{one.uncertainty:.10g}"
        later = not one.row and not one.set_aside and last[one.step, one.of] != one.id
        cells |= {
            "reading": one.id, "instrument": one.instrument, "step": one.step, "date": one.date,
            "by": one.by, "note": one.note, "aside": LATER if later else one.set_aside,
        }  # fmt: skip
        before = len(problems)
        reading = reader.read(cells, Where(file=LOG, line=one.number))
        if one.set_aside:
            del problems[before:]  # somebody has seen it, and it does not count
        if reading is not None:
            now[reading.step] = max(now.get(reading.step, 1), reading.round)
            found.append(reading)
    return tuple(found)


def last_rounds(readings: Sequence[Reading]) -> dict[str, int]:
    """The last round of each step."""
    rounds: dict[str, int] = {}
    for one in readings:
        rounds[one.step] = max(rounds.get(one.step, 1), one.round)
    return rounds


def _other_unit(one: SaidReading, unit: str) -> ReadingError:
    return ReadingError(
        where=Where(file=LOG, line=one.number, key=one.of),
        read=f"{one.value:g} {one.unit}",
        expected=f"a value in {unit}",
        remedy="Set it aside and write it again in the unit of its limit.",
    )
