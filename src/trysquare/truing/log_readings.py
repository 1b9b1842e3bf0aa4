"""Readings said at the bench, as the log holds them, beside those of the folder's files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from trysquare.catalogue.instruments import kind_of
from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.values import Characteristic, Machine
from trysquare.sequence.instruments import expanded, limits_of, spans_of
from trysquare.truing.reading_files import RowReader
from trysquare.truing.readings import Reading
from trysquare.truing.uncertainty import COVERAGE
from trysquare.truing.verdicts import Verdict, judge

LOG = "log"
LATER = "read again later"
EARLIER = "it cannot tell, and what was bad before stands"


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
    last, but what was bad stays so until a reading tells otherwise; it belongs to the round that its step was
    in.
    """
    reader = RowReader(machine, problems)
    known = {one.id: one for one in machine.characteristics}
    now = dict(rounds)
    last = _standing(machine, known, said)
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
        aside = one.set_aside
        if not one.row and not aside and (counts := last.get((one.step, one.of))) and counts.id != one.id:
            aside = LATER if one.number < counts.number else EARLIER
        cells |= {
            "reading": one.id, "instrument": one.instrument, "step": one.step, "date": one.date,
            "by": one.by, "note": one.note, "aside": aside,
        }  # fmt: skip
        before = len(problems)
        reading = reader.read(cells, Where(file=LOG, line=one.number))
        if one.set_aside:
            del problems[before:]  # somebody has seen it, and it does not count
        if reading is not None:
            now[reading.step] = max(now.get(reading.step, 1), reading.round)
            found.append(reading)
    return tuple(found)


def _standing(
    machine: Machine, known: Mapping[str, Characteristic], said: Sequence[SaidReading]
) -> dict[tuple[str, str], SaidReading]:
    """The reading that counts of each characteristic at each step, as the bench's field has it."""
    found: dict[tuple[str, str], tuple[SaidReading, Verdict]] = {}
    for one in said:
        if one.row or one.set_aside or one.of not in known or one.unit != known[one.of].unit:
            continue
        verdict = _verdict(machine, known[one.of], one)
        before = found.get((one.step, one.of))
        if before is None or before[1] is not Verdict.BAD or verdict is not Verdict.CANNOT_TELL:
            found[one.step, one.of] = one, verdict
    return {key: one for key, (one, _) in found.items()}


def _verdict(machine: Machine, one: Characteristic, said: SaidReading) -> Verdict:
    owned = next((each for each in machine.instruments if each.id == said.instrument), None)
    kind = kind_of(owned.sort, owned.reach_mm) if owned is not None else None
    half = said.uncertainty or (limits_of(one, owned, spans_of(machine, one)) if owned is not None else None)
    scatter = kind.scatter_mm if kind is not None else 0.0
    return judge(said.value, expanded(half or 0.0, scatter) / COVERAGE, one.limit).verdict


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
