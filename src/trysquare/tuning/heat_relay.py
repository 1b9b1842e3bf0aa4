"""Heating switched on and off at a temperature: its lasting swing, and the gain at which it swings."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from trysquare.tuning.heat_step import HeatRecord

FEWEST_CYCLES = 3
EVEN_LOW = 0.3  # ours: simulated at one fifth, the period is half as long again as the loop's own


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """Half the swing in K, its period in s, half the power's change in %, over so many cycles.

    `ultimate_gain` in %/K: the proportional gain at which the loop would just keep swinging. `steady`: the
    last cycles agree; `on_share`: the part of the time that it is on.
    """

    half_kelvin: float
    period_second: float
    half_percent: float
    cycles: int
    ultimate_gain: float
    steady: bool
    on_share: float

    @property
    def even(self) -> bool:
        """Whether it is on about half the time: else period and gain are not those of the loop."""
        return EVEN_LOW < self.on_share < 1 - EVEN_LOW


def swing_of(record: HeatRecord) -> Swing | None:
    """The swing of on-off heating; None when there are less than three whole cycles.

    The first cycle, the warming up, is left out. Equation: K_u = 4 d / (π a), d half the power's change and
    a half the swing: the switch's describing function.
    Source: K. J. Åström and T. Hägglund, Automatica 20 (1984) 645, equation (4), from memory.
    """
    power = record.power_percent
    middle = (float(power.max()) + float(power.min())) / 2
    on = power > middle
    starts = np.flatnonzero(~on[:-1] & on[1:]) + 1
    if len(starts) < FEWEST_CYCLES + 1:
        return None
    starts = starts[1:] if len(starts) > FEWEST_CYCLES + 1 else starts
    halves = np.array([np.ptp(record.temperature_celsius[a:b]) / 2 for a, b in itertools.pairwise(starts)])
    periods = np.diff(record.time_second[starts])
    half, period = float(np.median(halves)), float(np.median(periods))
    change = float(np.median(power[on]) - np.median(power[~on])) / 2
    if half <= 0 or change <= 0:
        return None
    steady = bool(np.ptp(halves) < 0.3 * half and np.ptp(periods) < 0.3 * period)
    return Swing(
        half_kelvin=half,
        period_second=period,
        half_percent=change,
        cycles=len(periods),
        ultimate_gain=4 * change / (math.pi * half),
        steady=steady,
        on_share=float(on[starts[0] : starts[-1]].mean()),
    )
