"""What a check of a whole machine finds out. Loads everything heavy; the command asks only when it must."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trysquare.cli.check_no_rule import no_rule_yet
from trysquare.cli.facts import WEIGHTS, finding_fact, read_machine, unit_of
from trysquare.cli.order_memory import keep_for_next, recalled
from trysquare.ground.errors import ReadingError
from trysquare.ground.findings import Finding, Weight
from trysquare.machine.values import Kind, Machine
from trysquare.sequence.causes import one_for_each_cause
from trysquare.sequence.follow_on import COUNTED, causes_first
from trysquare.stock.balance import list_findings
from trysquare.stock.boxes import FOLDER_NAME, box_files
from trysquare.stock.need import Need, need
from trysquare.stock.pieces import NOT_PIECES
from trysquare.stock.unused_parts import unused_findings

if TYPE_CHECKING:
    from trysquare.sequence.reach import Reach


def check_facts(folder: str, papers: Sequence[str], *, remember: bool = False) -> dict[str, Any]:
    """All findings of a folder, what was counted, and what could not be checked. Raises ReadingErrors.

    `remember`: keep what was found to stand in the way of what beside the machine, for the next check.
    """
    machine = read_machine(folder, papers)
    whole = need(machine)
    levels = _levels(machine)
    not_checked = _missing(machine, whole, levels)
    reach = recalled(machine) if remember and machine.steps else None
    findings = causes_first([*all_findings(machine, whole, reach), *boxes_findings_of(machine, whole)])
    if reach is not None:
        keep_for_next(machine, reach)
    units = {unit: index for index, unit in enumerate(machine.units)}

    def place(finding: Finding) -> tuple[object, ...]:
        """What follows from another finding stands behind that one's unit's causes, what is counted last."""
        return (
            list(Weight).index(finding.weight),
            units.get(unit_of(machine, finding.root), -1),
            finding.cause is not None,
            finding.code in COUNTED and finding.cause is None,
            finding.code,
            finding.joint,
            finding.says,
        )

    facts = [finding_fact(machine, finding) for finding in sorted(findings, key=place)]
    return {
        "machine": machine.name,
        "counts": {
            "pieces": whole.pieces,
            "part_types": len(whole.lines),
            "joints": len(machine.joints),
            "screws": len(machine.fastening),
            "steps": len(machine.steps),
            "papers": len(machine.papers),
            "units": len(machine.units),
        },
        "levels": levels,
        "not_checked": not_checked,
        "findings": facts,
        "weights": {weight: sum(fact["weight"] == weight for fact in facts) for weight in WEIGHTS},
    }


def all_findings(machine: Machine, whole: Need, reach: Reach | None = None) -> list[Finding]:
    """Everything that reading, list, fit and order say of a machine, each cause once.

    `reach` keeps geometric answers between checks of machines with the same solids.
    """
    findings: list[Finding] = [*machine.findings, *list_findings(machine, whole), *unused_findings(machine)]
    # A bare list is answered without loading what looks at solids.
    if machine.placed:
        from trysquare.fit.check import check_fit

        findings += check_fit(machine)
    if machine.steps:
        from trysquare.sequence.check import check_order

        findings += check_order(machine, reach)
    return one_for_each_cause(machine, findings)


def boxes_unread(problems: Sequence[ReadingError]) -> list[Finding]:
    """What cannot be read in the boxes' lists, as findings: the machine itself can be read without them."""
    return [
        Finding(
            code="boxes-unread",
            says=f"{one.where}: read '{one.read}', expected {one.expected}.",
            remedy=one.remedy,
            where=one.where,
        )
        for one in problems
    ]


def boxes_findings_of(machine: Machine, whole: Need) -> Sequence[Finding]:
    """Steps that need more than the boxes hold; nothing without boxes or steps.

    Boxes that cannot be read are no part of the machine: each fault in them is a finding, and all else is
    checked.
    """
    if not machine.steps or not box_files(Path(machine.folder) / FOLDER_NAME):
        return ()
    from trysquare.stock.counting import read_count
    from trysquare.stock.demands import demands_of
    from trysquare.stock.reach_step import boxes_findings, reach

    problems: list[ReadingError] = []
    count = read_count(machine, whole, problems)
    if problems:
        return boxes_unread(problems)
    reached = reach(whole, demands_of(machine, whole, count.lots), count.lots)
    return boxes_findings(whole, reached, len(count.waiting))


def not_checked(machine: Machine, whole: Need) -> list[str]:
    """What is not checked, because the folder does not say it or no rule looks at it, in words."""
    return _missing(machine, whole, _levels(machine))


def _levels(machine: Machine) -> dict[str, bool]:
    """How deep the description goes; each level is of use without those after it."""
    structural = [placed for placed in machine.placed if not placed.joint]
    return {
        "list": bool(machine.listed or machine.placed),
        "joints": bool(machine.joints),
        "steps": bool(machine.steps),
        "shapes": bool(structural) and all(placed.type.has_solid for placed in structural),
    }


def _missing(machine: Machine, whole: Need, levels: dict[str, bool]) -> list[str]:
    """What is not checked, because the folder does not say it or no rule looks at it, in words."""
    missing: list[str] = []
    if not levels["list"]:
        return ["nothing is placed and there is no list.csv: there is nothing to check"]
    if not levels["joints"]:
        missing.append("no joints: screws, nuts and stacks not checked")
    elif not box_files(Path(machine.folder) / FOLDER_NAME):
        if not machine.listed:
            missing.append("no boxes and no list.csv: need not compared with what came")
    elif not levels["steps"]:
        missing.append("no steps: boxes not compared step by step (trysquare stock compares the whole)")
    if not levels["steps"]:
        missing.append("no steps: order not checked")
    bare = {
        placed.type.id
        for placed in machine.placed
        if not placed.joint and not placed.type.has_solid and placed.type.kind not in (Kind.WIRE, *NOT_PIECES)
    }
    if not any(not placed.joint for placed in machine.placed):
        missing.append("no shapes: overlap and paths not checked")
    elif bare:
        few = ", ".join(sorted(bare)[:6]) + (" …" if len(bare) > 6 else "")
        missing.append(f"no shape for {few}: overlap and paths near them not checked")
    silent = _units_without_steps(machine, whole)
    if levels["steps"] and silent:
        missing.append(f"no step for unit {', '.join(silent)}: its order not checked")
    return [*missing, *no_rule_yet(machine)]


def _units_without_steps(machine: Machine, whole: Need) -> list[str]:
    """Units that have pieces of which not one is picked up by any step, in the units' order."""
    having = {piece.unit for piece in whole.picking.pieces.values()}
    served = {piece.unit for piece in whole.picking.pieces.values() if piece.id in whole.picking.step_of}
    return [unit for unit in machine.units if unit in having - served]
