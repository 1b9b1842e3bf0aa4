"""What a reading is worth: standard uncertainties, repeats, coverage, and the guard band of a verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import StrEnum
from functools import cache

from scipy import stats

COVERAGE = 2.0
"""Expanded uncertainty U = 2 u, about 95 %. Source: JCGM 100:2008, 6.3.3."""


EXPERIENCE = 20
"""How many repeats a scatter known from experience counts for. common practice, no source"""


class Shape(StrEnum):
    """What is known of a value that lies within ± its half-width."""

    RECTANGULAR = "rectangular"  # anywhere within, as likely
    TRIANGULAR = "triangular"  # rather near the middle
    ARCSINE = "arcsine"  # rather near the ends, as of something that swings


_DIVISORS = {Shape.RECTANGULAR: 3.0, Shape.TRIANGULAR: 6.0, Shape.ARCSINE: 2.0}


def standard_uncertainty(half_width: float, shape: Shape = Shape.RECTANGULAR) -> float:
    """Standard uncertainty, in the half-width's own unit, of a value known to lie within ± half_width.

    Equation: a/√3, a/√6 or a/√2. Source: JCGM 100:2008, 4.3.7, 4.3.9 and F.2.2.1.
    """
    return half_width / math.sqrt(_DIVISORS[shape])


@cache
def coverage_factor(degrees_of_freedom: float, level: float = 0.95) -> float:
    """Student's t for a two-sided level. Without end many degrees of freedom it is the normal factor.

    Source: JCGM 100:2008, table G.2.
    """
    if math.isinf(degrees_of_freedom):
        return float(stats.norm.ppf(0.5 + level / 2))
    return float(stats.t.ppf(0.5 + level / 2, degrees_of_freedom))


def effective_degrees_of_freedom(
    uncertainties: Sequence[float], degrees_of_freedom: Sequence[float]
) -> float:
    """Welch–Satterthwaite: u⁴ / Σ (uᵢ⁴ / νᵢ); inf when no part has a finite number.

    Source: JCGM 100:2008, G.4.1, equation (G.2b).
    """
    total = sum(part**2 for part in uncertainties) ** 2
    weighed = sum(
        part**4 / freedom
        for part, freedom in zip(uncertainties, degrees_of_freedom, strict=True)
        if not math.isinf(freedom)
    )
    return total / weighed if weighed > 0 else math.inf


def scatter_of_mean(values: Sequence[float], known: float = 0.0) -> float:
    """Standard uncertainty of a mean of repeats, so that twice it covers about 95 %.

    `known`: standard deviation of a single reading known from experience; it counts as so many repeats as
    `EXPERIENCE` says, unless these repeats scatter so much more that they are another matter. From few
    repeats alone the scatter is badly known, so it is widened by t/2. One value: `known` itself.
    Source: JCGM 100:2008, 4.2.3 (s/√n), H.3.6 and 4.2.4 (pooled deviation), table G.2 (t).
    """
    count = len(values)
    if count < 2:
        return known
    mean = math.fsum(values) / count
    squares = math.fsum((value - mean) ** 2 for value in values)
    freedom = count - 1
    if known > 0 and squares / freedom <= known**2 * stats.f.ppf(0.99, freedom, EXPERIENCE):
        squares, freedom = squares + EXPERIENCE * known**2, freedom + EXPERIENCE
    return math.sqrt(squares / freedom / count) * coverage_factor(float(freedom)) / COVERAGE


def conformance_probability(
    value: float, uncertainty: float, lower: float = -math.inf, upper: float = math.inf
) -> float:
    """Probability that the true value lies within the limits, for a normal state of knowledge.

    Source: JCGM 106:2012, clause 7, equations for one and two limits.
    """
    if uncertainty <= 0:
        return float(lower <= value <= upper)
    return float(
        stats.norm.cdf((upper - value) / uncertainty) - stats.norm.cdf((lower - value) / uncertainty)
    )


def acceptance_limit(limit: float, uncertainty: float, factor: float = COVERAGE) -> float:
    """The largest value that is accepted under an upper limit: the limit less a guard band of factor · u.

    Source: ISO 14253-1 (the classic rule, reduced by U); JCGM 106:2012, clause 8.3.
    """
    return limit - factor * uncertainty
