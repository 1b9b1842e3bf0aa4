"""Taking the finished machine apart, one operation at a time; backwards it is an order that works.

Whatever can be undone now can still be undone when more is gone: fewer solids stand in the way and
fewer joints wait. So it does not matter which free operation is undone first, and when nothing is
free any more, no order exists at all. What is then left over says why.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from trysquare.ground.placement import Array
from trysquare.sequence.directions import joint_directions
from trysquare.sequence.hanging import JOINS, joined_parts, links_of, props_of
from trysquare.sequence.knots import knots
from trysquare.sequence.operations import Operation, Reason, Work
from trysquare.sequence.questions import (
    Choice,
    Question,
    bends_of,
    direction_name,
    first_blocker,
    met_first,
    questions_of,
)
from trysquare.sequence.swept_boxes import SweptBoxes
from trysquare.sequence.together import Together

_LATE = {
    "crimp": 0,
    "route": 0,
    "read": 1,
    "tighten": 2,
    "snug": 3,
    "start": 4,
    "insert": 5,
    "press": 6,
    "place": 7,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Why an operation cannot be undone yet (so must come before others): one choice of one question
    and a piece that closes it."""

    asks: str
    choice: str
    by: str
    of: str = ""  # the piece it is in the way of


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """One piece of work leaves another; `says` tells the way it comes in when building, and `way` points
    to where it comes from. None: round a corner."""

    moving: frozenset[str]
    standing: frozenset[str]
    lead: str
    says: str
    way: Array | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """One operation undone, with the choices that were free, question by question.

    `partings`: pieces of work that come apart with it.
    """

    operation: int
    chosen: tuple[tuple[Question, Choice], ...] = ()
    partings: tuple[Parting, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenApart:
    """The result: `undone` in the order of taking apart; `left` with what holds each back.

    `given_up`: soft precedences (first, after) that had to go. `stopped`: somebody said stop.
    """

    undone: tuple[Undone, ...]
    left: Mapping[int, tuple[Obstacle, ...]] = field(default_factory=dict)
    given_up: tuple[tuple[int, int], ...] = ()
    stopped: bool = False

    @property
    def order(self) -> list[int]:
        """The order of building, as far as it was taken apart."""
        return [one.operation for one in reversed(self.undone)]


def take_apart(
    work: Work,
    *,
    only: Collection[int] | None = None,
    first: Callable[[Operation], tuple[float, ...]] | None = None,
    also: Iterable[tuple[int, int]] = (),
    stop: Callable[[], bool] | None = None,
) -> TakenApart:
    """Undoes operations until none is left or none is free.

    `only`: those that may be undone; the others stay. `first`: a rank, the least is tried first.
    `also`: further precedences (first, after).
    """
    return Undoing(work, also).run(only=only, first=first, stop=stop)


class Undoing:
    """The machine while it is taken apart. All remaining operations are done, nothing else is."""

    def __init__(self, work: Work, also: Iterable[tuple[int, int]] = ()) -> None:
        self.work = work
        self.operations = work.operations
        self.followers: dict[int, dict[int, Reason]] = work.followers()
        for one, other in also:
            self.followers[one].setdefault(other, "asked for")
        self.firsts: dict[int, set[int]] = {one.number: set() for one in work.operations}
        for first, afters in self.followers.items():
            for after in afters:
                self.firsts[after].add(first)
        self.remaining: set[int] = {one.number for one in self.operations}
        self.present: set[str] = {piece for one in self.operations for piece in one.pieces}
        self._pieces = {one.number: frozenset(one.pieces) for one in self.operations}
        self.links = {one.number: links_of(work, one) for one in self.operations}
        self.together = Together(self.links, self.present)
        self.pending = {number: len(after) for number, after in self.followers.items()}
        self.asked: dict[int, tuple[Question, ...]] = {}
        # A part that no joint holds needs something to lie against; the last such thing goes after it.
        self._props = props_of(work)
        self._leaning: dict[str, list[str]] = {}
        for part, props in self._props.items():
            for name in props:
                self._leaning.setdefault(name, []).append(part)
        self.boxes = SweptBoxes(work.reach)
        self.given_up: list[tuple[int, int]] = []
        self.side = "+z"

    def group(self, piece: str) -> Collection[str]:
        """Everything that hangs together with a present piece."""
        return self.together.group(piece)

    def _remove(self, operation: Operation) -> None:
        self.remaining.discard(operation.number)
        self.present.difference_update(operation.pieces)
        self.together.remove(operation.number, operation.pieces)
        for first in self.firsts[operation.number]:
            self.pending[first] -= 1

    # -- asking -----------------------------------------------------------------------------------

    def questions(self, number: int) -> tuple[Question, ...]:
        if number not in self.asked:
            self.asked[number] = questions_of(self.work, self.operations[number])
        return self.asked[number]

    def waits_for(self, number: int) -> list[int]:
        """Remaining operations that must be undone before this one."""
        waits = [other for other in self.followers[number] if other in self.remaining]
        own = self._pieces[number]
        if waits or own.isdisjoint(self._leaning):
            return waits
        for part in own & self._leaning.keys():
            for loose in self._leaning[part]:
                left = self.present.intersection(self._props[loose])
                if loose in self.present and loose not in own and left <= own:
                    waits.append(self.work.bringer[loose])
        return waits

    def try_undoing(self, number: int, *, bends: bool) -> Undone | tuple[Obstacle, ...]:
        """The choices with which an operation can be undone, or what closes each choice of the first
        question without a free one."""
        chosen: list[tuple[Question, Choice]] = []
        for question in self.questions(number):
            present = self.group(question.piece)
            obstacles: list[Obstacle] = []
            for choice in _all_choices(question, bends):
                by = first_blocker(self.work, choice, present, question.not_yet)
                if by is None:
                    chosen.append((question, choice))
                    break
                obstacles.append(Obstacle(asks=question.asks, choice=choice.says, by=by, of=question.piece))
            else:
                return tuple(obstacles)
        partings: tuple[Parting, ...] = ()
        if self.operations[number].verb in JOINS and self.links[number]:
            partings, held = self._part(number, bends)
            if held:
                return held
        return Undone(operation=number, chosen=tuple(chosen), partings=partings)

    def _part(self, number: int, bends: bool) -> tuple[tuple[Parting, ...], tuple[Obstacle, ...]]:
        """The pieces of work that come apart when a joining operation is undone, and what holds others.

        Every piece of work must have a way to the largest, in whichever order goes.
        """
        parts = [part for part in joined_parts(self.work, self.operations[number]) if part in self.present]
        if len(parts) < 2:
            return (), ()
        groups = self.together.parted(number, self._pieces[number], parts)
        if len(groups) < 2:
            return (), ()
        waiting = sorted(groups, key=lambda group: (-len(group), min(group)))
        standing = set(waiting.pop(0))
        partings: list[Parting] = []
        held: tuple[Obstacle, ...] = ()
        went = True
        while waiting and went:
            went = False
            for group in list(waiting):
                answer = self._group_way(number, group, standing, parts, bends)
                if isinstance(answer, Parting):
                    partings.append(answer)
                    standing |= group
                    waiting.remove(group)
                    went = True
                else:
                    held = answer
        return tuple(partings), held if waiting else ()

    def _group_way(
        self, number: int, moving: set[str], standing: set[str], parts: list[str], bends: bool
    ) -> Parting | tuple[Obstacle, ...]:
        lead = next((part for part in parts if part in moving), min(moving))
        joints = self.work.walk.joints_of_part.get(lead, ())
        obstacles: list[Obstacle] = []
        bulk = self.work.reach.bulk
        ordered = sorted(moving, key=lambda piece: (-bulk.get(piece, 0.0), piece))
        ways = joint_directions(self.work.machine, lead, joints)
        ways = self.boxes.clearest_first(moving, standing, ways)
        what = lead if len(moving) == 1 else f"what hangs on {lead}"
        asks = f"a way in for {what} ({self.operations[number].name})"
        for way in ways:
            blocked = self._group_blocked(ordered, moving, way, standing)
            says = f"from {direction_name(way)}"
            if blocked is None:
                return Parting(
                    moving=frozenset(moving), standing=frozenset(standing), lead=lead, says=says, way=way
                )
            one, other = blocked
            obstacles += [
                Obstacle(asks=asks, choice=says, by=one, of=other),
                Obstacle(asks=asks, choice=says, by=other, of=one),
            ]
        if bends and len(moving) == 1:
            for choice in bends_of(self.work, lead, ways):
                if first_blocker(self.work, choice, standing, ()) is None:
                    return Parting(
                        moving=frozenset(moving), standing=frozenset(standing), lead=lead, says=choice.says
                    )
        return tuple(obstacles)

    def _group_blocked(
        self, ordered: list[str], moving: set[str], way: Array, standing: set[str]
    ) -> tuple[str, str] | None:
        for piece in self.boxes.in_doubt(ordered, standing, way):
            other = met_first(self.work.reach, self.work.reach.path(piece, way), standing, moving)
            if other is not None:
                return piece, other
        return None

    # -- the loop -----------------------------------------------------------------------------------

    def run(
        self,
        *,
        only: Collection[int] | None = None,
        first: Callable[[Operation], tuple[float, ...]] | None = None,
        stop: Callable[[], bool] | None = None,
    ) -> TakenApart:
        undone: list[Undone] = []
        rank = first or self._rank
        blocked: dict[int, tuple[Obstacle, ...]] = {}
        watched: dict[str, set[int]] = {}
        last: Operation | None = None
        while self.remaining:
            if stop is not None and stop():
                return TakenApart(undone=tuple(undone), given_up=tuple(self.given_up), stopped=True)
            ready = [
                number
                for number in self.remaining
                if not self.pending[number]
                and number not in blocked
                and (only is None or number in only)
                and not self.waits_for(number)
            ]
            ready.sort(key=lambda number: (*self._near(last, number), *rank(self.operations[number]), number))
            found: Undone | None = None
            for number in ready:
                answer = self.try_undoing(number, bends=False)
                if isinstance(answer, Undone):
                    found = answer
                    break
                self._watch(number, answer, blocked, watched)
            if found is None:
                found = self._bend(blocked)
            if found is None and only is None and self._give_up_something(blocked):
                continue
            if found is None:
                break
            last = self.operations[found.operation]
            undone.append(found)
            self.side = last.up or self.side
            blocked.pop(found.operation, None)
            self._take(found, blocked, watched)
        left = {number: blocked.get(number, ()) for number in sorted(self.remaining)}
        if only is not None:
            left = {number: why for number, why in left.items() if number in only}
        return TakenApart(undone=tuple(undone), left=left, given_up=self._broken(undone))

    def _broken(self, undone: Sequence[Undone]) -> tuple[tuple[int, int], ...]:
        """Of what was given up all that the order does break; the rest came about by itself."""
        when = {one.operation: at for at, one in enumerate(undone)}
        last = len(undone)
        return tuple(
            (first, after) for first, after in self.given_up if when.get(first, last) <= when.get(after, last)
        )

    def _take(
        self, found: Undone, blocked: dict[int, tuple[Obstacle, ...]], watched: dict[str, set[int]]
    ) -> None:
        operation = self.operations[found.operation]
        self._remove(operation)
        if found.partings:  # what stood in the way may stand elsewhere now
            for number, obstacles in list(blocked.items()):
                if any(self.together.apart(one.of, one.by) for one in obstacles):
                    del blocked[number]
        for piece in operation.pieces:
            for number in watched.pop(piece, ()):
                blocked.pop(number, None)

    def _watch(
        self,
        number: int,
        obstacles: tuple[Obstacle, ...],
        blocked: dict[int, tuple[Obstacle, ...]],
        watched: dict[str, set[int]],
    ) -> None:
        blocked[number] = obstacles
        for obstacle in obstacles:
            watched.setdefault(obstacle.by, set()).add(number)

    def _bend(self, blocked: dict[int, tuple[Obstacle, ...]]) -> Undone | None:
        """Looks for ways round a corner, which are costly and seldom needed."""
        for number in list(blocked):
            bending = any(question.bends for question in self.questions(number))
            if bending or self.operations[number].verb in JOINS:
                answer = self.try_undoing(number, bends=True)
                if isinstance(answer, Undone):
                    return answer
        return None

    def _give_up_something(self, blocked: Mapping[int, tuple[Obstacle, ...]]) -> bool:
        """Drops the soft precedences that alone hold one operation back: of those in a knot the lightest."""
        held: dict[int, list[int]] = {}
        for first, after in sorted(self.work.soft):
            if first in self.remaining and after in self.remaining and after in self.followers[first]:
                held.setdefault(first, []).append(after)
        waits = {number: self.waits_for(number) for number in self.remaining}
        knotted = knots(
            {number: {*waits[number], *self._blocks(blocked.get(number, ()))} for number in waits}
        )

        def ease(first: int) -> tuple[bool, int, int]:
            return (first not in knotted, sum(self.work.soft[first, after] for after in held[first]), first)

        for first in sorted(held, key=ease):
            if set(waits[first]) <= set(held[first]) and isinstance(
                self.try_undoing(first, bends=True), Undone
            ):
                for after in held[first]:
                    del self.followers[first][after]
                    self.pending[first] -= 1
                    self.firsts[after].discard(first)
                    self.given_up.append((first, after))
                return True
        return False

    def _blocks(self, obstacles: Iterable[Obstacle]) -> set[int]:
        """The operations that brought what stands in the way."""
        return {self.work.bringer[one.by] for one in obstacles}

    def _near(self, last: Operation | None, number: int) -> tuple[int, ...]:
        """What belongs to the operation undone last goes next: a joint's work stays together."""
        operation = self.operations[number]
        up = operation.up
        turns = int(bool(up) and up != self.side)
        if last is None:
            return (turns, 0, 0)
        same = operation.unit == last.unit
        return (turns, 0 if same else 1, 0 if operation.of == last.of else 1)

    def _rank(self, operation: Operation) -> tuple[float, ...]:
        """Later units first, then the last verbs, then what stands highest."""
        units = self.work.machine.units
        unit = -units.index(operation.unit) if operation.unit in units else 0
        height = 0.0
        if operation.pieces:
            height = -float(self.work.machine.part[operation.pieces[0]].placement.origin_mm[2])
        return (unit, _LATE.get(operation.verb, 5), height)


def _all_choices(question: Question, bends: bool) -> Iterable[Choice]:
    yield from question.choices
    if bends and question.bends is not None:
        yield from question.bends()
