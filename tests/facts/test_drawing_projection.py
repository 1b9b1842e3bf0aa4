"""Projections and outlines against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from drawn_bodies import ABOVE, at, cylinder, sphere, torus
from trysquare.ground.placement import Array
from trysquare.solid.drawing import ISOMETRIC, NEW, Drawing, View, draw, scene_of
from trysquare.solid.drawing.regions import loop_area


def outline_of(drawing: Drawing) -> Array:
    return np.concatenate(
        [line.points_mm for part in drawing.parts for line in part.lines if line.sort == "outline"]
    )


def area_of(drawing: Drawing) -> float:
    return abs(sum(loop_area(loop) for part in drawing.parts for loop in part.region))


def test_an_isometric_view_shortens_all_three_axes_by_the_root_of_two_thirds() -> None:
    # Equation: an axis shortens by the cosine of its angle to the paper; cos(asin(1/√3)) = √(2/3).
    seen = ISOMETRIC.project(np.eye(3))
    assert np.linalg.norm(seen[:, :2], axis=1) == pytest.approx([math.sqrt(2 / 3)] * 3, abs=1e-12)


def test_an_isometric_view_sets_the_axes_120_degrees_apart() -> None:
    to_the_eye = np.diag([-1.0, -1.0, 1.0])
    seen = ISOMETRIC.project(to_the_eye)[:, :2]
    angles = sorted(math.degrees(math.atan2(y, x)) % 360 for x, y in seen)
    assert np.diff(angles) == pytest.approx([120, 120])


def test_right_and_up_on_paper_are_not_mirrored() -> None:
    from_the_front = View((0.0, 1.0, 0.0))
    x, y, z = from_the_front.project(np.eye(3))
    assert x[:2] == pytest.approx([1, 0])  # right
    assert z[:2] == pytest.approx([0, -1])  # up, and paper y runs down
    assert y[2] == pytest.approx(1)  # away from the eye


@pytest.mark.slow
@pytest.mark.parametrize("direction", [(1, 1, -1), (0.2, 1, -0.4), (0, 1, 0)])
def test_a_sphere_has_a_round_outline_of_its_own_radius(direction: tuple[float, float, float]) -> None:
    drawing = draw(scene_of([at(sphere(20), 0, 0, 0, role=NEW)]), View(direction))
    radius = np.linalg.norm(outline_of(drawing), axis=1)
    # 256 flats: the chords of an inscribed sphere lie up to 1 − cos(π/256)² inside, and thinning 0.02 more
    assert radius.max() == pytest.approx(20, abs=0.01)
    assert radius.min() > 20 - 0.05
    assert area_of(drawing) == pytest.approx(math.pi * 400, rel=2e-3)


@pytest.mark.parametrize("degrees", [20, 35.264, 60])
def test_a_cylinder_covers_two_half_ellipses_and_a_rectangle(degrees: float) -> None:
    # Equation: seen at an angle to its axis, 2·r·h·sin + π·r²·cos; its outline is 2r wide.
    radius, height, angle = 15.0, 40.0, math.radians(90 - degrees)
    view = View((0, math.sin(angle), -math.cos(angle)))
    drawing = draw(scene_of([at(cylinder(radius, height), 0, 0, 0, role=NEW)]), view)
    expected = 2 * radius * height * math.sin(angle) + math.pi * radius**2 * math.cos(angle)
    assert area_of(drawing) == pytest.approx(expected, rel=1e-3)
    wide, tall = drawing.size_mm
    assert wide == pytest.approx(2 * radius, abs=0.02)
    assert tall == pytest.approx(height * math.sin(angle) + 2 * radius * math.cos(angle), abs=0.02)


def test_a_cylinder_shows_its_near_rim_whole_and_half_of_the_far_one() -> None:
    angle = math.radians(50)
    view = View((0, math.sin(angle), -math.cos(angle)))
    part = draw(scene_of([at(cylinder(10, 30), 0, 0, 0)]), view).parts[0]
    length = {
        sort: sum(
            float(np.linalg.norm(np.diff(line.points_mm, axis=0), axis=1).sum())
            for line in part.lines
            if line.sort == sort
        )
        for sort in ("outline", "crease")
    }
    # Source: S. Ramanujan's second approximation of an ellipse's perimeter (1914), here good to 1e-6.
    a, b = 10.0, 10.0 * math.cos(angle)
    h = ((a - b) / (a + b)) ** 2
    ellipse = math.pi * (a + b) * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
    assert length["crease"] == pytest.approx(ellipse / 2, rel=0.01)  # the near half of the upper rim
    assert length["outline"] == pytest.approx(ellipse + 2 * 30 * math.sin(angle), rel=0.01)


def test_a_torus_from_above_has_two_round_outlines() -> None:
    drawing = draw(scene_of([at(torus(30, 8), 0, 0, 0, role=NEW)]), ABOVE)
    radius = np.sort(np.linalg.norm(outline_of(drawing), axis=1))
    assert radius[0] == pytest.approx(22, abs=0.05)
    assert radius[-1] == pytest.approx(38, abs=0.05)
    assert area_of(drawing) == pytest.approx(4 * math.pi * 30 * 8, rel=2e-3)


@pytest.mark.slow
def test_a_tilted_torus_has_the_parallel_curves_of_an_ellipse_as_outline() -> None:
    # Equation: a torus is a ball rolled round a circle, and every ball shows a circle of radius r: the
    # outline is the curve at distance r from the circle's image, an ellipse with half axes R and R·|cos|.
    ring, tube, angle = 30.0, 6.0, math.radians(40)
    view = View((0, math.sin(angle), -math.cos(angle)))
    drawing = draw(scene_of([at(torus(ring, tube, 480, 240), 0, 0, 0)]), view)
    turns = np.linspace(0, 2 * math.pi, 20_000)
    ellipse = np.stack([ring * np.cos(turns), ring * math.cos(angle) * np.sin(turns)], axis=1)
    away = [float(np.linalg.norm(ellipse - point, axis=1).min()) for point in outline_of(drawing)[::11]]
    # The outline of a mesh runs along its edges, up to one facet (0.3 mm along, 0.001 mm off the true tube)
    # beside the true one; where the tube looks edge-on that is no more than this.
    assert np.array(away) == pytest.approx(np.full(len(away), tube), abs=0.02)
