"""What readings say of a machine, as plain facts: what JSON prints and what the text is made of."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from trysquare.cli.facts import rounded, where_fact
from trysquare.cli.true_built import with_said
from trysquare.machine.values import Machine
from trysquare.truing.next_reading import NextReading
from trysquare.truing.reading_files import read_readings, reading_files
from trysquare.truing.readings import Reading
from trysquare.truing.rectangle import Rectangle
from trysquare.truing.report import ReadingResult, TruingReport, report
from trysquare.truing.results import CharacteristicResult
from trysquare.truing.stack import StackReport
from trysquare.truing.standing import Standing, at_reading
from trysquare.truing.thermal import ThermalReport
from trysquare.truing.verdicts import Judged


def truing_report(
    machine: Machine, files: Sequence[str], step: str, more: Sequence[Reading] = ()
) -> TruingReport:
    """The report on the readings of a folder, those said at the bench too, or of these files.

    Raises ReadingErrors and ReadingError.
    """
    readings = read_readings(machine, [Path(file) for file in files] if files else None)
    if not files:
        readings = with_said(machine, readings)
    standing: Standing | None = at_reading(machine, step) if step else None
    return report(machine, (*readings, *more), standing)


def has_readings(machine: Machine, files: Sequence[str]) -> bool:
    """Whether there is any file to read, or anything was read at the bench."""
    return bool(files) or bool(reading_files(Path(machine.folder))) or bool(with_said(machine, ()))


def report_facts(found: TruingReport) -> dict[str, Any]:
    """A whole report."""
    counts = [one for one in found.readings if one.counts]
    return {
        "machine": found.machine,
        "step": found.standing.step,
        "verdict": str(found.verdict),
        "characteristics": [_characteristic(one) for one in found.characteristics],
        "readings": [_reading(one) for one in found.readings],
        "readings_counted": sum(len(one.readings) for one in counts),
        "doubts": [
            {"code": one.code, "says": one.says, "remedy": one.remedy, "sets_aside": one.sets_aside,
             "where": where_fact(one.readings[0].where)}
            for one in found.doubts
        ],
        "advice": _advice(found),
        "next": {
            "owned": [_next(one) for one in found.next.owned],
            "borrowed": [_next(one) for one in found.next.borrowed],
            "considered": found.next.considered,
            "direct": [
                {
                    "characteristic": one.characteristic,
                    "instrument": one.instrument,
                    "expanded": rounded(one.expanded),
                    "unit": one.unit,
                    "chance": None if one.chance is None else rounded(one.chance, 3),
                    "owned": one.owned,
                    "says": one.says,
                }
                for one in found.direct
            ],
        },
        "by_hand": [{"characteristic": name, "says": says} for name, says in found.by_hand],
        "unseen": list(found.unseen),
        "own_errors": {
            name: {"value_mm": rounded(value), "expanded_mm": rounded(expanded)}
            for name, (value, expanded) in found.own_errors.items()
        },
        "chi_square": rounded(found.chi_square, 3),
        "freedom": found.freedom,
    }  # fmt: skip


def _judged(one: Judged) -> dict[str, Any]:
    return {
        "value": rounded(one.value),
        "expanded": rounded(one.expanded),
        "limit": rounded(one.limit),
        "verdict": str(one.verdict),
        "probability": rounded(one.probability),
    }


def _characteristic(one: CharacteristicResult) -> dict[str, Any]:
    worst = one.worst
    return {
        "characteristic": one.characteristic.id,
        "sort": one.characteristic.sort,
        "unit": one.characteristic.unit,
        "limit": rounded(one.characteristic.limit),
        "reason": one.characteristic.reason,
        "verdict": str(one.verdict),
        "worst": one.components.index(worst) if worst is not None else None,
        "why_not": one.why_not,
        "components": [
            {
                "says": each.says,
                **_judged(each.judged),
                "seen": rounded(each.seen, 3),
                "determined": each.determined,
                "meaning": each.meaning,
            }
            for each in one.components
        ],
    }


def _reading(one: ReadingResult) -> dict[str, Any]:
    first = one.readings[0]
    return {
        "reading": [each.id for each in one.readings],
        "what": first.what,
        "sort": first.sort,
        "from": first.first,
        "to": first.second,
        "instrument": first.instrument,
        "unit": first.unit,
        "value": rounded(one.value),
        "values": [rounded(each.value) for each in one.readings],
        "counts": one.counts,
        "why_not": one.why_not,
        "expected": None if one.checked is None else rounded(one.checked.expected),
        "residual": None if one.checked is None else rounded(one.checked.residual),
        "normalised": None if one.checked is None else rounded(one.checked.normalised, 2),
        "redundancy": None if one.checked is None else rounded(one.checked.redundancy, 3),
        "findable": None if one.checked is None else rounded(one.checked.findable, 3),
        "blunder": None
        if one.blunder is None
        else {"off": rounded(one.blunder.off), "expected": rounded(one.blunder.expected),
              "expanded": rounded(2 * one.blunder.uncertainty)},
        "causes": [{"says": each.says, "value": each.value} for each in one.causes],
        "doubt": one.doubt.says if one.doubt else "",
        "remedy": one.doubt.remedy if one.doubt else "",
        "where": where_fact(first.where),
    }  # fmt: skip


def _advice(found: TruingReport) -> dict[str, Any] | None:
    advice = found.advice
    if advice is None:
        return None
    rows = found.shape.components.rows
    return {
        "says": advice.says,
        "enough": advice.enough,
        "within_play": advice.within_play,
        "loosen": list(advice.loosen_says),
        "pushes": [
            {"part": one.part, "end": one.end, "by_mm": rounded(one.by_mm), "way": list(one.way),
             "at_mm": [rounded(part, 2) for part in one.at_mm], "says": one.says}
            for one in advice.pushes
        ],
        "expects": [
            {"what": one.what, "value": rounded(one.value), "expanded": rounded(one.expanded),
             "unit": one.unit}
            for one in advice.expects
        ],
        "after": [
            {"characteristic": row.characteristic, "says": row.says, "value": rounded(float(value)),
             "limit": rounded(row.limit)}
            for row, value in zip(rows, advice.after, strict=True)
        ],
    }  # fmt: skip


def _next(one: NextReading) -> dict[str, Any]:
    return {
        "says": one.says,
        "instrument": one.candidate.gauge.id,
        "owned": one.candidate.gauge.owned,
        "decides": rounded(one.decides, 3),
        "chances": {name: rounded(chance, 3) for name, chance in one.chances},
        "expanded_after": {name: rounded(value) for name, value in one.expanded_after},
        "readings": [
            {"sort": each.sort, "from": each.first, "to": each.second, "turned": each.turned}
            for each in one.candidate.readings
        ],
    }


def stack_facts(found: StackReport) -> dict[str, Any]:
    """The tolerance stack."""
    return {
        "draws": found.draws,
        "all_as_it_comes": rounded(found.all_as_it_comes),
        "can_be_trued": rounded(found.can_be_trued),
        "at_most": rounded(found.at_most),
        "by_characteristic": {name: rounded(value) for name, value in found.by_characteristic},
        "components": [
            {
                "characteristic": one.component.characteristic,
                "says": one.component.says,
                "unit": one.component.unit,
                "limit": rounded(one.component.limit),
                "expanded": rounded(2 * one.deviation),
                "as_it_comes": rounded(one.as_it_comes),
                "contributions": [
                    {"source": each.source, "kind": each.kind, "rate": rounded(each.rate),
                     "half_width": rounded(each.half_width, 5), "share": rounded(each.share, 3)}
                    for each in one.contributions
                ],
            }
            for one in found.components
        ],
        "suffices": [
            {"characteristic": one.characteristic, "instrument": one.instrument,
             "expanded": rounded(one.expanded), "chance": rounded(one.chance, 3), "how": one.how}
            for one in found.suffices
        ],
    }  # fmt: skip


def thermal_facts(found: ThermalReport) -> dict[str, Any]:
    """What changes between cold and hot."""
    return {
        "cold_celsius": found.cold_celsius,
        "hot_celsius": found.hot_celsius,
        "changes": [
            {"kind": one.kind, "part": one.part, "mm": rounded(one.mm), "says": one.says}
            for one in found.changes
        ],
        "advice": list(found.advice),
    }


def rectangle_facts(found: Rectangle) -> dict[str, Any]:
    """What two diagonals tell."""
    return {
        "lean_mm_per_100": _judged(found.per_100),
        "across_mm": rounded(found.across_mm),
        "across_expanded_mm": rounded(found.across_expanded_mm),
        "move_mm": rounded(found.move_mm),
        "expected_mm": rounded(found.expected_mm, 2),
        "expected_expanded_mm": rounded(found.expected_expanded_mm, 2),
        "misfit_mm": rounded(found.misfit_mm, 2),
        "misfit_expanded_mm": rounded(found.misfit_expanded_mm, 2),
        "says": found.says,
        "decides": found.decides,
    }
