"""Two belts beside each other: how far they differ, and which is turned first."""

from __future__ import annotations

import pytest

from trysquare.tuning.belt import Target, half_width
from trysquare.tuning.belt_reading import BeltOnSpan, BeltReading, compare, read_belt

SPAN, MASS = half_width(300, 0.1, "mm"), half_width(8.4, 0.1, "g/m")
TARGET = Target(low_newton=8, high_newton=25, aim_newton=14, basis="common practice, no source")


def read(name: str, hz: float) -> BeltReading:
    belt = BeltOnSpan(name=name, span=SPAN, mass=MASS)
    return read_belt(belt, half_width(hz, 0.1, "Hz"), TARGET)


def test_how_much_tauter_is_said_of_the_slacker_one() -> None:
    # T = 4 m L² f², so (100 / 50)² = 4 times: 300 % tauter. Source: the equation of a string, any handbook.
    pair, says = compare(read("belt A", 100), read("belt B", 50), 5)
    assert pair is not None
    assert pair.difference_percent.value == pytest.approx(300)
    assert says[0].startswith("belt A is 300.0 ± ")
    _, mirrored = compare(read("belt B", 50), read("belt A", 100), 5)
    assert mirrored[0] == says[0]


def test_no_belt_is_evened_to_one_that_is_out_of_its_band() -> None:
    # 100 Hz: 30 N, too taut; 50 Hz: 7.6 N, too slack.
    _, says = compare(read("belt A", 100), read("belt B", 50), 5)
    assert "First bring belt A and belt B to what is wanted" in says[1]
    assert "Aim at" not in says[1]
    _, says = compare(read("belt A", 72), read("belt B", 50), 5)
    assert "First bring belt B to what is wanted" in says[1]


def test_of_two_belts_that_may_stay_one_is_turned_to_the_other() -> None:
    _, says = compare(read("belt A", 68), read("belt B", 80), 5)
    assert says[1].startswith("belt B: slacken")
    assert "Aim at 14 N, 68 Hz" in says[1]
