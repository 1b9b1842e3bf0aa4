"""How well an end switch or a probe finds its place again: deviation, drift, touches that went astray."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2, t

# A touch this many robust deviations off is named and left out. Common practice, no source.
ASTRAY = 4.5
# Few touches tell their own scatter badly: then only what lies far off is astray, so that of clean series
# one in a hundred at the most loses a touch. By our own simulation.
FEW_TOUCHES, LEAST_FOR_ASTRAY = 14.0, 6
LEAST_TOUCHES = 3
# A switch is good for a tolerance when its deviation is at most a quarter of it. Common practice, no source.
PART_OF_TOLERANCE = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Touches:
    """What repeated touches say, in millimetres.

    `deviation_mm` is the standard deviation once a drift is taken out, with its 95 % bounds; `drift_mm` the
    change from the first to the last touch with its expanded uncertainty; `astray` are indices as given.
    """

    count: int
    mean_mm: float
    deviation_mm: float
    deviation_low_mm: float
    deviation_high_mm: float
    range_mm: float
    drift_mm: float
    drift_expanded_mm: float
    drifts: bool
    astray: tuple[int, ...]

    @property
    def tolerance_it_serves_mm(self) -> float:
        """The finest tolerance that this repeatability serves, by its upper bound."""
        return self.deviation_high_mm / PART_OF_TOLERANCE


def look_at_touches(positions_mm: Sequence[float] | NDArray[np.float64]) -> Touches:
    """Repeatability of touches in the order they were made; shape (n,), n ≥ 3.

    Deviation by residuals about a straight line in the touch's number when that line's slope is significant
    (95 %, Student), else about the mean; its bounds by χ². Source: JCGM 100:2008, 4.2 and H.3; χ² bounds: any
    text on statistics, from memory.
    """
    values = np.asarray(positions_mm, dtype=np.float64)
    if values.ndim != 1 or len(values) < LEAST_TOUCHES:
        raise ValueError(f"{values.shape} touches; expected at least {LEAST_TOUCHES}")
    if not np.isfinite(values).all():
        raise ValueError("a touch is not a number")
    good = _good(values)
    number, kept = np.flatnonzero(good).astype(np.float64), values[good]
    count = len(kept)
    slope, slope_u, rest_line = _line(number, kept)
    span = float(np.ptp(number))
    drifts = count >= 4 and abs(slope) > float(t.ppf(0.975, count - 2)) * slope_u and slope_u > 0
    rest, freedom = (rest_line, count - 2) if drifts else (kept - kept.mean(), count - 1)
    squares = float(np.square(rest).sum())
    deviation = float(np.sqrt(squares / freedom))
    return Touches(
        count=count,
        mean_mm=float(kept.mean()),
        deviation_mm=deviation,
        deviation_low_mm=float(np.sqrt(squares / chi2.ppf(0.975, freedom))),
        deviation_high_mm=float(np.sqrt(squares / chi2.ppf(0.025, freedom))),
        range_mm=float(np.ptp(kept)),
        drift_mm=slope * span,
        drift_expanded_mm=2 * slope_u * span,
        drifts=drifts,
        astray=tuple(int(index) for index in np.flatnonzero(~good)),
    )


def _good(values: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Not astray: near the line through the medians of both halves, by the median deviation."""
    number = np.arange(len(values), dtype=np.float64)
    third = max(1, len(values) // 3)
    rise = (np.median(values[-third:]) - np.median(values[:third])) / max(1.0, len(values) - third)
    rest = values - rise * number
    rest = rest - np.median(rest)
    scale = 1.4826 * float(np.median(np.abs(rest)))
    if scale <= 0 or len(values) < LEAST_FOR_ASTRAY:
        return np.ones(len(values), dtype=bool)
    return np.asarray(np.abs(rest) <= ASTRAY * (1 + FEW_TOUCHES / len(values)) * scale)


def _line(
    number: NDArray[np.float64], values: NDArray[np.float64]
) -> tuple[float, float, NDArray[np.float64]]:
    """Slope, its standard uncertainty, residuals."""
    x = number - number.mean()
    sxx = float(x @ x)
    slope = float(x @ values / sxx)
    rest = values - values.mean() - slope * x
    spread = float(np.square(rest).sum()) / max(1, len(values) - 2)
    return slope, float(np.sqrt(spread / sxx)), rest
