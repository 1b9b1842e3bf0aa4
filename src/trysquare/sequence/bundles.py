"""Operations in bundles that a person does in one go, and bundles in steps.

A bundle is what nobody would tear apart: a joint's start and its final turn with the parts that come
for it. Each has a unit, a kind of action, tools, and perhaps a side that must lie up.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from trysquare.sequence.operations import Operation, Work
from trysquare.sequence.precedence import Precedence
from trysquare.stock.tools import driving_tools

MOST_PARTS = 12  # pieces that one step brings; more is hard to keep apart on the bench
KINDS = ("press", "nuts", "build", "true", "route")

COST_STEP = 10
COST_TURN = 60
COST_UNIT = 20
COST_TOOL = 6
WAITED = 2.0  # how much a step of waiting speaks for a bundle in the first arrangement …
MOST_WAITED = 15  # … up to so many steps
COST_WAIT = 1  # for each step that nuts lie in their slots before their screws come, or screws stay loose


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """`operations` in a valid order. `up`: "+z" or "-z" when that side must lie up, else ""."""

    number: int
    operations: tuple[int, ...]
    unit: str
    kind: str
    up: str
    tools: frozenset[str]
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundling:
    """All bundles, in a valid order, and what each waits for."""

    bundles: tuple[Bundle, ...]
    before: Mapping[int, frozenset[int]]
    feeds: tuple[tuple[int, int], ...]  # bundles that should not lie far apart: nuts and their screws …


def kind_of(work: Work, operation: Operation) -> str:
    """The kind of action that an operation is: what a step is made of."""
    if operation.verb == "press":
        return "press"
    if operation.verb == "insert" and operation.sort == "slot":
        return "nuts"
    if operation.verb in ("route", "crimp"):
        return "route"
    if operation.verb in ("snug", "read"):
        return "true"
    if operation.verb == "tighten":
        joint = work.machine.joint[operation.of]
        return "true" if joint.align or _has_snug(work, operation) else "build"
    return "build"


def _has_snug(work: Work, operation: Operation) -> bool:
    return any(work.operations[first].verb == "snug" for first in work.needs[operation.number])


def tools_of(work: Work, operation: Operation) -> frozenset[str]:
    """Keys, spanners and irons an operation takes in the hand."""
    if operation.verb == "press":
        return frozenset({"soldering iron"})
    if operation.verb not in ("start", "snug", "tighten"):
        return frozenset()
    names = [one.id for one in operation.fast]
    return frozenset(
        tool.name for tool in driving_tools(work.machine, work.machine.joint[operation.of], names)
    )


def bundle_up(work: Work, known: Precedence) -> Bundling:
    """Groups the operations of a partial order, keeping it free of cycles."""
    order = list(known.order)
    bundle = {number: number for number in order}
    followers = known.followers()
    first_use = _first_uses(work, known, followers)
    for number in order:
        operation = work.operations[number]
        if operation.verb == "place" and number in first_use:
            _join(bundle, number, first_use[number])
        if operation.verb == "insert" and operation.sort == "free":
            start = [other for other in followers[number] if work.operations[other].of == operation.of]
            if len(start) == 1 and set(known.before[start[0]]) - {number} <= set(order):
                _join_if_direct(known, bundle, number, start[0])
        if operation.verb == "tighten" and kind_of(work, operation) == "build":
            for first in known.before[number]:
                if work.operations[first].of == operation.of and work.operations[first].verb == "start":
                    _join_if_direct(known, bundle, first, number)
    return _made(work, known, bundle)


def _top(bundle: dict[int, int], number: int) -> int:
    while bundle[number] != number:
        number = bundle[number]
    return number


def _join(bundle: dict[int, int], one: int, other: int) -> None:
    first, second = _top(bundle, one), _top(bundle, other)
    if first != second:
        bundle[first] = second


def _first_uses(work: Work, known: Precedence, followers: Mapping[int, set[int]]) -> dict[int, int]:
    """For every part that may come at any time the first operation that wants it."""
    index = {number: at for at, number in enumerate(known.order)}
    found: dict[int, int] = {}
    for number in known.order:
        operation = work.operations[number]
        free = operation.verb == "place" and not operation.sort and not known.before[number]
        if free and followers[number]:
            wants = min(followers[number], key=index.__getitem__)
            found[number] = wants
    return found


def _join_if_direct(known: Precedence, bundle: dict[int, int], first: int, second: int) -> None:
    """Joins two bundles when nothing of a third must come between them."""
    one, two = _top(bundle, first), _top(bundle, second)
    if one == two:
        return
    members: dict[int, set[int]] = {}
    for number in known.order:
        members.setdefault(_top(bundle, number), set()).add(number)
    # Walk back from the second's needs: reaching the first by way of others would close a cycle.
    needs: dict[int, set[int]] = {top: set() for top in members}
    for after, firsts in known.before.items():
        for earlier in firsts:
            if _top(bundle, earlier) != _top(bundle, after):
                needs[_top(bundle, after)].add(_top(bundle, earlier))
    todo = [top for top in needs[two] if top != one]
    seen = set(todo)
    while todo:
        top = todo.pop()
        for earlier in needs[top]:
            if earlier == one:
                return
            if earlier not in seen and earlier != two:
                seen.add(earlier)
                todo.append(earlier)
    bundle[one] = two


def _made(work: Work, known: Precedence, bundle: dict[int, int]) -> Bundling:
    index = {number: at for at, number in enumerate(known.order)}
    groups: dict[int, list[int]] = {}
    for number in known.order:
        groups.setdefault(_top(bundle, number), []).append(number)
    needs: dict[int, set[int]] = {top: set() for top in groups}
    for after, firsts in known.before.items():
        for first in firsts:
            one, two = _top(bundle, first), _top(bundle, after)
            if one != two:
                needs[two].add(one)
    tops = sorted(groups, key=lambda top: index[groups[top][-1]])
    tops = _sorted(tops, needs)
    number_of = {top: at for at, top in enumerate(tops)}
    bundles = tuple(_bundle(work, number_of[top], groups[top]) for top in tops)
    before = {number_of[top]: frozenset(number_of[other] for other in needs[top]) for top in tops}
    feeds = {
        (number_of[_top(bundle, first)], number_of[_top(bundle, after)])
        for first, after in _close_pairs(work, known)
        if _top(bundle, first) != _top(bundle, after)
    }
    return Bundling(bundles=bundles, before=before, feeds=tuple(sorted(feeds)))


def _close_pairs(work: Work, known: Precedence) -> Iterable[tuple[int, int]]:
    """Operations that should not lie far apart: nuts and their screws, started and snug, snug and final."""
    for number in known.order:
        operation = work.operations[number]
        for first in work.needs[number]:
            earlier = work.operations[first]
            nuts = operation.verb == "start" and kind_of(work, earlier) == "nuts"
            driven = operation.verb in ("snug", "tighten") and earlier.verb in ("start", "snug")
            if nuts or (driven and earlier.of == operation.of):
                yield first, number


def _sorted(tops: Sequence[int], needs: Mapping[int, Collection[int]]) -> list[int]:
    """The bundles in an order that keeps their needs, otherwise as they stand."""
    done: set[int] = set()
    found: list[int] = []
    waiting = list(tops)
    while waiting:
        ready = next(top for top in waiting if done.issuperset(needs[top]))
        waiting.remove(ready)
        done.add(ready)
        found.append(ready)
    return found


def _bundle(work: Work, number: int, members: Sequence[int]) -> Bundle:
    operations = [work.operations[member] for member in members]
    main = max(
        operations, key=lambda one: (one.verb != "place", KINDS.index(kind_of(work, one)) == 3, one.number)
    )
    ups = {up for one in operations if (up := one.up)}
    return Bundle(
        number=number,
        operations=tuple(members),
        unit=main.unit,
        kind=kind_of(work, main),
        up="-z" if "-z" in ups else ("+z" if ups else ""),
        tools=frozenset().union(*(tools_of(work, one) for one in operations)),
        pieces=sum(len(one.pieces) for one in operations),
    )


def steps_by_hand(bundling: Bundling) -> list[list[int]]:
    """A first arrangement in steps: go on with the same kind of work as long as there is any, change unit,
    side and tool seldom, put nuts in when something waits for them, and leave nothing loose for long."""
    return _ByHand(bundling).arrange()


class _ByHand:
    """The arrangement so far."""

    def __init__(self, bundling: Bundling) -> None:
        self.bundling = bundling
        self.step_of: dict[int, int] = {}
        self.steps: list[list[int]] = []
        self.last: Bundle | None = None
        self.filled = 0
        self.side = "+z"
        self.fed_by: dict[int, list[int]] = {}
        self.feeds: dict[int, list[int]] = {}
        for first, after in bundling.feeds:
            self.fed_by.setdefault(after, []).append(first)
            self.feeds.setdefault(first, []).append(after)

    def arrange(self) -> list[list[int]]:
        waiting = [bundle.number for bundle in self.bundling.bundles]
        while waiting:
            done = self.step_of.keys()
            ready = [number for number in waiting if self.bundling.before[number] <= done]
            number = min(ready, key=lambda one: (self._unease(self.bundling.bundles[one]), one))
            self._take(self.bundling.bundles[number])
            waiting.remove(number)
        return self.steps

    def _take(self, bundle: Bundle) -> None:
        if not self._goes_on(bundle):
            self.steps.append([])
            self.filled = 0
        self.side = bundle.up or self.side
        self.steps[-1].append(bundle.number)
        self.step_of[bundle.number] = len(self.steps) - 1
        self.filled += bundle.pieces
        self.last = bundle

    def _goes_on(self, bundle: Bundle) -> bool:
        if self.last is None:
            return False
        same = bundle.unit == self.last.unit and bundle.kind == self.last.kind
        return same and bundle.up in ("", self.side) and self.filled + bundle.pieces <= MOST_PARTS

    def _unease(self, bundle: Bundle) -> float:
        """What speaks against going on with a bundle."""
        cost = 0.0
        if bundle.up not in ("", self.side):
            cost += COST_TURN
        if self.last is not None:
            cost += COST_UNIT * (bundle.unit != self.last.unit)
            cost += COST_STEP * (not self._goes_on(bundle))
            cost += COST_TOOL * len(bundle.tools - self.last.tools)
        if bundle.kind == "nuts":
            done = self.step_of.keys()
            wanted = self.feeds.get(bundle.number, ())
            urgent = any(len(self.bundling.before[after] - done) == 1 for after in wanted)
            cost += 0 if urgent else COST_UNIT / 2
        if bundle.kind == "route":
            cost += COST_UNIT * 2  # belts and cables last: they are in everybody's way
        waited = [len(self.steps) - self.step_of[first] for first in self.fed_by.get(bundle.number, ())]
        return cost - WAITED * min(sum(waited), MOST_WAITED)


def tool_changes(bundling: Bundling, steps: Iterable[Iterable[int]]) -> int:
    """How often another tool is taken in the hand, in the order of the bundles."""
    changes, hand = 0, frozenset[str]()
    for step in steps:
        for number in step:
            tools = bundling.bundles[number].tools
            if tools and not tools <= hand:
                changes += len(tools - hand)
                hand = tools
    return changes


def turns(bundling: Bundling, steps: Iterable[Iterable[int]]) -> int:
    """How often the work is turned over, beginning upright and ending so."""
    side, count = "+z", 0
    for step in steps:
        for number in step:
            up = bundling.bundles[number].up
            if up and up != side:
                side, count = up, count + 1
    return count + (side != "+z")
