"""The book's as-built sheet: what was read of each characteristic, and lines for what was not read yet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from trysquare.machine.values import Characteristic
from trysquare.publish.known import Known
from trysquare.publish.typst_page import breakable
from trysquare.record.sign_offs import SignOff
from trysquare.tuning.values import value_words as digits_that_count

_UNITS = {"mm/100": "mm per 100 mm", "newton": "N", "ohm": "Ω"}
MOST_NAMES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """What was read last. `value`, `expanded`: in the characteristic's unit, U with k = 2; `date`: its day,
    "" when nobody wrote it down; `instruments`: what it was read with."""

    value: float
    expanded: float
    verdict: str
    date: str = ""
    instruments: Sequence[str] = ()


def as_built(known: Known, built: Mapping[str, Built]) -> list[dict[str, Any]]:
    """One row for each characteristic, in the order in which they are read; those that no step reads last."""
    rows = {one.id: one for one in known.machine.characteristics}
    steps: dict[str, int] = {}
    for step in known.machine.steps:
        for action in step.actions:
            for name in action.reads:
                steps[name] = known.number_of[step.id]
    order = sorted(rows, key=lambda name: steps.get(name, len(known.machine.steps) + 1))
    return [_row(rows[name], steps.get(name, 0), built.get(name)) for name in order]


def _row(one: Characteristic, step: int, built: Built | None) -> dict[str, Any]:
    unit = _UNITS.get(one.unit, one.unit)
    names = [part.rpartition("/")[2] for part in one.of]
    more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return {
        "what": breakable(one.id),
        "on": breakable(", ".join(names[:MOST_NAMES]) + more),
        "limit": f"{one.limit:g} {unit}",
        "value": "" if built is None else value_words(built.value, built.expanded),
        "unit": unit,
        "verdict": "" if built is None else built.verdict,
        "date": "" if built is None else built.date,
        "with": "" if built is None else breakable(", ".join(built.instruments)),
        "step": step,
    }


def signed_rows(known: Known, signed: Iterable[SignOff]) -> list[dict[str, Any]]:
    """Sign-offs for the sheet: what, by whom ("" where nobody was asked), its day, and the step's number
    (0: none of this machine)."""
    return [
        {
            "what": breakable(one.says[:1].upper() + one.says[1:]),
            "who": breakable(one.who),
            "date": one.said.at[:10],
            "step": known.number_of.get(one.step or "", 0),
        }
        for one in signed
    ]


def value_words(value: float, expanded: float) -> str:
    """A value with U, the digits as far as U lets them count."""
    if not expanded:
        return f"{value:g}".replace("-", "\u2212")
    return digits_that_count(value, expanded).replace("-", "\u2212")
