"""What the parts say about axes and motors whose faults are known."""

from __future__ import annotations

import numpy as np
import pytest

from trysquare.tuning.drive_crossed import crossed_part, way_seen
from trysquare.tuning.drive_file import Targets
from trysquare.tuning.drive_positions import targets_part
from trysquare.tuning.motor import Load, Motor
from trysquare.tuning.motor_report import (
    TRUSTED_TURNS_PER_MINUTE,
    MotorCase,
    WarmCase,
    torque_part,
    trusted_speed_mm_per_second,
    warmth_part,
)

MOTOR = Motor(
    resistance_ohm=1.6,
    inductance_millihenry=3.0,
    rated_ampere=1.5,
    holding_newton_metre=0.4,
    rotor_gram_cm2=54,
)
LOAD = Load(travel_mm=40, moving_gram=500, acceleration_mm_per_s2=3000)


def case(speed: float | None, volt: float = 24.0, ampere: float = 1.0) -> MotorCase:
    return MotorCase(motor=MOTOR, load=LOAD, volt=volt, ampere=ampere, speed_mm_per_second=speed)


def positions(slope: float, play: float, scatter: float) -> Targets:
    random = np.random.default_rng(5)
    targets = np.linspace(10, 210, 5)
    noise = scatter * random.standard_normal((2, 5, 6))
    up = targets[:, None] * (1 + slope) - play / 2 + noise[0]
    down = targets[:, None] * (1 + slope) + play / 2 + noise[1]
    return Targets(targets_mm=targets, up_mm=up, down_mm=down, left_out=0)


@pytest.mark.parametrize(
    ("slope", "play", "scatter", "word"),
    [(5e-4, 0.005, 0.001, "scale"), (0.0, 0.06, 0.001, "lost motion"), (0.0, 0.001, 0.02, "scatter")],
)
def test_the_largest_share_of_an_error_is_named(slope: float, play: float, scatter: float, word: str) -> None:
    part, _ = targets_part(positions(slope, play, scatter), None, 0.001)
    assert f"Most of it is {word}" in part.says[-1]


@pytest.mark.parametrize(("limit", "verdict"), [(0.2, "good"), (0.05, "bad"), (0.066, "cannot tell")])
def test_accuracy_is_held_against_a_limit_with_its_uncertainty(limit: float, verdict: str) -> None:
    part, _ = targets_part(positions(0.0, 0.06, 0.002), limit, 0.002)
    assert part.verdict == verdict


def test_a_speed_that_no_data_sheet_reaches_is_not_promised() -> None:
    speed = 1.1 * TRUSTED_TURNS_PER_MINUTE / 60 * 40
    part = torque_part(case(speed, volt=60))
    assert part.verdict == "cannot tell"
    assert "turns a minute" in part.says[0]
    assert trusted_speed_mm_per_second(case(None, volt=90)) == pytest.approx(
        40 * TRUSTED_TURNS_PER_MINUTE / 60
    )


def test_more_than_the_rated_current_is_bad_whatever_it_pulls() -> None:
    part = torque_part(case(10.0, ampere=2.0))
    assert part.verdict == "bad"
    assert [code for code, _ in part.doubts] == ["over-rated"]


def test_without_a_thermometer_nothing_is_called_good() -> None:
    part = warmth_part(WarmCase(rated_ampere=1.5, ampere=None, case_celsius=None))
    assert part.verdict == "told"
    assert part.main is not None
    assert part.main.value == pytest.approx(1.05)


def test_a_sensible_current_is_never_above_the_rated_one() -> None:
    part = warmth_part(WarmCase(rated_ampere=1.5, ampere=1.4, case_celsius=30.0, printed=False))
    assert part.main is not None
    assert part.main.value == 1.5


@pytest.mark.parametrize(
    ("text", "went"),
    [
        ("Right", (1, 0)),
        ("right-back", (1, 1)),
        ("back right", (1, 1)),
        ("−y", (0, -1)),
        ("0, -9.5", (0, -9.5)),
    ],
)
def test_a_way_is_read_from_words_or_millimetres(text: str, went: tuple[float, float]) -> None:
    assert way_seen(text) == went


@pytest.mark.parametrize("text", ["", "up", "1", "nan,1", "1,2,3", "left-right"])
def test_what_is_no_way_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="expected right"):
        way_seen(text)


def test_a_fault_that_no_wiring_makes_stays_open() -> None:
    assert crossed_part(None, ()).verdict == "cannot tell"
