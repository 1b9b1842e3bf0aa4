"""Where in a recording a belt was plucked: the starts of its decaying sounds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Samples = NDArray[np.float64]

# Loudness is followed in frames of this length: shorter than the gap between plucks, about a period.
FRAME_SECOND = 0.02
# A pluck is at least so much louder than the quarter second before it: twice the amplitude.
RISE_DECIBEL = 6.0
# Two starts nearer than this are one pluck: the finger leaves the belt and the belt hits the finger again.
LEAST_GAP_SECOND = 0.25
# The first moments hold the finger and the highest pitch of a belt that swings wide.
SETTLING_SECOND = 0.03
# A belt of rubber has died away after this; the longer the part that is looked at, the sharper the pitch.
LONGEST_SECOND = 1.2
SHORTEST_SECOND = 0.12
BACKGROUND_SECOND = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Pluck:
    """One decaying sound: where it starts, and its samples after the finger has left.

    `sound` has shape (n,); `background` (m,) is what was heard just before, for what hums all the time; it is
    empty when the recording starts with the pluck. `rise_decibel` tells how far it stands out.
    """

    start_second: float
    sound: Samples
    background: Samples
    rise_decibel: float


def find_plucks(samples: Samples, rate_hz: float) -> tuple[Pluck, ...]:
    """The plucks of a recording with one channel, shape (n,), in order of time; () when nothing rises.

    A frame starts a pluck when its power stands RISE_DECIBEL over the median of the quarter second before.
    What runs all the time (hum, fans) raises that median too and so starts nothing.
    """
    width = max(1, round(FRAME_SECOND * rate_hz))
    frames = len(samples) // width
    if frames < 8:
        return ()
    quiet = _without_rumble(samples, rate_hz)
    power = np.square(quiet[: frames * width]).reshape(frames, width).mean(axis=1)
    # Nothing is counted as silence below the thousandth part of the loudest: a recording's last bits.
    level = 10 * np.log10(np.maximum(power, power.max() * 1e-7 + 1e-30))
    before = round(0.25 / FRAME_SECOND)
    padded = np.concatenate([np.full(before, np.median(level[: 2 * before])), level])
    windows = np.lib.stride_tricks.sliding_window_view(padded, before)[:frames]
    rise = level - np.median(windows, axis=1)
    # Rubber dies within a second: a fading sound that is still loud cannot hide a new pluck, whose first
    # frame is louder than the frame before it.
    jump = np.diff(level, prepend=level[0])
    starts = _starts(rise, jump, level)
    return tuple(
        _cut(samples, rate_hz, starts, index, float(rise[starts[index]]), width)
        for index in range(len(starts))
    )


def _without_rumble(samples: Samples, rate_hz: float) -> Samples:
    """Without what lies below some 15 Hz: a constant offset, steps on the floor, wind."""
    pole = float(np.exp(-2 * np.pi * 15 / rate_hz))
    return np.asarray(lfilter([1.0, -1.0], [1.0, -pole], samples - samples[0]), dtype=np.float64)


def _starts(rise: Samples, jump: Samples, level: Samples) -> list[int]:
    """Frames where plucks start: local jumps that rise far enough, the loudest within each gap."""
    gap = round(LEAST_GAP_SECOND / FRAME_SECOND)
    # The loudest pluck tells what a pluck is here: what stays 30 dB below it is a chair or a cough.
    wanted = np.flatnonzero((rise >= RISE_DECIBEL) & (jump >= RISE_DECIBEL / 3) & (level >= level.max() - 30))
    starts: list[int] = []
    for frame in wanted.tolist():
        if not starts or frame - starts[-1] >= gap:
            starts.append(frame)
    return starts


def _cut(samples: Samples, rate_hz: float, starts: list[int], index: int, rise: float, width: int) -> Pluck:
    begin = starts[index] * width
    settled = begin + round(SETTLING_SECOND * rate_hz) + width
    end = begin + round(LONGEST_SECOND * rate_hz)
    if index + 1 < len(starts):
        end = min(end, starts[index + 1] * width - width)
    earlier = max(0, begin - width - round(BACKGROUND_SECOND * rate_hz))
    if index:
        earlier = max(earlier, starts[index - 1] * width + round(0.3 * LONGEST_SECOND * rate_hz))
    return Pluck(
        start_second=begin / rate_hz,
        sound=samples[settled:end],
        background=samples[earlier : max(earlier, begin - width)],
        rise_decibel=rise,
    )
