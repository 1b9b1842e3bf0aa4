"""Scale and lost motion of an axis from several travels, and what one travel alone would have hidden."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import linregress

from trysquare.tuning.travel import corrected_per_mm, mistake_of, read_travel

COMMANDED = np.array([20.0, 50, 100, 150, 200])
BELOW = np.zeros(5, dtype=bool)


def test_a_slip_at_the_start_is_an_offset_and_leaves_the_scale_alone() -> None:
    found = read_travel(COMMANDED, COMMANDED - 0.15, BELOW, 0.01)
    assert found.scale.value == pytest.approx(1)
    assert found.offset_mm.value == pytest.approx(-0.15)
    assert found.lost_mm is None


def test_steps_are_corrected_by_the_scale() -> None:
    # Source: ledger motion.csv MOT-012: new = old · commanded / measured
    found = read_travel(COMMANDED, 0.996 * COMMANDED, BELOW, 0.001)
    assert corrected_per_mm(80.0, found.scale).value == pytest.approx(80.3212851, abs=1e-6)


def test_scale_and_offset_agree_with_another_regression() -> None:
    # Source: the package scipy's own regression, stats.linregress
    random = np.random.default_rng(4)
    measured = 1.002 * COMMANDED - 0.1 + 0.05 * random.standard_normal(5)
    found, other = read_travel(COMMANDED, measured, BELOW, 1e-6), linregress(COMMANDED, measured)
    assert found.scale.value == pytest.approx(other.slope)
    assert found.offset_mm.value == pytest.approx(other.intercept)
    student = 3.182446 / 2  # Source: Student's t, 0.975, 3 degrees of freedom, any table: 3.182
    assert found.scale.standard_uncertainty == pytest.approx(student * other.stderr, rel=1e-6)
    assert found.offset_mm.standard_uncertainty == pytest.approx(student * other.intercept_stderr, rel=1e-6)


def test_play_is_what_the_two_sides_differ_by() -> None:
    commanded = np.tile(COMMANDED, 2)
    above = np.repeat([False, True], 5)
    found = read_travel(commanded, 1.001 * commanded + np.where(above, 0.04, -0.04), above, 0.01)
    assert found.lost_mm is not None
    assert found.lost_mm.value == pytest.approx(0.08)
    assert found.scale.value == pytest.approx(1.001)
    assert found.offset_mm.value == pytest.approx(0, abs=1e-9)


def test_the_uncertainty_of_the_scale_holds_the_truth() -> None:
    random = np.random.default_rng(2)
    held = 0
    for _ in range(400):
        noise = 0.02 * random.standard_normal(5)
        found = read_travel(COMMANDED, 1.002 * COMMANDED + noise, BELOW, 1e-6)
        held += abs(found.scale.value - 1.002) <= found.scale.expanded
    assert held / 400 == pytest.approx(0.95, abs=0.035)


@pytest.mark.parametrize("commanded", [[1.0, 2.0], [5.0, 5.0, 5.0]])
def test_too_few_or_equal_travels_are_refused(commanded: list[float]) -> None:
    with pytest.raises(ValueError, match="expected 3 or more"):
        read_travel(np.array(commanded), np.array(commanded), np.zeros(len(commanded), dtype=bool))


@pytest.mark.parametrize(
    ("ratio", "word"),
    [(2.0, "half the microsteps"), (0.8, "16 teeth"), (0.502, "400 steps"), (16.1, "16 times fewer")],
)
def test_a_usual_mistake_is_known_by_its_ratio(ratio: float, word: str) -> None:
    # by hand: a pulley of 16 teeth where 20 are reckoned with moves 16/20
    assert word in mistake_of(ratio)


@pytest.mark.parametrize(
    ("ratio", "screw", "words"),
    [
        (4.0, True, "the screw has 4 starts, not 1"),
        (0.25, True, "the screw has 1 start, not 4"),
        (0.5, None, "half the starts"),
    ],
)
def test_a_screw_of_another_lead_is_known_by_its_ratio(ratio: float, screw: bool | None, words: str) -> None:
    # by hand: lead = pitch × starts; a screw of 8 mm where 2 mm are reckoned with moves four times as far
    assert words in mistake_of(ratio, screw=screw)


def test_no_screw_is_spoken_of_where_a_belt_drives_and_no_pulley_where_a_screw_does() -> None:
    assert "starts" not in mistake_of(4.0, screw=False)
    assert mistake_of(1.25, screw=True) == ""


@pytest.mark.parametrize("ratio", [1.0, 1.004, 0.7])
def test_an_ordinary_error_is_no_mistake_of_counting(ratio: float) -> None:
    assert mistake_of(ratio) == ""
