"""Scale of an axis from several lengths, and what one length alone would have hidden."""

from __future__ import annotations

import numpy as np
import pytest

from trysquare.tuning.drive import check_scale, move_times

COMMANDED = np.array([20.0, 50, 100, 150, 200])


def test_a_slip_at_the_start_is_an_offset_and_leaves_the_scale_alone() -> None:
    found = check_scale(COMMANDED, COMMANDED - 0.15, 80.0, reading_mm=0.01)
    assert found.scale.value == pytest.approx(1)
    assert not found.significant
    assert found.offset_mm.value == pytest.approx(-0.15)
    assert found.offset_significant


def test_steps_are_corrected_by_the_scale() -> None:
    # Source: ledger motion.csv MOT-012: new = old · commanded / measured
    found = check_scale(COMMANDED, 0.996 * COMMANDED, 80.0, reading_mm=0.001)
    assert found.corrected_per_mm.value == pytest.approx(80.3212851, abs=1e-6)
    assert found.significant


def test_the_uncertainty_of_the_scale_holds_the_truth() -> None:
    random = np.random.default_rng(2)
    held = 0
    for _ in range(400):
        found = check_scale(COMMANDED, 1.002 * COMMANDED + 0.02 * random.standard_normal(5), 80.0)
        held += abs(found.scale.value - 1.002) <= found.scale.expanded
    assert held / 400 == pytest.approx(0.95, abs=0.035)


@pytest.mark.parametrize("commanded", [[1.0, 2.0], [5.0, 5.0, 5.0]])
def test_too_few_or_equal_lengths_are_refused(commanded: list[float]) -> None:
    with pytest.raises(ValueError, match="three or more"):
        check_scale(np.array(commanded), np.array(commanded), 80.0)


def test_a_long_move_runs_at_its_limit() -> None:
    # by hand: 100 mm/s at 1000 mm/s² ramps for 0.1 s over 5 mm each way; 90 mm remain at 100 mm/s
    found = move_times(100, 1000, 100)
    assert found.speed_mm_per_second == 100
    assert found.seconds == pytest.approx(1.1)
