"""The best way to serve demands from lots in boxes: most pieces, then least compromise, then fewest boxes.

The first two are a flow at least cost, which is exact. Few boxes are settled by trying sets of them, the
smallest sets first; many by an integer program, which ends with a proof or with the gap that is left when
the time is up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from trysquare.stock.flows import Flows, Lot, Question, cheapest, most_pieces

__all__ = ["SECONDS", "Lot", "Optimum", "Question", "best"]

SECONDS = 8.0  # for the program over the boxes
MOST_SETS = 2000  # sets of boxes that are tried one by one; more are asked of the solver
MOST_FLOWS = 60  # and of those, how many may need a flow of their own


@dataclass(frozen=True, slots=True, kw_only=True)
class Optimum:
    """`flows`: (demand, lot) → pieces, none of them 0. Bounds: no answer can serve more pieces than
    `pieces_bound`; none that serves as many costs less than `points_bound` or opens fewer boxes than
    `boxes_bound` at the same points.
    """

    flows: Mapping[tuple[int, int], int]
    pieces: int
    points: int
    boxes: frozenset[int]
    pieces_bound: int
    points_bound: int
    boxes_bound: int

    @property
    def proven(self) -> bool:
        return (self.pieces, self.points, len(self.boxes)) == (
            self.pieces_bound,
            self.points_bound,
            self.boxes_bound,
        )


@dataclass(slots=True)
class _Part:
    """Demands and lots that have to do with each other. `alike`: any lot serves any demand at no cost."""

    demands: list[int]
    lots: list[int]
    alike: bool


def best(question: Question, seconds: float = SECONDS) -> Optimum:
    """The best answer, or the best found within the time; `proven` when no better one exists."""
    parts = _parts(question)
    chosen = [part for part in parts if not part.alike]
    covers = [
        _Cover(
            part=part,
            served=min(
                sum(question.demands[demand] for demand in part.demands),
                sum(question.lots[lot].pieces for lot in part.lots),
            ),
        )
        for part in parts
        if part.alike
    ]
    hard = _only(question, chosen)
    flows = cheapest(hard, most_pieces(hard))
    boxes = _Boxes(question, hard, flows, covers)
    boxes.settle(seconds)
    flows = {**boxes.flows}
    for cover in covers:
        flows |= _filled(question, cover, boxes.opened)
    pieces = sum(flows.values())
    points = _points(question, flows)
    return Optimum(
        flows=flows,
        pieces=pieces,
        points=points,
        boxes=frozenset(question.lots[lot].box for _, lot in flows),
        pieces_bound=pieces,
        points_bound=points,
        boxes_bound=boxes.bound,
    )


def _points(question: Question, flows: Flows) -> int:
    return sum(question.points[pair] * pieces for pair, pieces in flows.items())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cover:
    """A part without a choice, and how many of its pieces are served."""

    part: _Part
    served: int


def _parts(question: Question) -> list[_Part]:
    """The graph's connected parts, in the order of their first demand."""
    leader: dict[tuple[str, int], tuple[str, int]] = {}

    def find(node: tuple[str, int]) -> tuple[str, int]:
        while leader.setdefault(node, node) != node:
            leader[node] = leader[leader[node]]
            node = leader[node]
        return node

    for demand, lot in question.points:
        leader[find(("demand", demand))] = find(("lot", lot))
    groups: dict[tuple[str, int], _Part] = {}
    for sort, count in (("demand", len(question.demands)), ("lot", len(question.lots))):
        for number in range(count):
            if (sort, number) in leader:
                part = groups.setdefault(find((sort, number)), _Part([], [], alike=True))
                (part.demands if sort == "demand" else part.lots).append(number)
    for part in groups.values():
        costs = [question.points.get((demand, lot)) for demand in part.demands for lot in part.lots]
        part.alike = all(cost == 0 for cost in costs)
    return list(groups.values())


def _only(question: Question, parts: Sequence[_Part]) -> Question:
    wanted = {demand for part in parts for demand in part.demands}
    return Question(
        demands=question.demands,
        lots=question.lots,
        points={pair: cost for pair, cost in question.points.items() if pair[0] in wanted},
    )


def _filled(question: Question, cover: _Cover, opened: frozenset[int]) -> Flows:
    """Pieces handed out of the opened boxes in turn, until `served` are."""
    flows: dict[tuple[int, int], int] = {}
    part, served = cover.part, cover.served
    left = {lot: question.lots[lot].pieces for lot in part.lots if question.lots[lot].box in opened}
    for demand in part.demands:
        want = min(question.demands[demand], served)
        for lot, there in left.items():
            taken = min(want, there)
            if taken:
                flows[(demand, lot)] = taken
                left[lot] -= taken
                want -= taken
                served -= taken
    return flows


