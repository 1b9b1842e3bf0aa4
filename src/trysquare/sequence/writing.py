"""From arranged operations to steps: actions with several joints where that is the same, titles, sides up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from trysquare.machine.values import Action, Step
from trysquare.sequence.bundles import kind_of
from trysquare.sequence.operations import Operation, Work, side_up
from trysquare.sequence.precedence import Precedence, ancestors
from trysquare.sequence.rules_truth import centre_outwards

_VERBS = ("place", "press", "insert", "start", "snug", "read", "tighten", "route", "crimp")
_TITLES = {
    "press": "Inserts pressed in: {}",
    "nuts": "Nuts into their slots: {}",
    "build": "{}",
    "true": "Trued and made final: {}",
    "route": "Laid: {}",
}
_MOST_NAMES = 3


def write_steps(work: Work, known: Precedence, arranged: Sequence[Sequence[int]]) -> tuple[Step, ...]:
    """Steps from groups of operations; each group becomes one step, in a valid order inside."""
    above = ancestors(known)
    side = "+z"
    steps: list[Step] = []
    counted: dict[str, int] = {}
    for position, group in enumerate(arranged):
        ordered = _ordered(work, above, group)
        actions: list[Action] = []
        wanted = next((up for number in ordered if (up := side_up(work.operations[number]))), side)
        if wanted != side:
            side = wanted
            actions.append(turn_over(side))
        actions += _actions(work, above, ordered)
        if position == len(arranged) - 1 and side != "+z":
            actions.append(turn_over("+z"))
        steps.append(_step(work, [work.operations[number] for number in ordered], actions, counted))
    return tuple(steps)


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
    return same and one.verb != "read" and (one.sort == "bracket") == (other.sort == "bracket")


def _action(work: Work, run: Sequence[Operation]) -> list[Action]:
    verb = run[0].verb
    if verb == "read":
        return _reading(work, run[0])
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


def _reading(work: Work, operation: Operation) -> list[Action]:
    characteristic = next(one for one in work.machine.characteristics if one.id == operation.of)
    read = Action(verb="read", parts=characteristic.of, reads=(characteristic.id,))
    if work.walk.aligned.get(characteristic.id):
        return [Action(verb="align", parts=characteristic.of), read]
    return [read]


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
