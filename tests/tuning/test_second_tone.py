"""The second tone that a pluck's lines make possible."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from trysquare.tuning.belt_reading import doubt_words
from trysquare.tuning.belt_sound import Doubt, pitch_of
from trysquare.tuning.pitch import Lines, refined
from trysquare.tuning.second_tone import twin_of

RATE_HZ = 44100
SPAN_HZ = (40.0, 110.0)


def plucked(*tones: tuple[float, float]) -> NDArray[np.float64]:
    """Three plucks of strings of these tones and strengths, each with eight overtones, in a quiet room."""
    t = np.arange(RATE_HZ) / RATE_HZ
    one = sum(
        loud * np.exp(-3 * t) * np.sin(2 * np.pi * n * hz * t) / n for hz, loud in tones for n in range(1, 9)
    )
    quiet = 1e-4 * np.random.default_rng(1).standard_normal(RATE_HZ // 2)
    return np.concatenate([quiet, one, one, one])


def lines(hz: list[float]) -> Lines:
    """Lines of one height, half a hertz wide."""
    return Lines(np.array(hz), np.ones(len(hz)), np.full(len(hz), 100.0), 0.5)


def test_high_overtones_of_one_string_are_no_twins_of_each_other() -> None:
    one = lines([83.0 * n for n in range(1, 30)])
    series = refined(one, 83.0)
    assert series is not None
    assert max(series.overtones) > 20
    assert twin_of(one, series) is None


def test_a_line_close_beside_an_overtone_tells_the_other_string_s_tone() -> None:
    both = lines([80.0, 160.0, 166.4, 240.0, 320.0])
    series = refined(both, 80.0)
    assert series is not None
    assert twin_of(both, series) == pytest.approx(83.2, rel=0.002)


def test_two_strings_almost_in_tune_are_both_told() -> None:
    found = pitch_of(plucked((80.0, 0.3), (83.0, 0.28)), RATE_HZ, SPAN_HZ)
    assert Doubt.TWO_SPANS in found.doubts
    assert found.pitch is not None
    assert found.other_hz is not None
    heard = sorted((found.pitch.value, found.other_hz))
    assert heard[1] / heard[0] == pytest.approx(83 / 80, rel=0.02)
    words = dict(doubt_words(found))["two-spans"]
    assert f"{found.pitch.value:.1f} Hz" in words
    assert f"{found.other_hz:.1f} Hz" in words


def test_a_string_whose_octave_holds_nearly_all_may_be_the_octave() -> None:
    found = pitch_of(plucked((50.0, 0.08), (100.0, 0.3)), RATE_HZ, SPAN_HZ)
    assert found.pitch is not None
    assert Doubt.TWO_SPANS in found.doubts
    assert (found.pitch.value, found.other_hz) == pytest.approx((50, 100), rel=0.002)
