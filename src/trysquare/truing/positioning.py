"""How exactly an axis goes where it is sent: targets approached several times, from both sides.

Source: ISO 230-2:2014, definitions (equations recalled; held by a public test report's data and results).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Positioning:
    """Errors of an axis, all in mm. `reversal` B: largest difference of the mean error between the two ways.
    `repeatability`: R, two-way. `systematic…` E: spread of the mean errors; `accuracy…` A: spread of the mean
    errors with twice their standard deviation on either side; `mean_bidirectional` M: spread of the means of
    both ways.
    """

    reversal: float
    repeatability: float
    systematic_forward: float
    systematic_backward: float
    systematic: float
    mean_bidirectional: float
    accuracy_forward: float
    accuracy_backward: float
    accuracy: float


def positioning(
    targets_mm: Sequence[float],
    forward_mm: Sequence[Sequence[float]],
    backward_mm: Sequence[Sequence[float]],
) -> Positioning:
    """Errors from readings: one row for each target, one reading for each of at least two approaches."""
    targets = np.asarray(targets_mm, dtype=float)
    up, down = (np.asarray(one, dtype=float) - targets[:, None] for one in (forward_mm, backward_mm))
    means = np.stack([up.mean(axis=1), down.mean(axis=1)])
    spread = np.stack([up.std(axis=1, ddof=1), down.std(axis=1, ddof=1)])
    reversal = means[0] - means[1]
    both = means.mean(axis=0)
    repeats = np.maximum.reduce(
        [2 * spread[0] + 2 * spread[1] + np.abs(reversal), 4 * spread[0], 4 * spread[1]]
    )
    high, low = means + 2 * spread, means - 2 * spread
    return Positioning(
        reversal=float(np.abs(reversal).max()),
        repeatability=float(repeats.max()),
        systematic_forward=_spread(means[0]),
        systematic_backward=_spread(means[1]),
        systematic=_spread(means),
        mean_bidirectional=_spread(both),
        accuracy_forward=float(high[0].max() - low[0].min()),
        accuracy_backward=float(high[1].max() - low[1].min()),
        accuracy=float(high.max() - low.min()),
    )


def _spread(values: Array) -> float:
    return float(values.max() - values.min())
