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
        return f"{value_words(self.value, self.expanded)} {self.unit}".rstrip()


def places(expanded: float) -> int:
    """Places after the point that an expanded uncertainty above 0 lets count, at most six; < 0: tens.

    Its three first digits say how many of them are worth showing: 100 to 354 two, 355 to 949 one, 950 to 999
    are shown as 1000. Source: Particle Data Group, Review of Particle Physics, introduction, 5.3 Rounding.
    """
    digits, _, power = f"{expanded:.2e}".partition("e")
    shown = 2 if float(digits) < 3.545 or float(digits) >= 9.495 else 1
    return min(6, shown - 1 - int(power) - (1 if float(digits) >= 9.495 else 0))


def value_words(value: float, expanded: float) -> str:
    """A value ± its expanded uncertainty, with the digits that count; without ± where nothing is unsure.

    A value that is only reckoned shows four digits.
    """
    if expanded <= 0:
        size = abs(value)
        last = 3 if size < 1e-6 else min(6, 3 - math.floor(math.log10(size)))
        return _fixed(value, max(0, last))
    last = places(expanded)
    return f"{_fixed(value, last)} ± {_fixed(expanded, last)}"


def _fixed(value: float, last: int) -> str:
    text = f"{round(value, last) + 0.0:.{max(0, last)}f}"
    return text if float(text) else text.lstrip("-")


def relative(*parts: float) -> float:
    """Relative standard uncertainty of a product of independent factors, each given as a relative one.

    Source: JCGM 100:2008, 5.1.6, equation (12).
    """
    return math.sqrt(sum(part * part for part in parts))
