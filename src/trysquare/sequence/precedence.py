"""What must come before what: one partial order that every good arrangement keeps.

The machine was taken apart once, with known ways in and known choices. From that follows, for each
operation, which solids would close its way: it stays before the moment they come together. Any order
that keeps all this works, however it is otherwise arranged.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field

from trysquare.sequence.hanging import links_of
from trysquare.sequence.operations import Work
from trysquare.sequence.questions import Choice, blockers, near
from trysquare.sequence.swept_boxes import SweptBoxes
from trysquare.sequence.undoing import TakenApart, Undone


@dataclass(frozen=True, slots=True, kw_only=True)
class Precedence:
    """`order`: one valid order of operation numbers. `before[b][a]` is the reason why a comes before b."""

    order: tuple[int, ...]
    before: Mapping[int, Mapping[int, str]] = field(default_factory=dict)

    def followers(self) -> dict[int, set[int]]:
        found: dict[int, set[int]] = {number: set() for number in self.order}
        for after, firsts in self.before.items():
            for first in firsts:
                found[first].add(after)
        return found


def precedence_of(work: Work, apart: TakenApart, *, strict: bool = False) -> Precedence:
    """The partial order behind a complete taking apart.

    `strict`: pieces of work meet exactly one after another as they were parted.
    """
    order = tuple(apart.order)
    place = {number: index for index, number in enumerate(order)}
    given_up = set(apart.given_up)
    before: dict[int, dict[int, str]] = {
        number: {first: why for first, why in work.needs[number].items() if (first, number) not in given_up}
        for number in order
    }
    meeting = _Meeting()
    whole: set[str] = set()
    for number in order:
        for one, other in links_of(work, work.operations[number]):
            meeting.link(one, other, place[number])
        whole |= set(work.operations[number].pieces)
    above = _above(order, before)
    for undone in apart.undone:
        _solids(work, undone, whole, meeting, order, place, above, before)
    _pieces_of_work(work, apart, order, place, before, meeting.when, strict=strict)
    return Precedence(order=order, before=reduced(order, before))


class _Meeting:
    """When two pieces first hang together. Groups are trees whose branches carry the moment they grew."""

    def __init__(self) -> None:
        self.above: dict[str, tuple[str, int]] = {}
        self.size: dict[str, int] = {}

    def link(self, one: str, other: str, at: int) -> None:
        first, second = self._top(one), self._top(other)
        if first == second:
            return
        if self.size.get(first, 1) < self.size.get(second, 1):
            first, second = second, first
        self.above[second] = (first, at)
        self.size[first] = self.size.get(first, 1) + self.size.get(second, 1)

    def _top(self, piece: str) -> str:
        while piece in self.above:
            piece = self.above[piece][0]
        return piece

    def when(self, one: str, other: str) -> int | None:
        """Place in the order at which two pieces come together; None when they never do.

        Branches grow later towards the top, so the last branch below the common piece tells.
        """
        trail = {one: -1}
        latest, piece = -1, one
        while piece in self.above:
            piece, at = self.above[piece]
            latest = max(latest, at)
            trail[piece] = latest
        latest, piece = -1, other
        while piece not in trail:
            if piece not in self.above:
                return None
            piece, at = self.above[piece]
            latest = max(latest, at)
        return max(latest, trail[piece])


def _solids(
    work: Work,
    undone: Undone,
    whole: set[str],
    meeting: _Meeting,
    order: tuple[int, ...],
    place: Mapping[int, int],
    above: Mapping[int, int],
    before: dict[int, dict[int, str]],
) -> None:
    """An operation comes before what would close the choices it was undone with."""
    here = place[undone.operation]
    operation = work.operations[undone.operation]
    # A part that no joint holds goes in among whatever it touches, were that still loose.
    unheld = operation.verb == "place" and not operation.sort
    if unheld and operation.of not in work.walk.joints_of_part:
        for other in work.walk.touching(operation.of):
            first = work.bringer.get(other)
            if first is not None and place[first] < here:
                before[undone.operation].setdefault(first, f"{operation.of} lies against {other}")
    for question, choice in undone.chosen:
        closing: dict[int, list[str]] = {}
        for by in near(choice, whole, question.not_yet):
            at = place[work.bringer[by]] if unheld else meeting.when(question.piece, by)
            if at is not None and at < here:
                at = meeting.when(question.piece, by)
            if at is not None and at > here:
                closing.setdefault(at, []).append(by)
        earlier = [undone.operation]
        for at in sorted(closing):
            # What comes after the operation anyway, or after what closes it already, need not be asked.
            if any(above[order[at]] >> one & 1 for one in earlier):
                continue
            met = (one for one in closing[at] if blockers(work, choice, (one,), question.not_yet))
            closer = next(met, None)
            if closer is not None:
                before[order[at]].setdefault(undone.operation, _closes(question.asks, choice, closer))
                earlier.append(order[at])


def _above(order: Iterable[int], before: Mapping[int, Collection[int]]) -> dict[int, int]:
    """For every operation, as bits, all that comes before it, near and far."""
    bits: dict[int, int] = {}
    for number in order:
        known = 0
        for first in before[number]:
            known |= bits[first] | 1 << first
        bits[number] = known
    return bits


def _closes(asks: str, choice: Choice, by: str) -> str:
    return f"{by} would close {asks} {choice.says}"


def _pieces_of_work(
    work: Work,
    apart: TakenApart,
    order: tuple[int, ...],
    place: Mapping[int, int],
    before: dict[int, dict[int, str]],
    when: Callable[[str, str], int | None],
    *,
    strict: bool,
) -> None:
    """A piece of work comes before what could stand in its way to the rest, and nothing goes on it earlier
    than it did; what else is joined meanwhile elsewhere does not matter."""
    last: dict[str, int] = {}  # piece -> the meeting it last moved in
    meetings = {one.operation: one for one in apart.undone if one.partings}
    pieces = [piece for number in order for piece in work.operations[number].pieces]
    boxes = SweptBoxes(work.reach)
    for number in order:
        meeting = meetings.get(number)
        links = links_of(work, work.operations[number])
        for one, other in links:
            at = when(one, other)
            if at is not None and at < place[number] and order[at] in meetings:
                before[number].setdefault(order[at], "it joins what hangs together already")
        for end in dict.fromkeys(end for pair in links for end in pair):
            if end in last and last[end] != number:
                before[number].setdefault(last[end], "it goes on what was brought together before")
        for parting in meeting.partings if meeting is not None else ():
            both = parting.moving | parting.standing
            rest = [piece for piece in pieces if piece not in both]
            hit = rest if parting.way is None or strict else boxes.hit(parting.moving, rest, parting.way)
            for by in hit:
                at = when(parting.lead, by)
                if at is not None and at > place[number]:
                    why = f"{by} could stand in the way of {parting.lead} {parting.says}"
                    before[order[at]].setdefault(number, why)
            for earlier in {last[piece] for piece in parting.moving if piece in last}:
                before[number].setdefault(earlier, "it was brought together before it is brought here")
            last |= dict.fromkeys(parting.moving, number)


def reduced(order: Iterable[int], before: Mapping[int, Mapping[int, str]]) -> dict[int, dict[int, str]]:
    """The same partial order without pairs that follow from others."""
    bits: dict[int, int] = {}
    found: dict[int, dict[int, str]] = {}
    index = {number: at for at, number in enumerate(order)}
    for number in index:
        known = 0
        kept: dict[int, str] = {}
        for first in sorted(before.get(number, {}), key=lambda first: -index[first]):
            if not known >> index[first] & 1:
                kept[first] = before[number][first]
                known |= bits[first] | 1 << index[first]
        bits[number] = known
        found[number] = kept
    return found


def ancestors(known: Precedence) -> Mapping[int, frozenset[int]]:
    """For every operation all that must come before it, near and far."""
    found: dict[int, frozenset[int]] = {}
    for number in known.order:
        firsts = known.before.get(number, {})
        found[number] = frozenset(firsts).union(*(found[first] for first in firsts))
    return found
