"""A heater under its controller, reckoned before anybody tries: overshoot, time, and how calm it stays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.tuning.controller_rules import Settings

Numbers = NDArray[np.float64]

STEPS_IN_DEAD_TIME = 24
MOST_STEPS = 20_000
DERIVATIVE_FILTER = (
    10.0  # derivative over this is its filter's time; Source: Åström and Hägglund, from memory
)
SETTLED_KELVIN = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heated:
    """How one setting fares: arrays of shape (n,). Times are infinite when never reached in what was seen."""

    settings: Settings
    time_second: Numbers
    temperature_celsius: Numbers
    power_percent: Numbers
    overshoot_kelvin: float
    rise_second: float  # to nine tenths of the way
    settled_second: float  # from then on within ± 1 K

    @property
    def settles(self) -> bool:
        """Whether it comes to rest."""
        return math.isfinite(self.settled_second)


def simulate(
    settings: Sequence[Settings], *, gain: float, time_constant: float, dead_time: float,
    ambient_celsius: float, target_celsius: float, most_percent: float = 100.0, least_percent: float = 0.0,
    seconds: float | None = None,
) -> list[Heated]:  # fmt: skip
    """The closed loop from cold to a target, every setting at once.

    The heater is first order with dead time, exact over each step of constant power. The controller's
    derivative works on the temperature, filtered; its sum stands still while the power is at its limit and
    would be driven on (conditional integration).
    Source: K. J. Åström and T. Hägglund, Advanced PID Control, 2006, chapters 3 and 13, from memory.
    """
    step = dead_time / STEPS_IN_DEAD_TIME
    wanted = (target_celsius - ambient_celsius) / gain
    warm = _time_to(most_percent, wanted, time_constant)
    span = seconds or dead_time + min(12 * time_constant, 3 * warm + 2 * time_constant + 30 * dead_time)
    step = max(step, span / MOST_STEPS)
    delay = max(1, round(dead_time / step))
    count = max(2, math.ceil(span / step) + 1)
    controller = np.array([one.gain for one in settings])
    integral = np.array([one.gain / one.integral_second for one in settings])
    derivative = np.array([one.gain * one.derivative_second for one in settings])
    filters = np.array([max(one.derivative_second / DERIVATIVE_FILTER, step) for one in settings])
    keeps, smooth = math.exp(-step / time_constant), np.exp(-step / filters)
    width = len(settings)
    temperature = np.full((count, width), float(ambient_celsius))
    power = np.zeros((count, width))
    summed = np.zeros(width)
    smoothed = np.full(width, float(ambient_celsius))
    for index in range(count):
        now = temperature[index]
        missing = target_celsius - now
        slope = (now - smoothed) / filters
        smoothed = now + (smoothed - now) * smooth
        wish = controller * missing + summed - derivative * slope
        power[index] = np.clip(wish, least_percent, most_percent)
        driven_on = ((wish > most_percent) & (missing > 0)) | ((wish < least_percent) & (missing < 0))
        summed = summed + np.where(driven_on, 0.0, integral * missing * step)
        if index + 1 < count:
            past = power[index - delay] if index >= delay else 0.0
            rest = ambient_celsius + gain * past
            temperature[index + 1] = rest + (now - rest) * keeps
    times = np.arange(count, dtype=np.float64) * float(step)
    return [
        _judged(one, times, temperature[:, at], power[:, at], ambient_celsius, target_celsius)
        for at, one in enumerate(settings)
    ]


def _time_to(most_percent: float, wanted_percent: float, time_constant: float) -> float:
    if wanted_percent >= most_percent:
        return 4 * time_constant
    return -time_constant * math.log(1 - wanted_percent / most_percent)


def _judged(
    settings: Settings, times: Numbers, temperature: Numbers, power: Numbers, ambient: float, target: float
) -> Heated:
    there = np.flatnonzero(temperature >= ambient + 0.9 * (target - ambient))
    outside = np.flatnonzero(np.abs(temperature - target) > SETTLED_KELVIN)
    # It must have stayed inside for a while at the end of what was seen, or it may leave again.
    last = int(outside[-1]) if len(outside) else -1
    settled = times[last + 1] if last + 1 < 0.9 * len(times) else math.inf
    return Heated(
        settings=settings,
        time_second=times,
        temperature_celsius=temperature,
        power_percent=power,
        overshoot_kelvin=max(0.0, float(temperature.max()) - target),
        rise_second=float(times[there[0]]) if len(there) else math.inf,
        settled_second=float(settled),
    )
