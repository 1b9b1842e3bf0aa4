"""A heated plate before its power is on: what its heater draws, how long it takes, what holding costs."""

from __future__ import annotations

import math
from dataclasses import dataclass

# What air and radiation take from a warm face, W/(m² K): between 8 and 15. Common practice, no source.
LOSS_WATT_PER_M2_KELVIN = 10.0
# A heater's resistance may be off by this part, or it is another one. Common practice, no source.
RESISTANCE_WITHIN = 0.1
# A plate for 100 °C wants this much. Common practice, no source.
WATT_PER_CM2_FOR_100_CELSIUS = 0.4
# Holding power over its first value by this factor: look at the sensor. Common practice, no source.
HOLD_GROWN = 1.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """Density in kg/m³ and heat capacity in J/(kg K)."""

    density: float
    heat_capacity: float


# Source: handbook values, from memory.
MATERIALS = {
    "aluminium": Material(density=2700, heat_capacity=900),
    "steel": Material(density=7850, heat_capacity=470),
    "glass": Material(density=2500, heat_capacity=840),
}


def heater_ohm(power_watt: float, volt: float) -> float:
    """Resistance that draws a power at a voltage: V²/P."""
    return volt * volt / power_watt


def heater_watt(ohm: float, volt: float) -> float:
    """Power that a resistance draws at a voltage: V²/R."""
    return volt * volt / ohm


def plate_joule_per_kelvin(material: Material, area_m2: float, thickness_m: float) -> float:
    """Heat that a plate takes up for each kelvin: density · volume · capacity."""
    return material.density * area_m2 * thickness_m * material.heat_capacity


def warm_up_second(
    power_watt: float, joule_per_kelvin: float, rise_kelvin: float, loss_watt_per_kelvin: float
) -> float:
    """Time from cold until a plate has risen; infinite when the losses at the end eat the power.

    Equation: t = −τ · ln(1 − ΔT · loss / P), τ = capacity / loss: one lump of heat losing in proportion.
    Source: F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, lumped capacitance, from
    memory.
    """
    if loss_watt_per_kelvin <= 0:
        return joule_per_kelvin * rise_kelvin / power_watt
    used = rise_kelvin * loss_watt_per_kelvin / power_watt
    if used >= 1:
        return math.inf
    return -joule_per_kelvin / loss_watt_per_kelvin * math.log(1 - used)


def highest_rise_kelvin(power_watt: float, loss_watt_per_kelvin: float) -> float:
    """The rise at which losses equal the power: it gets no hotter, however long it is on."""
    return power_watt / loss_watt_per_kelvin


def hold_share(power_watt: float, rise_kelvin: float, loss_watt_per_kelvin: float) -> float:
    """The part of the power that holding a rise takes; over 1 it is never reached."""
    return rise_kelvin * loss_watt_per_kelvin / power_watt
