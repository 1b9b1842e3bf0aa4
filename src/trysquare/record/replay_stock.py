"""What lies there now, and how far it reaches: boxes and need after what the build log says. Pure.

One answer for every page and command. What was counted goes before what the packing lists say; pieces that
were laid into a step that was done before they were counted are used, and no longer asked for; what was
damaged, missing, left out, added or replaced since then is taken off.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from trysquare.record.state import BuildState, Count, Deviation
from trysquare.stock.holdings import Asked, Slice, hand_out
from trysquare.stock.lots import Lack, StockLot

LOST = frozenset({"damaged", "missing"})
SortOf = Callable[[str], str]
"""Takes a part's id, another name of it, or a placed piece to the sort that it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """One sort. `asked`: pieces by the order of the build; `used`: of them, those in steps that are done;
    `needed`: those to be served from `here`, which is what was counted, else listed, without what was `lost`
    since. `others`: pieces that serve it instead, by their sort; `lent`: pieces of it that serve others;
    `short`: pieces that nothing serves; `spare`: what is left when all is served."""

    asked: int
    used: int
    needed: int
    here: int
    lost: int
    counted: bool
    others: Mapping[str, int]
    lent: Mapping[str, int]
    short: int
    spare: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Instead:
    """Pieces of another sort, `by`, that serve a sort in one step (from 0), and the box they lie in."""

    step: int
    sort: str
    by: str
    box: str
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StockNow:
    """Sorts of which something is known, what steps go without, and what they take instead, in the order of
    steps."""

    sorts: Mapping[str, Holding] = field(default_factory=dict)
    lacks: tuple[Lack, ...] = ()
    instead: tuple[Instead, ...] = ()
    last: int = -1
    """The number of the last step that the boxes reach, from 0; -1 when not even the first."""


def stock_now(asked: Asked, state: BuildState, sort_of: SortOf, *, listed: bool) -> StockNow:
    """The answer of this moment. `listed`: whether there are packing lists; without any, only what was
    counted is known, and nothing is said of other sorts."""
    work = _Work(asked, state, sort_of)
    known = {work.sort(lot.part) for lot in asked.lots} if listed else set(work.since)
    known |= {work.sort(one.part) for one in asked.slices} if listed else set()
    slices = [one for one in work.slices() if work.sort(one.part) in known and one.pieces]
    lots = work.lots()
    flows = hand_out(slices, lots)
    served = Counter[int]()
    others: dict[str, Counter[str]] = {}
    lent: dict[str, Counter[str]] = {}
    taken = Counter[str]()
    instead = Counter[tuple[int, str, str, str]]()
    for (number, lot), pieces in flows.items():
        served[number] += pieces
        want, have = work.sort(slices[number].part), work.sort(lots[lot].part)
        taken[have] += pieces
        if want != have:
            others.setdefault(want, Counter())[have] += pieces
            lent.setdefault(have, Counter())[want] += pieces
            instead[slices[number].step, want, have, lots[lot].box] += pieces
    here, needed, short = Counter[str](), Counter[str](), Counter[str]()
    for lot_now in lots:
        here[work.sort(lot_now.part)] += lot_now.pieces
    for number, one in enumerate(slices):
        needed[work.sort(one.part)] += one.pieces
        short[work.sort(one.part)] += one.pieces - served[number]
    lacks = (*_lacks(slices, served), *(asked.rolls if listed else ()))
    lacks = tuple(sorted(lacks, key=lambda lack: (lack.step, lack.part)))
    steps = len(asked.steps)
    return StockNow(
        sorts={
            sort: Holding(
                asked=work.asked_of[sort], used=work.used[sort], needed=needed[sort], here=here[sort],
                lost=work.lost[sort], counted=sort in work.since, others=dict(others.get(sort, {})),
                lent=dict(lent.get(sort, {})), short=short[sort], spare=here[sort] - taken[sort],
            )
            for sort in sorted(known)
        },
        lacks=lacks,
        instead=tuple(
            Instead(step=step, sort=want, by=have, box=box, pieces=pieces)
            for (step, want, have, box), pieces in sorted(instead.items())
        ),
        last=min((lack.step for lack in lacks), default=steps) - 1,
    )  # fmt: skip


def _lacks(slices: list[Slice], served: Mapping[int, int]) -> list[Lack]:
    found = []
    held, wanted = Counter[str](), Counter[str]()
    for number, one in enumerate(slices):
        held[one.part] += served[number]
        wanted[one.part] += one.pieces
        if served[number] < one.pieces:
            found.append(
                Lack(step=one.step, part=one.part, pieces=one.pieces - served[number], served=held[one.part],
                     wanted=wanted[one.part])
            )  # fmt: skip
    return found


class _Work:
    """The log laid over slices and lots. `since`: the entry that counted a sort last, by sort."""

    def __init__(self, asked: Asked, state: BuildState, sort_of: SortOf) -> None:
        self.asked, self.state, self.sort = asked, state, sort_of
        self.number = {step: number for number, step in enumerate(asked.steps)}
        self.since: dict[str, int] = {}
        self.count: dict[str, Count] = {}
        for name, count in state.counted.items():
            sort = sort_of(name)
            if count.said.seq > self.since.get(sort, -1):
                self.since[sort], self.count[sort] = count.said.seq, count
        self.done = {
            self.number[step]: one.done.seq
            for step, one in state.steps.items()
            if one.done is not None and step in self.number
        }
        self.asked_of, self.used, self.lost = Counter[str](), Counter[str](), Counter[str]()
        for one in asked.slices:
            self.asked_of[sort_of(one.part)] += one.pieces
        for deviation in state.deviations:
            if deviation.what in LOST and deviation.said.seq > self.since.get(sort_of(deviation.part), 0):
                self.lost[sort_of(deviation.part)] += deviation.count

    def slices(self) -> list[Slice]:
        """What is asked now: changed by what was done differently, without what was used before the count."""
        found: list[Slice] = []
        changes = self._changes()
        for one in self.asked.slices:
            sort = self.sort(one.part)
            change = changes.get((sort, one.step), 0)
            if change < 0:
                off = min(-change, one.pieces)
                changes[sort, one.step] = change + off
                one = replace(one, pieces=one.pieces - off)  # noqa: PLW2901  # the same slice, less of it
            found.append(one)
        for (sort, step), change in changes.items():
            if change > 0:
                serve = tuple(
                    (at, 0) for at, lot in enumerate(self.asked.lots) if self.sort(lot.part) == sort
                )
                found.append(Slice(part=sort, step=step, pieces=change, serve=serve))
        found.sort(key=lambda one: one.step)
        left = []
        for one in found:
            sort = self.sort(one.part)
            if one.step in self.done:
                self.used[sort] += one.pieces
                if self.done[one.step] <= self.since.get(sort, 0):
                    continue  # they lay in the machine when the rest was counted
            left.append(one)
        return left

    def _changes(self) -> dict[tuple[str, int], int]:
        """By how many pieces the deviations change what a step takes of a sort."""
        found = Counter[tuple[str, int]]()
        for one in self.state.deviations:
            step = self._step(one)
            if one.what == "extra" and (one.by or one.part):
                found[self.sort(one.by or one.part), step] += one.count
            if one.what in ("substitute", "skipped") and one.part:
                found[self.sort(one.part), step] -= one.count
            if one.what == "substitute" and one.by:
                found[self.sort(one.by), step] += one.count
        return dict(found)

    def _step(self, one: Deviation) -> int:
        return self.number.get(one.step or "", len(self.asked.steps))

    def lots(self) -> list[StockLot]:
        """The lots as they are now. A count in a box stands for that box's lots of the sort, a count without
        a box for all of them; what they do not account for is laid to the last of them."""
        found = list(self.asked.lots)
        places: dict[str, list[int]] = {}
        for at, lot in enumerate(found):
            places.setdefault(self.sort(lot.part), []).append(at)
        for sort, mine in places.items():
            if sort in self.count:
                self._lay(found, mine, self.count[sort])
            lost = self.lost[sort]
            for at in mine:
                off = min(lost, found[at].pieces)
                found[at] = replace(found[at], pieces=found[at].pieces - off)
                lost -= off
        return found

    @staticmethod
    def _lay(lots: list[StockLot], mine: list[int], count: Count) -> None:
        left = count.pieces
        counted = mine if "" in count.boxes else [at for at in mine if lots[at].box in count.boxes]
        for at in counted:
            pieces = min(left, lots[at].pieces)
            lots[at] = replace(lots[at], pieces=pieces)
            left -= pieces
        last = (counted or mine)[-1]
        lots[last] = replace(lots[last], pieces=lots[last].pieces + left)
