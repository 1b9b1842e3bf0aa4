from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.ground.placement import Array
from trysquare.solid.drawing.chains import chained, thinned
from trysquare.solid.drawing.duplicates import drawn_once
from trysquare.solid.drawing.paper import Stretches


def whole(count: int) -> Stretches:
    return Stretches(np.arange(count), np.zeros(count), np.ones(count))


def ring(sides: int) -> Array:
    turns = np.arange(sides) * 2 * math.pi / sides
    return np.stack([np.cos(turns), np.sin(turns)], axis=1)


@given(st.permutations(range(12)), st.lists(st.booleans(), min_size=12, max_size=12))
def test_a_ring_in_any_order_and_turned_any_way_is_one_chain(order: list[int], turned: list[bool]) -> None:
    points = ring(12)
    names = np.array([[n, (n + 1) % 12][:: -1 if back else 1] for n, back in zip(order, turned, strict=True)])
    chain = chained(points[names[:, 0]], points[names[:, 1]], names, np.zeros(12, dtype=np.int64))
    assert chain.goes_on.tolist() == [1] * 11 + [0]
    assert chain.end[:-1] == pytest.approx(chain.begin[1:])
    assert chain.end[-1] == pytest.approx(chain.begin[0])


def test_straight_lines_in_a_row_become_one() -> None:
    points = np.array([[0.0, 0], [1, 0], [3, 0], [3, 2]])
    names = np.array([[0, 1], [2, 1], [2, 3]])
    chain = chained(points[names[:, 0]], points[names[:, 1]], names, np.zeros(3, dtype=np.int64))
    assert len(chain.begin) == 2


def test_lines_of_two_sorts_are_not_joined() -> None:
    points = np.array([[0.0, 0], [1, 0], [2, 0]])
    names = np.array([[0, 1], [1, 2]])
    chain = chained(points[names[:, 0]], points[names[:, 1]], names, np.array([0, 1]))
    assert chain.goes_on.tolist() == [0, 0]


@given(
    st.lists(st.tuples(st.floats(-9, 9), st.floats(-9, 9)), min_size=2, max_size=40), st.floats(0.001, 2.0)
)
def test_thinning_keeps_both_ends_and_moves_no_point_further_than_allowed(
    points: list[tuple[float, float]], within: float
) -> None:
    given_points = np.array(points)
    keep = thinned(given_points, np.array([0]), within)
    assert keep[0]
    assert keep[-1]
    kept = np.flatnonzero(keep)
    for a, b in pairwise(kept.tolist()):
        way = given_points[b] - given_points[a]
        off = given_points[a : b + 1] - given_points[a]
        share = np.clip(off @ way / max(float(way @ way), 1e-300), 0, 1)
        assert np.linalg.norm(off - share[:, None] * way, axis=1).max() <= within + 1e-9


def test_chains_are_thinned_each_for_itself() -> None:
    points = np.array([[0.0, 0], [1, 0.001], [2, 0], [0, 5], [1, 6], [2, 5]])
    assert thinned(points, np.array([0, 3]), 0.02).tolist() == [True, False, True, True, True, True]


def test_of_two_lines_on_each_other_the_more_important_is_kept_whole() -> None:
    begin, end = np.array([[0.0, 0], [2, 0]]), np.array([[10.0, 0], [14, 0]])
    once = drawn_once(whole(2), begin, end, np.array([1, 0]))
    assert once.line.tolist() == [0, 1]
    assert once.begin.tolist() == pytest.approx([0, 0])
    assert once.end.tolist() == pytest.approx([0.2, 1])


@pytest.mark.parametrize("turn_deg", [0, 90, 30, 150, 179.999])
def test_a_duplicate_is_found_in_any_direction_and_drawn_either_way(turn_deg: float) -> None:
    way = np.array([math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))])
    begin, end = np.stack([way * 3, way * 9]), np.stack([way * 9, way * 3])
    once = drawn_once(whole(2), begin, end, np.array([0, 1]))
    assert once.line.tolist() == [0]


def test_a_duplicate_in_the_middle_of_a_line_leaves_both_its_ends() -> None:
    begin, end = np.array([[10.0, 5], [6, 5]]), np.array([[0.0, 5], [4, 5]])
    once = drawn_once(whole(2), begin, end, np.array([1, 0]))
    assert once.line.tolist() == [0, 0, 1]
    assert once.begin.tolist() == pytest.approx([0, 0.6, 0])
    assert once.end.tolist() == pytest.approx([0.4, 1, 1])


def test_parallel_lines_and_lines_that_only_meet_are_left_alone() -> None:
    begin, end = np.array([[0.0, 0], [0, 0.1], [10, 0]]), np.array([[10.0, 0], [10, 0.1], [20, 0]])
    assert len(drawn_once(whole(3), begin, end, np.array([0, 0, 0])).line) == 3
