"""The decision tree with the least expected work: which look first, and which after each answer.

Bare of all parts: sorts are bits of a mask with weights, a look is a cost and a way to cut a mask into
cells. A tree's work is the sum, over sorts, of weight times the costs on the way to its leaf. A leaf with
several sorts costs `untold` for each weight in it, so that nothing is left together that could be told.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

Cells = tuple[int, ...]

EXACT_SORTS = 12  # up to so many the answer is always exact
EXACT_STEPS = 30_000  # cuts looked at before a larger question is answered by the heuristic
PILOTS = 6  # looks tried in earnest at each node of the heuristic


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Split:
    """One look. `cells` cuts a mask into its non-empty cells; a single cell, or none, tells nothing."""

    cost: float
    cells: Callable[[int], Cells]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tree:
    """A node: the look to make (its number among the splits), and the tree of each cell. A leaf has no
    look (-1). `mask` are the sorts that arrive here."""

    mask: int
    look: int = -1
    cells: tuple[Tree, ...] = ()

    def leaves(self) -> Iterator[Tree]:
        """All leaves, from left to right."""
        if self.look < 0:
            yield self
        for cell in self.cells:
            yield from cell.leaves()


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The tree found. `work` and `least` are in cost times weight, both with the untold; `least` is a
    bound that no tree can go below. `optimal`: proven to be the least."""

    tree: Tree
    work: float
    least: float
    optimal: bool


def bits(mask: int) -> Iterator[int]:
    """The numbers of the sorts in a mask, lowest first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def huffman_work(weights: Sequence[float], arity: int = 2) -> float:
    """The least sum of weight times depth when any cut into `arity` cells may be made.

    Equation: join the `arity` lightest again and again; the work is the sum of all joined weights.
    Weights of zero are filled up so that every join is full. One item, or none, needs no look: 0.
    Source: D. A. Huffman, A Method for the Construction of Minimum-Redundancy Codes, Proc. IRE 40 (1952).
    """
    if len(weights) < 2:
        return 0.0
    heap = list(weights)
    while (len(heap) - 1) % (arity - 1):
        heap.append(0.0)
    heapq.heapify(heap)
    work = 0.0
    while len(heap) > 1:
        joined = sum(heapq.heappop(heap) for _ in range(arity))
        work += joined
        heapq.heappush(heap, joined)
    return work


def least_work(
    weights: Sequence[float], splits: Sequence[Split], *, untold: float = 0.0, steps: int = EXACT_STEPS
) -> Plan:
    """The best tree for all sorts. Exact up to `EXACT_SORTS`; beyond, exact if `steps` cuts suffice, else
    a good tree, made better where parts of it can be solved exactly, and a bound on the least."""
    whole = (1 << len(weights)) - 1
    search = _Search(weights, splits, untold)
    try:
        search.steps_left = math.inf if len(weights) <= EXACT_SORTS else steps
        work = search.exact(whole)
        return Plan(tree=search.tree(whole), work=work, least=work, optimal=True)
    except _TooMany:
        search.steps_left = math.inf
    work = search.pilot(whole)
    least = min(search.bound_ahead(whole), work)
    return Plan(tree=search.tree(whole), work=work, least=least, optimal=least >= work * (1 - 1e-12))


class _TooMany(Exception):  # noqa: N818  # a bound that was reached, not a fault
    """The exact search has looked at more cuts than it may."""


class _Search:
    def __init__(self, weights: Sequence[float], splits: Sequence[Split], untold: float) -> None:
        self.weights, self.splits, self.untold = weights, splits, untold
        self.steps_left = math.inf
        self._weight: dict[int, float] = {}
        self._cuts: dict[int, list[tuple[float, int, Cells]]] = {}
        self._bound: dict[int, float] = {}
        self._exact: dict[int, tuple[float, int]] = {}
        self._pilot: dict[int, tuple[float, int]] = {}
        self._greedy: dict[int, float] = {}
        self._always_told = untold <= 0

    def weight(self, mask: int) -> float:
        if mask not in self._weight:
            self._weight[mask] = sum(self.weights[bit] for bit in bits(mask))
        return self._weight[mask]

    def cuts(self, mask: int) -> list[tuple[float, int, Cells]]:
        """All looks that tell something here, as cost, number, cells; of equal cells only the cheapest."""
        if mask not in self._cuts:
            if len(self._cuts) > 200_000:
                self._cuts.clear()  # only a memory
            best: dict[Cells, tuple[float, int]] = {}
            for index, split in enumerate(self.splits):
                cells = split.cells(mask)
                if len(cells) < 2:
                    continue
                cells = tuple(sorted(cells))
                if cells not in best or split.cost < best[cells][0]:
                    best[cells] = (split.cost, index)
            self._cuts[mask] = [(cost, index, cells) for cells, (cost, index) in best.items()]
        return self._cuts[mask]

    def leaf(self, mask: int) -> float:
        """What it costs to end here."""
        return self.untold * self.weight(mask) if mask & (mask - 1) else 0.0

    def bound(self, mask: int) -> float:
        """No tree for these sorts costs less.

        Every way down pays at least the cheapest look here. Where all leaves hold one sort, no tree is
        better than the cheapest look used as freely as Huffman's joins; sorts that stay together count as one.
        """
        if not mask & (mask - 1):
            return 0.0
        if mask not in self._bound:
            cuts = self.cuts(mask)
            if not cuts:
                self._bound[mask] = self.leaf(mask)
            else:
                cheapest = min(cost for cost, _, _ in cuts)
                arity = max(len(cells) for _, _, cells in cuts)
                classes = self._classes(mask, cuts)
                self._bound[mask] = min(self.leaf(mask) or math.inf, cheapest * huffman_work(classes, arity))
        return self._bound[mask]

    def _classes(self, mask: int, cuts: list[tuple[float, int, Cells]]) -> list[float]:
        """Weights of sorts that some look here tells from the rest; a look that becomes possible only later
        (when a sort without the feature is gone, or one between two others) makes the bound too high, so
        then all that is certain is one look: two classes."""
        cost_free = {index for _, index, _ in cuts}
        if len(cost_free) and all(len(self.splits[i].cells(mask)) > 1 for i in cost_free) and self._plain:
            refined = [mask]
            for _, _, cells in cuts:
                refined = [part & cell for part in refined for cell in cells if part & cell]
            return [self.weight(part) for part in refined]
        return [self.weight(mask), 0.0]

    _plain = False
