"""Positional accuracy and repeatability of an axis from measured positions, both ways."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# Source: ISO 230-2:2014, 3.16 ff.: limits at two standard deviations.
COVERAGE = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Positioning:
    """Figures of an axis in millimetres; names and signs as in ISO 230-2:2014, from memory.

    Arrays have one value for each target, shape (targets,): mean deviation approached from below (up) and
    above (down), and their standard deviations.
    """

    targets_mm: NDArray[np.float64]
    mean_up_mm: NDArray[np.float64]
    mean_down_mm: NDArray[np.float64]
    deviation_up_mm: NDArray[np.float64]
    deviation_down_mm: NDArray[np.float64]
    reversal_mm: float
    mean_reversal_mm: float
    repeatability_up_mm: float
    repeatability_down_mm: float
    repeatability_mm: float
    systematic_up_mm: float
    systematic_down_mm: float
    systematic_mm: float
    mean_systematic_mm: float
    accuracy_up_mm: float
    accuracy_down_mm: float
    accuracy_mm: float


def positioning(
    targets_mm: NDArray[np.float64], up_mm: NDArray[np.float64], down_mm: NDArray[np.float64]
) -> Positioning:
    """ISO 230-2 figures. targets shape (m,), m ≥ 2; positions from below and above, shape (m, n), n ≥ 2.

    Source: ISO 230-2:2014, clause 3 (definitions), recalled and checked by a published test report.
    """
    if up_mm.shape != down_mm.shape or up_mm.ndim != 2 or up_mm.shape[0] != len(targets_mm):
        raise ValueError(f"positions {up_mm.shape} and {down_mm.shape} for {len(targets_mm)} targets")
    if up_mm.shape[0] < 2 or up_mm.shape[1] < 2:
        raise ValueError("fewer than two targets or two approaches to each")
    up, down = up_mm - targets_mm[:, None], down_mm - targets_mm[:, None]
    mean_up, mean_down = up.mean(axis=1), down.mean(axis=1)
    s_up, s_down = up.std(axis=1, ddof=1), down.std(axis=1, ddof=1)
    reversal = mean_up - mean_down
    wide_up, wide_down = COVERAGE * s_up, COVERAGE * s_down
    both = np.maximum.reduce([wide_up + wide_down + np.abs(reversal), 2 * wide_up, 2 * wide_down])
    mean = (mean_up + mean_down) / 2
    top = np.maximum(mean_up + wide_up, mean_down + wide_down)
    bottom = np.minimum(mean_up - wide_up, mean_down - wide_down)
    return Positioning(
        targets_mm=targets_mm,
        mean_up_mm=mean_up,
        mean_down_mm=mean_down,
        deviation_up_mm=s_up,
        deviation_down_mm=s_down,
        reversal_mm=float(np.abs(reversal).max()),
        mean_reversal_mm=float(reversal.mean()),
        repeatability_up_mm=float(2 * wide_up.max()),
        repeatability_down_mm=float(2 * wide_down.max()),
        repeatability_mm=float(both.max()),
        systematic_up_mm=float(np.ptp(mean_up)),
        systematic_down_mm=float(np.ptp(mean_down)),
        systematic_mm=float(max(mean_up.max(), mean_down.max()) - min(mean_up.min(), mean_down.min())),
        mean_systematic_mm=float(np.ptp(mean)),
        accuracy_up_mm=float((mean_up + wide_up).max() - (mean_up - wide_up).min()),
        accuracy_down_mm=float((mean_down + wide_down).max() - (mean_down - wide_down).min()),
        accuracy_mm=float(top.max() - bottom.min()),
    )
