"""A cost below which no arrangement of bundles in steps can be.

Each part of the cost is bounded for itself, so the sum is a bound, too. What forces more than one step of
a class, more than one stay at a unit or more than one fetching of a tool is a chain of bundles that leads
away and back again: the two ends can never lie in one run.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping

from trysquare.sequence.bundles import (
    COST_STEP,
    COST_TOOL,
    COST_TURN,
    COST_UNIT,
    COST_WAIT,
    MOST_PARTS,
    Bundle,
    Bundling,
)

IN, NEITHER, OUT = 1, 0, -1


def least_cost(bundling: Bundling) -> int:
    """The bound, in the same points as the cost. No bundles: 0."""
    if not bundling.bundles:
        return 0
    classes, steps = _classes(bundling), fewest_steps(bundling)
    units = sum(_unit_stays(bundling, name) for name in {unit for unit, _ in classes})
    over = stays(bundling, lambda one: {"-z": IN, "+z": OUT}.get(one.up, NEITHER))
    cost = COST_STEP * steps + COST_UNIT * (units - 1) + 2 * COST_TURN * over
    cost += COST_TOOL * sum(_fetches(bundling, tool, classes) for tool in _tools(bundling.bundles))
    return cost + COST_WAIT * sum(_least_waits(bundling))


def fewest_steps(bundling: Bundling) -> int:
    """Fewer steps than these hold no arrangement."""
    return sum(
        max(fewest_boxes([one.pieces for one in members]), _class_stays(bundling, name))
        for name, members in _classes(bundling).items()
    )


def most_steps(bundling: Bundling, cost: int) -> int:
    """More steps than these cost more than `cost`, however they are arranged."""
    return fewest_steps(bundling) + (cost - least_cost(bundling)) // COST_STEP


def _classes(bundling: Bundling) -> dict[tuple[str, str], list[Bundle]]:
    found: dict[tuple[str, str], list[Bundle]] = {}
    for one in bundling.bundles:
        found.setdefault((one.unit, one.kind), []).append(one)
    return found


def _tools(bundles: Iterable[Bundle]) -> frozenset[str]:
    return frozenset[str]().union(*(one.tools for one in bundles))


def fewest_boxes(sizes: Iterable[int]) -> int:
    """Fewest steps that can bring so many pieces; at least one. What is too large fills a step alone.

    Source: Martello, Toth, "Knapsack Problems", Wiley 1990, section 8.3.2 (bound L2): of the sizes over
    half, and of what those beside them leave no room for.
    """
    known = sorted(min(size, MOST_PARTS) for size in sizes)
    best = max(1, math.ceil(sum(known) / MOST_PARTS))
    for least in range(1, MOST_PARTS // 2 + 1):
        alone = [size for size in known if size > MOST_PARTS - least]
        large = [size for size in known if MOST_PARTS / 2 < size <= MOST_PARTS - least]
        small = [size for size in known if least <= size <= MOST_PARTS / 2]
        room = len(large) * MOST_PARTS - sum(large)
        more = max(0, math.ceil((sum(small) - room) / MOST_PARTS))
        best = max(best, len(alone) + len(large) + more)
    return best


def stays(bundling: Bundling, place: Callable[[Bundle], int]) -> int:
    """How often something must be entered at least, along any chain of bundles. `place` tells of a bundle
    whether it is done inside (IN), surely outside (OUT), or either way (NEITHER)."""
    inside: dict[int, float] = {}
    outside: dict[int, float] = {}
    best = 0.0
    for one in bundling.bundles:  # in a valid order
        firsts = bundling.before[one.number]
        stayed = max((inside[first] for first in firsts), default=-math.inf)
        left = max((outside[first] for first in firsts), default=0.0)
        where = place(one)
        if where == IN:
            stayed, left = max(stayed, left + 1), -math.inf
        elif where == OUT:
            stayed, left = -math.inf, max(stayed, left)
        inside[one.number], outside[one.number] = stayed, left
        best = max(best, stayed, left)
    return int(best)


def _class_stays(bundling: Bundling, name: tuple[str, str]) -> int:
    return stays(bundling, lambda one: IN if (one.unit, one.kind) == name else OUT)


def _unit_stays(bundling: Bundling, name: str) -> int:
    return stays(bundling, lambda one: IN if one.unit == name else OUT)


def _fetches(bundling: Bundling, tool: str, classes: Mapping[tuple[str, str], list[Bundle]]) -> int:
    """A tool is surely laid aside in a step of a class that never wants it."""
    wanted = {name for name, members in classes.items() if tool in _tools(members)}

    def place(one: Bundle) -> int:
        if tool in one.tools:
            return IN
        return NEITHER if (one.unit, one.kind) in wanted else OUT

    return stays(bundling, place)


def _least_waits(bundling: Bundling) -> list[int]:
    """For each pair that should lie close the longest chain of bundles of changing class between them:
    each change is a further step."""
    found: list[int] = []
    for first, after in bundling.feeds:
        length = {first: 0}
        for one in bundling.bundles[first + 1 : after + 1]:
            reached = [
                length[number] + ((one.unit, one.kind) != _class(bundling.bundles[number]))
                for number in bundling.before[one.number]
                if number in length
            ]
            if reached:
                length[one.number] = max(reached)
        found.append(length.get(after, 0))
    return found


def _class(one: Bundle) -> tuple[str, str]:
    return one.unit, one.kind
