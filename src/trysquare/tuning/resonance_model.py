"""A model of a spectrum: resonances over a smooth floor, and the likeliest numbers for it.

Every ordinate of a random movement's periodogram is exponentially distributed about the true density: the
likelihood of all of them (Whittle's) is maximised, and its curvature gives the uncertainties. It holds for
free swinging after knocks as well, and gives more than the true uncertainty for a slow sweep.
Source: P. Whittle, Ark. Mat. 2 (1953), 423, from memory; scoring after Fisher, any text on likelihood.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]
Complex = NDArray[np.complex128]

KNOTS = 5
EACH = 4  # numbers of a mode
LEAST_DAMPING, MOST_DAMPING = 3e-4, 0.5
# How far a floor's logarithm bends from knot to knot before it is unlikely: as no mode may hide in it.
BEND = 0.7
# Turned heights of more than this part of the highest one are unlikely, and all of them together leave
# nothing far above the modes: a force moves what it acts on by its mass alone there.
TURNED, TURNED_LEFT = 0.5, 0.1
ROUNDS, ROUNDS_BEGUN = 80, 12
# A fit is done when a round gains less than this in the logarithm of the likelihood.
DONE, DONE_GROWING = 1e-4, 0.03


@dataclass(frozen=True, slots=True, eq=False)
class Spectral:
    """The spectrum: bins, densities, ordinates in each, all (n,)."""

    hz: Numbers
    power: Numbers
    counts: Numbers

    def coarser(self, factor: int) -> Spectral:
        """So many bins taken together."""
        if factor == 1:
            return self
        count = len(self.hz) // factor * factor
        counts = self.counts[:count].reshape(-1, factor)
        many = counts.sum(axis=1)
        return Spectral(
            self.hz[:count].reshape(-1, factor).mean(axis=1),
            (self.power[:count].reshape(-1, factor) * counts).sum(axis=1) / many,
            many,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """Logarithms of the floor at its knots (KNOTS,); height with its sign, logarithms of frequency and
    damping, and the turned height, of each mode (modes, EACH). `together`: amplitudes add, else powers.

    The turned height moves a quarter of a period apart from the other: dampers that are not spread as masses
    and springs are (an axle's grease, one loose joint) make neighbours so."""

    floor: Numbers
    modes: Numbers
    slope: float
    together: bool = True

    def taken_apart(self) -> Model:
        return Model(self.floor, self.modes, self.slope, together=False)

    @property
    def numbers(self) -> Numbers:
        return np.concatenate([self.floor, self.modes.ravel()])

    def of(self, numbers: Numbers) -> Model:
        return Model(numbers[:KNOTS], numbers[KNOTS:].reshape(-1, EACH), self.slope, self.together)


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """A model at its likeliest numbers: minus the logarithm of the likelihood, their covariance, the density
    and the floor over the bins (n,)."""

    model: Model
    cost: float
    covariance: Numbers
    density: Numbers
    floor: Numbers


def _floor_rates(hz: Numbers) -> Numbers:
    """How much each knot counts at each bin: hats over the logarithm of frequency, (n, KNOTS)."""
    at = np.log(hz)
    knots = np.linspace(at[0], at[-1], KNOTS)
    wide = knots[1] - knots[0]
    return np.asarray(np.clip(1 - np.abs(at[:, None] - knots) / wide, 0, None))


def _values(model: Model, hz: Numbers, rates: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """The density, the floor (n,), and the derivatives of the density's logarithm, (numbers, n).

    Equation: H = Σ (R + i T f/f0) (f/f0)^slope / (1 − (f/f0)² + 2iζ f/f0); density = floor + |H|², or the sum
    of squares with T = 0. Source: modes of any viscous damping, any text on modal analysis, from memory.
    """
    floor = np.exp(rates @ model.floor)
    slopes = np.empty((len(model.numbers), len(hz)))
    slopes[:KNOTS] = rates.T * floor
    if not len(model.modes):
        return floor.copy(), floor, slopes / floor
    height, log_hz, log_damping, turn = model.modes.T[:, :, None]
    r = hz / np.exp(log_hz)
    swing = 2j * np.exp(log_damping) * r
    square = r * r
    inverse = 1 / (1 - square + swing)
    unit = square * inverse if model.slope else inverse
    whole = height + 1j * turn * r if model.together else height
    part = whole * unit
    moved = part.sum(axis=0) if model.together else part
    turned = 2 * np.conj(moved)
    by_height, by_part = turned * unit, turned * part
    own = slopes[KNOTS:].reshape(len(r), EACH, len(hz))
    own[:, 0] = by_height.real
    own[:, 1] = (by_part * (inverse * (swing - 2 * square) - model.slope)).real
    own[:, 2] = -(by_part * swing * inverse).real
    own[:, 3] = 0.0
    if model.together:
        own[:, 3] = -by_height.imag * r
        own[:, 1] -= turn * own[:, 3]
    density = floor + (_squared(moved) if model.together else _squared(moved).sum(axis=0))
    slopes /= density
    return density, floor, slopes


def _squared(values: Complex) -> Numbers:
    return np.asarray(np.square(values.real) + np.square(values.imag))


def _unlikely(model: Model) -> Numbers:
    """What makes numbers unlikely beforehand: the squares of this matrix (m, numbers) times them."""
    count = len(model.modes)
    rows = np.zeros((KNOTS - 2 + count + (count > 0), len(model.numbers)))
    rows[: KNOTS - 2, :KNOTS] = np.diff(np.eye(KNOTS), 2, axis=0) / BEND
    if count:
        highest = float(np.abs(model.modes[:, 0]).max()) + 1e-300
        turned = KNOTS + 3 + EACH * np.arange(count)
        rows[KNOTS - 2 + np.arange(count), turned] = 1 / (TURNED * highest)
        rows[-1, turned] = np.exp(model.modes[0, 1] - model.modes[:, 1]) / (TURNED_LEFT * highest)
    return rows


def settled(model: Model, data: Spectral, done: float = DONE, rounds: int = ROUNDS) -> Settled:
    """The likeliest numbers, by scoring with Levenberg's damping; a bent floor is unlikely beforehand."""
    hz, power, counts = data.hz, data.power, data.counts
    rates = _floor_rates(hz)
    bends = _unlikely(model)

    def cost_of(density: Numbers, numbers: Numbers) -> float:
        likely = float((counts * (np.log(density) + power / density)).sum())
        return likely + 0.5 * float(np.square(bends @ numbers).sum())

    density, floor, slopes = _values(model, hz, rates)
    cost = cost_of(density, model.numbers)
    damp = 1e-3
    for _ in range(rounds):
        curvature = (slopes * counts) @ slopes.T + bends.T @ bends
        downhill = slopes @ (counts * (power / density - 1)) - bends.T @ (bends @ model.numbers)
        scale = np.diag(curvature) + 1e-12 * float(np.trace(curvature)) + 1e-300
        step = np.linalg.solve(curvature + np.diag(damp * scale), downhill)
        # A logarithm that moves by more than a half at once is a leap in the dark; so is such a height.
        leap = np.abs(step)
        for first in (KNOTS, KNOTS + 3):
            leap[first::EACH] /= np.hypot(model.modes[:, 0], model.modes[:, 3]) + 1e-300
        step *= min(1.0, 0.5 / max(float(leap.max()), 1e-300))
        tried = _kept_in_bounds(model.of(model.numbers + step), hz)
        new_density, new_floor, new_slopes = _values(tried, hz, rates)
        new_cost = cost_of(new_density, tried.numbers)
        if np.isfinite(new_cost) and new_cost < cost:
            gain = cost - new_cost
            model, density, floor, slopes, cost = tried, new_density, new_floor, new_slopes, new_cost
            damp = max(damp / 5, 1e-9)
            if gain < done:
                break
        else:
            damp *= 8
            if damp > 1e8:
                break
    curvature = (slopes * counts) @ slopes.T + bends.T @ bends
    ridge = 1e-10 * float(np.trace(curvature)) / len(curvature)
    covariance = np.asarray(np.linalg.inv(curvature + ridge * np.eye(len(curvature))), dtype=np.float64)
    return Settled(model, cost, covariance, density, floor)


def _kept_in_bounds(model: Model, hz: Numbers) -> Model:
    modes = model.modes.copy()
    if len(modes):
        modes[:, 1] = np.clip(modes[:, 1], np.log(hz[0]), np.log(hz[-1]))
        modes[:, 2] = np.clip(modes[:, 2], np.log(LEAST_DAMPING), np.log(MOST_DAMPING))
    return Model(model.floor, modes, model.slope, model.together)
