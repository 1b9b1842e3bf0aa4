"""The decision tree with the least expected work: which look first, and which after each answer.

Bare of all parts: sorts are bits of a mask with weights, a look is a cost and a way to cut a mask into
cells. A tree's work is the sum, over sorts, of weight times the costs on the way to its leaf. A tree
goes on as long as some look tells anything; where none does, a leaf with several sorts costs `untold` for
each weight in it, so that of two orders of looks the one that leaves less together is better.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

Cells = tuple[int, ...]

EXACT_SORTS = 12  # up to so many the answer is always exact
EXACT_STEPS = 30_000  # cuts looked at before a larger question is answered by the heuristic
SMALL_STEPS = 2_000  # the same for each part of a larger tree
PILOTS = 6  # looks tried in earnest at each node of the heuristic


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Split:
    """One look. `cells` cuts a mask into its non-empty cells; a single cell, or none, tells nothing.

    `plain`: whether any part of the mask is cut just as the mask itself. It is not where a sort of unknown
    feature stands in the way, or where one stands between two that could be told without it.
    """

    cost: float
    cells: Callable[[int], Cells]
    plain: Callable[[int], bool] = lambda _mask: True


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
    """Memories of what is known of each mask."""

    def __init__(self, weights: Sequence[float], splits: Sequence[Split], untold: float) -> None:
        self.weights, self.splits, self.untold = weights, splits, untold
        self.steps_left = math.inf
        self._weight: dict[int, float] = {}
        self._cuts: dict[int, list[tuple[float, int, Cells]]] = {}
        self._bound: dict[int, float] = {}
        self._exact: dict[int, tuple[float, int]] = {}
        self._pilot: dict[int, tuple[float, int]] = {}
        self._greedy: dict[int, tuple[float, int]] = {}

    def weight(self, mask: int) -> float:
        if mask not in self._weight:
            self._weight[mask] = sum(self.weights[bit] for bit in bits(mask))
        return self._weight[mask]

    def cuts(self, mask: int) -> list[tuple[float, int, Cells]]:
        """All looks that tell something here, as cost, number, cells; of equal cells only the cheapest."""
        if mask not in self._cuts:
            best: dict[Cells, tuple[float, int]] = {}
            for index, split in enumerate(self.splits):
                cells = split.cells(mask)
                if len(cells) > 1:
                    cells = tuple(sorted(cells))
                    if cells not in best or split.cost < best[cells][0]:
                        best[cells] = (split.cost, index)
            self._cuts[mask] = [(cost, index, cells) for cells, (cost, index) in best.items()]
        return self._cuts[mask]

    def leaf(self, mask: int) -> float:
        """What it costs to end here."""
        return self.untold * self.weight(mask) if mask & (mask - 1) else 0.0

    def bound(self, mask: int) -> float:
        """No tree for these sorts costs less."""
        if not mask & (mask - 1):
            return 0.0
        if mask not in self._bound:
            self._bound[mask] = self._bounded(mask)
        return self._bound[mask]

    def _bounded(self, mask: int) -> float:
        """Whoever does not end here pays at least the cheapest look. Where every look is plain, what is told
        in the end are the cells of all looks together, and no tree beats joining those as Huffman does,
        with the cheapest look and the most cells that any look has."""
        cuts = self.cuts(mask)
        if not cuts:
            return self.leaf(mask)
        cheapest = min(cost for cost, _, _ in cuts)
        least = cheapest * self.weight(mask)
        if all(split.plain(mask) for split in self.splits):
            told = [mask]
            for _, _, cells in cuts:
                if len(told) == mask.bit_count():
                    break
                told = [part & cell for part in told for cell in cells if part & cell]
            arity = max(len(cells) for _, _, cells in cuts)
            work = cheapest * huffman_work([self.weight(part) for part in told], arity)
            least = max(least, work + sum(map(self.leaf, told)))
        return least

    def bound_ahead(self, mask: int) -> float:
        """A higher bound: the best first look with the bounds of its cells."""
        if not mask & (mask - 1):
            return 0.0
        ahead = [self._looked_ahead(mask, cut) for cut in self.cuts(mask)]
        return max(self.bound(mask), min(ahead, default=0.0))

    def _looked_ahead(self, mask: int, cut: tuple[float, int, Cells]) -> float:
        cost, _, cells = cut
        return cost * self.weight(mask) + sum(map(self.bound, cells))

    # -- exact ----------------------------------------------------------------------------------

    def exact(self, mask: int) -> float:
        """The least work, by looking at every cut that the bounds leave open. Raises _TooMany."""
        if not mask & (mask - 1):
            return 0.0
        if mask in self._exact:
            return self._exact[mask][0]
        ahead = sorted((self._looked_ahead(mask, cut), cut) for cut in self.cuts(mask))
        self.steps_left -= 1 + len(ahead)
        if self.steps_left < 0:
            raise _TooMany
        best, choice = (math.inf, -1) if ahead else (self.leaf(mask), -1)
        for least, cut in ahead:
            if least >= best:
                break
            for cell in cut[2]:
                least += self.exact(cell) - self.bound(cell)  # noqa: PLW2901  # the bound becomes the work
                if least >= best:
                    break
            else:
                best, choice = least, cut[1]
        self._exact[mask] = (best, choice)
        return best

    # -- heuristic ------------------------------------------------------------------------------

    def pilot(self, mask: int) -> float:
        """A good tree: of the most telling looks, the one that does best when all the rest is greedy;
        then the same for each of its cells, which are solved exactly where they are small."""
        if not mask & (mask - 1):
            return 0.0
        if mask in self._pilot:
            return self._pilot[mask][0]
        if self._small(mask):
            return self._exact[mask][0]
        ranked = sorted(self.cuts(mask), key=lambda cut: -self._telling(mask, cut))[:PILOTS]
        if not ranked:
            return self.exact(mask)
        weight = self.weight(mask)
        estimates = [(cut[0] * weight + sum(map(self.greedy, cut[2])), cut) for cut in ranked]
        _, (cost, index, cells) = min(estimates)
        work = cost * weight + sum(map(self.pilot, cells))
        self._pilot[mask] = (work, index)
        return work

    def greedy(self, mask: int) -> float:
        """The work when always the look is taken that tells most for its cost."""
        if not mask & (mask - 1):
            return 0.0
        if mask not in self._greedy:
            cuts = self.cuts(mask)
            if cuts:
                cost, index, cells = max(cuts, key=lambda cut: self._telling(mask, cut))
                work = cost * self.weight(mask) + sum(map(self.greedy, cells))
                self._greedy[mask] = (work, index)
            else:
                self._greedy[mask] = (self.leaf(mask), -1)
        return self._greedy[mask][0]

    def _telling(self, mask: int, cut: tuple[float, int, Cells]) -> float:
        """Bits told for each unit of cost: the entropy of the cells' weights."""
        cost, _, cells = cut
        whole = self.weight(mask)
        shares = [self.weight(cell) / whole for cell in cells] if whole else []
        told = -sum(share * math.log2(share) for share in shares if share > 0)
        return (told + 1e-9 * len(cells)) / max(cost, 1e-9)

    def _small(self, mask: int) -> bool:
        """Solves these sorts exactly if that is quick."""
        self.steps_left = SMALL_STEPS
        try:
            self.exact(mask)
        except _TooMany:
            return False
        return True

    # -- the tree -------------------------------------------------------------------------------

    def tree(self, mask: int) -> Tree:
        """The tree that the memories hold."""
        known = self._pilot.get(mask) or self._exact.get(mask)
        look = known[1] if known else -1
        if look < 0:
            return Tree(mask=mask)
        # In the order in which the look itself names its cells.
        return Tree(mask=mask, look=look, cells=tuple(map(self.tree, self.splits[look].cells(mask))))
