"""What a page is made of at one moment: what was computed of the machine, and the state of the log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from trysquare.bench import links
from trysquare.bench.facts import (
    DrawnFacts,
    FindingsFacts,
    OrderFacts,
    PictureFacts,
    StepHead,
    StepsFacts,
    StockFacts,
)
from trysquare.bench.views import (
    ConflictView,
    DeviationView,
    KeptView,
    OpenView,
    Problem,
    Ready,
    SaidAt,
    StepLink,
)
from trysquare.bench.views_lists import SortRow
from trysquare.bench.views_step import StepView
from trysquare.record.events import Logged
from trysquare.record.replay_stock import StockNow, stock_now
from trysquare.record.state import BuildState, Conflict, Deviation, KeptFile, OpenPoint, Said

PICTURE_SUFFIXES = frozenset({".jpg", ".png", ".webp", ".gif", ".avif"})
LOOKED_AT_SECONDS = 60.0
"""Open for less, and nothing said at it: somebody looked, and did no work. Common practice, no source."""
_DIFFERENT: Mapping[str, str] = {
    "substitute": "{by} served instead of {name}",
    "extra": "{count} {name} more than asked",
    "skipped": "{name}: left out",
    "damaged": "{count} {name} damaged",
    "missing": "{count} {name} not here",
}


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What is known of the machine. `version`: of the folder that all parts but `problems` are of."""

    version: str = ""
    order: OrderFacts | None = None
    steps: StepsFacts | None = None
    findings: FindingsFacts | None = None
    drawn: DrawnFacts | None = None
    pictures: PictureFacts | None = None
    problems: tuple[Problem, ...] = ()
    busy: bool = False

    @property
    def ready(self) -> Ready:
        pictures = self.pictures
        done = len(pictures.steps) if pictures is not None else 0
        return Ready(
            order=self.order is not None,
            steps=self.steps is not None,
            findings=self.findings is not None,
            pictures=pictures is not None and done >= pictures.all,
            pictures_done=done,
            pictures_all=pictures.all if pictures is not None else 0,
            busy=self.busy,
        )

    @property
    def stock(self) -> StockFacts:
        return self.findings.stock if self.findings is not None else StockFacts()

    @cached_property
    def head(self) -> Mapping[str, StepHead]:
        """Steps by id."""
        return {step.id: step for step in self.order.steps} if self.order is not None else {}

    @cached_property
    def row(self) -> Mapping[str, SortRow]:
        """Sorts by ref."""
        kinds = self.order.kinds if self.order is not None else ()
        return {row.sort: row for kind in kinds for row in kind.rows}

    def page(self, step: str) -> StepView | None:
        """A step's page, when it is computed."""
        return self.steps.steps.get(step) if self.steps is not None else None

    def link(self, step: str | None) -> StepLink | None:
        """A step named in the log. One that the machine does not have (any more) has number 0."""
        if not step:
            return None
        head = self.head.get(step)
        if head is None:
            return links.step_link(step, 0, step)
        return links.step_link(head.id, head.number, head.title)

    def sort_of(self, ref: str) -> str:
        """The sort that a part, another name of it, or a placed piece is."""
        if self.steps is not None and ref in self.steps.placed:
            return self.steps.placed[ref]
        return self.order.sort_of.get(ref, ref) if self.order is not None else ref


_last_stock: list[tuple[Shown, object, StockNow] | None] = [None]
"""What the last stock was reckoned from, and what it was."""


