"""What a machine needs, as facts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trysquare.cli.facts import point_fact, read_machine, rounded
from trysquare.machine.values import Machine
from trysquare.stock.need import Need, NeedLine, Reason, need
from trysquare.stock.picks import StepPick


def need_facts(folder: str, papers: Sequence[str]) -> dict[str, Any]:
    """The whole need and all pick lists of a folder. Raises ReadingErrors."""
    machine = read_machine(folder, papers)
    whole = need(machine)
    return {
        "machine": machine.name,
        "pieces": whole.pieces,
        "lines": [_line(machine, line) for line in whole.lines],
        "tools": [
            {
                "sort": line.tool.sort,
                "size_mm": rounded(line.tool.size_mm) or None,
                "tool": line.tool.name,
                "joints": list(line.joints),
                "steps": list(line.steps),
            }
            for line in whole.tools
        ],
        "supplies": [
            {
                "supply": line.name,
                "joints": list(line.joints),
                "steps": list(line.steps),
                "listed_mm": _lengths(line.listed_mm),
            }
            for line in whole.supplies
        ],
        "steps": [step_fact(step) for step in whole.picking.steps],
        "in_no_step": _left(machine, whole),
        "placed_twice": [
            {"part": twice.id, "first_step": twice.first_step, "again_step": twice.again_step}
            for twice in whole.picking.twice
        ],
    }


def step_fact(step: StepPick) -> dict[str, Any]:
    """One step's pick list."""
    return {
        "step": step.step,
        "title": step.title,
        "unit": step.unit,
        "paper": step.paper,
        "lines": [
            {
                "part": line.part,
                "name": line.name,
                "kind": str(line.kind),
                "pieces": len(line.pieces),
                "places": list(line.pieces),
                "asked_by": list(line.asked_by),
                "cuts_mm": [rounded(cut, 1) for cut in line.cuts_mm],
            }
            for line in step.lines
        ],
        "tools": [tool.name for tool in step.tools],
        "supplies": [supply.name for supply in step.supplies],
        "slot_nuts": [
            {
                "member": nuts.member,
                "face": nuts.face,
                "nut": nuts.nut,
                "pieces": nuts.pieces,
                "from_end_a_mm": [rounded(at, 2) for at in nuts.at_mm],
                "nearer_end": nuts.nearer_end,
                "joints": list(nuts.joints),
            }
            for nuts in step.slot_nuts
        ],
    }


def _line(machine: Machine, line: NeedLine) -> dict[str, Any]:
    sort = machine.types.get(line.part)
    member = sort if sort is not None and sort.profile is not None else None
    return {
        "part": line.part,
        "name": line.name,
        "kind": str(line.kind),
        "pieces": line.pieces,
        "pieces_by_unit": dict(line.by_unit),
        "cuts_mm": [rounded(cut, 1) for cut in line.cuts_mm],
        "length_mm": rounded(line.length_mm, 1) if line.cuts_mm else None,
        "profile": member.profile.designation if member is not None and member.profile is not None else "",
        "each_mm": rounded(member.length_mm, 2) if member is not None else None,
        "pieces_listed": line.listed,
        "listed_mm": _lengths(line.listed_mm),
        "papers": list(line.papers),
        "also_called": list(line.aliases),
        "asked_by": [_reason(reason) for reason in line.reasons],
    }


def _lengths(listed_mm: Sequence[tuple[int, float]]) -> list[dict[str, Any]]:
    return [{"pieces": pieces, "length_mm": rounded(each, 1)} for pieces, each in listed_mm]


def _reason(reason: Reason) -> dict[str, Any]:
    return {
        "by": reason.asked_by,
        "unit": reason.unit,
        "pieces": reason.pieces,
        "places": list(reason.places),
        "places_at_mm": [point_fact(at) for at in reason.at_mm],
        "cuts_mm": [rounded(cut, 1) for cut in reason.cuts_mm],
        "steps": list(reason.steps),
        "paper": reason.paper,
    }


def _left(machine: Machine, whole: Need) -> list[dict[str, Any]]:
    """What no step picks up, by who asks for it; nothing when there are no steps at all."""
    if not machine.steps:
        return []
    rows: dict[tuple[str, str], list[str]] = {}
    for piece in whole.picking.left:
        rows.setdefault((piece.asked_by, piece.part), []).append(piece.id)
    return [
        {"asked_by": asker, "part": part, "pieces": len(places), "places": places}
        for (asker, part), places in rows.items()
    ]
