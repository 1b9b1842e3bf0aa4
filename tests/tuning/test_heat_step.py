"""A heater's answer: fitted to data that other programs made."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.signal import TransferFunction, lsim

from trysquare.tuning.heat_relay import swing_of
from trysquare.tuning.heat_step import HeatRecord, NoResponse, fit_heat

Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]
GAIN, LAG, DEAD, ROOM = 2.0, 250.0, 12.0, 21.5


def stepped(noise_kelvin: float = 0.1, seconds: float = 1200.0, percent: float = 40.0) -> HeatRecord:
    """A step after 20 s, integrated by scipy's own solver."""
    times = np.arange(0.0, seconds)
    late = 20.0 + DEAD
    grown = solve_ivp(
        lambda t, y: [(ROOM + GAIN * percent * (t >= late) - y[0]) / LAG],
        (0, seconds), [ROOM], t_eval=times, max_step=0.5, rtol=1e-8,
    ).y[0]  # fmt: skip
    return HeatRecord(
        time_second=times,
        power_percent=np.where(times >= 20, percent, 0.0),
        temperature_celsius=grown + noise_kelvin * np.random.default_rng(3).standard_normal(len(times)),
    )


def switched(at_celsius: float = 60.0, seconds: float = 900.0) -> HeatRecord:
    """On and off at a temperature, stepped by Euler's rule with a queue for the dead time."""
    step = 0.05
    waiting = [0.0] * round(DEAD / step)
    now, rows = ROOM, []
    for index in range(round(seconds / step)):
        power = 100.0 if now < at_celsius and index > 100 else 0.0
        waiting.append(power)
        if index % 10 == 0:
            rows.append((index * step, power, now))
        now += step * (ROOM + GAIN * waiting.pop(0) - now) / LAG
    table = np.array(rows)
    return HeatRecord(time_second=table[:, 0], power_percent=table[:, 1], temperature_celsius=table[:, 2])


def test_a_step_gives_back_gain_lag_and_dead_time_within_their_uncertainty() -> None:
    # Source: data of scipy.integrate.solve_ivp
    model = fit_heat(stepped())
    for found, true in ((model.gain, GAIN), (model.time_constant, LAG), (model.dead_time, DEAD)):
        assert abs(found.value - true) < max(3 * found.standard_uncertainty, 0.003 * true)
    assert model.ambient_celsius == pytest.approx(ROOM, abs=0.05)
    assert not model.poor
    assert not model.short


def test_a_step_made_by_lsim_gives_the_same_model() -> None:
    # Source: scipy.signal.lsim of gain / (lag s + 1), its input shifted by the dead time
    times = np.arange(0, 1500, 0.5)
    power = np.where(times >= 60, 55.0, 0.0)
    late = np.where(times >= 60 + DEAD, 55.0, 0.0)
    _, rise, _ = lsim(TransferFunction([GAIN], [LAG, 1]), late, times, interp=False)
    model = fit_heat(HeatRecord(time_second=times, power_percent=power, temperature_celsius=ROOM + rise))
    assert model.gain.value == pytest.approx(GAIN, rel=1e-3)
    assert model.time_constant.value == pytest.approx(LAG, rel=1e-3)
    assert model.dead_time.value == pytest.approx(DEAD, abs=0.5)


def test_a_record_that_begins_warm_and_switches_off_is_fitted_too() -> None:
    times = np.arange(0.0, 1500.0)
    power = np.where(times < 30, 50.0, 0.0)
    falls = ROOM + 50 * GAIN * np.where(times > 42, np.exp(-(times - 42) / LAG), 1.0)
    model = fit_heat(HeatRecord(time_second=times, power_percent=power, temperature_celsius=falls))
    assert model.gain.value == pytest.approx(GAIN, rel=0.01)
    assert model.time_constant.value == pytest.approx(LAG, rel=0.01)


def test_a_record_stopped_early_says_so_and_is_less_sure() -> None:
    short, whole = fit_heat(stepped(seconds=200)), fit_heat(stepped())
    assert short.short
    assert short.gain.expanded > 10 * whole.gain.expanded


