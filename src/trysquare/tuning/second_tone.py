"""The second tone that a pluck may have, where the lines tell of one that is no series for itself."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trysquare.tuning.pitch import MICROPHONE_HZ, Lines, Series, numbered

# So much of a series' power on every second (or third, fourth) overtone alone: those may be the span plucked,
# and the rest another span's, an octave below. Plucks of one span alone stay below a half.
OCTAVE = 0.65
# Overtones that contradict each other by this part of the pitch: one of them is pulled by another span's.
# Chosen on 1200 strings stepped in time, where it flagged four of six wrong pitches that nothing else did; on
# 1200 fresh ones it flagged one of three, and two right ones.
OVERTONES_APART = 0.01
NEAR_TWIN = 0.06  # as a part of an overtone
NOT_THE_NEXT = 0.4  # of the fundamental: beyond lies the next overtone, which is no twin


def second_tone(plucks: Sequence[tuple[Lines, Series]], most: float) -> float | None:
    """The other tone in Hz that a pluck's lines make possible; None where they tell of one string alone.

    `plucks`: the lines and the series of each pluck that agrees; `most`: the highest tone that the span can
    have, as a multiple of the series' own.
    """
    twins = [twin for lines, series in plucks if (twin := twin_of(lines, series)) is not None]
    if 2 * len(twins) > len(plucks):
        return float(np.median(twins))
    if float(np.median([_apart(series) for _, series in plucks])) > OVERTONES_APART:
        return float(np.median([_astray(lines, series) for lines, series in plucks]))
    for multiple in range(2, min(4, int(most)) + 1):
        if float(np.median([share_at(lines, series, multiple) for lines, series in plucks])) > OCTAVE:
            return multiple * float(np.median([series.fundamental_hz for _, series in plucks]))
    return None


def twin_of(lines: Lines, series: Series) -> float | None:
    """The tone of a line close beside one of the series, nearly as loud: two spans almost in tune.

    A line within 6 % of an overtone, but nearer to it than to the next, more than a line's width from it,
    with a third of its amplitude. Of the pair it is the one farther from where the series has its own.
    """
    n = np.array(series.overtones, dtype=np.float64)
    stretch = n * np.sqrt(1 + series.stiffness * n * n)
    wanted = stretch * series.fundamental_hz
    apart = np.abs(lines.hz[:, None] - wanted)
    close = apart < np.minimum(NEAR_TWIN * wanted, NOT_THE_NEXT * series.fundamental_hz)
    for column in range(len(n)):
        at = np.flatnonzero(close[:, column])
        if len(at) < 2:
            continue
        pair = at[np.argsort(-lines.amplitude[at])[:2]]
        loud, quiet = lines.amplitude[pair]
        if (
            quiet > 0.3 * loud
            and loud > 0.3 * lines.amplitude.max()
            and np.ptp(lines.hz[pair]) > 1.2 * lines.width_hz
        ):
            other = pair[int(np.argmax(apart[pair, column]))]
            return float(lines.hz[other] / stretch[column])
    return None


def share_at(lines: Lines, series: Series, multiple: int) -> float:
    """The part of a series' power that its overtones at whole multiples of a number hold."""
    number, own = _own_power(lines, series)
    total = float(own.sum())
    return float(own[number % multiple == 0].sum()) / total if total > 0 else 0.0


def _own_power(lines: Lines, series: Series) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """For each line its overtone's number, and its power; 0 where it is none of the series."""
    number, off = numbered(lines, series.fundamental_hz, series.stiffness)
    power = np.square(lines.amplitude) * (1 + np.square(MICROPHONE_HZ / lines.hz))
    return number, np.where(np.abs(off) < 0.08, power, 0.0)


def _apart(series: Series) -> float:
    """How far overtones lie from where the others put them: twice their spread, as a part of the pitch."""
    count = len(series.overtones)
    if count < 2:
        return 0.0
    return 2 * series.standard_uncertainty_hz * math.sqrt(count) / series.fundamental_hz


def _astray(lines: Lines, series: Series) -> float:
    """The tone of the overtone that most contradicts the others: far from them, and loud."""
    number, power = _own_power(lines, series)
    tones = lines.hz / (number * np.sqrt(1 + series.stiffness * number**2))
    return float(tones[int(np.argmax(power * np.abs(tones - series.fundamental_hz)))])
