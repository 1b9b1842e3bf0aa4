"""Shapers: the published closed forms, what they leave, and the robust one beside brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.signal import lsim, lti

from trysquare.tuning.shaping import (
    Shaper,
    Swing,
    holds_within,
    no_shaper,
    residual,
    robust,
    shortest_robust,
    smoothing_of,
    worst_residual,
    zv,
    zvd,
)


def brute_force(swing: Swing, error: float, seconds: float, steps: int) -> float:
    """The least worst residual of three impulses over a grid of places and amplitudes, written out."""
    least = math.inf
    bands = [swing.hz * (1 + error * part / 15) for part in range(-15, 16)]
    for place in range(1, steps):
        at = (0.0, seconds * place / steps, seconds)
        for first in np.arange(0.0, 0.61, 0.01):
            for last in np.arange(0.0, 0.61, 0.01):
                if first + last > 1:
                    continue
                worst = 0.0
                for hz in bands:
                    omega = 2 * math.pi * hz
                    turn = omega * math.sqrt(1 - swing.damping**2)
                    cosine = sine = 0.0
                    for share, second in zip((first, 1 - first - last, last), at, strict=True):
                        size = share * math.exp(swing.damping * omega * (second - seconds))
                        cosine += size * math.cos(turn * second)
                        sine += size * math.sin(turn * second)
                    worst = max(worst, math.hypot(cosine, sine))
                    if worst >= least:
                        break
                least = min(least, worst)
    return least


@pytest.mark.parametrize("damping", [0.0, 0.02, 0.1, 0.3])
@pytest.mark.parametrize("make", [zv, zvd])
def test_nothing_is_left_at_the_right_frequency(make: object, damping: float) -> None:
    shaper = make(47.0, damping)  # type: ignore[operator]
    assert residual(shaper, np.array([47.0]), damping)[0] == pytest.approx(0, abs=1e-14)
    assert float(shaper.amplitudes.sum()) == pytest.approx(1, abs=1e-15)


def test_the_second_shaper_also_leaves_no_slope() -> None:
    near = np.array([47.0 - 1e-4, 47.0 + 1e-4])
    assert residual(zvd(47.0, 0.05), near, 0.05).max() < 1e-9
    assert residual(zv(47.0, 0.05), near, 0.05).max() > 1e-6


def test_no_shaper_leaves_all() -> None:
    assert residual(no_shaper(), np.array([10.0, 90.0]), 0.1) == pytest.approx(np.ones(2))


@pytest.mark.slow
@pytest.mark.parametrize("off", [0.85, 1.0, 1.1])
def test_the_residual_is_what_scipy_s_simulation_leaves(off: float) -> None:
    # Source: scipy.signal.lsim of a mass on a spring, driven by shaped and unshaped steps.
    hz, damping = 40.0, 0.06
    omega = 2 * math.pi * hz * off
    system = lti([omega**2], [1, 2 * damping * omega, omega**2])
    time = np.arange(0, 0.3, 1e-5)
    shaper = zv(hz, damping)

    def energy(shaped: Shaper) -> float:
        """Size of the swing about its end at the last impulse, from place and speed, not damped back."""
        drive = np.zeros(len(time))
        for at, share in zip(shaped.times_second, shaped.amplitudes, strict=True):
            drive += share * (time >= at)
        _, place, state = lsim(system, drive, time, interp=False)
        index = int(np.searchsorted(time, shaper.seconds + 0.004))
        x, v = place[index] - 1, np.gradient(place, time)[index]
        turn = omega * math.sqrt(1 - damping**2)
        assert state is not None
        return math.hypot(x, (v + damping * omega * x) / turn)

    # Unshaped, the swing begins at 0; the published residual counts it from the last impulse on.
    found = energy(shaper) / energy(no_shaper())
    published = float(residual(shaper, np.array([hz * off]), damping)[0])
    assert found == pytest.approx(published * math.exp(damping * omega * shaper.seconds), abs=0.004)


@pytest.mark.slow
@pytest.mark.parametrize(("damping", "error", "periods"), [(0.05, 0.1, 1.0), (0.02, 0.2, 0.9)])
def test_the_robust_shaper_is_within_one_percent_of_brute_force(
    damping: float, error: float, periods: float
) -> None:
    swing = Swing(hz=50.0, damping=damping)
    found = worst_residual(robust([swing], error, periods / 50), [swing], error)
    assert found <= 1.01 * brute_force(swing, error, periods / 50, 12)


@pytest.mark.slow
def test_the_robust_shaper_serves_two_swings_at_once() -> None:
    swings = [Swing(hz=38.0, damping=0.05), Swing(hz=64.0, damping=0.03, weight=0.5)]
    shaper = shortest_robust(swings, 0.1, 0.05)
    assert worst_residual(shaper, swings, 0.1) <= 0.0501
    assert float(shaper.amplitudes.sum()) == pytest.approx(1)
    assert float(shaper.amplitudes.min()) >= 0
    assert shaper.seconds <= 2 / 38.0 * 1.01


@pytest.mark.slow
def test_the_shortest_robust_shaper_is_shorter_than_one_that_holds_more() -> None:
    swing = [Swing(hz=50.0, damping=0.05)]
    narrow, wide = shortest_robust(swing, 0.05, 0.05), shortest_robust(swing, 0.25, 0.05)
    assert narrow.seconds < wide.seconds
    assert narrow.seconds < zvd(50.0, 0.05).seconds


def test_a_shaper_holds_where_its_residual_says() -> None:
    swing = Swing(hz=50.0, damping=0.0)
    low, high = holds_within(zv(50.0, 0.0), swing, 0.05)
    # |cos(π/2 · f/f0)| = 0.05 at f/f0 = 1 ± 0.03184. Source: Singer and Seering 1990, undamped.
    edge = 1 - math.acos(0.05) / (math.pi / 2)
    assert low == pytest.approx(edge, abs=1e-3)
    assert high == pytest.approx(edge, abs=1e-3)


def test_smoothing_is_what_a_shaped_path_shows() -> None:
    shaper = zvd(40.0, 0.05)
    at, acceleration = 0.5, 1000.0
    path = sum(
        share * acceleration * (at - second) ** 2 / 2
        for share, second in zip(shaper.amplitudes.tolist(), shaper.times_second.tolist(), strict=True)
    )
    late = acceleration * (at - shaper.delay_second) ** 2 / 2
    smoothing = smoothing_of(shaper, [Swing(hz=40.0, damping=0.05)], 0.1, path_mm=0.1)
    assert smoothing.behind_mm_at_1000 == pytest.approx(path - late, rel=1e-9)
    assert smoothing.acceleration_for_path == pytest.approx(1000 * 0.1 / (path - late), rel=1e-9)


def test_an_unshaped_move_is_limited_by_its_swing_alone() -> None:
    smoothing = smoothing_of(no_shaper(), [Swing(hz=40.0, damping=0.05)], 0.0, swing_mm=0.02)
    assert smoothing.acceleration_for_path == math.inf
    assert smoothing.acceleration == pytest.approx(0.02 * (2 * math.pi * 40) ** 2 / 2)
