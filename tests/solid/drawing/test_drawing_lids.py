from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from drawn_bodies import ABOVE, at, box, cylinder, larch_step, sphere
from trysquare.solid.drawing import GHOST, ISOMETRIC, Piece, View, draw, mesh, scene_of
from trysquare.solid.drawing.edges import edges_of
from trysquare.solid.drawing.eye import Crowd, crowd_of, sound
from trysquare.solid.drawing.flats import find_flats, flats_of
from trysquare.solid.shapes import solid_from

SLACK_MM = 0.05


def crowd(*pieces: Piece, view: View = ABOVE) -> Crowd:
    return crowd_of(sound(scene_of(pieces))[0], view)


def hidden(one: Crowd) -> list[bool]:
    answer: list[bool] = one.lids.hide(one.low, one.high, SLACK_MM).tolist()
    return answer


def test_what_lies_well_inside_behind_a_plate_is_hidden_and_what_looks_out_is_not() -> None:
    plate = at(box(100, 100, 5), 0, 0, 50)
    assert hidden(crowd(plate, at(box(10, 10, 10), 40, 40, 0), at(box(10, 10, 10), 95, 40, 0))) == [
        False, True, False,
    ]  # fmt: skip


def test_nothing_is_hidden_behind_a_hole_or_a_ghost() -> None:
    holed = solid_from(Manifold.cube((100, 100, 5)) - Manifold.cylinder(20, 12).translate((50, 50, -5)))
    small = at(box(10, 10, 10), 45, 45, 0)
    assert hidden(crowd(at(holed, 0, 0, 50), small)) == [False, False]
    assert hidden(crowd(at(box(100, 100, 5), 0, 0, 50, role=GHOST), small)) == [False, False]


def test_what_touches_the_plate_from_behind_is_not_called_hidden_by_less_than_the_slack() -> None:
    plate = at(box(100, 100, 5), 0, 0, 50)
    just_below = at(box(10, 10, 0.02), 40, 40, 54.97)
    assert hidden(crowd(plate, just_below)) == [False, False]


@pytest.mark.slow
@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_no_piece_that_is_seen_is_called_hidden(seed: int) -> None:
    chance = np.random.default_rng(seed)
    plates = [at(box(*chance.uniform((20, 20, 1), (90, 90, 6))), *chance.uniform(0, 60, 3)) for _ in range(4)]
    small = [at(box(4, 4, 4), *chance.uniform(0, 90, 3), id=f"small {n}") for n in range(30)]
    view = View(tuple(chance.uniform((-1, -1, -1), (1, 1, -0.2))))
    scene = scene_of([*plates, *small])
    one = crowd_of(sound(scene)[0], view)
    by_rays = draw(scene, view)
    for flag, part in zip(hidden(one), by_rays.parts, strict=True):
        assert not (flag and part.visible_mm > 0)


@pytest.mark.slow
@pytest.mark.parametrize("view", [ISOMETRIC, View((-0.4, 1.0, -0.5))])
def test_lids_never_lie_nearer_than_the_faces_that_make_them(view: View) -> None:
    one = crowd_of(sound(larch_step(25))[0], view)
    corners, _ = one.fronts(np.flatnonzero(one.solid))
    lid = one.lids.levels[0]
    rows, columns = np.nonzero(np.isfinite(lid))
    assert len(rows) > 500
    some = np.random.default_rng(1).choice(len(rows), 60, replace=False)
    for row, column in zip(rows[some].tolist(), columns[some].tolist(), strict=True):
        for dx, dy in ((0.02, 0.02), (0.98, 0.5), (0.5, 0.98)):
            x, y = one.lids.low + (np.array([column + dx, row + dy])) * one.lids.step
            assert depth_at(corners, x, y) <= lid[row, column] + 1e-9


def depth_at(corners: np.ndarray, x: float, y: float) -> float:
    """The nearest depth of triangles (n, 3, 3) at a point, by asking each."""
    off = corners[:, :, :2] - (x, y)
    after = np.roll(off, -1, axis=1)
    turn = off[:, :, 0] * after[:, :, 1] - off[:, :, 1] * after[:, :, 0]
    over = ((turn >= -1e-9).all(axis=1) | (turn <= 1e-9).all(axis=1)) & (np.abs(turn.sum(axis=1)) > 1e-9)
    weights = np.roll(turn[over], -1, axis=1) / turn[over].sum(axis=1)[:, None]
    return float((weights * corners[over, :, 2]).sum(axis=1).min(initial=np.inf))


def test_the_flat_faces_of_a_box_are_its_six_sides() -> None:
    flats = flats_of(box(10, 20, 30))
    assert sorted(map(tuple, np.rint(flats.normals).tolist())) == sorted(
        [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]
    )
    assert np.bincount(flats.face).tolist() == [4] * 6


def test_a_round_has_no_large_flat_face_but_its_ends() -> None:
    flats = flats_of(cylinder(20, 60, 7000))
    assert np.rint(flats.normals[:, 2]).tolist() in ([1, -1], [-1, 1])
    assert len(flats_of(sphere(30)).normals) == 0


def test_a_mesh_with_an_edge_of_three_faces_covers_nothing() -> None:
    points = np.array([[0, 0, 0], [90, 0, 0], [0, 90, 0], [90, 90, 0], [45, 45, 60]], dtype=float)
    fan = mesh(points, np.array([[0, 1, 2], [1, 3, 2], [1, 2, 4]]))
    assert len(find_flats(edges_of(fan)).normals) == 0
