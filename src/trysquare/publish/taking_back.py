"""What of a part-built machine must be undone so that some of its work can be done anew.

The machine is taken apart from where it stands: only what is done by now, and of that as little as leads to
what must be changed. Solids, slot ends and key lines decide what is in the way, as they do for an order.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from trysquare.machine.values import Machine
from trysquare.sequence.explain import closed
from trysquare.sequence.operations import Operation, Work, work_of
from trysquare.sequence.state import State, apply, events_of, reached
from trysquare.sequence.undoing import Obstacle, TakenApart, take_apart

_MOST_ROUNDS = 60  # each adds at least one operation; nobody undoes so much for a correction
_MOST_TRIES = 12  # of leaving out again what was added because something is in the way


@dataclass(frozen=True, slots=True, kw_only=True)
class TakingBack:
    """The operations to undo, in that order, each with its reason; `stuck`: what no way was found for."""

    order: tuple[int, ...]
    because: Mapping[int, str]
    stuck: tuple[str, ...] = ()


def state_of(machine: Machine, steps: Collection[str]) -> State:
    """The state of the build after these of the machine's steps; solids are not asked."""
    state = State()
    for event in events_of(machine):
        if event.step_id in steps:
            apply(state, event)
    return state


def done_work(machine: Machine, state: State) -> Work:
    """The machine's operations that are done in a state, numbered anew."""
    whole = work_of(machine)
    kept = [one for one in whole.operations if _is_done(one, state)]
    number = {one.number: index for index, one in enumerate(kept)}
    return Work(
        machine=machine,
        walk=whole.walk,
        operations=[replace(one, number=number[one.number]) for one in kept],
        needs={
            number[after]: {number[first]: why for first, why in firsts.items() if first in number}
            for after, firsts in whole.needs.items()
            if after in number
        },
        soft={(number[one], number[two]) for one, two in whole.soft if one in number and two in number},
        bringer={piece: number[by] for piece, by in whole.bringer.items() if by in number},
    )


def _is_done(one: Operation, state: State) -> bool:
    if one.verb == "read":
        return one.of in state.reads
    if one.verb == "crimp":
        return one.of in state.crimped
    if one.verb == "route":
        return one.of in state.routed
    level = reached(one.verb)
    if level is not None and not one.pieces:
        return bool(one.fast) and all(state.tightness(fast.id) >= level for fast in one.fast)
    return any(piece in state.present for piece in one.pieces)


def take_back(work: Work, targets: Mapping[int, str]) -> TakingBack:
    """The least that was found to undo so that the targets are undone. `targets`: operation → why."""
    followers = work.followers()
    because: dict[int, str] = {}
    _add(work, followers, targets.items(), because)
    added: list[dict[int, str]] = []
    apart = take_apart(work, only=because)
    for _ in range(_MOST_ROUNDS):
        extra = _in_the_way(work, followers, apart, because)
        if not extra:
            break
        added.append(extra)
        because |= extra
        apart = take_apart(work, only=because)
    if not apart.left:
        because, apart = _without_needless(work, followers, because, added, apart)
    stuck = tuple(
        f"{work.operations[number].name}: {closed(obstacles)}"
        for number, obstacles in apart.left.items()
        if obstacles
    )
    order = (*(one.operation for one in apart.undone), *sorted(apart.left, reverse=True))
    return TakingBack(order=order, because={number: because[number] for number in order}, stuck=stuck)


def _add(
    work: Work,
    followers: Mapping[int, Mapping[int, str]],
    new: Iterable[tuple[int, str]],
    because: dict[int, str],
) -> dict[int, str]:
    """Adds operations with all that rests on them. The answer is what was not there before."""
    found: dict[int, str] = {}
    todo = list(new)
    while todo:
        number, why = todo.pop(0)
        if number in because:
            continue
        because[number] = found[number] = why
        todo += followers[number].items()
    return found


def _in_the_way(
    work: Work, followers: Mapping[int, Mapping[int, str]], apart: TakenApart, because: Mapping[int, str]
) -> dict[int, str]:
    """What to undo besides, for the first operation that is held back: that choice which costs least."""
    for number, obstacles in apart.left.items():
        ways: dict[str, list[Obstacle]] = {}
        for one in obstacles:
            ways.setdefault(one.choice, []).append(one)
        best: dict[int, str] | None = None
        for blocking in ways.values():
            for one in blocking:
                by = work.bringer.get(one.by)
                if by is None or by in because:
                    continue
                why = f"{one.by} is in the way: {one.asks}"
                found = _add(work, followers, [(by, why)], dict(because))
                if best is None or len(found) < len(best):
                    best = found
        if best:
            return best
    return {}


def _without_needless(
    work: Work,
    followers: Mapping[int, Mapping[int, str]],
    because: dict[int, str],
    added: list[dict[int, str]],
    apart: TakenApart,
) -> tuple[dict[int, str], TakenApart]:
    """Leaves out again what was added and turns out not to be needed."""
    for extra in added[-_MOST_TRIES:][::-1]:
        less = {number: why for number, why in because.items() if number not in extra}
        # What rests on something must go with it: a group whose other part stays needed stays as well.
        if any(number in extra for kept in less for number in followers[kept]):
            continue
        tried = take_apart(work, only=less)
        if not tried.left:
            because, apart = less, tried
    return because, apart
