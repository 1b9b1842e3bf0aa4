"""Call-outs: nothing is covered, nothing crosses, and what finds no room is said."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from trysquare.publish.callouts import NEAR_MM, Paper, Placed, Wanted, place

SIZE = (9.0, 4.0)


def paper_with(lines: list[NDArray[np.float64]], wide: float = 100.0, tall: float = 80.0) -> Paper:
    paper = Paper(0.0, 0.0, wide, tall)
    paper.take_lines(lines)
    return paper


def labels(points: list[tuple[float, float]]) -> list[Wanted]:
    return [
        Wanted(name=str(n), width_mm=SIZE[0], height_mm=SIZE[1], anchors_mm=np.array([point]))
        for n, point in enumerate(points)
    ]


def crosses(one: Placed, other: Placed) -> bool:
    (a, b), (c, d) = (np.array([one.from_mm, one.to_mm]), np.array([other.from_mm, other.to_mm]))

    def turn(p: NDArray[np.float64], q: NDArray[np.float64], r: NDArray[np.float64]) -> float:
        return float((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]))

    return turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0


def overlap(one: Placed, other: Placed) -> bool:
    return not (
        one.left_mm + one.width_mm <= other.left_mm
        or other.left_mm + other.width_mm <= one.left_mm
        or one.top_mm + one.height_mm <= other.top_mm
        or other.top_mm + other.height_mm <= one.top_mm
    )


spots = st.lists(st.tuples(st.floats(20, 80), st.floats(20, 60)), min_size=1, max_size=14, unique=True)


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(spots)
def test_no_two_labels_overlap_and_no_two_leaders_cross(points: list[tuple[float, float]]) -> None:
    placed, left = place(labels(points), paper_with([]))
    assert len(placed) + len(left) == len(points)
    for one, other in itertools.combinations(placed, 2):
        assert not overlap(one, other)
        assert not crosses(one, other)


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(spots)
def test_no_label_covers_a_line(points: list[tuple[float, float]]) -> None:
    drawn = [np.array([[30.0, 10.0], [70.0, 70.0], [20.0, 40.0]]), np.array([[0.0, 50.0], [100.0, 50.0]])]
    placed, _ = place(labels(points), paper_with(drawn))
    samples = np.concatenate([
        start + (stop - start) * np.linspace(0, 1, 200)[:, None]
        for line in drawn for start, stop in itertools.pairwise(line)
    ])  # fmt: skip
    for one in placed:
        low = np.array([one.left_mm, one.top_mm])
        inside = ((samples > low) & (samples < low + SIZE)).all(axis=1)
        assert not inside.any()


def test_no_label_covers_what_is_new() -> None:
    paper = Paper(0.0, 0.0, 60.0, 40.0)
    paper.take_area([np.array([[10.0, 10.0], [50.0, 10.0], [50.0, 30.0], [10.0, 30.0]])])
    placed, left = place(labels([(30.0, 20.0)]), paper)
    assert not left
    (one,) = placed
    assert one.top_mm >= 30 or one.top_mm + one.height_mm <= 10


def test_a_full_sheet_has_no_room_and_says_so() -> None:
    paper = Paper(0.0, 0.0, 30.0, 20.0)
    paper.take_box(0.0, 0.0, 30.0, 20.0)
    assert place(labels([(5.0, 5.0)]), paper) == ((), ("0",))


def test_nothing_wanted_is_nothing_placed() -> None:
    assert place([], paper_with([])) == ((), ())


@pytest.mark.slow
@settings(max_examples=30, deadline=None)
@given(spots)
def test_labels_that_stand_already_are_left_alone(points: list[tuple[float, float]]) -> None:
    first, _ = place(labels(points[:1]), paper_with([]))
    others, left = place(labels(points)[1:], paper_with([]), first)
    assert len(others) + len(left) == len(points) - 1
    for other in others:
        for one in first:
            assert not overlap(one, other)
            assert not crosses(one, other)


def test_only_taken_cells_under_a_line_count_as_covered() -> None:
    paper = paper_with([np.array([[10.0, 10.0], [60.0, 10.0]])])
    assert paper.covered([np.array([[10.0, 10.0], [20.0, 10.0]])]) >= 19
    assert paper.covered([np.array([[10.0, 30.0], [60.0, 30.0]])]) == 0
    assert paper.covered([]) == 0
    assert paper.taken.sum() >= 99


@pytest.mark.parametrize("apart", [1.5, 3.0, 6.0])
def test_a_leader_keeps_clear_of_where_another_one_points(apart: float) -> None:
    placed, left = place(labels([(50.0, 40.0), (50.0 + apart, 40.0), (50.0, 40.0 + apart)]), paper_with([]))
    assert not left
    for one, other in itertools.permutations(placed, 2):
        begin, end, dot = (np.array(each) for each in (one.from_mm, one.to_mm, other.to_mm))
        share = float(np.clip((dot - begin) @ (end - begin) / ((end - begin) @ (end - begin)), 0, 1))
        assert float(np.linalg.norm(begin + share * (end - begin) - dot)) >= NEAR_MM
