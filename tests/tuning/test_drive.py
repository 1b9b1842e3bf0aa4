"""How long a move takes, whatever its length."""

from __future__ import annotations

import pytest

from trysquare.tuning.drive import move_times


def test_a_long_move_runs_at_its_limit() -> None:
    # by hand: 100 mm/s at 1000 mm/s² ramps for 0.1 s over 5 mm each way; 90 mm remain at 100 mm/s
    found = move_times(100, 1000, 100)
    assert found.speed_mm_per_second == 100
    assert found.seconds == pytest.approx(1.1)
