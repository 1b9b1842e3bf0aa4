"""Command shaping: a move given in pieces, so that what the first ones set swinging the later ones still.

Impulses stand for pieces of any command: what they leave of a swing they leave of every move that is given
through them. Amplitudes are never negative, so that no move is driven harder than it was asked for.
Source: N. C. Singer and W. P. Seering, ASME J. Dyn. Sys. Meas. Control 112 (1990), 76.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

Numbers = NDArray[np.float64]

# The robust shaper's impulses may lie on a grid this fine over its length, and are found by a linear
# programme; then neighbours are drawn together.
GRID = 48
# A circle is taken as a polygon of so many sides: a residual is at most 1 − cos(π/48), 0.2 %, too large.
SIDES = 48
BAND_POINTS = 17
LEAST_AMPLITUDE = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """A mode to be stilled: its frequency, its damping ratio, and how much it counts beside others."""

    hz: float
    damping: float
    weight: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shaper:
    """Impulses: times (n,) in seconds from 0, amplitudes (n,) ≥ 0 that add up to 1."""

    name: str
    times_second: Numbers
    amplitudes: Numbers

    @property
    def seconds(self) -> float:
        """Its length: every move takes so much longer."""
        return float(self.times_second[-1])

    @property
    def delay_second(self) -> float:
        """The mean of the impulses: the whole path comes so much later, and no smoother."""
        return float(self.amplitudes @ self.times_second)

    @property
    def spread_second(self) -> float:
        """The impulses' standard deviation in time: what smooths the path."""
        off = self.times_second - self.delay_second
        return math.sqrt(float(self.amplitudes @ (off * off)))


def no_shaper() -> Shaper:
    """Moves as they are."""
    return Shaper(name="none", times_second=np.zeros(1), amplitudes=np.ones(1))


def ratio_of(damping: float) -> float:
    """K = exp(−ζ π / √(1 − ζ²)): what is left of a swing after half a period. Source: Singer and Seering."""
    return math.exp(-damping * math.pi / math.sqrt(1 - damping * damping))


def damped_period_second(hz: float, damping: float) -> float:
    """The period of a damped swing: 1 / (f √(1 − ζ²))."""
    return 1 / (hz * math.sqrt(1 - damping * damping))


def zv(hz: float, damping: float) -> Shaper:
    """Two impulses, half a period apart: nothing is left when frequency and damping are right.

    Amplitudes 1/(1+K), K/(1+K). Source: Singer and Seering 1990.
    """
    k = ratio_of(damping)
    half = damped_period_second(hz, damping) / 2
    return Shaper(name="ZV", times_second=np.array([0.0, half]), amplitudes=np.array([1, k]) / (1 + k))


def zvd(hz: float, damping: float) -> Shaper:
    """Three impulses, half a period apart: what is left also grows slowly when the frequency is off.

    Amplitudes 1, 2K, K² over (1+K)². Source: Singer and Seering 1990.
    """
    k = ratio_of(damping)
    half = damped_period_second(hz, damping) / 2
    return Shaper(
        name="ZVD",
        times_second=np.array([0.0, half, 2 * half]),
        amplitudes=np.array([1, 2 * k, k * k]) / (1 + k) ** 2,
    )


def residual(shaper: Shaper, hz: Numbers, damping: float) -> Numbers:
    """What a shaper leaves of the swing of modes hz (n,), as a part of the unshaped one, shape (n,).

    Equation: V = exp(−ζ ω t_last) √(C² + S²), C = Σ A exp(ζ ω t) cos(ω_d t), S likewise with sin.
    Source: Singer and Seering 1990.
    """
    omega = 2 * np.pi * np.asarray(hz, dtype=np.float64)[:, None]
    back = shaper.times_second - shaper.times_second[-1]
    damped = omega * math.sqrt(1 - damping * damping)
    parts = shaper.amplitudes * np.exp(damping * omega * back + 1j * damped * shaper.times_second)
    return np.asarray(np.abs(parts.sum(axis=1)), dtype=np.float64)


def worst_residual(shaper: Shaper, swings: Sequence[Swing], error: float) -> float:
    """The most that is left when each frequency is off by up to ± error (a part of it), weights counted."""
    return max(
        swing.weight * float(residual(shaper, _band(swing.hz, error, 201), swing.damping).max())
        for swing in swings
    )


def holds_within(shaper: Shaper, swing: Swing, limit: float) -> tuple[float, float]:
    """How far the frequency may be off, downwards and upwards, as parts of it, with at most `limit` left."""
    steps = np.linspace(0, 0.6, 601)
    reach = []
    for sign in (-1, 1):
        left = residual(shaper, swing.hz * (1 + sign * steps), swing.damping)
        over = np.flatnonzero(left > limit)
        reach.append(
            float(steps[over[0] - 1]) if len(over) and over[0] else (0.0 if len(over) else float(steps[-1]))
        )
    return reach[0], reach[1]


def _band(hz: float, error: float, points: int) -> Numbers:
    return np.linspace(hz * (1 - error), hz * (1 + error), points)


def robust(swings: Sequence[Swing], error: float, seconds: float) -> Shaper:
    """The shaper of a length that leaves the least in the worst case of ± error, for all swings together.

    For times on a grid the least worst residual is a linear programme: the residual is the length of a vector
    linear in the amplitudes, and a length is at most r when its part along every direction is. So the optimum
    over all amplitudes on the grid is found, not a local one. The derivation is ours.
    """
    if seconds <= 0 or not swings:
        return no_shaper()
    times = np.linspace(0, seconds, GRID + 1)
    amplitudes = _least_worst(times, swings, error)
    return _drawn_together(times, amplitudes, swings, error)


