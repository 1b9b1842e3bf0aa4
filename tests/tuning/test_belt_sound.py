"""The pitch of plucked spans, judged on sounds made by stepping the wave equation in time."""

from __future__ import annotations

import numpy as np
import pytest

from trysquare.tuning.belt_sound import BeltSound, Doubt, pitch_from, pitch_of
from trysquare.tuning.hearing import hear
from tuning.plucked_strings import RATE_HZ, drawn_strings, recording, sound_of

COUNT = 200


@pytest.fixture(scope="module")
def judged() -> list[tuple[float, BeltSound]]:
    """Recordings with noise, hum, a second span and clipping in turn, each with what was heard in it."""
    random = np.random.default_rng(20)
    strings, others = drawn_strings(random, COUNT), drawn_strings(random, COUNT)
    own, other = sound_of(strings, 1.0), sound_of(others, 1.0)
    found = []
    for index in range(COUNT):
        heard = recording(
            random,
            own[index],
            other[index] if index % 2 else None,
            noise=(0.003, 0.01, 0.03)[index % 3],
            hum=(0.0, 0.02, 0.1)[(index // 3) % 3],
            hum_hz=50.0 if index % 4 else 60.0,
            clip=0.4 if index % 5 == 0 else None,
        )
        true = float(strings.fundamental_hz[index])
        # The machine knows the span and the sane tensions: bounds a factor of two apart.
        middle = true * float(np.exp(random.uniform(-0.8, 0.8) * np.log(1.42)))
        found.append((true, pitch_of(heard, RATE_HZ, (middle / 1.42, middle * 1.42))))
    return found


@pytest.mark.slow
@pytest.mark.outside
def test_the_pitch_is_within_one_per_cent_in_ninety_eight_of_a_hundred_recordings(
    judged: list[tuple[float, BeltSound]],
) -> None:
    # Source: S. Bilbao, Numerical Sound Synthesis (2009), chapter 7, from memory: strings stepped in time.
    right = [sound.pitch is not None and abs(sound.pitch.value / true - 1) <= 0.01 for true, sound in judged]
    assert sum(right) >= 0.98 * COUNT


@pytest.mark.slow
def test_every_wrong_pitch_is_doubted(judged: list[tuple[float, BeltSound]]) -> None:
    wrong = [
        (true, sound)
        for true, sound in judged
        if sound.pitch is None or abs(sound.pitch.value / true - 1) > 0.01
    ]
    assert all(sound.doubts for _, sound in wrong)


@pytest.mark.slow
def test_most_right_pitches_are_not_doubted(judged: list[tuple[float, BeltSound]]) -> None:
    assert sum(sound.sure for _, sound in judged) >= 0.9 * COUNT


@pytest.mark.slow
def test_the_uncertainty_of_a_sure_pitch_holds_the_truth(judged: list[tuple[float, BeltSound]]) -> None:
    inside = [
        abs(sound.pitch.value - true) <= sound.pitch.expanded
        for true, sound in judged
        if sound.pitch is not None and sound.sure
    ]
    assert np.mean(inside) >= 0.9


@pytest.mark.slow
def test_where_two_tones_are_possible_the_other_is_told(judged: list[tuple[float, BeltSound]]) -> None:
    doubted = [sound for _, sound in judged if Doubt.TWO_SPANS in sound.doubts]
    assert doubted
    assert all(sound.other_hz is not None for sound in doubted)


def test_silence_has_no_pitch() -> None:
    found = pitch_of(np.zeros(44100), 44100.0)
    assert found.pitch is None
    assert found.doubts == (Doubt.NO_PLUCK,)


def test_noise_has_no_sure_pitch() -> None:
    noise = np.random.default_rng(3).standard_normal(3 * 44100) * 0.1
    assert not pitch_of(noise, 44100.0).sure


def test_hum_alone_is_no_pluck() -> None:
    t = np.arange(3 * 44100) / 44100
    hum = 0.2 * np.sin(2 * np.pi * 50 * t) + 0.1 * np.sin(2 * np.pi * 100 * t)
    assert pitch_of(hum, 44100.0).pitch is None


@pytest.mark.parametrize("rate_hz", [8000.0, 16000.0, 44100.0, 48000.0])
def test_the_rate_of_the_recorder_does_not_change_the_pitch(rate_hz: float) -> None:
    t = np.arange(round(1.2 * rate_hz)) / rate_hz
    sound = sum(np.exp(-(4 + n) * t) * np.sin(2 * np.pi * 110 * n * t) / n for n in range(1, 8))
    quiet = 1e-4 * np.random.default_rng(1).standard_normal(round(0.5 * rate_hz))
    found = pitch_of(np.concatenate([quiet, sound, quiet]), rate_hz)
    assert found.pitch is not None
    assert found.pitch.value == pytest.approx(110, rel=0.002)


def test_a_clipped_recording_says_so() -> None:
    t = np.arange(44100) / 44100
    sound = np.clip(3 * np.exp(-4 * t) * np.sin(2 * np.pi * 110 * t), -1, 1)
    found = pitch_of(np.concatenate([np.zeros(22050), sound]), 44100.0)
    assert found.clipped_share > 0.01


def test_a_pitch_that_the_machine_does_not_expect_is_doubted_and_told() -> None:
    t = np.arange(44100) / 44100
    sound = sum(np.exp(-(4 + n) * t) * np.sin(2 * np.pi * 210 * n * t) / n for n in range(1, 6))
    found = pitch_of(np.concatenate([np.zeros(22050), sound]), 44100.0, (40.0, 80.0))
    assert Doubt.OUTSIDE in found.doubts
    assert found.other_hz == pytest.approx(210, rel=0.002)


def test_a_recording_heard_in_stretches_sounds_the_same_pitch() -> None:
    random = np.random.default_rng(4)
    strings = drawn_strings(random, 1)
    heard = recording(random, sound_of(strings, 1.0)[0], None, plucks=6)
    whole = pitch_of(heard, RATE_HZ)
    parts = []
    for begin in np.arange(0.0, len(heard) / RATE_HZ, 2.0):
        first = max(0, round((begin - 0.6) * RATE_HZ))
        stretch = heard[first : round((begin + 2 + 1.4) * RATE_HZ)]
        parts.append(hear(stretch, RATE_HZ, first / RATE_HZ, (begin, begin + 2)))
    found = pitch_from(parts, len(heard) / RATE_HZ)
    assert found.pitch is not None
    assert whole.pitch is not None
    assert found.pitch.value == pytest.approx(whole.pitch.value, rel=0.002)
    assert len(found.starts_second) == len(whole.starts_second)
