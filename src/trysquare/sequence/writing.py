"""From arranged operations to steps: actions with several joints where that is the same, titles, sides up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from trysquare.machine.values import Action, Characteristic, Machine, Step
from trysquare.sequence.bundles import kind_of
from trysquare.sequence.instruments import best_instrument
from trysquare.sequence.operations import Operation, Work
from trysquare.sequence.precedence import Precedence, ancestors
from trysquare.sequence.row_orders import centre_outwards
from trysquare.sequence.truths import GEOMETRY, Truths

_VERBS = ("place", "press", "insert", "start", "snug", "read", "tighten", "route", "crimp")
_TITLES = {
    "press": "Inserts pressed in: {}",
    "nuts": "Nuts into their slots: {}",
    "build": "{}",
    "true": "Trued and made final: {}",
    "route": "Laid: {}",
}
_MOST_NAMES = 3
AGAIN = "Once more: nothing moved."
WITH_BELTS = "Once more, with the belts on."
FLAT_TABLE = "The table is flat: two equal bars and a third across rock nowhere by more than 0.1 mm."
"""Common practice, no source: a frame squared on a twisted table is a twisted frame."""


def write_steps(work: Work, known: Precedence, arranged: Sequence[Sequence[int]]) -> tuple[Step, ...]:
    """Steps from groups of operations; each group becomes one step, in a valid order inside."""
    above = ancestors(known)
    side = "+z"
    table = _base_joints(work)
    steps: list[Step] = []
    counted: dict[str, int] = {}
    for position, group in enumerate(arranged):
        ordered = _ordered(work, above, group)
        actions: list[Action] = []
        wanted = next((up for number in ordered if (up := work.operations[number].up)), side)
        if wanted != side:
            side = wanted
            actions.append(turn_over(side))
        actions += _actions(work, above, ordered)
        if position == len(arranged) - 1 and side != "+z":
            actions.append(turn_over("+z"))
        operations = [work.operations[number] for number in ordered]
        if not table.isdisjoint((one.verb, one.of) for one in operations):
            table = frozenset()  # once is enough
            actions.insert(0, Action(verb="check", says=FLAT_TABLE, using=_feelers(work.machine)))
        steps.append(_step(work, operations, actions, counted))
    return tuple(steps)


def _base_joints(work: Work) -> frozenset[tuple[str, str]]:
    """The first turns of what holds the base plane."""
    truths = Truths(work.walk)
    of = {joint.id for one in truths.base() for joint in truths.about[one.id]}
    return frozenset((verb, name) for name in of for verb in ("snug", "tighten"))


def _feelers(machine: Machine) -> tuple[str, ...]:
    return tuple(one.id for one in machine.instruments if one.sort == "feeler")[:1]


def turn_over(toward: str) -> Action:
    """The action that turns the work over."""
    says = "The work back on its feet." if toward == "+z" else "The work upside down."
    return Action(verb="turn", says=says, toward=toward)


def _ordered(work: Work, above: Mapping[int, frozenset[int]], group: Iterable[int]) -> list[int]:
    """A valid order inside a step that goes on with one verb as long as it can."""
    waiting = sorted(group)
    inside = set(waiting)
    # Precedences through operations of other steps hold already: steps stand in order.
    needs = {number: inside & above[number] for number in waiting}
    done: set[int] = set()
    found: list[int] = []
    verb = ""
    while waiting:
        ready = [number for number in waiting if needs[number] <= done]

        def rank(number: int, verb: str = verb) -> tuple[bool, int, int]:
            operation = work.operations[number]
            return (operation.verb != verb, _VERBS.index(operation.verb), number)

        number = min(ready, key=rank)
        verb = work.operations[number].verb
        found.append(number)
        done.add(number)
        waiting.remove(number)
    return found


def _actions(work: Work, above: Mapping[int, frozenset[int]], ordered: Sequence[int]) -> list[Action]:
    runs: list[list[Operation]] = []
    for number in ordered:
        operation = work.operations[number]
        last = runs[-1] if runs else []
        if last and _alike(last[0], operation) and not any(one.number in above[number] for one in last):
            last.append(operation)
        else:
            runs.append([operation])
    actions: list[Action] = []
    for run in runs:
        actions += _action(work, run)
    return actions


def _alike(one: Operation, other: Operation) -> bool:
    same = one.verb == other.verb and one.gap_mm == other.gap_mm
    return same and (one.sort == "bracket") == (other.sort == "bracket")


def _action(work: Work, run: Sequence[Operation]) -> list[Action]:
    verb = run[0].verb
    if verb == "read":
        return _readings(work, run)
    if verb == "place" and not run[0].sort:
        return [Action(verb=verb, parts=tuple(one.of for one in run))]
    joints: dict[str, None] = {}
    screws: dict[str, list[str]] = {}
    for one in run:
        if one.fastenings:
            screws.setdefault(one.of, []).extend(one.fastenings)
        else:
            joints[one.of] = None
    order: list[str] = []
    if verb == "tighten":
        for name in joints:
            if work.machine.joint[name].from_centre:
                order += centre_outwards(work.machine.joint[name].fastenings)
    return [
        Action(
            verb=verb,
            joints=tuple(joints),
            fastenings=tuple(name for names in screws.values() for name in _in_order(names)),
            gap_mm=run[0].gap_mm,
            order=tuple(order),
        )
    ]


def _in_order(names: Iterable[str]) -> list[str]:
    return sorted(names, key=lambda name: int(name.rpartition(".")[2]))


def _readings(work: Work, run: Sequence[Operation]) -> list[Action]:
    """Everything is aligned first, then read; what moves by hand is only run."""
    by_id = {one.id: one for one in work.machine.characteristics}
    aligns: dict[tuple[str, ...], dict[str, None]] = {}
    reads: list[Action] = []
    for operation in run:
        one = by_id[operation.of]
        again = operation.sort == "again"
        using = instruments_for(work.machine, one)
        if not again and one.sort in GEOMETRY and work.walk.aligned.get(one.id):
            aligns.setdefault(one.of, {}).update(dict.fromkeys(using))
        reads.append(
            Action(verb="read", parts=one.of, says=WITH_BELTS if again else "", reads=(one.id,), using=using)
        )
    return [Action(verb="align", parts=of, using=tuple(using)) for of, using in aligns.items()] + reads


def instruments_for(machine: Machine, one: Characteristic) -> tuple[str, ...]:
    """The id of the instrument that reads a characteristic best; none when none reaches."""
    best = best_instrument(machine, one)
    return () if best is None else (best.id,)


def _step(
    work: Work, operations: Sequence[Operation], actions: Sequence[Action], counted: dict[str, int]
) -> Step:
    kind, unit = "build", operations[0].unit
    for one in operations:
        if one.verb != "place" or one.sort:
            kind, unit = kind_of(work, one), one.unit
            break
    stem = f"{unit or 'machine'}-{kind}"
    counted[stem] = counted.get(stem, 0) + 1
    identity = f"{stem}-{counted[stem]}"
    names: dict[str, None] = {}
    for one in operations:
        if (one.verb == "place" and not one.sort) == (kind == "build" and _has_parts(operations)):
            names[one.of.rpartition("/")[2]] = None
    listed = list(names)
    what = ", ".join(listed[:_MOST_NAMES])
    if len(listed) > _MOST_NAMES:
        what += f" and {len(listed) - _MOST_NAMES} more"
    title = _TITLES[kind].format(what.replace("-", " "))
    return Step(id=identity, title=title[:1].upper() + title[1:], unit=unit, actions=tuple(actions))


def _has_parts(operations: Sequence[Operation]) -> bool:
    return any(one.verb == "place" and not one.sort for one in operations)
