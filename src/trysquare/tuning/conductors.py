"""Copper of a wire: diameter, resistance, drop, and the next fuse."""

from __future__ import annotations

import math

# Source: IEC 60028:1925, annealed copper at 20 °C: 1/58 Ω mm²/m.
COPPER_OHM_MM2_PER_KM = 17.241
# Source: IEC 60028:1925, from memory: rise of copper's resistance for each kelvin at 20 °C.
COPPER_PER_KELVIN = 0.00393
# Blade fuses that shops have. Common practice, no source.
BLADE_FUSES_AMPERE = (1, 2, 3, 5, 7.5, 10, 15, 20, 25, 30)
# A fuse carries so much more than the load draws. Common practice, no source.
FUSE_FACTOR = 1.25


def awg_diameter_mm(gauge: int) -> float:
    """Bare diameter of a solid wire of a gauge number. Source: ASTM B258: 0.127 · 92^((36 − n)/39)."""
    return float(0.127 * 92 ** ((36 - gauge) / 39))


def awg_area_mm2(gauge: int) -> float:
    """Cross-section of a solid wire of a gauge number. Source: ASTM B258."""
    return math.pi / 4 * awg_diameter_mm(gauge) ** 2


def ohm_per_km(area_mm2: float, celsius: float = 20.0) -> float:
    """Resistance of copper of a cross-section. Source: IEC 60028:1925."""
    return COPPER_OHM_MM2_PER_KM / area_mm2 * (1 + COPPER_PER_KELVIN * (celsius - 20))


def to_20_celsius_factor(celsius: float) -> float:
    """Factor that brings a resistance measured at a temperature to 20 °C: 254.5 / (234.5 + t).

    Source: IEC 60228, annex, temperature correction.
    """
    return 254.5 / (234.5 + celsius)


def drop_volt(length_m: float, ohm_per_km_: float, ampere: float) -> float:
    """Voltage lost on the way there and back. Equation: 2 · L · R′ · I."""
    return 2 * length_m * ohm_per_km_ / 1000 * ampere


def fuse_ampere(load_ampere: float) -> float | None:
    """The smallest fuse at or over 1.25 × the load; None when no blade fuse is that large.

    A fuse protects the wire: it must never be larger than what the wire may carry.
    """
    wanted = FUSE_FACTOR * load_ampere
    return next((float(one) for one in BLADE_FUSES_AMPERE if one >= wanted), None)
