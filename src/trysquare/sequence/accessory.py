"""Can this still go on? An accessory's parts and joints on a machine that is already built.

All that the machine had is done; what the accessory adds is done last, or a little is taken back
first. Taking apart answers it: everything new must come off before anything old does.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.catalogue.values import SlotNut
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.operations import Operation, Work, work_of
from trysquare.sequence.questions import Choice, first_blocker, questions_of
from trysquare.sequence.reach import Reach
from trysquare.sequence.undoing import Obstacle, TakenApart, take_apart
from trysquare.stock.bringing import bringing, joints_of

_INSERTABLE = ("roll-in", "quarter-turn")


@dataclass(frozen=True, slots=True, kw_only=True)
class NutWay:
    """How one nut of the accessory gets in: `ways` that are open now; when none is, `instead` names a nut
    type that would still go in through the mouth, "" when none would."""

    nut: str
    type: str
    slot: str
    ways: tuple[str, ...]
    instead: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StillGoesOn:
    """`now`: nothing must be taken back. Else `take_back` are the operations to undo, last built first,
    and `steps` the author's steps they belong to. `possible` is False when even the bare machine cannot
    take the accessory as it is. `order`: what to do with the accessory, in words."""

    now: bool
    possible: bool
    order: tuple[str, ...]
    nuts: tuple[NutWay, ...]
    take_back: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()


def can_still_go_on(
    machine: Machine,
    accessory_paper: str | Path,
    *,
    stop: Callable[[], bool] | None = None,
) -> StillGoesOn:
    """Whether an accessory, given as a paper that adds parts and joints, still goes on the built machine.

    Raises ReadingErrors when the paper cannot be read with the machine's folder.
    """
    return goes_on(machine, load_machine(machine.folder, [accessory_paper]), stop=stop)


def goes_on(before: Machine, after: Machine, *, stop: Callable[[], bool] | None = None) -> StillGoesOn:
    """The same question for two machines, the second with the accessory."""
    work = work_of(after, Reach(after))
    new = [one for one in work.operations if _is_new(before, one)]
    if not new:
        return StillGoesOn(now=True, possible=True, order=(), nuts=())
    names = {one.number for one in new}
    for one in work.operations:  # what was read before the accessory came was read
        if one.verb == "read" and one.number not in names:
            for number in names & work.needs[one.number].keys():
                del work.needs[one.number][number]
    alone = take_apart(work, only=names, stop=stop)
    nuts = tuple(_nut_ways(work, before, names))
    if not alone.left:
        return StillGoesOn(now=True, possible=True, order=_words(work, alone, names), nuts=nuts)
    back = _least_back(work, names, stop)
    if back is None:
        obstacles = next((why for why in alone.left.values() if why), ())
        return StillGoesOn(now=False, possible=False, order=(), nuts=nuts, obstacles=obstacles)
    taken, apart = back
    return StillGoesOn(
        now=False,
        possible=True,
        order=_words(work, apart, names),
        nuts=nuts,
        take_back=tuple(work.operations[number].name for number in taken),
        steps=_steps_of(before, [work.operations[number] for number in taken]),
        obstacles=next((why for why in alone.left.values() if why), ()),
    )


def _is_new(before: Machine, operation: Operation) -> bool:
    if operation.of in before.joint or operation.of in before.part:
        return False
    return operation.of not in {one.id for one in before.characteristics}


def _words(work: Work, apart: TakenApart, names: Collection[int]) -> tuple[str, ...]:
    return tuple(work.operations[number].name for number in apart.order if number in names)


# -- nuts -------------------------------------------------------------------------------------------


def _nut_ways(work: Work, before: Machine, names: Collection[int]) -> Iterable[NutWay]:
    """What is open for each new slot nut on the machine as it was."""
    present = {piece for one in work.operations if one.number not in names for piece in one.pieces}
    for number in sorted(names):
        operation = work.operations[number]
        if operation.verb != "insert" or operation.sort != "slot":
            continue
        for question in questions_of(work, operation):
            channel = work.walk.slot_of[question.piece]
            if channel.member not in before.part:
                continue
            ways = tuple(
                choice.says
                for choice in question.choices
                if first_blocker(work, choice, present, question.not_yet) is None
            )
            nut = work.machine.part[question.piece].type
            yield NutWay(
                nut=question.piece,
                type=nut.name,
                slot=f"{channel.member} {channel.name}",
                ways=ways,
                instead="" if ways else _instead(work, question.piece, present),
            )


def _instead(work: Work, piece: str, present: Collection[str]) -> str:
    """An insertable nut for the same thread, when the slot's mouth is free over its place."""
    nut = work.machine.part[piece]
    channel = work.walk.slot_of[piece]
    if not isinstance(nut.type.standard, SlotNut) or nut.type.standard.insertable:
        return ""
    mouth = Choice(
        says="through the mouth",
        bodies=(lambda: work.reach.mouth_way(nut, channel),),
        ignoring=frozenset({channel.member, *work.walk.carrier_of.get(piece, ())}),
    )
    if first_blocker(work, mouth, present, ()) is not None:
        return ""
    for shape in _INSERTABLE:
        word = f"{shape} nut slot {channel.profile.slot_mm:g} {nut.type.standard.thread.name}"
        try:
            lookup(word)
        except UnknownDesignation:
            continue
        return word
    return ""