class _Boxes:
    """Which boxes to open: as few as serve the same pieces at the same points.

    `flows` of the parts with a choice change with the boxes; `bound` is how few boxes there could be.
    """

    def __init__(self, question: Question, hard: Question, flows: Flows, covers: Sequence[_Cover]) -> None:
        self.question, self.hard, self.flows = question, hard, flows
        self.pieces, self.points = sum(flows.values()), _points(question, flows)
        self.needs = [(self._by_box(cover.part), cover.served) for cover in covers if cover.served]
        self.used = {question.lots[lot].box for _, lot in flows}
        self.forced = {
            box
            for by_box, served in self.needs
            for box, pieces in by_box.items()
            if sum(by_box.values()) - pieces < served
        }
        able = {box for by_box, _ in self.needs for box, pieces in by_box.items() if pieces}
        able |= {hard.lots[lot].box for _, lot in hard.points if hard.lots[lot].pieces}
        self.open = sorted(able - self.forced)  # boxes that may be opened or left shut
        self.opened = frozenset(self.forced | able)
        self.bound = len(self.forced)

    def _by_box(self, part: _Part) -> dict[int, int]:
        found: dict[int, int] = {}
        for lot in part.lots:
            box, pieces = self.question.lots[lot].box, self.question.lots[lot].pieces
            found[box] = found.get(box, 0) + pieces
        return found

    def settle(self, seconds: float) -> None:
        """Decides which boxes are opened."""
        if not self._try_sets():
            self._ask(seconds)

    def _try_sets(self) -> bool:
        """Tries sets of boxes, the smallest first; False when there are too many to try."""
        tried = flows = 0
        for size in range(len(self.open) + 1):
            for more in combinations(self.open, size):
                tried += 1
                if tried > MOST_SETS or flows > MOST_FLOWS:
                    return False
                boxes = frozenset(self.forced.union(more))
                if not self._covers(boxes):
                    continue
                if self.used <= boxes:
                    self.opened, self.bound = boxes, len(boxes)
                    return True
                flows += 1
                found = self._within(boxes)
                if found is not None:
                    self.flows, self.opened, self.bound = found, boxes, len(boxes)
                    return True
            self.bound = len(self.forced) + size + 1
        return True

    def _covers(self, boxes: frozenset[int]) -> bool:
        return all(
            sum(pieces for box, pieces in by_box.items() if box in boxes) >= served
            for by_box, served in self.needs
        )

    def _within(self, boxes: frozenset[int]) -> Flows | None:
        """Flows out of these boxes alone that are as good; None when there are none."""
        inside = Question(
            demands=self.hard.demands,
            lots=self.hard.lots,
            points={
                pair: cost for pair, cost in self.hard.points.items() if self.hard.lots[pair[1]].box in boxes
            },
        )
        most = most_pieces(inside)
        if sum(most.values()) < self.pieces:
            return None
        found = cheapest(inside, most)
        return found if _points(self.question, found) == self.points else None

    def _ask(self, seconds: float) -> None:
        """The same as an integer program."""
        from ortools.sat.python import cp_model  # noqa: PLC0415  # heavy, and only wanted for many boxes

        model = cp_model.CpModel()
        opened = {box: model.new_bool_var(f"box {box}") for box in sorted(self.opened)}
        for box in self.forced:
            model.add(opened[box] == 1)
        for by_box, served in self.needs:
            model.add(sum(n * opened[box] for box, n in by_box.items() if box in opened) >= served)
        moves = self._moves(model, opened)
        model.minimize(sum(opened.values()))
        for chosen in opened.values():
            model.add_hint(chosen, 1)
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = max(0.1, seconds)
        solver.parameters.num_workers = 1  # the same answer every time
        solver.parameters.random_seed = 1
        solver.parameters.linearization_level = 2  # flows are nearly linear programs
        status = solver.solve(model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return
        self.opened = frozenset(box for box, chosen in opened.items() if solver.value(chosen))
        found = {pair: int(solver.value(move)) for pair, move in moves.items()}
        self.flows = {pair: pieces for pair, pieces in found.items() if pieces}
        # the least whole number not below the bound, with room for the solver's rounding
        lowest = -int(-(solver.best_objective_bound - 1e-6) // 1)
        self.bound = len(self.opened) if status == cp_model.OPTIMAL else max(self.bound, lowest)

    def _moves(self, model: Any, opened: Mapping[int, Any]) -> dict[tuple[int, int], Any]:
        """Whole numbers of pieces of the parts with a choice, out of open boxes, as good as the best."""
        question = self.hard
        pairs = sorted(pair for pair in question.points if question.lots[pair[1]].pieces)
        moves = {
            (demand, lot): model.new_int_var(
                0, min(question.demands[demand], question.lots[lot].pieces), f"{demand} from {lot}"
            )
            for demand, lot in pairs
        }
        for demand in {pair[0] for pair in pairs}:
            mine = [moves[pair] for pair in pairs if pair[0] == demand]
            model.add(sum(mine) <= question.demands[demand])
        for lot in {pair[1] for pair in pairs}:
            mine = [moves[pair] for pair in pairs if pair[1] == lot]
            model.add(sum(mine) <= question.lots[lot].pieces * opened[question.lots[lot].box])
        if pairs:
            model.add(sum(moves.values()) == self.pieces)
            model.add(sum(question.points[pair] * moves[pair] for pair in pairs) <= self.points)
            for pair in pairs:
                model.add_hint(moves[pair], self.flows.get(pair, 0))
        return moves
