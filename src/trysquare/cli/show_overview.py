"""The machine at a glance: its facts, and the page that tells them."""

from __future__ import annotations

from typing import Any

from trysquare.cli import words
from trysquare.cli.facts import rounded, saying_fact, where_fact
from trysquare.cli.page import Page
from trysquare.cli.show_facts import axis_facts, paper_head, screw_words
from trysquare.cli.show_tell import tell_said
from trysquare.machine.values import Machine, Saying


def overview_facts(machine: Machine) -> dict[str, Any]:
    """The machine at a glance."""
    members: dict[str, int] = {}
    for part in machine.placed:
        if part.type.profile is not None:
            members[part.type.id] = members.get(part.type.id, 0) + 1
    return {
        "units": [
            {
                "unit": unit,
                "parts": sum(part.unit == unit and not part.joint for part in machine.placed),
                "joints": sum(joint.unit == unit for joint in machine.joints),
                "screws": sum(len(joint.fastenings) for joint in machine.joints if joint.unit == unit),
                "steps": [step.id for step in machine.steps if step.unit == unit],
            }
            for unit in machine.units
        ],
        "members": [
            {
                "part": name,
                "pieces": pieces,
                "profile": getattr(machine.types[name].profile, "designation", ""),
                "length_mm": rounded(machine.types[name].length_mm),
            }
            for name, pieces in members.items()
        ],
        "joints": [
            {
                "joint": joint.id,
                "recipe": joint.recipe,
                "parts": list(joint.parts),
                "screws": len(joint.fastenings),
                "screw": screw_words(joint),
            }
            for joint in machine.joints
        ],
        "axes": [axis_facts(machine, axis.id) | {"axis": axis.id} for axis in machine.axes],
        "papers": [paper_head(machine, paper.id) for paper in machine.papers],
        "overruled": [
            {**saying_fact(saying), "overruled_by": _overruled_by(machine, saying)}
            for saying in machine.sayings
            if not saying.stands
        ],
        "rulings": [
            {"line": one.line, "take": one.take, "reason": one.reason, "where": where_fact(one.where)}
            for one in machine.rulings
        ],
        "steps": [{"step": step.id, "title": step.title, "unit": step.unit} for step in machine.steps],
        "listed": dict(machine.listed),
    }


def _overruled_by(machine: Machine, saying: Saying) -> str:
    """The paper whose word stands on the same line, or on a line that holds it; "" when none is known."""
    standing = [other for other in machine.sayings if other.stands and other.paper != saying.paper]
    for line in (saying.line, saying.line.rpartition(".")[0]):
        for other in standing:
            if other.line == line:
                return other.paper
    return ""


def tell_overview(page: Page, facts: dict[str, Any]) -> None:
    """Units, members, joints, axes, papers and steps of the whole machine."""
    if facts["units"]:
        page.heading("Units")
        page.table(
            ("unit", "parts", "joints", "screws", "steps"),
            [
                (
                    row["unit"],
                    str(row["parts"]),
                    str(row["joints"]),
                    str(row["screws"]),
                    str(len(row["steps"])),
                )
                for row in facts["units"]
            ],
            right=frozenset({1, 2, 3, 4}),
        )
    if facts["members"]:
        page.heading("Members")
        page.table(
            ("", "", "length", "profile"),
            [
                (str(row["pieces"]), row["part"], words.length(row["length_mm"]), row["profile"])
                for row in facts["members"]
            ],
            right=frozenset({0}),
        )
    if facts["joints"]:
        page.heading("Joints")
        page.table(
            ("", "", ""),
            [(row["joint"], row["recipe"], row["screw"]) for row in facts["joints"]],
        )
    if facts["axes"]:
        page.heading("Axes")
        page.table(
            ("", "", ""),
            [
                (
                    row["axis"],
                    f"travel {words.length(row['travel_mm'])}",
                    f"moves {words.listed(row['moves'], 6)}",
                )
                for row in facts["axes"]
            ],
        )
    _papers(page, facts)
    if facts["steps"]:
        page.heading("Steps")
        page.table(("", "", ""), [(row["step"], row["title"], row["unit"]) for row in facts["steps"]])
    if facts["listed"]:
        page.heading("On the list")
        page.line(f"{words.count(sum(facts['listed'].values()), 'piece')} of {len(facts['listed'])} sorts", 2)


def _papers(page: Page, facts: dict[str, Any]) -> None:
    if facts["papers"]:
        page.heading("Papers")
    for row in facts["papers"]:
        over = f", over {words.listed(row['over'])}" if row["over"] else ""
        page.line(f"{row['paper']} · {row['title']}, edition {row['edition']} ({row['kind']}{over})", 2)
        page.pairs((("reason", row["reason"]),), indent=4)
    if facts["overruled"]:
        page.heading("Overruled words of papers")
        for said in facts["overruled"]:
            tell_said(page, said)
    if facts["rulings"]:
        page.heading("Rulings of the builder")
        for ruling in facts["rulings"]:
            page.line(f"{ruling['line']}: {ruling['take']} is right. {ruling['reason']}", 2)