def _least_worst(times: Numbers, swings: Sequence[Swing], error: float) -> Numbers:
    """Amplitudes (n,) ≥ 0, sum 1, of the least worst residual for impulses at these times."""
    rows = []
    points = BAND_POINTS if error > 0 else 1
    turns = np.exp(-2j * np.pi * np.arange(SIDES) / SIDES)
    for swing in swings:
        omega = 2 * np.pi * _band(swing.hz, error, points)[:, None]
        damped = omega * math.sqrt(1 - swing.damping**2)
        # The start of the swing is taken as it is, its dying over the shaper counted: exp(−ζ ω (t_last − t)).
        unit = swing.weight * np.exp(swing.damping * omega * (times - times[-1]) + 1j * damped * times)
        rows.append((turns[:, None, None] * unit).real.reshape(-1, len(times)))
    stacked = np.concatenate(rows)
    count = len(times)
    found = linprog(
        np.append(np.zeros(count), 1.0),
        A_ub=np.hstack([stacked, -np.ones((len(stacked), 1))]),
        b_ub=np.zeros(len(stacked)),
        A_eq=np.append(np.ones(count), 0.0)[None, :],
        b_eq=[1.0],
        bounds=[(0, None)] * (count + 1),
        method="highs",
    )
    if found.x is None:  # it cannot be: all amplitude at the beginning is always allowed
        return np.append(1.0, np.zeros(count - 1))
    return np.maximum(np.asarray(found.x[:count], dtype=np.float64), 0)


def _drawn_together(times: Numbers, amplitudes: Numbers, swings: Sequence[Swing], error: float) -> Shaper:
    """Neighbours on the grid as one impulse between them, if that leaves no more; amplitudes found anew."""
    used = np.flatnonzero(amplitudes > LEAST_AMPLITUDE)
    groups = np.split(used, np.flatnonzero(np.diff(used) > 1) + 1)
    joined = np.array([float(np.average(times[group], weights=amplitudes[group])) for group in groups])
    joined[0], joined[-1] = times[0] if groups[0][0] == 0 else joined[0], joined[-1]
    joined -= joined[0]
    few = Shaper(
        name="robust", times_second=joined, amplitudes=_summed_to_one(_least_worst(joined, swings, error))
    )
    many = Shaper(
        name="robust", times_second=times[used] - times[used[0]], amplitudes=_summed_to_one(amplitudes[used])
    )
    return min(
        (few, many), key=lambda one: worst_residual(one, swings, error) * (1 + 1e-3 * len(one.amplitudes))
    )


def _summed_to_one(amplitudes: Numbers) -> Numbers:
    return np.asarray(amplitudes / amplitudes.sum())


def shortest_robust(swings: Sequence[Swing], error: float, limit: float) -> Shaper:
    """The shortest robust shaper that leaves at most `limit` within ± error; at most two periods long.

    A longer one never leaves more, so its length is found by halving.
    """
    slowest = min(swings, key=lambda one: one.hz)
    period = damped_period_second(slowest.hz, slowest.damping)
    low, high = 0.2 * period, 2.0 * period
    best = robust(swings, error, high)
    if worst_residual(best, swings, error) > limit:
        return best
    for _ in range(9):
        middle = (low + high) / 2
        tried = robust(swings, error, middle)
        if worst_residual(tried, swings, error) <= limit:
            best, high = tried, middle
        else:
            low = middle
    return best


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothing:
    """What shaping costs, and how fast one may then accelerate, mm/s².

    `behind_mm_at_1000`: how far a shaped path falls behind in steady acceleration of 1000 mm/s², beside its
    delay. `acceleration_for_path`: the path falls behind by the limit. `acceleration_for_swing`: in the worst
    case of the frequency's error the machine swings by the limit after a start or stop. The lower one is
    sensible; `says` states both criteria.
    """

    behind_mm_at_1000: float
    acceleration_for_path: float
    acceleration_for_swing: float
    says: str

    @property
    def acceleration(self) -> float:
        """The highest that keeps both."""
        return min(self.acceleration_for_path, self.acceleration_for_swing)


def smoothing_of(
    shaper: Shaper, swings: Sequence[Swing], error: float, *, path_mm: float = 0.1, swing_mm: float = 0.02
) -> Smoothing:
    """Smoothing and the highest sensible acceleration.

    In steady acceleration a the shaped path is Σ A ½ a (t − t_i)², which is the unshaped one, later by the
    mean of the t_i, and ½ a σ² beside it, σ being the spread of the impulses. At a start or stop the
    acceleration jumps by a; a mode then swings by a / ω², of which the shaper leaves its residual; start
    and end of a ramp may add: twice. Derived here.
    """
    spread2 = shaper.spread_second**2
    path = 2 * path_mm / spread2 if spread2 > 0 else math.inf
    swing = math.inf
    for one in swings:
        left = worst_residual(shaper, [one], error)
        omega = 2 * math.pi * one.hz * (1 - error)
        if left > 0:
            swing = min(swing, swing_mm * omega**2 / (2 * left))
    return Smoothing(
        behind_mm_at_1000=0.5 * 1000 * spread2,
        acceleration_for_path=path,
        acceleration_for_swing=swing,
        says=f"the path falls behind by at most {path_mm:g} mm, and after a start or stop nothing swings by "
        f"more than {swing_mm:g} mm, with every frequency off by up to {100 * error:.0f} %",
    )
