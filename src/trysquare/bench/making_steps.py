"""The page of each step as far as the machine alone fills it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from trysquare.bench import links
from trysquare.bench.facts import OrderFacts, StepHead
from trysquare.bench.must import check_item, read_item, sign_item
from trysquare.bench.views import LineLink, OpenView, StepLink
from trysquare.bench.views_step import (
    ActionView,
    LeavesView,
    MindView,
    NutsView,
    PickView,
    ScrewView,
    StepView,
    ToolView,
    ToReadView,
)
from trysquare.machine.says_so import line_of, where_of
from trysquare.machine.values import Kind, Machine, Step
from trysquare.publish.action_words import action_facts
from trysquare.publish.book_steps import in_order, mistakes, part_fact, step_facts
from trysquare.publish.known import Known
from trysquare.publish.typst_page import BREAK
from trysquare.sequence.state import Event
from trysquare.stock.picks import PickLine

_STATES = {"snug": "snug", "tighten": "final"}


def step_pages(known: Known, order: OrderFacts, alike: Mapping[str, tuple[str, ...]]) -> dict[str, StepView]:
    """Every step's page by id, nothing of the log in it. `alike`: by letter, how to tell it."""
    return {
        step.id: _Page(known, order, step, head).view(alike)
        for step, head in zip(known.machine.steps, order.steps, strict=True)
    }


def plain(text: object) -> str:
    """A text of the book without its marks for breaking long words."""
    return str(text).replace(BREAK, "")


def line_link(machine: Machine, identity: str) -> LineLink | None:
    """Where a thing is said; None for what has no line of its own."""
    line = line_of(machine, identity)
    if not line:
        return None
    where = where_of(machine, identity)
    paper = ""
    if machine.tree is not None:
        from_paper = {one.id: one.title for one in machine.papers}
        standing = [saying.paper for saying in machine.sayings if saying.line == line and saying.stands]
        paper = from_paper.get(standing[-1], standing[-1]) if standing else ""
    return LineLink(
        line=line,
        paper=paper,
        where=f"{where.file}:{where.line}" if where is not None else "",
        href=links.papers_href(identity),
    )


def mind_views(rows: list[dict[str, Any]]) -> tuple[MindView, ...]:
    """Mistakes to watch for, from the book's rows."""
    return tuple(
        MindView(
            part=plain(row["part"]), how=plain(row["how"]), instead=plain(row["instead"]),
            then=plain(row["then"]), look=plain(row["look"]),
        )
        for row in rows
    )  # fmt: skip


