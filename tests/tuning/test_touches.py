"""Repeated touches of a switch: deviation, drift, and touches that went astray."""

from __future__ import annotations

import numpy as np
import pytest

from trysquare.tuning.touches import look_at_touches


def test_the_bounds_of_the_deviation_hold_the_truth_in_ninety_five_of_a_hundred() -> None:
    random = np.random.default_rng(8)
    held = 0
    for _ in range(400):
        found = look_at_touches(0.01 * random.standard_normal(10))
        held += found.deviation_low_mm <= 0.01 <= found.deviation_high_mm
    assert held / 400 == pytest.approx(0.95, abs=0.035)


def test_a_switch_that_wanders_is_said_to_drift() -> None:
    random = np.random.default_rng(8)
    touches = 0.002 * np.arange(20) + 0.003 * random.standard_normal(20)
    found = look_at_touches(touches)
    assert found.drifts
    assert found.drift_mm == pytest.approx(0.038, abs=found.drift_expanded_mm * 1.5)
    assert found.deviation_mm < 0.006


def test_steady_touches_do_not_drift() -> None:
    random = np.random.default_rng(9)
    said = sum(look_at_touches(0.01 * random.standard_normal(12)).drifts for _ in range(300))
    assert said / 300 < 0.1


def test_a_touch_astray_is_named_and_left_out() -> None:
    touches = 0.001 * np.array([1.0, -2, 0, 3, 1, -1, 250, 0, 2, -1])
    found = look_at_touches(touches)
    assert found.astray == (6,)
    assert found.range_mm < 0.01


def test_the_tolerance_it_serves_is_four_deviations_at_their_upper_bound() -> None:
    # common practice, no source: a deviation of at most a quarter of the tolerance
    found = look_at_touches([0.0, 0.01, -0.01, 0.005, -0.005])
    assert found.tolerance_it_serves_mm == pytest.approx(4 * found.deviation_high_mm)


@pytest.mark.parametrize("touches", [[], [1.0, 2.0], [1.0, float("nan"), 2.0]])
def test_too_few_or_unreadable_touches_are_refused(touches: list[float]) -> None:
    with pytest.raises(ValueError, match="touch"):
        look_at_touches(touches)
