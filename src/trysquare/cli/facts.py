"""Values of the machine as plain facts: what JSON prints, what the cache keeps, what the text is made of."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from trysquare.ground.errors import Where
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine, Saying

WEIGHTS = ("stop", "doubt", "note")


def read_machine(folder: str, papers: Sequence[str]) -> Machine:
    """The machine of a folder with further papers over it; raises ReadingErrors."""
    return load_machine(Path(folder), [Path(paper) for paper in papers])


def rounded(value: float, places: int = 4) -> float | None:
    """A number as JSON can hold it: no endless digits, None for what has no bound."""
    return round(float(value), places) + 0.0 if math.isfinite(value) else None


def point_fact(at_mm: Iterable[float] | None) -> list[float | None] | None:
    """A point or direction to a thousandth."""
    return None if at_mm is None else [rounded(part, 3) for part in at_mm]


def where_fact(where: Where | None) -> dict[str, Any] | None:
    """A place in a file; None when nobody knows it."""
    return None if where is None else {"file": where.file, "line": where.line, "key": where.key}


def saying_fact(saying: Saying) -> dict[str, Any]:
    """One paper's word on one line."""
    return {
        "line": saying.line,
        "paper": saying.paper,
        "does": saying.does,
        "read": saying.read,
        "reason": saying.reason,
        "page": saying.page,
        "stands": saying.stands,
        "where": where_fact(saying.where),
    }


def finding_fact(machine: Machine, finding: Finding) -> dict[str, Any]:
    """A finding as it stands, with its weight and the unit that it belongs to."""
    return {
        "code": finding.code,
        "weight": str(finding.weight),
        "unit": unit_of(machine, finding),
        "says": finding.says,
        "parts": list(finding.parts),
        "joint": finding.joint,
        "step": finding.step,
        "value": None if finding.value is None else rounded(finding.value),
        "limit": None if finding.limit is None else rounded(finding.limit),
        "value_unit": finding.unit,
        "at_mm": point_fact(finding.at_mm),
        "remedy": finding.remedy or finding.kind.remedy,
        "where": where_fact(finding.where),
        "follows_from": None if finding.cause is None else _cause_fact(machine, finding.cause),
    }


def _cause_fact(machine: Machine, cause: Finding) -> dict[str, Any]:
    """What tells the cause of a finding among the others; `unit` is that of the first cause behind it."""
    return {
        "code": cause.code,
        "joint": cause.joint,
        "parts": list(cause.parts),
        "step": cause.step,
        "unit": unit_of(machine, cause.root),
    }


def unit_of(machine: Machine, finding: Finding) -> str:
    """The unit of a finding's joint, else of its first part, else of its step; "" is the whole machine.

    A list is one for the whole machine, whichever units its parts go to.
    """
    if finding.where is not None and finding.where.file == "list.csv":
        return ""
    if finding.joint in machine.joint:
        return machine.joint[finding.joint].unit
    for part in finding.parts:
        if part in machine.part:
            return machine.part[part].unit
    return next((step.unit for step in machine.steps if step.id == finding.step), "")