class _Page:
    def __init__(self, known: Known, order: OrderFacts, step: Step, head: StepHead) -> None:
        self.known, self.order, self.step, self.head = known, order, step, head
        self.links = [links.step_link(one.id, one.number, one.title) for one in order.steps]

    def view(self, alike: Mapping[str, tuple[str, ...]]) -> StepView:
        step, head = self.step, self.head
        facts = step_facts(self.known, step)
        actions = tuple(self._action(event) for event in self.known.events_of[step.id])
        to_read = tuple(self._to_read(row) for row in facts["reads"])
        titles = {run.unit: run.title for run in self.order.runs}
        at = head.number - 1
        return StepView(
            id=step.id,
            number=head.number,
            of=len(self.order.steps),
            title=step.title,
            unit=step.unit,
            unit_title=titles.get(step.unit, step.unit),
            why=step.why,
            planned=links.planned(head.seconds, head.basis),
            spent="",
            done=None,
            reopened=0,
            paper=head.paper,
            line=line_link(self.known.machine, step.id),
            cautions=tuple(
                self.order.cautions[name] for name in step.caution if name in self.order.cautions
            ),
            picture=None,
            picture_waits=False,
            solid_href="",
            card_href=f"{links.step_href(step.id)}/card",
            picks=tuple(self._pick(line, alike) for line in in_order(self.known.picks[step.id].lines)),
            tools=(
                *(ToolView(name=name, term=_tool_term(name)) for name in facts["tools"]),
                *(ToolView(name=name, term=_tool_term(name), used_up=True) for name in facts["supplies"]),
            ),
            actions=actions,
            to_read=to_read,
            nuts=tuple(
                NutsView(member=row["member"], slot=row["slot"], letter=row["letter"], nut=row["nut"],
                         pieces=row["pieces"], at=row["at"], end=row["end"], joints=row["joints"])
                for row in facts["nuts"]
            ),
            leaves=tuple(
                LeavesView(state=row["state"], joints=row["joints"], until=self._link(row["until"]))
                for row in facts["leaves"]
            ),
            minds=mind_views(facts["mistakes"]),
            findings=(),
            must=self._must(actions, to_read),
            open_now=(),
            left_open=(),
            deviations=(),
            photos=(),
            notes=(),
            conflicts=(),
            shortage=(),
            before=self.links[at - 1] if at else None,
            after=self.links[at + 1] if at + 1 < len(self.links) else None,
            next_open=None,
        )  # fmt: skip

    def _link(self, number: int) -> StepLink | None:
        return self.links[number - 1] if number else None

    # -- what it takes

    def _pick(self, line: PickLine, alike: Mapping[str, tuple[str, ...]]) -> PickView:
        fact = part_fact(self.known, line, self.step.unit)
        sort = self.known.sort_of.get(line.part)
        ref = sort.part if sort is not None else line.part
        came: dict[str, int] = {}
        for part in dict.fromkeys((ref, *(sort.parts if sort is not None else ()))):
            for box, pieces in self.known.boxes_of.get(part, ()):
                came[box] = came.get(box, 0) + pieces
        size = plain(fact["size"])
        length, colon, cuts = size.partition(": ")
        is_cut = bool(line.cuts_mm)
        return PickView(
            part=ref,
            refs=line.pieces,
            laid=0,
            pieces=len(line.pieces),
            count=length if is_cut and colon else links.pieces_of(len(line.pieces)),
            letter=fact["letter"],
            name=plain(fact["name"]),
            size=cuts if is_cut and colon else size,
            where=plain(fact["where"]),
            boxes=", ".join(f"{pieces} in {box}" for box, pieces in came.items()),
            href=links.part_href(ref),
            alike=alike.get(fact["letter"], ()),
            is_fastener=line.kind is Kind.FASTENER,
        )

    # -- what to do

    def _action(self, event: Event) -> ActionView:
        facts = action_facts(self.known, self.step, event)
        says = plain(facts["says"]) or plain(facts["to"])
        action = event.action
        state = _STATES.get(action.verb, "")
        item, sort = "", ""
        if action.verb == "sign-off":
            item, sort = sign_item(self.step.id, says), "sign-off"
        elif action.verb == "check":
            item = check_item(self.step.id, says)
            sort = action.matters or ("safety" if self.step.caution else "")
        return ActionView(
            verb=facts["verb"],
            term=action.verb,
            to=plain(facts["to"]),
            says=plain(facts["says"]),
            how=plain(facts["how"]),
            order=plain(facts["order"]),
            screws=tuple(
                ScrewView(letter=row["letter"], count=links.pieces_of(row["pieces"]), name=plain(row["name"]),
                          key=row["key"], torque=row["torque"], joints=plain(row["joints"]))
                for row in facts["screws"]
            ),
            joints=tuple(dict.fromkeys(one.joint for one in event.screws)) if state else (),
            state=state,
            item=item,
            must=item if sort else "",
            must_sort=sort,
        )  # fmt: skip

    # -- what to read

    def _to_read(self, row: Mapping[str, Any]) -> ToReadView:
        whole = next(one for one in self.order.to_read if one.of == row["id"])
        return ToReadView(
            **{
                name: getattr(whole, name)
                for name in ToReadView.__slots__
                if name not in ("on", "times", "must")
            },
            on=plain(row["of"]),
            times=row["times"],
            must=read_item(self.step.id, row["id"]),
        )

    def _must(self, actions: tuple[ActionView, ...], to_read: tuple[ToReadView, ...]) -> tuple[OpenView, ...]:
        link = links.step_link(self.step.id, self.head.number, self.step.title)
        found = [
            OpenView(
                item=one.must,
                sort=one.must_sort,
                says=f"{one.verb}: {one.says or one.to}".strip(": "),
                step=link,
            )
            for one in actions
            if one.must
        ]
        found += [
            OpenView(
                item=one.must,
                sort="alignment",
                says=f"{one.what} of {one.on}, at most {one.limit_told}",
                step=link,
            )
            for one in to_read
        ]
        return tuple(found)  # fmt: skip


def _tool_term(name: str) -> str:
    """The first word of a tool, under which the glossary may know it; the server drops what it does not."""
    return name.split(maxsplit=1)[0].strip(",").casefold() if name else ""


def part_minds(known: Known) -> dict[str, tuple[MindView, ...]]:
    """For each sort, the mistakes of the steps that place it."""
    found: dict[str, list[MindView]] = {}
    for step in known.machine.steps:
        for mind in mind_views(mistakes(known, step)):
            for way in known.ways:
                if way.step == step.id and mind.then.casefold() == way.consequence.casefold():
                    ref = known.machine.part[way.part].type.id
                    sort = known.sort_of.get(ref)
                    rows = found.setdefault(sort.part if sort is not None else ref, [])
                    if mind not in rows:
                        rows.append(mind)
    return {ref: tuple(rows) for ref, rows in found.items()}
