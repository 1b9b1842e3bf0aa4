"""Slots, the sorting key, the pages of sorts, findings, stock, and who says so: the further facts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from trysquare.bench import links
from trysquare.bench.facts import (
    FindingsFacts,
    LineFacts,
    OrderFacts,
    PartFacts,
    StepsFacts,
    StockFacts,
)
from trysquare.bench.making_order import saying_view
from trysquare.bench.making_steps import line_link, part_minds, plain, step_pages
from trysquare.bench.views import Drawn, StepLink
from trysquare.bench.views_lists import KeyRow, KeySection, PlaceRow, SayingView, SlotPieceView, SlotView
from trysquare.bench.views_step import FindingView
from trysquare.ground.findings import Finding, Weight
from trysquare.machine.says_so import line_of, says_so
from trysquare.machine.values import Machine
from trysquare.publish.book_tables import lying, slot_drawing
from trysquare.publish.drawing import Drawing
from trysquare.publish.known import Known
from trysquare.publish.sorting_sheet import sorting_facts
from trysquare.sequence.follow_on import causes_first
from trysquare.sequence.slot_ledger import SlotRow
from trysquare.stock.asking import asked_of
from trysquare.stock.counting import Count
from trysquare.stock.letters import KeptLetter

Draw = Callable[[Drawing], str]
"""Keeps a small drawing and gives its address."""
MOST_NAMED = 60  # parts of a finding that are links
_WEIGHTS = list(Weight)


def steps_facts(known: Known, order: OrderFacts, kept: Iterable[KeptLetter], draw: Draw) -> StepsFacts:
    """The second part: everything that needs the part-built machine and the sorting key."""
    key = sorting_facts(known.machine, kept)
    sections = tuple(_section(number, row) for number, row in enumerate(key["sections"], start=1))
    alike = _alike(sections)
    rows = [row for row in known.ledger if row.pieces]
    minds = part_minds(known)
    return StepsFacts(
        steps=step_pages(known, order, alike),
        slots=tuple(_slot(known, order, row, draw) for row in rows),
        empty_slots=len(known.ledger) - len(rows),
        sections=sections,
        rolls=tuple(map(plain, key["rolls"])),
        minutes=key["minutes"],
        alike=alike,
        parts={
            sort.part: PartFacts(
                places=tuple(_place(known, order, name) for name in sort.places),
                steps=_taken(known, order, (sort.part, *sort.parts)),
                minds=minds.get(sort.part, ()),
            )
            for sort in known.sorts
        },
        placed={
            part.id: known.sort_of[part.type.id].part
            for part in known.machine.placed
            if part.type.id in known.sort_of
        },
    )


def _link(order: OrderFacts, number: int) -> StepLink | None:
    if not number:
        return None
    head = order.steps[number - 1]
    return links.step_link(head.id, head.number, head.title)


# --- slots


def _slot(known: Known, order: OrderFacts, row: SlotRow, draw: Draw) -> SlotView:
    drawing = slot_drawing(row)
    return SlotView(
        member=row.member,
        slot=row.slot,
        looks=row.looks,
        sketch=Drawn(
            href=draw(drawing), width=drawing.width_mm, height=drawing.height_mm, says=drawing.says
        ),
        ends=tuple(
            (end.name, end.looks, _link(order, known.number_of.get(end.closed_in, 0)), end.closed_by)
            for end in row.ends
        ),
        pieces=tuple(
            SlotPieceView(
                letter=one["letter"], sort=one["sort"], joint=one["joint"], pieces=one["pieces"],
                at=one["at"], step=_link(order, one["step"]), before=_link(order, one["before"]), late=False,
            )
            for one in lying(known, row)
        ),
        words=" ".join((row.member, row.slot, row.looks, *{one.joint: "" for one in row.pieces})).casefold(),
    )  # fmt: skip


# --- the sorting key


def _section(number: int, row: Mapping[str, Any]) -> KeySection:
    return KeySection(
        form=row["form"],
        anchor=f"key-{number}",
        sorts=row["sorts"],
        pieces=row["pieces"],
        rows=tuple(_key_row(one) for group in row["groups"] for one in group),
        alike=tuple(row["alike"]),
        wrong=row["wrong"],
        missing=tuple((one["pile"], "; ".join(map(_why, one["why"]))) for one in row["missing"]),
    )


def _why(row: Mapping[str, Any]) -> str:
    where = f" {row['in']}" if row["in"] else ""
    return f"{row['says']}{where} ({row['share']})"


def _key_row(row: Mapping[str, Any]) -> KeyRow:
    sorts = tuple(
        (one["letter"], plain(one["name"]), links.part_href(one["part"])) for one in row.get("sorts", ())
    )
    return KeyRow(
        row=row["row"], depth=row["depth"], answer=row.get("answer", ""), ask=row.get("ask", ""),
        how=row.get("how", ""), pile=row.get("pile", ""), letters=sorts, pieces=row.get("pieces", 0),
    )  # fmt: skip


def _alike(sections: Iterable[KeySection]) -> dict[str, tuple[str, ...]]:
    """By letter, the pairs that look alike in which it stands."""
    found: dict[str, list[str]] = {}
    for section in sections:
        for says in section.alike:
            first, _, rest = says.partition(" and ")
            for letter in (first, rest.partition(" ")[0]):
                found.setdefault(letter, []).append(says)
    return {letter: tuple(rows) for letter, rows in found.items()}


# --- sorts


def _place(known: Known, order: OrderFacts, name: str) -> PlaceRow:
    step = known.whole.picking.step_of.get(name, "")
    return PlaceRow(
        ref=name,
        step=_link(order, known.number_of.get(step, 0)),
        line=line_link(known.machine, name),
    )


def _taken(known: Known, order: OrderFacts, parts: Iterable[str]) -> tuple[tuple[StepLink, int], ...]:
    wanted = frozenset(parts)
    found = []
    for number, pick in enumerate(known.whole.picking.steps, start=1):
        pieces = sum(len(line.pieces) for line in pick.lines if line.part in wanted)
        link = _link(order, number)
        if pieces and link is not None:
            found.append((link, pieces))
    return tuple(found)


# --- findings and stock


def findings_facts(
    known: Known,
    order: OrderFacts,
    findings: Sequence[Finding],
    not_checked: Iterable[str],
    count: Count | None,
) -> FindingsFacts:
    """The third part. `count`: of the packing lists; None without any, or where they cannot be read."""
    ordered = sorted(causes_first(findings), key=lambda one: _WEIGHTS.index(one.weight))
    return FindingsFacts(
        findings=tuple(finding_view(known, order, one) for one in ordered),
        not_checked=tuple(not_checked),
        stock=_stock(known, count),
    )


def finding_view(known: Known, order: OrderFacts, one: Finding) -> FindingView:
    """A finding with what it means for every machine."""
    kind = one.kind
    return FindingView(
        code=one.code,
        weight=str(one.weight),
        says=one.says,
        remedy=one.remedy or kind.remedy,
        meaning=kind.meaning,
        consequence=kind.consequence,
        where=f"{one.where.file}:{one.where.line}" if one.where is not None else "",
        follows=one.follows,
        step=_link(order, known.number_of.get(one.step, 0)),
        parts=tuple((name, links.part_href(name)) for name in one.parts[:MOST_NAMED]),
    )


def _stock(known: Known, count: Count | None) -> StockFacts:
    boxes: dict[str, dict[str, int]] = {}
    for lot in count.lots if count is not None else ():
        ref = known.sort_of[lot.part].part if lot.part in known.sort_of else lot.part
        row = boxes.setdefault(ref, {})
        row[lot.box] = row.get(lot.box, 0) + lot.pieces
    return StockFacts(
        names=tuple(dict.fromkeys(row.row.box for row in count.rows)) if count is not None else (),
        boxes={
            ref: ", ".join(f"{pieces} in {box}" for box, pieces in rows.items())
            for ref, rows in boxes.items()
        },
        asked=asked_of(known.machine, known.whole, count.lots if count is not None else ()),
        waiting=len(count.waiting) if count is not None else 0,
    )


# --- who says so


def line_facts(machine: Machine) -> LineFacts:
    """Every identity that a page may ask for, and every word on its line."""
    papers = {paper.id: paper.title for paper in machine.papers}
    line_by_identity: dict[str, str] = {}
    words: dict[str, tuple[SayingView, ...]] = {}
    identities = [
        *(part.id for part in machine.placed),
        *(joint.id for joint in machine.joints),
        *(step.id for step in machine.steps),
        *machine.types,
        *(unit for unit in machine.units if unit),
    ]
    for identity in identities:
        line = line_of(machine, identity)
        if not line:
            continue
        line_by_identity.setdefault(identity, line)
        if line not in words:
            words[line] = tuple(saying_view(one, papers) for one in says_so(machine, identity))
    for saying in machine.sayings:
        if saying.line not in words:
            said = says_so(machine, saying.line)
            words[saying.line] = tuple(saying_view(one, papers) for one in said)
    return LineFacts(line_of=line_by_identity, words=words)
