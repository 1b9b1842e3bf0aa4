"""The build book: one PDF with everything a builder wants beside the work."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from trysquare.machine.values import Kind
from trysquare.publish.book_built import Built, as_built, signed_rows
from trysquare.publish.book_layout import SMALLER, pairs
from trysquare.publish.book_steps import step_facts, unit_of
from trysquare.publish.book_tables import (
    belts,
    care,
    first_power,
    index,
    needed,
    open_points,
    slots,
    torques,
    used_cautions,
    wires,
)
from trysquare.publish.known import Known
from trysquare.publish.part_picture import PartPicture, facts_of
from trysquare.publish.sorting_sheet import sorting_facts
from trysquare.publish.step_tools import tools_of_machine
from trysquare.publish.tightening_orders import tightening
from trysquare.publish.typst_page import Pages, set_pages
from trysquare.record.sign_offs import SignOff
from trysquare.stock.letters import KeptLetter


def book_pdf(
    known: Known,
    paper: str,
    kept: Iterable[KeptLetter] = (),
    pictures: Mapping[str, Mapping[str, Any]] | None = None,
    parts: Mapping[str, PartPicture] | None = None,
    built: Mapping[str, Built] | None = None,
    signed: Iterable[SignOff] = (),
) -> Pages:
    """The whole book. `pictures`: by step id, and "" for the finished machine; `parts`: small ones by part
    id; none: a book of words. `built`: what was read of its characteristics; `signed`: its
    sign-offs."""
    return set_pages(
        "book",
        book_facts(known, paper, kept, pictures, parts, built, signed),
        title=f"{known.machine.name}: build book",
    )


def book_facts(
    known: Known,
    paper: str,
    kept: Iterable[KeptLetter] = (),
    pictures: Mapping[str, Mapping[str, Any]] | None = None,
    parts: Mapping[str, PartPicture] | None = None,
    built: Mapping[str, Built] | None = None,
    signed: Iterable[SignOff] = (),
) -> dict[str, Any]:
    """All that the template reads."""
    machine = known.machine
    shown = pictures or {}
    sorting = sorting_facts(machine, kept)
    steps = [step_facts(known, step, shown.get(step.id)) for step in machine.steps]
    return {
        "machine": machine.name,
        "summary": _summary(known),
        "paper": paper,
        "cover": dict(shown[""]) if "" in shown else None,
        "counts": {
            "pieces": known.whole.pieces,
            "sorts": len(known.sorts),
            "joints": len(machine.joints),
            "screws": len(machine.fastening),
            "steps": len(machine.steps),
        },
        "cautions": used_cautions(machine),
        "instruments": _instruments(known),
        "needed": needed(known),
        "has_boxes": bool(known.boxes_of),
        "tools": [{"name": name, "steps": steps} for name, steps in tools_of_machine(known).items()],
        "supplies": [
            {"name": row.name, "steps": [known.number_of[step] for step in row.steps]}
            for row in known.whole.supplies
        ],
        "sorting": sorting,
        "marked": _marked(sorting),
        "steps": steps,
        "pairs": sorted(pairs(steps)),
        "smaller": SMALLER,
        "slots": slots(known),
        "tightening": tightening(known),
        "torques": torques(known),
        "built": as_built(known, built or {}),
        "signed": signed_rows(known, signed),
        "belts": belts(known),
        "wires": wires(known),
        "open": open_points(known),
        "first_power": first_power(machine),
        "care": care(machine),
        "index": index(known),
        "part_pictures": {name: facts_of(one) for name, one in (parts or {}).items()},
        "members": any(part.type.kind is Kind.MEMBER for part in machine.placed),
    }


def _summary(known: Known) -> str:
    """What the machine is for, as its folder says it; "" when it does not."""
    tree = known.machine.tree
    said = tree.get(("machine", "summary")) if tree is not None else None
    return said if isinstance(said, str) else ""


def _marked(sorting: Mapping[str, Any]) -> list[str]:
    """The letters that stand on the sorting sheet, to which all others lead."""
    rows = (row for part in sorting["sections"] for group in part["groups"] for row in group)
    return [one["letter"] for row in rows if row["row"] == "end" for one in row["sorts"]]


def _instruments(known: Known) -> list[dict[str, Any]]:
    """What is read with, and how far it can be believed."""
    return [
        {"name": one.id, "sort": one.sort, "half_width": f"± {one.half_width_mm:g} {unit_of(one)}",
         "source": one.source}
        for one in known.machine.instruments
    ]  # fmt: skip
