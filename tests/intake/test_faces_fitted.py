"""Free surfaces that are plain ones are seen through; others stay free."""

from __future__ import annotations

import math

import numpy as np
import pytest

from intake.made_step import as_splines, box, shape_of, some_placement, turned
from trysquare.ground.placement import Array, cross
from trysquare.intake.bodies import FaceKind
from trysquare.intake.faces_fitted import fitted
from trysquare.solid.brep_bodies import cylinder, less, spun

PLACED = some_placement(8)


def on_cone(low_radius: float, high_radius: float, sweep: float, *, hollow: bool) -> tuple[Array, Array]:
    """Points and outward normals of a cone or cylinder, 10 long, about a placed axis."""
    angles, heights = np.meshgrid(np.linspace(0, sweep, 9), np.linspace(0, 10, 5))
    radii = low_radius + (high_radius - low_radius) * heights / 10
    points = np.stack([radii * np.cos(angles), radii * np.sin(angles), heights], axis=-1).reshape(-1, 3)
    slope = math.atan2(high_radius - low_radius, 10)
    flat = np.stack([np.cos(angles), np.sin(angles), 0 * angles], axis=-1).reshape(-1, 3)
    normals = flat * math.cos(slope) - np.array([0, 0, 1]) * math.sin(slope)
    return PLACED.point(points), PLACED.direction(normals) * (-1 if hollow else 1)


@pytest.mark.parametrize("hollow", [False, True])
@pytest.mark.parametrize("sweep", [2 * math.pi, math.pi, 0.5])
def test_a_cylinder_is_found_with_axis_radius_and_side(sweep: float, hollow: bool) -> None:
    found = fitted(*on_cone(3, 3, sweep, hollow=hollow))
    assert found["kind"] is FaceKind.CYLINDER
    assert found["radius_mm"] == pytest.approx(3, abs=1e-6)
    assert found["hollow"] is hollow
    axis = PLACED.turn[:, 2]
    assert np.linalg.norm(cross(found["direction"], axis)) < 1e-6
    assert np.linalg.norm(cross(found["origin_mm"] - PLACED.origin_mm, axis)) < 1e-5
    assert found["high_mm"] - found["low_mm"] == pytest.approx(10, abs=1e-6)
    assert found["sweep_rad"] == pytest.approx(sweep, abs=1e-6)


@pytest.mark.parametrize("hollow", [False, True])
def test_a_cone_is_found_and_its_axis_points_to_where_it_grows(hollow: bool) -> None:
    found = fitted(*on_cone(2, 6, 2 * math.pi, hollow=hollow))
    assert found["kind"] is FaceKind.CONE
    assert found["hollow"] is hollow
    assert float(found["direction"] @ PLACED.turn[:, 2]) == pytest.approx(1, abs=1e-9)
    assert (found["second_radius_mm"], found["radius_mm"]) == pytest.approx((2, 6), abs=1e-6)
    assert found["half_angle_rad"] == pytest.approx(math.atan2(4, 10), abs=1e-6)


def test_a_wavy_surface_stays_free() -> None:
    points, normals = on_cone(3, 3, 2 * math.pi, hollow=False)
    assert fitted(points * [1, 1.1, 1], normals) == {}


@pytest.mark.slow
def test_a_solid_of_splines_has_the_faces_of_the_plain_one() -> None:
    ring = spun([(2.0, 0.0), (5.0, 0.0), (4.0, 3.0), (2.0, 3.0)])
    for solid in (ring, less(box(20, 20, 6), [cylinder(5, -1, 7)])):
        plain, splines = (shape_of(turned(each, 3)) for each in (solid, as_splines(solid)))
        kinds = [
            sorted((face.kind, face.hollow, round(face.radius_mm, 4)) for face in each.faces)
            for each in (plain, splines)
        ]
        assert kinds[0] == kinds[1]
