"""Taking the finished machine apart, one operation at a time; backwards it is an order that works.

Whatever can be undone now can still be undone when more is gone: fewer solids stand in the way and
fewer joints wait. So it does not matter which free operation is undone first, and when nothing is
free any more, no order exists at all. What is then left over says why.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field

from trysquare.ground.placement import Array
from trysquare.sequence.operations import Operation, Reason, Work
from trysquare.sequence.questions import Choice, Question, direction_name, first_blocker, questions_of
from trysquare.sequence.reach import joint_directions

_JOINS = frozenset({"start", "snug", "tighten", "route"})
_LATE = {"crimp": 0, "route": 0, "read": 1, "tighten": 2, "snug": 3, "start": 4, "insert": 5, "press": 6, "place": 7}


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Why an operation cannot be undone yet (so must come before others): one choice of one question
    and a piece that closes it."""

    asks: str
    choice: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """One operation undone, with the choices that were free, question by question.

    `apart`: the places of work that come apart with it, as sets of units.
    """

    operation: int
    chosen: tuple[tuple[Question, Choice], ...] = ()
    apart: tuple[frozenset[str], ...] = ()


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
        self.remaining: set[int] = {one.number for one in self.operations}
        self.present: dict[str, set[str]] = {}  # unit -> pieces
        for one in self.operations:
            for piece in one.pieces:
                self.present.setdefault(work.unit_of[piece], set()).add(piece)
        self.units = sorted(set(work.unit_of.values()))
        self.joins = {one.number: self._joined_units(one) for one in self.operations}
        self.joiners = [number for number, units in self.joins.items() if len(units) > 1]
        self.home = self._homes(self.joiners)
        self.sets: dict[str, frozenset[str] | set[str]] = {}
        self.asked: dict[int, tuple[Question, ...]] = {}
        self.given_up: list[tuple[int, int]] = []

    # -- places of work ---------------------------------------------------------------------------

    def _joined_units(self, operation: Operation) -> tuple[str, ...]:
        """Units whose parts this operation brings to one place of work. A blind joint's started screws
        join what of its parts is there; that is said when it is asked, by who is present."""
        if operation.verb not in _JOINS:
            return ()
        joint = self.work.machine.joint[operation.of]
        if joint.cable is not None:
            return ()
        return tuple(dict.fromkeys(self.work.unit_of[part] for part in joint.parts))

    def _homes(self, joiners: Iterable[int]) -> dict[str, str]:
        home = {unit: unit for unit in self.units}

        def find(unit: str) -> str:
            while home[unit] != unit:
                unit = home[unit]
            return unit

        for number in joiners:
            if number not in self.remaining:
                continue
            parts = self.work.machine.joint[self.operations[number].of].parts
            units = [self.work.unit_of[part] for part in parts if self._is_there(part)]
            for other in units[1:]:
                one, two = find(units[0]), find(other)
                if one != two:
                    home[two] = one
        return {unit: find(unit) for unit in self.units}

    def _is_there(self, piece: str) -> bool:
        return piece in self.present.get(self.work.unit_of[piece], ())

    def at(self, home: str) -> Collection[str]:
        """Pieces present at one place of work."""
        if home not in self.sets:
            members = [unit for unit in self.units if self.home[unit] == home]
            if len(members) == 1:
                self.sets[home] = self.present.get(members[0], set())
            else:
                self.sets[home] = set().union(*(self.present.get(unit, set()) for unit in members))
        return self.sets[home]

    def _remove(self, operation: Operation) -> None:
        self.remaining.discard(operation.number)
        for piece in operation.pieces:
            unit = self.work.unit_of[piece]
            self.present[unit].discard(piece)
            kept = self.sets.get(self.home[unit])
            if isinstance(kept, set):
                kept.discard(piece)

    # -- asking -----------------------------------------------------------------------------------

    def questions(self, number: int) -> tuple[Question, ...]:
        if number not in self.asked:
            self.asked[number] = questions_of(self.work, self.operations[number])
        return self.asked[number]

    def waits_for(self, number: int) -> list[int]:
        """Remaining operations that must be undone before this one."""
        return [other for other in self.followers[number] if other in self.remaining]

    def try_undoing(self, number: int, *, bends: bool) -> Undone | tuple[Obstacle, ...]:
        """The choices with which an operation can be undone, or what closes each choice of the first
        question without a free one."""
        chosen: list[tuple[Question, Choice]] = []
        for question in self.questions(number):
            present = self.at(self.home[self.work.unit_of[question.piece]])
            obstacles: list[Obstacle] = []
            for choice in _all_choices(question, bends):
                by = first_blocker(self.work, choice, present, question.not_yet)
                if by is None:
                    chosen.append((question, choice))
                    break
                obstacles.append(Obstacle(asks=question.asks, choice=choice.says, by=by))
            else:
                return tuple(obstacles)
        if len(self.joins[number]) > 1:
            parting = self._part(number)
            if parting and isinstance(parting[0], Obstacle):
                return parting  # type: ignore[return-value]
            return Undone(operation=number, chosen=tuple(chosen), apart=parting)  # type: ignore[arg-type]
        return Undone(operation=number, chosen=tuple(chosen))

    def _part(self, number: int) -> tuple[frozenset[str], ...] | tuple[Obstacle, ...]:
        """The places of work that come apart when a joining operation is undone; obstacles if they cannot."""
        own = set(self.operations[number].pieces)
        before = self._homes([other for other in self.joiners if other != number])
        parts = self.work.machine.joint[self.operations[number].of].parts
        there = [part for part in parts if self._is_there(part)]
        homes = list(dict.fromkeys(before[self.work.unit_of[part]] for part in there))
        if len(homes) < 2:
            return ()
        groups = {
            home: {
                piece for unit in self.units if before[unit] == home for piece in self.present.get(unit, ())
            }
            - own
            for home in homes
        }
        standing_home = homes[0]
        for other in homes[1:]:
            first, second = groups[standing_home], groups[other]
            moving, standing = (first, second) if len(first) < len(second) else (second, first)
            if moving:
                obstacles = self._group_way(number, moving, standing, there)
                if obstacles:
                    return obstacles
            groups[standing_home] = first | second
        return tuple(frozenset(unit for unit in self.units if before[unit] == home) for home in homes)

    def _group_way(
        self, number: int, moving: set[str], standing: set[str], parts: list[str]
    ) -> tuple[Obstacle, ...]:
        lead = next((part for part in parts if part in moving), min(moving))
        joints = self.work.walk.joints_of_part.get(lead, ())
        obstacles: list[Obstacle] = []
        ordered = sorted(moving, key=lambda piece: (bool(self.work.machine.part[piece].joint), piece))
        for way in joint_directions(self.work.machine, lead, joints):
            blocked = self._group_blocked(ordered, moving, way, standing)
            if blocked is None:
                return ()
            asks = f"a way for {self.work.unit_of[lead] or 'the unit'} as a whole in {self.operations[number].name}"
            for by in blocked:
                obstacles.append(Obstacle(asks=asks, choice=f"from {direction_name(way)}", by=by))
        return tuple(obstacles)

    def _group_blocked(
        self, ordered: list[str], moving: set[str], way: Array, standing: set[str]
    ) -> tuple[str, str] | None:
        for piece in ordered:
            probe = self.work.reach.path(piece, way)
            if probe is None or self.work.reach.is_free(probe, standing, moving):
                continue
            other = next(name for name in probe.near if name in standing and probe.verdict.get(name))
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
                if number not in blocked and (only is None or number in only) and not self.waits_for(number)
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
            blocked.pop(found.operation, None)
            self._take(found, blocked, watched)
        left = {number: blocked.get(number, ()) for number in sorted(self.remaining)}
        if only is not None:
            left = {number: why for number, why in left.items() if number in only}
        return TakenApart(undone=tuple(undone), left=left, given_up=tuple(self.given_up))

    def _take(
        self, found: Undone, blocked: dict[int, tuple[Obstacle, ...]], watched: dict[str, set[int]]
    ) -> None:
        operation = self.operations[found.operation]
        self._remove(operation)
        if len(self.joins[found.operation]) > 1:
            home = self._homes(self.joiners)
            if home != self.home:
                self.home = home
                self.sets.clear()
                blocked.clear()
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
            if any(question.bends for question in self.questions(number)):
                answer = self.try_undoing(number, bends=True)
                if isinstance(answer, Undone):
                    return answer
        return None

    def _give_up_something(self, blocked: dict[int, tuple[Obstacle, ...]]) -> bool:
        """Drops one soft precedence that holds something back."""
        for first, after in sorted(self.work.soft):
            if first in self.remaining and after in self.remaining and after in self.followers[first]:
                del self.followers[first][after]
                self.given_up.append((first, after))
                blocked.pop(first, None)
                return True
        return False

    def _near(self, last: Operation | None, number: int) -> tuple[int, ...]:
        """What belongs to the operation undone last goes next: a joint's work stays together."""
        operation = self.operations[number]
        apart = 0 if len(self.joins[number]) > 1 else 1
        if last is None:
            return (apart, 0, 0)
        same = operation.unit == last.unit
        return (apart, 0 if same else 1, 0 if operation.of == last.of else 1)

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
