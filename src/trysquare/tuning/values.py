"""A measured value with its uncertainty, as every tuning gives it."""

from __future__ import annotations

import math
from dataclasses import dataclass

# Expanded uncertainty is given for a coverage of about 95 %. Source: JCGM 100:2008, 6.3.3 and annex G.
COVERAGE = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A quantity and its standard uncertainty, in the unit that its name says.

    `unit` is a sign of the SI or of the trade, such as Hz, N, mm, mm/100; `basis` says what it rests on.
    """

    value: float
    standard_uncertainty: float
    unit: str
    basis: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and self.standard_uncertainty >= 0):
            raise ValueError(f"no measured value: {self.value!r} ± {self.standard_uncertainty!r} {self.unit}")

    @property
    def expanded(self) -> float:
        """Half width that holds the true value in about 95 of 100 cases (k = 2)."""
        return COVERAGE * self.standard_uncertainty

    def __str__(self) -> str:
        return f"{self.value:.{self.decimals}f} ± {self.expanded:.{self.decimals}f} {self.unit}".rstrip()

    @property
    def decimals(self) -> int:
        """Places after the point that show the expanded uncertainty with two digits, at most six."""
        if self.expanded <= 0:
            return 3
        return min(6, max(0, 1 - math.floor(math.log10(self.expanded))))


def relative(*parts: float) -> float:
    """Relative standard uncertainty of a product of independent factors, each given as a relative one.

    Source: JCGM 100:2008, 5.1.6, equation (12).
    """
    return math.sqrt(sum(part * part for part in parts))
