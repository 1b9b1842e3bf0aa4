"""The motor's torque against a simulation of its two windings in time, and by hand where a hand can."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from trysquare.tuning.motor import (
    Load,
    Motor,
    copper_watt,
    corner_radian_per_second,
    current_for_celsius,
    highest_speed_mm_per_second,
    microstep_newton_metre,
    needed_newton_metre,
    pull_out_newton_metre,
)

MOTOR = Motor(
    resistance_ohm=1.6,
    inductance_millihenry=3.0,
    rated_ampere=1.5,
    holding_newton_metre=0.4,
    rotor_gram_cm2=54,
)


def simulated(speed: float, volt: float, load_angle: float) -> tuple[float, float]:
    """Mean torque and crest of the current of two windings fed with sines, stepped in time."""
    turn = MOTOR.pole_pairs * speed
    inductance, k = MOTOR.inductance_millihenry * 1e-3, MOTOR.torque_constant

    def rates(t: float, current: np.ndarray) -> np.ndarray:
        angle = turn * t
        fed = volt * np.array([math.cos(angle + load_angle), math.sin(angle + load_angle)])
        induced = k * speed * np.array([math.cos(angle), math.sin(angle)])
        return np.asarray((fed - induced - MOTOR.resistance_ohm * current) / inductance)

    settled = 14 * inductance / MOTOR.resistance_ohm
    period = 2 * math.pi / turn
    times = settled + period * np.arange(64) / 64
    run = solve_ivp(rates, (0, float(times[-1])), [0.0, 0.0], t_eval=times, rtol=1e-6, atol=1e-8)
    torque = k * (run.y[0] * np.cos(turn * times) + run.y[1] * np.sin(turn * times))
    return float(torque.mean()), float(np.hypot(*run.y).max())


@pytest.mark.slow
@pytest.mark.parametrize("speed", [60.0, 130.0, 240.0])
def test_beyond_the_corner_no_load_angle_pulls_more_than_is_said(speed: float) -> None:
    # Source: our own simulation of the windings' differential equations
    volt = 24.0
    crest = math.sqrt(2) * MOTOR.rated_ampere
    best = 0.0
    for load_angle in np.radians(np.arange(2, 178, 6)):
        torque, current = simulated(speed, volt, float(load_angle))
        # Where the driver would limit the current it lowers the voltage: that is not what is simulated.
        if current <= crest:
            best = max(best, torque)
    found = float(pull_out_newton_metre(MOTOR, volt, MOTOR.rated_ampere, np.array([speed]))[0])
    assert best <= found * (1 + 1e-6)
    assert best == pytest.approx(found, rel=0.03)  # the angles stand 6° apart


def test_standing_still_it_pulls_what_the_data_sheet_says() -> None:
    found = pull_out_newton_metre(MOTOR, 24.0, 1.5, np.array([0.0]))
    assert found[0] == pytest.approx(0.4)
    assert pull_out_newton_metre(MOTOR, 24.0, 0.75, np.array([0.0]))[0] == pytest.approx(0.2)


def test_up_to_the_corner_the_torque_is_whole_and_then_falls() -> None:
    corner = corner_radian_per_second(MOTOR, 24.0, 1.5)
    speeds = corner * np.array([0.5, 0.999, 1.05, 2.0, 4.0])
    found = pull_out_newton_metre(MOTOR, 24.0, 1.5, speeds)
    assert found[:2] == pytest.approx([0.4, 0.4])
    assert (np.diff(found[1:]) < 0).all()


def test_the_corner_by_hand() -> None:
    # by hand: crest 2.1213 A, k = 0.18856; (3.3941 + 0.18856 w)² + (0.31820 w)² = 24²:
    # at 59.727 rad/s 214.8 + 361.2
    assert corner_radian_per_second(MOTOR, 24.0, 1.5) == pytest.approx(59.727, abs=1e-3)


def test_a_supply_too_weak_for_the_current_has_no_corner() -> None:
    assert corner_radian_per_second(MOTOR, 3.0, 1.5) == 0


def test_the_torque_of_a_belt_load_by_hand() -> None:
    # by hand: 0.5 kg at 3 m/s² and 1 N drag are 2.5 N on 6.366 mm: 15.9 mN·m; the rotor 5.4e-6 · 471.2: 2.54
    load = Load(travel_mm=40, moving_gram=500, acceleration_mm_per_s2=3000, drag_newton=1)
    assert needed_newton_metre(MOTOR, load) == pytest.approx(0.015915 + 0.002545, abs=2e-6)


def test_one_motor_of_a_crossed_pair_does_the_work_of_the_diagonal() -> None:
    # Source: ledger motion.csv MOT-027: on the diagonal one motor runs √2 as fast as the head
    load = Load(travel_mm=40, moving_gram=500, acceleration_mm_per_s2=3000, crossed=True)
    still = Motor(resistance_ohm=1, inductance_millihenry=1, rated_ampere=1, holding_newton_metre=1)
    speed = load.shaft_radian_per_second(100.0)
    assert speed * 40 / (2 * math.pi) == pytest.approx(141.4213562, abs=1e-6)
    assert needed_newton_metre(still, load) * speed == pytest.approx(1.5 * 0.1)  # force times speed: N · m/s


def test_the_highest_speed_is_where_the_reserve_ends() -> None:
    load = Load(travel_mm=40, moving_gram=500, acceleration_mm_per_s2=3000)
    top = highest_speed_mm_per_second(MOTOR, load, 24.0, 1.0)
    pulls = pull_out_newton_metre(MOTOR, 24.0, 1.0, np.array([load.shaft_radian_per_second(top)]))
    assert pulls[0] == pytest.approx(2 * needed_newton_metre(MOTOR, load))
    assert highest_speed_mm_per_second(MOTOR, load, 12.0, 1.0) < top


def test_a_load_beyond_the_motor_has_no_speed() -> None:
    load = Load(travel_mm=40, moving_gram=90_000, acceleration_mm_per_s2=3000)
    assert highest_speed_mm_per_second(MOTOR, load, 24.0, 1.0) == 0


def test_warmth_goes_with_the_square_of_the_current() -> None:
    # by hand: half the rise by the root of a half of the current
    assert current_for_celsius(1.2, 82, 52, 22) == pytest.approx(1.2 / math.sqrt(2))
    assert copper_watt(MOTOR, 1.5) == pytest.approx(7.2)
    with pytest.raises(ValueError, match="warmer"):
        current_for_celsius(1.2, 20, 52, 22)


def test_a_sixteenth_of_a_step_holds_a_tenth_of_the_torque() -> None:
    # Source: sin(90° / 16) = 0.0980
    assert microstep_newton_metre(MOTOR, 1.5, 16) == pytest.approx(0.0980 * 0.4, abs=5e-5 * 0.4)
