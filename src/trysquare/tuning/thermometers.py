"""Resistance thermometers: platinum by its standard, thermistors by β or by Steinhart and Hart."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

KELVIN_AT_ZERO_CELSIUS = 273.15

# Source: IEC 60751:2008, 4.2: coefficients of the Callendar–Van Dusen polynomial.
PLATINUM_A, PLATINUM_B, PLATINUM_C = 3.9083e-3, -5.775e-7, -4.183e-12
# Source: IEC 60751:2008, table 3: tolerance in kelvin = first + second · |t|.
PLATINUM_CLASSES = {"AA": (0.1, 0.0017), "A": (0.15, 0.002), "B": (0.3, 0.005), "C": (0.6, 0.01)}


def platinum_ohm(celsius: float, at_zero_ohm: float = 100.0) -> float:
    """Resistance of a platinum thermometer, −200 … 850 °C. Source: IEC 60751:2008, 4.2."""
    if not -200 <= celsius <= 850:
        raise ValueError(
            f"{celsius} °C lies outside −200 … 850 °C, where the standard gives platinum's resistance"
        )
    below = PLATINUM_C * (celsius - 100) * celsius**3 if celsius < 0 else 0.0
    return at_zero_ohm * (1 + PLATINUM_A * celsius + PLATINUM_B * celsius**2 + below)


def platinum_celsius(ohm: float, at_zero_ohm: float = 100.0) -> float:
    """Temperature of a platinum thermometer, by Newton's steps on the standard's polynomial.

    Source: IEC 60751:2008, 4.2.
    """
    ratio = ohm / at_zero_ohm
    celsius = (math.sqrt(PLATINUM_A**2 - 4 * PLATINUM_B * (1 - ratio)) - PLATINUM_A) / (2 * PLATINUM_B)
    for _ in range(20):
        if not -200 <= celsius <= 850:
            raise ValueError(f"{ohm} Ω is no resistance of this thermometer between −200 and 850 °C")
        slope = PLATINUM_A + 2 * PLATINUM_B * celsius
        if celsius < 0:
            slope += PLATINUM_C * (4 * celsius**3 - 300 * celsius**2)
        step = (platinum_ohm(celsius, 1.0) - ratio) / slope
        celsius -= step
        if abs(step) < 1e-10:
            break
    return celsius


def platinum_tolerance_kelvin(celsius: float, tolerance_class: str) -> float:
    """How far a thermometer of a class may be off. Source: IEC 60751:2008, table 3."""
    first, second = PLATINUM_CLASSES[tolerance_class]
    return first + second * abs(celsius)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermistor:
    """Steinhart and Hart's curve 1/T = a + b·ln R + c·(ln R)³, T in kelvin, R in ohm; c = 0 is the β model.

    Source: J. S. Steinhart and S. R. Hart, Deep-Sea Research 15 (1968), 497, from memory.
    """

    a: float
    b: float
    c: float = 0.0

    def celsius(self, ohm: float) -> float:
        """Temperature at a resistance above nought."""
        if not ohm > 0:
            raise ValueError(f"{ohm} Ω: a thermistor's resistance is above nought; is the sensor shorted?")
        log = math.log(ohm)
        return 1 / (self.a + self.b * log + self.c * log**3) - KELVIN_AT_ZERO_CELSIUS

    def ohm(self, celsius: float) -> float:
        """Resistance at a temperature above absolute nought; the cubic has one real root for b, c > 0."""
        inverse = 1 / (celsius + KELVIN_AT_ZERO_CELSIUS)
        if self.c == 0:
            return math.exp((inverse - self.a) / self.b)
        log = (inverse - self.a) / self.b
        for _ in range(60):
            step = (self.a + self.b * log + self.c * log**3 - inverse) / (self.b + 3 * self.c * log**2)
            log -= step
            if abs(step) < 1e-13:
                break
        return math.exp(log)


def thermistor_by_beta(ohm_at_25: float, beta_kelvin: float) -> Thermistor:
    """The β model R = R25 · exp(β (1/T − 1/298.15)), as Steinhart and Hart's curve without its cube."""
    return Thermistor(
        a=1 / (25 + KELVIN_AT_ZERO_CELSIUS) - math.log(ohm_at_25) / beta_kelvin, b=1 / beta_kelvin
    )


def beta_kelvin(ohm_1: float, celsius_1: float, ohm_2: float, celsius_2: float) -> float:
    """β from two points: ln(R1 / R2) / (1/T1 − 1/T2)."""
    inverse = [1 / (one + KELVIN_AT_ZERO_CELSIUS) for one in (celsius_1, celsius_2)]
    return math.log(ohm_1 / ohm_2) / (inverse[0] - inverse[1])


def thermistor_through(
    points: tuple[tuple[float, float], tuple[float, float], tuple[float, float]],
) -> Thermistor:
    """The curve through three points (ohm, celsius), all different."""
    logs = np.log([ohm for ohm, _ in points])
    inverse = [1 / (celsius + KELVIN_AT_ZERO_CELSIUS) for _, celsius in points]
    a, b, c = np.linalg.solve(np.stack([np.ones(3), logs, logs**3], axis=1), inverse)
    return Thermistor(a=float(a), b=float(b), c=float(c))
