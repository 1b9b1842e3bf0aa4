from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from drawn_bodies import box, cylinder
from trysquare.ground.placement import Array
from trysquare.solid.drawing import looks, visibility
from trysquare.solid.drawing.looks import looks_of
from trysquare.solid.drawing.paper import Faces, Lines, Stretches, faces_on_paper, grid_of, near_lines
from trysquare.solid.drawing.scene import View
from trysquare.solid.drawing.visibility import visible
from trysquare.solid.shapes import solid_from


def faces(corners: Array) -> Faces:
    return faces_on_paper(corners, np.zeros(len(corners), dtype=np.int64), 10.0)


def lines(begin: Array, end: Array, slack: float = 1e-6) -> Lines:
    return Lines(begin, end, np.full(len(begin), slack), np.full(len(begin), -1))


def free_by_asking(corners: Array, begin: Array, end: Array, shares: Array, slack: float) -> Array:
    """Array (lines, shares): whether no triangle lies before each point, one by one."""
    points = begin[:, None] + (end - begin)[:, None] * shares[None, :, None]
    free = np.ones(points.shape[:2], dtype=bool)
    for a, b, c in corners:
        area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        x, y = points[..., 0] - a[0], points[..., 1] - a[1]
        u = (x * (c[1] - a[1]) - y * (c[0] - a[0])) / area
        v = ((b[0] - a[0]) * y - (b[1] - a[1]) * x) / area
        depth = a[2] + u * (b[2] - a[2]) + v * (c[2] - a[2])
        free &= ~((u >= 0) & (v >= 0) & (u + v <= 1) & (points[..., 2] > depth + slack))
    return free


def flags(free: Stretches, count: int, shares: Array) -> Array:
    answer = np.zeros((count, len(shares)), dtype=bool)
    for line, begin, end in zip(free.line, free.begin, free.end, strict=True):
        answer[line] |= (shares >= begin) & (shares <= end)
    return answer


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), many=st.integers(1, 60))
def test_intervals_agree_with_asking_every_triangle_about_every_point(seed: int, many: int) -> None:
    chance = np.random.default_rng(seed)
    corners = chance.uniform(0, 10, (many, 1, 3)) + chance.uniform(-3, 3, (many, 3, 3))
    begin, end = chance.uniform(0, 10, (30, 3)), chance.uniform(0, 10, (30, 3))
    shares = np.linspace(0.01, 0.99, 41)
    ours = flags(visible(faces(corners), lines(begin, end), grid_of, 10.0), 30, shares)
    asked = free_by_asking(corners, begin, end, shares, 1e-6)
    assert (ours != asked).mean() < 2e-3  # points that fall on an edge to within rounding


