"""Readings that cannot be right beside the others: found by their normalised residuals, with a likely cause.

The largest normalised residual goes first; it is set aside and the rest is adjusted again, until nothing
sticks out. Of each reading it is told how large a blunder would have to be to be found at all.
Source: Baarda, A testing procedure for use in geodetic networks, 1968 (data snooping; there δ₀ = 4.13 for a
chance of 0.1 % of accusing a good reading and 80 % of finding a bad one; here 95 %, δ₀ = 3.29 + 1.645).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.truing.model import Model
from trysquare.truing.network import Adjustment, adjust

STICKS_OUT = 3.29  # normalised residual that a good reading has once in a thousand. Source: normal table
FOUND_SIZE = 4.935  # non-centrality with which 95 % are found at that limit. Source: normal table
LEAST_REDUNDANCY = 1e-4  # below, rounding decides
MOST_BLUNDERS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """How well the other readings and joints check one observation. `normalised`: residual over its own
    standard deviation; `findable`: smallest blunder that nineteen times of twenty would be found, inf
    when nothing checks it."""

    expected: float
    residual: float
    normalised: float
    redundancy: float
    findable: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Blunder:
    """An observation that contradicts the others. `index`: which; `off`: by how much it is out;
    `expected`, `uncertainty`: what the others say it should read, and how sure that is. `instead`: others
    that would explain the contradiction nearly as well."""

    index: int
    off: float
    expected: float
    uncertainty: float
    normalised: float
    instead: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Snooped:
    """The adjustment without its blunders, and what was found on the way."""

    adjustment: Adjustment
    used: NDArray[np.bool_]  # (m,)
    blunders: tuple[Blunder, ...]


def snoop(model: Model, excluded: frozenset[int] = frozenset()) -> Snooped:
    """Adjusts and sets aside what contradicts the rest. `excluded`: observations that do not count anyway."""
    used = np.ones(model.equations.rows, dtype=bool)
    for index in excluded:
        used[model.rows_of[index]] = False
    solved = adjust(model.equations, held=model.held, used=used)
    found: list[Blunder] = []
    while len(found) < MOST_BLUNDERS:
        candidate = _worst(model, solved, used)
        if candidate is None:
            break
        used[model.rows_of[candidate.index]] = False
        solved = adjust(model.equations, held=model.held, used=used, start=solved.x)
        found.append(candidate)
    return Snooped(adjustment=solved, used=used, blunders=tuple(found))


def checked(model: Model, snooped: Snooped) -> tuple[Checked, ...]:
    """For every observation how it agrees with the others; one set aside is held against those that count."""
    if not len(model.rows_of):
        return ()
    solved = snooped.adjustment
    rows = model.rows_of
    expected = model.equations.observed[rows] - solved.residual[rows]
    deviation = _deviation(model, solved, snooped.used)
    redundancy = np.clip(solved.redundancy(rows), 0.0, 1.0)
    sigma = model.equations.sigma[rows]
    return tuple(
        Checked(
            expected=float(expected[index]),
            residual=float(solved.residual[row]),
            normalised=float(solved.residual[row] / deviation[index]) if deviation[index] > 0 else 0.0,
            redundancy=float(redundancy[index]) if snooped.used[row] else 1.0,
            findable=float(FOUND_SIZE * sigma[index] / np.sqrt(redundancy[index]))
            if redundancy[index] > LEAST_REDUNDANCY
            else float("inf"),
        )
        for index, row in enumerate(rows)
    )


def _deviation(model: Model, solved: Adjustment, used: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Standard deviations of the residuals; 0 where nothing checks the observation."""
    rows = model.rows_of
    sigma = model.equations.sigma[rows]
    redundancy = solved.redundancy(rows)
    carried = solved.uncertainty(solved.matrix[rows])
    within = np.where(redundancy > LEAST_REDUNDANCY, sigma * np.sqrt(np.maximum(redundancy, 0.0)), 0.0)
    spread: NDArray[np.float64] = np.where(used[rows], within, np.hypot(sigma, carried))
    return spread


def _worst(model: Model, solved: Adjustment, used: NDArray[np.bool_]) -> Blunder | None:
    if not len(model.rows_of):
        return None
    rows = model.rows_of
    deviation = _deviation(model, solved, used)
    residual = solved.residual[rows]
    counts = used[rows] & (deviation > 0)
    normalised = np.zeros(len(rows))
    normalised[counts] = np.abs(residual[counts]) / deviation[counts]
    worst = int(np.argmax(normalised))
    if normalised[worst] <= STICKS_OUT:
        return None
    sigma = float(model.equations.sigma[rows[worst]])
    share = float(solved.redundancy(rows[[worst]])[0])
    off = float(residual[worst]) / share
    value = float(model.equations.observed[rows[worst]])
    # what the others alone expect: u² = σ² (1 − r) / r. Source: from the block form of the normal equations
    alone = sigma * float(np.sqrt(max(0.0, (1 - share) / share)))
    near = np.flatnonzero(normalised > 0.97 * normalised[worst])
    return Blunder(
        index=worst,
        off=off,
        expected=value - off,
        uncertainty=alone,
        normalised=float(np.sign(residual[worst]) * normalised[worst]),
        instead=tuple(int(index) for index in near if index != worst),
    )
