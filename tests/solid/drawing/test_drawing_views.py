from __future__ import annotations

import math

import numpy as np
import pytest

from drawn_bodies import at, box
from trysquare.solid.drawing import (
    DIRECTIONS,
    ISOMETRIC,
    NEW,
    Scene,
    View,
    choose_view,
    draw,
    fitted,
    scene_of,
    visible_shares,
)


def wall_with_part(side: str) -> Scene:
    """A wall across the middle and a small new part on one side of it."""
    x, y = {"front": (0, -30), "back": (0, 30), "left": (-30, 0), "right": (30, 0)}[side]
    across = box(100, 4, 80) if side in ("front", "back") else box(4, 100, 80)
    low = (-50, -2, 0) if side in ("front", "back") else (-2, -50, 0)
    return scene_of([at(across, *low, id="wall"), at(box(8, 8, 8), x - 4, y - 4, 4, id="part", role=NEW)])


@pytest.mark.parametrize("side", ["front", "back", "left", "right"])
def test_the_view_is_from_the_side_where_the_new_part_is(side: str) -> None:
    scene = wall_with_part(side)
    view = choose_view(scene, scene.ids(NEW))
    assert visible_shares(scene, view, ["part"]) == {"part": pytest.approx(1)}
    toward = {"front": (1, 1), "back": (1, -1), "left": (0, 1), "right": (0, -1)}[side]
    assert view.direction[toward[0]] * toward[1] > 0


def test_with_nothing_in_the_way_the_view_is_isometric_from_the_front_above() -> None:
    scene = scene_of([at(box(10, 10, 10), 0, 0, 0, id="part", role=NEW)])
    assert choose_view(scene, ["part"]) == ISOMETRIC


def test_a_view_that_still_shows_the_part_is_kept() -> None:
    scene = wall_with_part("back")
    from_behind = View((1.0, -1.0, -1.0), scale=0.3)
    assert choose_view(scene, ["part"], from_behind) is from_behind


def test_a_view_that_hides_the_part_is_left_and_its_scale_kept() -> None:
    scene = wall_with_part("back")
    view = choose_view(scene, ["part"], View((1.0, 1.0, -0.2), scale=0.3))
    assert view.direction[1] < 0
    assert view.scale == 0.3


def test_a_part_seen_nowhere_does_not_turn_the_machine() -> None:
    shell = [at(box(60, 60, 1), -30, -30, z, id=f"lid {z}") for z in (-30, 30)]
    shell += [at(box(60, 1, 62), -30, y, -31, id=f"wall y {y}") for y in (-30, 30)]
    shell += [at(box(1, 61, 62), x, -30, -31, id=f"wall x {x}") for x in (-31, 30)]
    scene = scene_of([*shell, at(box(8, 8, 8), -4, -4, -4, id="part", role=NEW)])
    previous = View((-1.0, 1.0, -1.0))
    assert choose_view(scene, ["part"], previous).direction == previous.direction


def test_nothing_wanted_keeps_the_view() -> None:
    scene = wall_with_part("front")
    previous = View((-1.0, 1.0, -1.0), scale=2.0)
    assert choose_view(scene, [], previous) is previous
    assert choose_view(Scene(), ["part"]) == ISOMETRIC


def test_shares_agree_with_the_drawing() -> None:
    scene = wall_with_part("back")
    for direction in DIRECTIONS[:4]:
        view = View(direction)
        drawn = draw(scene, view).part["part"].visible_share
        assert visible_shares(scene, view, ["part"])["part"] == pytest.approx(drawn, abs=1e-9)


def test_the_directions_are_the_eight_isometric_ones_and_some() -> None:
    unit = np.array(DIRECTIONS) / np.linalg.norm(DIRECTIONS, axis=1)[:, None]
    isometric = np.abs(np.abs(unit) - math.sqrt(1 / 3)).max(axis=1) < 1e-9
    assert isometric.sum() == 8
    assert len({tuple(np.round(row, 6)) for row in unit}) == len(DIRECTIONS) > 8


def test_a_fitted_drawing_fills_the_paper_one_way() -> None:
    scene = scene_of([at(box(400, 30, 20), 0, 0, 0), at(box(10, 10, 300), 50, 0, 0)])
    drawing = draw(scene, fitted(scene, ISOMETRIC, 160, 120))
    wide, tall = drawing.size_mm
    assert wide == pytest.approx(160) or tall == pytest.approx(120)
    assert wide < 160.001
    assert tall < 120.001


def test_fitting_nothing_keeps_the_scale() -> None:
    assert fitted(Scene(), ISOMETRIC, 100, 100) is ISOMETRIC
