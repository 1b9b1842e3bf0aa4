"""Pieces moving from lots to demands: as many as can be, then as cheaply as can be, in whole numbers."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

Flows = Mapping[tuple[int, int], int]
"""(demand, lot) → pieces, none of them 0."""

_ANY = 10**15  # more than any count


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Pieces alike in one box. `box` numbers the boxes from 0."""

    box: int
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """How many pieces each demand wants, which lots there are, and what it costs to serve one from the other.

    `points`: (demand, lot) → points for each piece, 0 for what was asked; pairs not in it are not
    permitted. Counts and points are whole numbers, 0 or more.
    """

    demands: tuple[int, ...]
    lots: tuple[Lot, ...]
    points: Mapping[tuple[int, int], int]


def most_pieces(question: Question, *, in_order: bool = False) -> Flows:
    """Flows that serve as many pieces as can be served, whatever the compromise; exact and quick.

    `in_order`: a demand is never left short for a later one, and still as many as possible are served:
    once served, a demand only ever changes its lot.

    Augmenting paths in the graph of demands and lots (Ford and Fulkerson; shortest paths first, by
    Edmonds and Karp, so that the work is bounded by the graph alone).
    Source: Cormen et al., Introduction to Algorithms, chapter on maximum flow.
    """
    given = _Given(question)
    # What is asked goes first, for every demand: it leaves few paths to look for.
    for own in () if in_order else (True, False):
        for demand, lots in sorted(given.serving.items()):
            for lot in lots:
                if (question.points[demand, lot] == 0) is own:
                    given.give(demand, lot, min(given.want[demand], given.left[lot]))
    for demand in range(len(given.want)):
        while given.want[demand] > 0 and given.free_a_way(demand):
            pass
    return given.flows


class _Given:
    """What is given so far: `want` of each demand, `left` of each lot, and who uses which lot."""

    def __init__(self, question: Question) -> None:
        self.want = list(question.demands)
        self.left = [lot.pieces for lot in question.lots]
        self.serving: dict[int, list[int]] = {}
        for demand, lot in sorted(question.points, key=lambda pair: (question.points[pair], pair)):
            self.serving.setdefault(demand, []).append(lot)
        self.flows: dict[tuple[int, int], int] = {}
        self.users: dict[int, set[int]] = {}

    def give(self, demand: int, lot: int, pieces: int) -> None:
        """Gives a demand pieces of a lot that has them."""
        if pieces:
            self._book(demand, lot, pieces)
            self.want[demand] -= pieces
            self.left[lot] -= pieces

    def _book(self, demand: int, lot: int, pieces: int) -> None:
        self.flows[(demand, lot)] = self.flows.get((demand, lot), 0) + pieces
        self.users.setdefault(lot, set()).add(demand)
        if self.flows[(demand, lot)] == 0:
            del self.flows[(demand, lot)]
            self.users[lot].discard(demand)

    def free_a_way(self, demand: int) -> bool:
        """Gives a demand pieces by moving others to other lots; False when there is no such way."""
        path = _path(demand, self.serving, self.users, self.left)
        if path is None:
            return False
        lots, demands = path  # demands[0] takes from lots[0], whose user demands[1] moves to lots[1] …
        moved = min(self.want[demand], self.left[lots[-1]])
        for lot, other in zip(lots, demands[1:], strict=False):
            moved = min(moved, self.flows[(other, lot)])
        for at, lot in enumerate(lots):
            self._book(demands[at], lot, moved)
            if at + 1 < len(demands):
                self._book(demands[at + 1], lot, -moved)
        self.want[demand] -= moved
        self.left[lots[-1]] -= moved
        return True


def _path(
    demand: int, served_by: Mapping[int, Sequence[int]], users: Mapping[int, set[int]], left: Sequence[int]
) -> tuple[list[int], list[int]] | None:
    """A shortest way to free a piece for a demand: lots and demands by turns, ending at a lot with pieces."""
    came_from: dict[int, tuple[int, int]] = {}  # lot -> (demand that wants it, the lot that one gives up)
    seen = {demand}
    todo: deque[tuple[int, int]] = deque([(demand, -1)])
    while todo:
        who, gives_up = todo.popleft()
        for lot in served_by.get(who, ()):
            if lot in came_from or lot == gives_up:
                continue
            came_from[lot] = (who, gives_up)
            if left[lot] > 0:
                lots, demands = [lot], [who]
                while came_from[lots[0]][1] != -1:
                    before = came_from[lots[0]][1]
                    lots.insert(0, before)
                    demands.insert(0, came_from[before][0])
                return lots, demands
            for other in sorted(users.get(lot, ())):
                if other not in seen:
                    seen.add(other)
                    todo.append((other, lot))
    return None