@dataclass(frozen=True, kw_only=True)
class Now:
    """One moment, for one device."""

    shown: Shown
    state: BuildState
    device: str = ""

    def said(self, said: Said, who: str = "") -> SaidAt:
        return SaidAt(
            event=said.id, seq=said.seq, at=said.at, device=said.device, mine=said.device == self.device,
            who=who,
        )  # fmt: skip

    def said_in(self, entry: Logged) -> SaidAt:
        event = entry.event
        who = event.data.get("who")
        told = Said(id=event.id, seq=entry.seq, at=event.at, device=event.device)
        return self.said(told, who if isinstance(who, str) else "")

    def is_done(self, step: str) -> bool:
        known = self.state.steps.get(step)
        return known is not None and known.done is not None

    @cached_property
    def begun(self) -> frozenset[str]:
        """Steps that are under way: something was said at them, or they were open for longer than a look."""
        state = self.state
        at = {step for step, _ in (*state.laid_out, *state.readings)}
        at |= {one.step for one in state.deviations} | {one.step for one in state.open_points.values()}
        at |= {one.step for one in (*state.photos, *state.files)} | {one.step for one in state.notes}
        at |= {one.step for turned in state.torqued.values() for one in turned}
        at |= {mark.step for mark in state.marks if not mark.auto}
        return frozenset(
            name
            for name, step in state.steps.items()
            if step.done is None and (name in at or step.seconds >= LOOKED_AT_SECONDS or step.reopened)
        )

    def spent(self, step: str) -> str:
        """Time spent on a step that is under way or done; "" for one that was only looked at."""
        known = self.state.steps.get(step)
        return links.duration(known.seconds) if known and (known.done or step in self.begun) else ""

    @cached_property
    def skipped(self) -> Mapping[str, Deviation]:
        """Steps that were left out as a whole and not taken up since, each with what was said last."""
        found: dict[str, Deviation] = {}
        for one in self.state.deviations:
            if one.what != "skipped" or one.part or not one.step or self.is_done(one.step):
                continue
            known = self.state.steps.get(one.step)
            again = known.last_reopened if known is not None else None
            if again is None or again.seq < one.said.seq:
                found[one.step] = one
        return found

    @cached_property
    def begin(self) -> str:
        """The step to go on with: the first that is not done and not skipped, else the first of those
        skipped; "" when all are done."""
        left = [step for step in self.shown.head if not self.is_done(step)]
        return next((step for step in left if step not in self.skipped), left[0] if left else "")

    @cached_property
    def stock(self) -> StockNow:
        """What lies there and how far it reaches, after all that the log says."""
        facts = self.shown.stock
        if facts.asked is None:
            return StockNow()
        done = frozenset(name for name, step in self.state.steps.items() if step.done is not None)
        rests_on = (self.state.counted, self.state.deviations, done)
        # Most entries say nothing of the stock: its answer then stays, for all pages and devices.
        last = _last_stock[0]
        if last is None or last[0] is not self.shown or last[1] != rests_on:
            found = stock_now(facts.asked, self.state, self.shown.sort_of, listed=bool(facts.names))
            _last_stock[0] = last = (self.shown, rests_on, found)
        return last[2]

    def kept(self, one: KeptFile) -> KeptView:
        return KeptView(
            href=f"/kept/{one.sha256}",
            name=one.name,
            says=one.says,
            is_picture=one.suffix in PICTURE_SUFFIXES,
            said=self.said(one.said),
            step=self.shown.link(one.step),
            subject=one.subject or "",
            sort=one.sort,
        )

    def deviation(self, one: Deviation) -> DeviationView:
        row = self.shown.row.get(self.shown.sort_of(one.part))
        name = row.name if row is not None else one.part or "the step"
        told = _DIFFERENT.get(one.what, "{name}").format(
            name=name, by=one.by or "another part", count=one.count
        )
        return DeviationView(
            what=one.what, part=one.part, name=name, letter=row.letter if row is not None else "", by=one.by,
            count=one.count, why=one.why, says=told[:1].upper() + told[1:], said=self.said(one.said, one.who),
            step=self.shown.link(one.step),
        )  # fmt: skip

    def open_point(self, one: OpenPoint) -> OpenView:
        page = self.shown.page(one.step or "")
        says = next((each.says for each in page.must if each.item == one.item), "") if page else ""
        return OpenView(
            item=one.item, sort=one.sort, says=says or one.item, reason=one.reason,
            said=self.said(one.said, one.who),
            step=self.shown.link(one.step),
        )  # fmt: skip

    def conflict(self, one: Conflict) -> ConflictView:
        return ConflictView(
            about=one.about, first=self.said(one.first), first_says=one.first_says,
            second=self.said(one.second), second_says=one.second_says, step=self.shown.link(one.step),
        )  # fmt: skip

    def conflicts_at(self, step: str) -> tuple[ConflictView, ...]:
        return tuple(self.conflict(one) for one in self.state.conflicts if one.step == step)

    @cached_property
    def open_by_step(self) -> Mapping[str, int]:
        """How many points were left open in each step."""
        found: dict[str, int] = {}
        for one in self.state.open_points.values():
            if one.step:
                found[one.step] = found.get(one.step, 0) + 1
        return found

    @cached_property
    def conflict_steps(self) -> frozenset[str]:
        return frozenset(one.step for one in self.state.conflicts if one.step)
