"""What of a part-built machine must be undone so that some of its work can be done anew.

The machine is taken apart from where it stands: only what is done by now, and of that as little as leads to
what must be changed. Solids, slot ends and key lines decide what is in the way, as they do for an order.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trysquare.ground.placement import DIRECTIONS
from trysquare.machine.values import Machine
from trysquare.sequence.explain import closed
from trysquare.sequence.hanging import props_of
from trysquare.sequence.operations import Operation, Work, work_of
from trysquare.sequence.questions import blockers
from trysquare.sequence.state import State, apply, events_of, reached
from trysquare.sequence.undoing import TakenApart, take_apart

_MOST_LOOKS = 4  # at what could be undone; beyond, an answer soon is worth more than the least one


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
            number[after]: {
                number[first]: why
                for first, why in firsts.items()
                if first in number
                and not _read_before(whole.operations[after], whole.operations[first], state)
            }
            for after, firsts in whole.needs.items()
            if after in number
        },
        soft={
            (number[one], number[two]): weight
            for (one, two), weight in whole.soft.items()
            if one in number and two in number
        },
        bringer={piece: number[by] for piece, by in whole.bringer.items() if by in number},
    )


def _read_before(after: Operation, first: Operation, state: State) -> bool:
    """Whether a reading was made before a screw was turned on which it should rest: then it never did."""
    if after.verb != "read" or first.verb not in ("snug", "tighten") or not state.reads.get(after.of):
        return False
    level = reached(first.verb)
    names = ids_of(first)
    turned = [at for (name, to), at in state.tight_at.items() if to == level and name in names]
    return bool(turned) and state.reads[after.of][-1] < max(turned)


def ids_of(operation: Operation) -> set[str]:
    """The screws an operation turns, by id."""
    return {one.id for one in operation.fast}


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
    """The least that was found to undo so that the targets are undone. `targets`: operation → why.

    Where something is in the way there are choices: those that cost fewest operations are followed first.
    After `_MOST_LOOKS` of them the cheapest next one is taken each time, and what turns out to be needless is
    left out again.
    """
    props = props_of(work)
    followers = _followers(work, props)
    because: dict[int, str] = {}
    _add(followers, targets.items(), because)
    looks = [because]
    serial = 0
    queue = [(len(because), serial)]
    seen = {frozenset(because)}
    apart: TakenApart | None = None
    while queue:
        because = looks[heapq.heappop(queue)[1]]
        apart = take_apart(work, only=because)
        choices = _in_the_way(work, followers, apart, because)
        choices = choices or _leaning(work, followers, props, apart, because)
        if not choices:
            break
        extras = min(choices, key=len)
        if len(seen) > _MOST_LOOKS:
            queue, extras = [], extras[:1]
        for extra in extras:
            more = because | extra
            if frozenset(more) not in seen:
                serial += 1
                seen.add(frozenset(more))
                looks.append(more)
                heapq.heappush(queue, (len(more), serial))
    assert apart is not None  # the first look is always taken
    if not apart.left:
        because, apart = _without_needless(work, followers, because, targets, apart)
    stuck = tuple(
        f"{work.operations[number].name}: {closed(obstacles)}"
        for number, obstacles in apart.left.items()
        if obstacles
    )
    order = (*(one.operation for one in apart.undone), *sorted(apart.left, reverse=True))
    return TakingBack(order=order, because={number: because[number] for number in order}, stuck=stuck)


def _followers(work: Work, props: Mapping[str, Sequence[str]]) -> Mapping[int, Mapping[int, str]]:
    """What rests on each operation: by its joints, and what only lies against the part it places."""
    found = {number: dict(after) for number, after in work.followers().items()}
    for part, against in props.items():
        if len(against) == 1:
            found[work.bringer[against[0]]].setdefault(
                work.bringer[part], f"{part} lies against {against[0]}"
            )
    return found


def _add(
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
) -> list[list[dict[int, str]]]:
    """For each operation that is held back what could be undone besides, the cheapest first."""
    choices: list[list[dict[int, str]]] = []
    for obstacles in apart.left.values():
        found: dict[int, dict[int, str]] = {}
        for one in obstacles:
            by = work.bringer.get(one.by)
            if by is not None and by not in because and by not in found:
                why = f"{one.by} is in the way: {one.asks}"
                found[by] = _add(followers, [(by, why)], dict(because))
        if found:
            choices.append(sorted(found.values(), key=len))
    return choices


def _leaning(
    work: Work,
    followers: Mapping[int, Mapping[int, str]],
    props: Mapping[str, Sequence[str]],
    apart: TakenApart,
    because: Mapping[int, str],
) -> list[list[dict[int, str]]]:
    """What lies against several parts all of which are to go."""
    return [
        [_add(followers, [(work.bringer[part], f"{part} lies against {', '.join(against)}")], dict(because))]
        for part, against in props.items()
        if work.bringer[part] not in because and any(work.bringer[one] in apart.left for one in against)
    ]


def _without_needless(
    work: Work,
    followers: Mapping[int, Mapping[int, str]],
    because: dict[int, str],
    targets: Collection[int],
    apart: TakenApart,
) -> tuple[dict[int, str], TakenApart]:
    """Leaves out again what nothing needed: neither what rests on something else nor what was in the way."""
    for riders in (False, True):
        needed = _needed(work, apart, riders=riders)
        kept: set[int] = set()
        todo = list(targets)
        while todo:
            number = todo.pop()
            if number not in kept:
                kept.add(number)
                todo += [*followers[number], *needed.get(number, ())]
        less = {number: why for number, why in because.items() if number in kept}
        if len(less) < len(because):
            tried = take_apart(work, only=less)
            if not tried.left:
                return less, tried
    return because, apart


def _needed(work: Work, apart: TakenApart, *, riders: bool) -> dict[int, set[int]]:
    """For each operation undone those undone before it whose pieces would have closed the way it took.

    `riders`: also those whose pieces could not have gone along with what came off; whether they would have
    had to is not asked.
    """
    found: dict[int, set[int]] = {}
    gone: set[str] = set()
    for one in apart.undone:
        pieces: set[str] = set()
        for question, choice in one.chosen:
            pieces.update(blockers(work, choice, gone, question.not_yet))
        for parting in one.partings:
            way = DIRECTIONS.get(parting.says.removeprefix("from "))
            if way is None:  # askew, or round a corner: everything stays
                pieces |= gone
                continue
            direction = np.asarray(way)
            pieces.update(other for _, other in work.reach.group_blockers(parting.moving, direction, gone))
            if riders:
                standing = parting.standing
                pieces.update(
                    piece
                    for piece in gone
                    if work.reach.blockers(work.reach.path(piece, direction), standing, gone)
                )
        found[one.operation] = {work.bringer[piece] for piece in pieces}
        gone.update(work.operations[one.operation].pieces)
    return found
