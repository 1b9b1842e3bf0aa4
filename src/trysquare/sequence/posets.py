"""Counting what is possible: orders that keep all precedences, cycles, and ways to join a product.

Partial orders are given as pairs (before, after). Assemblies are given by which parts touch: a
subassembly is a set of parts that hangs together, a task joins two of them.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from trysquare.ground.errors import ReadingError, Where

MOST_ITEMS = 25  # 2^25 down-sets at worst; beyond that counting takes longer than anybody waits
MOST_PARTS = 16  # subsets of parts are listed one by one

Item = TypeVar("Item", bound=Hashable)


def linear_extensions(items: Sequence[Item], before: Iterable[tuple[Item, Item]]) -> int:
    """How many orders of the items keep every pair (before, after); 0 when the pairs form a cycle.

    Equation: e(D) = Σ e(D − x) over the items x of the down-set D that nothing else of D follows;
    e(∅) = 1. Takes as many rounds as there are down-sets, at most 2^n: more than 25 items raise
    ReadingError. No items have one order, the empty one.
    Source: counting is #P-complete, G. Brightwell and P. Winkler, "Counting linear extensions",
    Order 8 (1991), from memory; so no short way is to be expected.
    """
    if len(items) > MOST_ITEMS:
        raise ReadingError(
            where=Where(file="items"),
            read=len(items),
            expected=f"at most {MOST_ITEMS} items",
            remedy="Count a smaller part of the order.",
        )
    needs = _needs(items, before)
    layer = {0: 1}  # down-set as bits -> orders of it
    for _ in items:
        following: dict[int, int] = {}
        for done, orders in layer.items():
            for index, need in enumerate(needs):
                bit = 1 << index
                if not done & bit and need & done == need:
                    following[done | bit] = following.get(done | bit, 0) + orders
        layer = following
    return sum(layer.values())


def _needs(items: Sequence[Item], before: Iterable[tuple[Item, Item]]) -> list[int]:
    place = {item: index for index, item in enumerate(items)}
    needs = [0] * len(items)
    for first, second in before:
        needs[place[second]] |= 1 << place[first]
    return needs


def find_cycle(before: Iterable[tuple[Item, Item]]) -> tuple[Item, ...]:
    """Items each of which must come before the next, and the last before the first; empty when there
    is none. Of several cycles one that is met first."""
    after: dict[Item, list[Item]] = {}
    for first, second in before:
        after.setdefault(first, []).append(second)
    done: set[Item] = set()
    for root in after:
        trail: list[Item] = []
        on_trail: dict[Item, int] = {}
        todo: list[tuple[Item, bool]] = [(root, True)]
        while todo:
            item, entering = todo.pop()
            if not entering:
                trail.pop()
                del on_trail[item]
                done.add(item)
                continue
            if item in on_trail:
                return tuple(trail[on_trail[item] :])
            if item in done:
                continue
            on_trail[item] = len(trail)
            trail.append(item)
            todo.append((item, False))
            todo.extend((other, True) for other in reversed(after.get(item, ())))
    return ()


def keeps(order: Sequence[Item], before: Iterable[tuple[Item, Item]]) -> bool:
    """Whether an order, or its beginning, keeps every pair: nothing comes before what it needs."""
    place = {item: index for index, item in enumerate(order)}
    late = len(order)
    return all(second not in place or place.get(first, late) < place[second] for first, second in before)


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyCounts:
    """The size of an assembly's AND/OR graph.

    `nodes`: subassemblies; `hyperarcs`: ways to join two subassemblies to a third; `trees`: ways to
    build the whole, side by side work counted once; `task_sequences`: the same, one task after another.
    """

    nodes: int
    hyperarcs: int
    trees: int
    task_sequences: int


def assembly_counts(
    parts: Sequence[Item],
    contacts: Iterable[tuple[Item, Item]],
    excluded: Collection[frozenset[Item]] = (),
) -> AssemblyCounts:
    """Counts of the AND/OR graph of a product of at most 16 parts.

    `contacts`: pairs of parts that touch; `excluded`: subassemblies that cannot be, or from which one
    cannot go on. Equations: trees(S) = Σ trees(A)·trees(B), sequences(S) =
    Σ C(|S|−2, |A|−1)·sequences(A)·sequences(B), over all cuts of S into subassemblies A and B.
    Source: model after L. S. Homem de Mello and A. C. Sanderson, AND/OR graph representation of
    assembly plans (1990), from memory.
    """
    if len(parts) > MOST_PARTS:
        raise ReadingError(
            where=Where(file="parts"),
            read=len(parts),
            expected=f"at most {MOST_PARTS} parts",
            remedy="Count a unit instead of the whole machine.",
        )
    sound = _subassemblies(parts, contacts, excluded)
    trees: dict[int, int] = {}
    sequences: dict[int, int] = {}
    arcs = 0
    for whole in sorted(sound, key=int.bit_count):
        if whole.bit_count() == 1:
            trees[whole] = sequences[whole] = 1
            continue
        trees[whole] = sequences[whole] = 0
        for one, other in _cuts(whole, sound):
            arcs += 1
            trees[whole] += trees[one] * trees[other]
            shuffles = math.comb(whole.bit_count() - 2, one.bit_count() - 1)
            sequences[whole] += shuffles * sequences[one] * sequences[other]
    full = (1 << len(parts)) - 1
    return AssemblyCounts(
        nodes=len(sound),
        hyperarcs=arcs,
        trees=trees.get(full, 0),
        task_sequences=sequences.get(full, 0),
    )


def _subassemblies(
    parts: Sequence[Item], contacts: Iterable[tuple[Item, Item]], excluded: Collection[frozenset[Item]]
) -> set[int]:
    place = {part: index for index, part in enumerate(parts)}
    touching = [0] * len(parts)
    for one, other in contacts:
        touching[place[one]] |= 1 << place[other]
        touching[place[other]] |= 1 << place[one]
    barred = {sum(1 << place[part] for part in group) for group in excluded}
    return {
        group
        for group in range(1, 1 << len(parts))
        if group not in barred and _hangs_together(group, touching)
    }


def _hangs_together(group: int, touching: Sequence[int]) -> bool:
    reached = group & -group
    edge = reached
    while edge:
        index = edge.bit_length() - 1
        edge ^= 1 << index
        new = touching[index] & group & ~reached
        reached |= new
        edge |= new
    return reached == group


def _cuts(whole: int, sound: Collection[int]) -> Iterable[tuple[int, int]]:
    """Each cut into two subassemblies once: the first holds the whole's highest part."""
    highest = 1 << (whole.bit_length() - 1)
    rest = whole ^ highest
    part = rest
    while True:
        part = (part - 1) & rest
        one, other = highest | part, rest & ~part
        if other and one in sound and other in sound:
            yield one, other
        if part == 0:
            return