def test_cycles_of_a_switch_are_fitted_as_one_record() -> None:
    # Source: own integration by Euler's rule
    model = fit_heat(switched())
    assert model.switches > 4
    assert not model.short
    assert model.gain.value == pytest.approx(GAIN, rel=0.05)
    assert model.dead_time.value == pytest.approx(DEAD, abs=1.0)


def test_cycles_that_begin_with_the_power_on_at_room_temperature_are_fitted_too() -> None:
    # Source: own integration by Euler's rule
    whole = switched()
    on = whole.power_percent.argmax()
    late = HeatRecord(
        time_second=whole.time_second[on:],
        power_percent=whole.power_percent[on:],
        temperature_celsius=whole.temperature_celsius[on:],
    )
    model = fit_heat(late)
    assert late.power_percent[0] == 100
    assert model.rest_percent == 0
    assert model.gain.value == pytest.approx(GAIN, rel=0.05)
    assert model.dead_time.value == pytest.approx(DEAD, abs=1.0)
    assert model.ambient_celsius == pytest.approx(ROOM, abs=0.5)


def test_a_record_that_begins_on_the_way_is_fitted_too() -> None:
    # Source: the equation's own solution, T = room + K·P + (T0 − room − K·P)·exp(−t/lag), any text on control
    times = np.arange(0.0, 1500.0)
    power = np.where(times < 300, 60.0, 90.0)
    early = ROOM + GAIN * 60 + (36.9 - ROOM - GAIN * 60) * np.exp(-times / LAG)
    at = 300 + DEAD
    there = ROOM + GAIN * 60 + (36.9 - ROOM - GAIN * 60) * np.exp(-at / LAG)
    later = ROOM + GAIN * 90 + (there - ROOM - GAIN * 90) * np.exp(-(times - at) / LAG)
    read = np.where(times < at, early, later) + 0.05 * np.random.default_rng(4).standard_normal(len(times))
    model = fit_heat(HeatRecord(time_second=times, power_percent=power, temperature_celsius=read))
    assert model.gain.value == pytest.approx(GAIN, rel=0.01)
    assert model.time_constant.value == pytest.approx(LAG, rel=0.01)
    assert model.ambient_celsius == pytest.approx(ROOM, abs=0.5)
    assert model.noise_kelvin < 0.1


def test_the_swing_s_gain_is_near_the_one_at_which_the_loop_turns_unstable() -> None:
    # Source: phase condition lag·ω → atan(ω T) + ω L = π, solved here; the describing function is known to
    # err by some tens of per cent on a first-order heater (Åström and Hägglund 1984, from memory)
    swing = swing_of(switched(120, 1800))
    assert swing is not None
    assert swing.even
    turn = brentq(lambda w: math.atan(w * LAG) + w * DEAD - math.pi, 1e-4, math.pi / DEAD)
    assert swing.ultimate_gain == pytest.approx(math.hypot(1, turn * LAG) / GAIN, rel=0.25)
    assert swing.period_second == pytest.approx(2 * math.pi / turn, rel=0.02)


def test_a_swing_that_is_mostly_off_is_known_as_lopsided() -> None:
    swing = swing_of(switched(60))
    assert swing is not None
    assert not swing.even


def test_a_step_has_no_swing() -> None:
    assert swing_of(stepped()) is None


@pytest.mark.parametrize(
    ("power", "temperature", "says"),
    [
        (lambda t: 0 * t + 30, lambda t: 20 + t / 50, "stays at 30 %"),
        (lambda t: 50.0 * (t > 20), lambda t: 20 + 0 * t, "moves by 0.0 K only"),
        (lambda t: 50.0 * (t > 20), lambda t: 80 - 50 * (1 - np.exp(-np.maximum(t - 25, 0) / 40)), "falls"),
        (lambda t: 100.0 * (np.arange(len(t)) % 2), lambda t: 20 + t / 10, "changes"),
    ],
)  # fmt: skip
def test_what_tells_nothing_is_refused_in_words(power: Curve, temperature: Curve, says: str) -> None:
    times = np.arange(0.0, 600.0)
    record = HeatRecord(time_second=times, power_percent=power(times), temperature_celsius=temperature(times))
    with pytest.raises(NoResponse, match=says):
        fit_heat(record)