@pytest.mark.parametrize("pairs", [1, 20, 10**9])
def test_the_size_of_cells_does_not_change_what_is_visible(
    pairs: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance = np.random.default_rng(3)
    corners = chance.uniform(0, 10, (80, 1, 3)) + chance.uniform(-3, 3, (80, 3, 3))
    some = lines(chance.uniform(0, 10, (60, 3)), chance.uniform(0, 10, (60, 3)))
    usual = visible(faces(corners), some, grid_of, 10.0)
    monkeypatch.setattr(visibility, "MOST_PAIRS", pairs)
    other = visible(faces(corners), some, grid_of, 10.0)
    assert other.line.tolist() == usual.line.tolist()
    assert other.begin == pytest.approx(usual.begin, abs=1e-5)
    assert other.end == pytest.approx(usual.end, abs=1e-5)


@pytest.mark.parametrize("pairs", [1, 400])
def test_a_line_along_the_border_of_two_cells_is_hidden_whatever_rounding_makes_of_it(
    pairs: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A crossing of bores on the axis of symmetry, under a solid top, once shone through in short dashes.
    bar = Manifold.cube((20.0, 20.0, 100.0), True)
    for turn in ((90.0, 0.0, 0.0), (0.0, 90.0, 0.0)):
        bar = bar - Manifold.cylinder(40.0, 2.8, 2.8, 24, True).rotate(turn).translate((0.0, 0.0, 40.0))
    monkeypatch.setattr(visibility, "MOST_PAIRS", pairs)
    looks.forget_looks()
    (look,) = looks_of([solid_from(bar)], View((1, 1, -1)).frame()[None])
    looks.forget_looks()
    on_the_axis = (np.abs(look.begin[:, 0]) < 1e-6) & (np.abs(look.end[:, 0]) < 1e-6)
    assert on_the_axis.sum() == 1  # the near corner, from top to bottom


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_the_cheap_look_drops_no_triangle_that_hides_a_line(seed: int) -> None:
    chance = np.random.default_rng(seed)
    corners = chance.uniform(0, 90, (60, 1, 3)) + chance.uniform(-9, 9, (60, 3, 3))
    begin = chance.uniform(20, 60, (4, 3))
    few = lines(begin, begin + chance.uniform(-9, 9, (4, 3)))
    some = near_lines(corners, few)
    every, cut = (
        visible(faces(corners), few, grid_of, 90.0),
        visible(faces(corners[some]), few, grid_of, 90.0),
    )
    assert cut.line.tolist() == every.line.tolist()
    assert cut.begin == pytest.approx(every.begin, abs=1e-5)  # cells of another size round otherwise


def test_a_line_on_a_face_is_not_hidden_by_it() -> None:
    square = np.array([[[0.0, 0, 0], [9, 0, 9], [9, 9, 9]], [[0.0, 0, 0], [9, 9, 9], [0, 9, 0]]])
    free = visible(faces(square), lines(np.array([[1.0, 1, 1]]), np.array([[8.0, 7, 8]])), grid_of, 10.0)
    assert (free.begin.tolist(), free.end.tolist()) == ([0], [1])


def test_no_light_falls_between_two_triangles_of_one_face() -> None:
    square = np.array([[[0.0, 0, 0], [9, 0, 0], [9, 9, 0]], [[0.0, 0, 0], [9, 9, 0], [0, 9, 0]]])
    along, across = [[1.0, 1, 5], [1.0, 8, 5]], [[8.0, 8, 5], [8.0, 1, 5]]
    free = visible(faces(square), lines(np.array(along), np.array(across)), grid_of, 10.0)
    assert len(free.line) == 0


def test_a_line_into_the_paper_is_a_point_that_is_seen_or_not() -> None:
    near = np.array([[[0.0, 0, 0], [9, 0, 0], [0, 9, 0]]])
    begin = np.array([[1.0, 1, 5], [8, 8, 5], [1, 1, -5]])
    free = visible(faces(near), lines(begin, begin), grid_of, 10.0)
    assert free.line.tolist() == [1, 2]


def test_no_faces_hide_nothing_and_no_lines_give_none() -> None:
    none = np.zeros((0, 3))
    one = lines(np.array([[0.0, 0, 0]]), np.array([[1.0, 0, 0]]))
    assert visible(faces(np.zeros((0, 3, 3))), one, grid_of, 1.0).line.tolist() == [0]
    assert len(visible(faces(np.ones((1, 3, 3))), lines(none, none), grid_of, 1.0).line) == 0


def test_bodies_looked_at_together_look_as_they_do_alone() -> None:
    bodies = [box(10, 20, 30), cylinder(5, 300, 24), cylinder(0.01, 0.02, 24)]
    frames = np.stack([View((1, 0.5, -0.7)).frame()] * 3)
    together = looks_of(bodies, frames)
    looks.forget_looks()
    for body, one in zip(bodies, together, strict=True):
        (alone,) = looks_of([body], frames[:1])
        assert alone.begin == pytest.approx(one.begin)
        assert alone.outline_mm == pytest.approx(one.outline_mm)