def cheapest(question: Question, flows: Flows) -> Flows:
    """Flows that serve as many pieces as these at the least points.

    Rings along which pieces can be swapped to save points are swapped until there is none; then no flow
    of the same size is cheaper. Source: Klein, A primal method for minimal cost flows, Management Science
    14 (1967): a flow is cheapest just when its residual graph has no ring of negative cost.
    """
    swaps = _Swaps(question, flows)
    while swaps.one():
        pass
    return {pair: pieces for pair, pieces in swaps.flows.items() if pieces}


class _Swaps:
    """The residual graph: demands from 0, lots after them, then the places of what is not served and of
    what is not used."""

    def __init__(self, question: Question, flows: Flows) -> None:
        self.question, self.flows = question, dict(flows)
        self.demands = len(question.demands)
        self.unserved = self.demands + len(question.lots)
        self.unused = self.unserved + 1
        self.want = list(question.demands)
        self.left = [lot.pieces for lot in question.lots]
        for (demand, lot), pieces in flows.items():
            self.want[demand] -= pieces
            self.left[lot] -= pieces
        self.by_demand: dict[int, list[int]] = {}
        self.by_lot: dict[int, list[int]] = {}
        for demand, lot in sorted(question.points):
            self.by_demand.setdefault(demand, []).append(lot)
            self.by_lot.setdefault(lot, []).append(demand)

    def _edges(self, node: int) -> Iterator[tuple[int, int, int]]:
        """Where pieces can be moved on from a node: the next node, its points, and how many pieces."""
        if node < self.demands:
            return self._of_demand(node)
        if node < self.unserved:
            return self._of_lot(node - self.demands)
        if node == self.unserved:
            return ((one, 0, self.want[one]) for one in self.by_demand if self.want[one])
        return ((self.demands + lot, 0, used) for lot in self.by_lot if (used := self._used(lot)))

    def _of_demand(self, demand: int) -> Iterator[tuple[int, int, int]]:
        for lot in self.by_demand.get(demand, ()):
            yield self.demands + lot, self.question.points[(demand, lot)], _ANY
        served = self.question.demands[demand] - self.want[demand]
        if served:
            yield self.unserved, 0, served

    def _of_lot(self, lot: int) -> Iterator[tuple[int, int, int]]:
        for demand in self.by_lot.get(lot, ()):
            moved = self.flows.get((demand, lot), 0)
            if moved:
                yield demand, -self.question.points[(demand, lot)], moved
        if self.left[lot]:
            yield self.unused, 0, self.left[lot]

    def _used(self, lot: int) -> int:
        return self.question.lots[lot].pieces - self.left[lot]

    def one(self) -> bool:
        """Swaps along one ring that saves points; False when there is none."""
        ring = self._ring()
        if not ring:
            return False
        pairs = list(zip(ring, [*ring[1:], ring[0]], strict=True))
        moved = min(next(room for to, _, room in self._edges(one) if to == other) for one, other in pairs)
        for one, other in pairs:
            self._move(one, other, moved)
        return True

    def _move(self, one: int, other: int, moved: int) -> None:
        if one < self.demands and other < self.unserved:
            pair = (one, other - self.demands)
            self.flows[pair] = self.flows.get(pair, 0) + moved
        elif one < self.unserved and other < self.demands:
            self.flows[(other, one - self.demands)] -= moved
        elif other == self.unserved:
            self.want[one] += moved
        elif one == self.unserved:
            self.want[other] -= moved
        elif other == self.unused:
            self.left[one - self.demands] -= moved
        else:
            self.left[other - self.demands] += moved

    def _ring(self) -> list[int]:
        """A ring of negative cost, by Bellman and Ford from all nodes at once; empty when there is none."""
        nodes = self.unused + 1
        cost, before = [0] * nodes, [-1] * nodes
        length = [0] * nodes
        todo = deque(range(nodes))
        waits = [True] * nodes
        while todo:
            node = todo.popleft()
            waits[node] = False
            for other, points, _ in self._edges(node):
                if cost[node] + points < cost[other]:
                    cost[other] = cost[node] + points
                    before[other], length[other] = node, length[node] + 1
                    if length[other] >= nodes and (ring := _ring_behind(before, other)):
                        return ring
                    if not waits[other]:
                        waits[other] = True
                        todo.append(other)
        return []


def _ring_behind(before: Sequence[int], node: int) -> list[int]:
    """The ring that the predecessors of a node run into; empty when they come to an end."""
    for _ in before:
        node = before[node]
        if node < 0:
            return []
    ring = [node]
    while before[ring[0]] != node:
        ring.insert(0, before[ring[0]])
    return ring
