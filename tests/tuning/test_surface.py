"""A bed's map: its plane found through noise and dirt, and turns that level it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.tuning.surface import Screw, dome_mm, fit_plane, look_at_surface, minimum_zone_mm

CORNERS = (
    Screw(name="front left", x_mm=10, y_mm=10, pitch_mm=0.5),
    Screw(name="front right", x_mm=190, y_mm=10, pitch_mm=0.5),
    Screw(name="back", x_mm=100, y_mm=190, pitch_mm=0.5),
)


def grid(count: int = 5) -> np.ndarray:
    x, y = np.meshgrid(np.linspace(10, 190, count), np.linspace(10, 190, count))
    return np.stack([x.ravel(), y.ravel(), np.zeros(count * count)], axis=1)


def test_the_turns_asked_for_make_the_bed_level() -> None:
    points = grid()
    points[:, 2] = 0.4 + 0.002 * points[:, 0] - 0.001 * points[:, 1]
    found = look_at_surface(points, CORNERS)
    lifts = np.array(
        [[screw.x_mm, screw.y_mm, turn.lift_mm] for screw, turn in zip(CORNERS, found.turns, strict=True)]
    )
    lifted = fit_plane(lifts)
    points[:, 2] += [lifted.height_mm(x, y) for x, y, _ in points]
    assert np.ptp(points[:, 2]) == pytest.approx(0, abs=1e-9)


def test_a_clockwise_turn_of_a_right_hand_screw_lowers_the_bed_by_its_pitch() -> None:
    points = grid()
    points[:, 2] = 0.5 * (
        points[:, 1] > 100
    )  # a step, only to have heights; the locked screws hold the front
    high = [Screw(name="back", x_mm=100, y_mm=190, pitch_mm=0.7)]
    locked = [
        Screw(name=one.name, x_mm=one.x_mm, y_mm=one.y_mm, pitch_mm=0.7, locked=True) for one in CORNERS[:2]
    ]
    back = look_at_surface(points, [*locked, *high]).turns[-1]
    assert back.lift_mm < 0
    assert back.turns == pytest.approx(-back.lift_mm / 0.7)


def test_a_left_hand_screw_is_turned_the_other_way() -> None:
    points = grid()
    points[:, 2] = 0.001 * points[:, 0]
    right = look_at_surface(points, CORNERS).turns
    left = look_at_surface(
        points,
        [
            Screw(name=s.name, x_mm=s.x_mm, y_mm=s.y_mm, pitch_mm=s.pitch_mm, right_hand=False)
            for s in CORNERS
        ],
    ).turns
    assert [one.turns for one in left] == pytest.approx([-one.turns for one in right])


def test_a_crumb_on_the_bed_is_named_and_left_out() -> None:
    random = np.random.default_rng(4)
    points = grid(7)
    points[:, 2] = 0.001 * points[:, 0] + 0.008 * random.standard_normal(len(points))
    points[17, 2] += 0.3
    found = look_at_surface(points, CORNERS)
    assert found.dirt == (17,)
    assert found.plane.slope_x == pytest.approx(0.001, abs=1e-4)


def test_a_dome_is_told_as_a_bow() -> None:
    points = grid(7)
    points[:, 2] = -0.2 * (((points[:, 0] - 100) / 90) ** 2 + ((points[:, 1] - 100) / 90) ** 2) / 2
    found = look_at_surface(points, CORNERS, limit_mm=0.1)
    assert found.bow_mm == pytest.approx(0.2, abs=1e-9)
    assert found.dirt == ()
    assert found.rounds in {0, -1}


def test_a_bent_bed_is_never_said_to_come_into_its_limit() -> None:
    points = grid(7)
    points[:, 2] = 0.002 * points[:, 0] + 0.3 * ((points[:, 0] - 100) / 90) ** 2
    assert look_at_surface(points, CORNERS, limit_mm=0.1).rounds == -1


@pytest.mark.slow
@given(
    st.integers(0, 10**6),
    st.floats(-0.01, 0.01),
    st.floats(-0.01, 0.01),
)
def test_turning_the_bed_does_not_change_its_minimum_zone(seed: int, slope_x: float, slope_y: float) -> None:
    points = grid(4)
    points[:, 2] = 0.1 * np.random.default_rng(seed).standard_normal(len(points))
    tilted = points.copy()
    tilted[:, 2] += slope_x * points[:, 0] + slope_y * points[:, 1]
    # A tilt of a hundredth changes lengths by less than a ten-thousandth.
    assert minimum_zone_mm(tilted) == pytest.approx(minimum_zone_mm(points), rel=5e-4)


@pytest.mark.parametrize("points", [np.zeros((3, 2)), np.full((6, 3), np.nan), np.zeros((2, 3))])
def test_what_is_no_map_is_refused(points: np.ndarray) -> None:
    with pytest.raises(ValueError, match=r"shape|number"):
        look_at_surface(points, CORNERS)


@pytest.mark.outside
def test_a_dome_s_height_has_the_uncertainty_that_noise_gives_it() -> None:
    # Source: JCGM 100:2008, H.3: the spread of many fits is the standard uncertainty of one.
    random = np.random.default_rng(2)
    points = grid()
    u, v = (points[:, 0] - 100) / 90, (points[:, 1] - 100) / 90
    found = []
    for _ in range(400):
        points[:, 2] = 0.001 * points[:, 0] - 0.05 * (u * u + v * v) / 2 + 0.01 * random.standard_normal(25)
        found.append(dome_mm(points, 0.01))
    heights = [one.value for one in found]
    # 0.05 mm over half the bed, on both axes: the corners lie that much below the middle.
    assert np.mean(heights) == pytest.approx(0.05, abs=0.002)
    assert np.std(heights) == pytest.approx(found[0].standard_uncertainty, rel=0.12)


def test_places_on_two_lines_tell_no_dome() -> None:
    points = np.array([[x, y, 0.01 * x] for x in range(6) for y in (0, 1)], dtype=np.float64)
    assert dome_mm(points, 0.02).value == 0


@pytest.mark.slow
@pytest.mark.parametrize("count", [3, 4, 5, 7])
def test_clean_maps_have_hardly_any_dirt(count: int) -> None:
    random = np.random.default_rng(7)
    points, found = grid(count), 0
    for _ in range(100):
        points[:, 2] = 0.05 * random.standard_normal(len(points))
        found += bool(look_at_surface(points, ()).dirt)
    assert found <= 5


@pytest.mark.slow
@pytest.mark.parametrize("count", [3, 4, 5, 7])
def test_a_crumb_is_found_on_a_bowed_and_tilted_bed_of_any_grid(count: int) -> None:
    random = np.random.default_rng(8)
    points, found = grid(count), 0
    u, v = (points[:, 0] - 100) / 90, (points[:, 1] - 100) / 90
    for _ in range(60):
        points[:, 2] = 0.01 * random.standard_normal(len(points)) + 0.05 * (u * u + v * v) + 0.1 * u
        crumb = int(random.integers(len(points)))
        points[crumb, 2] += 0.35
        found += look_at_surface(points, ()).dirt == (crumb,)
    assert found >= 53