# -- what to take back --------------------------------------------------------------------------------


def _least_back(
    work: Work, names: Collection[int], stop: Callable[[], bool] | None
) -> tuple[list[int], TakenApart] | None:
    """Old operations to undo, so that all that is new comes off: few, and none to spare."""
    taken: list[int] = []
    new_left = set(names)
    while new_left:
        apart = take_apart(work, only={*names, *taken}, first=_new_first(names), stop=stop)
        if not {*apart.left} & set(names):
            return _none_to_spare(work, names, taken, stop)
        if apart.stopped:
            return None
        closure = _smallest_closure(work, apart, names, set(taken))
        if not closure:
            break
        taken += sorted(closure)
        new_left = {number for number in apart.left if number in names}
    # Nothing clever was found: what comes off anyway until the new is free.
    everything = take_apart(work, stop=stop)
    if {*everything.left} & set(names) or everything.stopped:
        return None
    undone = [one.operation for one in everything.undone]
    last = max(undone.index(number) for number in names)
    return _none_to_spare(work, names, [number for number in undone[:last] if number not in names], stop)


def _new_first(names: Collection[int]) -> Callable[[Operation], tuple[float, ...]]:
    return lambda one: (0.0 if one.number in names else 1.0, float(one.number))


def _smallest_closure(work: Work, apart: TakenApart, names: Collection[int], taken: set[int]) -> set[int]:
    """For what is stuck: the fewest old operations whose undoing frees one choice of it, by plain needs."""
    followers = work.followers()
    best: set[int] = set()
    for number, obstacles in apart.left.items():
        if not obstacles:
            continue
        by_choice: dict[str, set[str]] = {}
        for one in obstacles:
            by_choice.setdefault(one.choice, set()).add(one.by)
        for blocking in by_choice.values():
            closure: set[int] = set()
            todo = [work.bringer[piece] for piece in blocking if piece in work.bringer]
            while todo:
                at = todo.pop()
                if at in closure or at == number:
                    continue
                closure.add(at)
                todo += [after for after in followers[at] if after not in names]
            fresh = {at for at in closure if at not in taken and at not in names}
            if fresh and (not best or len(fresh) < len(best)):
                best = fresh
    return best


def _none_to_spare(
    work: Work, names: Collection[int], taken: list[int], stop: Callable[[], bool] | None
) -> tuple[list[int], TakenApart] | None:
    """Drops from what is taken back whatever need not be."""
    kept = list(taken)
    apart = take_apart(work, only={*names, *kept}, first=_new_first(names), stop=stop)
    if {*apart.left} & set(names):
        return None
    used = [one.operation for one in apart.undone if one.operation not in names]
    kept = used
    for number in sorted(used, key=lambda at: work.operations[at].verb != "place"):
        fewer = [other for other in kept if other != number]
        trial = take_apart(work, only={*names, *fewer}, first=_new_first(names), stop=stop)
        if not {*trial.left} & set(names):
            used_now = [one.operation for one in trial.undone if one.operation not in names]
            kept, apart = used_now, trial
    return kept, apart


def _steps_of(machine: Machine, operations: Iterable[Operation]) -> tuple[str, ...]:
    """The author's steps that did these operations, in the order in which they are taken back."""
    did: dict[tuple[str, str], str] = {}
    brought: dict[str, str] = {}
    entries = {(entry.step, entry.action): entry for entry in bringing(machine)}
    for index, step in enumerate(machine.steps):
        for at, action in enumerate(step.actions):
            for piece in entries[(index, at)].pieces:
                brought[piece.id] = step.id
            for joint in joints_of(machine, action):
                did[(action.verb, joint.id)] = step.id
    found: dict[str, None] = {}
    for one in operations:
        step_id = did.get((one.verb, one.of)) or next((brought[p] for p in one.pieces if p in brought), "")
        if step_id:
            found[step_id] = None
    place = {step.id: index for index, step in enumerate(machine.steps)}
    return tuple(sorted(found, key=lambda name: -place[name]))
