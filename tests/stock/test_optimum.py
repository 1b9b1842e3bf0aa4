"""The optimum against judges that are not ours, and the laws that every answer keeps."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp

from trysquare.stock import optimum
from trysquare.stock.flows import Lot, Question, cheapest, most_pieces
from trysquare.stock.optimum import Optimum, best


@st.composite
def questions(draw: st.DrawFn) -> Question:
    """Small questions, most of them with something short and something to choose."""
    demands = draw(st.lists(st.integers(0, 9), min_size=1, max_size=7))
    lots = draw(
        st.lists(st.builds(Lot, box=st.integers(0, 4), pieces=st.integers(0, 9)), min_size=1, max_size=9)
    )
    pairs = [(demand, lot) for demand in range(len(demands)) for lot in range(len(lots))]
    permitted = draw(st.lists(st.sampled_from(pairs), max_size=24, unique=True))
    points = {pair: draw(st.sampled_from([0, 0, 0, 1, 3, 6])) for pair in permitted}
    return Question(demands=tuple(demands), lots=tuple(lots), points=points)


def by_highs(question: Question) -> tuple[int, int, int]:
    """Most pieces, least points and fewest boxes as three mixed-integer programs, one after the other."""
    pairs, boxes = sorted(question.points), sorted({lot.box for lot in question.lots})
    size = len(pairs) + len(boxes)
    rows, limits = [], []
    for side, wanted in ((0, question.demands), (1, [lot.pieces for lot in question.lots])):
        for number, limit in enumerate(wanted):
            rows.append([float(pair[side] == number) for pair in pairs] + [0.0] * len(boxes))
            limits.append(float(limit))
    most = [min(question.demands[demand], question.lots[lot].pieces) for demand, lot in pairs]
    for number, (_, lot) in enumerate(pairs):
        row = [0.0] * size
        row[number] = 1.0
        row[len(pairs) + boxes.index(question.lots[lot].box)] = -float(most[number])
        rows.append(row)
        limits.append(0.0)
    constraints = [LinearConstraint(np.array(rows), -np.inf, np.array(limits))]
    upper = np.array([*most, *([1] * len(boxes))], dtype=float)
    goals = (
        [-1.0] * len(pairs) + [0.0] * len(boxes),
        [float(question.points[pair]) for pair in pairs] + [0.0] * len(boxes),
        [0.0] * len(pairs) + [1.0] * len(boxes),
    )
    found = []
    for goal in goals:
        answer = milp(
            np.array(goal),
            constraints=constraints,
            bounds=Bounds(np.zeros(size), upper),
            integrality=np.ones(size),
        )
        found.append(round(answer.fun))
        constraints.append(LinearConstraint(np.array([goal]), -np.inf, found[-1]))
    return -found[0], found[1], found[2]


def told(answer: Optimum) -> tuple[int, int, int]:
    return answer.pieces, answer.points, len(answer.boxes)


@pytest.mark.slow
@pytest.mark.outside
@settings(max_examples=60)
@given(questions())
def test_pieces_points_and_boxes_are_those_of_highs(question: Question) -> None:
    answer = best(question)
    if question.points:
        assert told(answer) == by_highs(question)
    assert answer.proven


@pytest.mark.outside
@settings(max_examples=25)
@given(questions())
def test_the_program_over_many_boxes_agrees_with_trying_sets(question: Question) -> None:
    tried = best(question)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(optimum, "MOST_SETS", 0)
        asked = best(question)
    assert told(asked) == told(tried)
    assert asked.proven


@given(questions())
def test_no_lot_gives_more_than_it_has_and_no_demand_takes_more_than_it_wants(question: Question) -> None:
    given_of: Counter[int] = Counter()
    taken_by: Counter[int] = Counter()
    for (demand, lot), pieces in best(question).flows.items():
        assert pieces > 0
        assert (demand, lot) in question.points
        given_of[lot] += pieces
        taken_by[demand] += pieces
    assert all(pieces <= question.lots[lot].pieces for lot, pieces in given_of.items())
    assert all(pieces <= question.demands[demand] for demand, pieces in taken_by.items())


@given(questions())
def test_in_order_as_many_are_served_and_none_goes_short_for_a_later_one(question: Question) -> None:
    in_order = most_pieces(question, in_order=True)
    assert sum(in_order.values()) == sum(most_pieces(question).values())
    served: Counter[int] = Counter()
    for (demand, _), pieces in in_order.items():
        served[demand] += pieces
    for upto in range(len(question.demands)):
        first = Question(
            demands=question.demands[: upto + 1],
            lots=question.lots,
            points={pair: cost for pair, cost in question.points.items() if pair[0] <= upto},
        )
        assert sum(served[demand] for demand in range(upto + 1)) == sum(most_pieces(first).values())


@pytest.mark.outside
@given(st.integers(1, 7), st.randoms(use_true_random=False))
def test_one_piece_each_is_the_assignment_problem(size: int, chance: object) -> None:
    costs = np.array([[chance.randint(0, 40) for _ in range(size)] for _ in range(size)])  # type: ignore[attr-defined]
    question = Question(
        demands=(1,) * size,
        lots=tuple(Lot(box=0, pieces=1) for _ in range(size)),
        points={(row, column): int(costs[row, column]) for row in range(size) for column in range(size)},
    )
    rows, columns = linear_sum_assignment(costs)
    assert best(question).points == int(costs[rows, columns].sum())


def test_swapping_never_serves_fewer_pieces() -> None:
    question = Question(
        demands=(2, 2), lots=(Lot(box=0, pieces=2), Lot(box=0, pieces=1)),
        points={(0, 0): 5, (0, 1): 0, (1, 0): 0},
    )  # fmt: skip
    most = most_pieces(question)
    assert sum(cheapest(question, most).values()) == sum(most.values()) == 3


def test_of_boxes_that_serve_alike_the_fewest_are_opened() -> None:
    question = Question(
        demands=(4, 3),
        lots=(Lot(box=0, pieces=4), Lot(box=1, pieces=3), Lot(box=2, pieces=4), Lot(box=2, pieces=3)),
        points={(0, 0): 0, (1, 1): 0, (0, 2): 0, (1, 3): 0},
    )
    assert best(question).boxes == {2}


def test_least_compromise_goes_before_fewest_boxes() -> None:
    question = Question(
        demands=(1, 1),
        lots=(Lot(box=0, pieces=1), Lot(box=1, pieces=2)),
        points={(0, 0): 0, (0, 1): 1, (1, 1): 0},
    )
    answer = best(question)
    assert (answer.points, answer.boxes) == (0, {0, 1})
