"""A temperature sensor as its maker names it, what a meter reads on it at room temperature, and its table."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from trysquare.tuning.thermometers import (
    Thermistor,
    platinum_celsius,
    platinum_ohm,
    platinum_tolerance_kelvin,
    thermistor_by_beta,
)

EXAMPLES = "pt100, pt1000, ntc:100000:3950 (ohm at 25 °C, β) or ntc:1.009e-3,2.378e-4,2.019e-7 (a, b, c)"
PLATINUM_CLASS = "B"
# A thermistor's resistance at 25 °C and its β may be off by this part. Common practice, no source.
NTC_WITHIN, BETA_WITHIN = 0.05, 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """`name` as a person reads it, `rises` with temperature or not, its law both ways, `law` with its source.

    `within`: the part of its resistance by which a sound one may be off at a temperature, °C.
    """

    name: str
    rises: bool
    ohm: Callable[[float], float]
    celsius: Callable[[float], float]
    within: Callable[[float], float]
    law: str


def sensor_of(text: str) -> Sensor:
    """The sensor that a text names; raises ValueError in words."""
    word, _, rest = text.strip().casefold().partition(":")
    if word in ("pt100", "pt1000") and not rest:
        return _platinum(float(word[2:]))
    if word == "ntc" and rest:
        try:
            parts = [float(one) for one in rest.replace(":", ",").split(",")]
        except ValueError:
            parts = []
        if len(parts) == 2 and 1 <= parts[0] <= 1e8 and 500 <= parts[1] <= 10_000:
            return _thermistor(
                thermistor_by_beta(parts[0], parts[1]), f"NTC {parts[0]:g} Ω, β {parts[1]:g} K",
                "R = R25 · e^(β (1/T − 1/298.15))",
            )  # fmt: skip
        if len(parts) == 3 and parts[1] > 0 and parts[2] >= 0 and all(map(math.isfinite, parts)):
            return _thermistor(
                Thermistor(a=parts[0], b=parts[1], c=parts[2]), "NTC by a, b, c",
                "1/T = a + b ln R + c (ln R)³, Steinhart and Hart 1968",
            )  # fmt: skip
    raise ValueError(f"the sensor reads '{text[:60]}'; expected {EXAMPLES}")


def _platinum(at_zero: float) -> Sensor:
    def within(celsius: float) -> float:
        kelvin = platinum_tolerance_kelvin(celsius, PLATINUM_CLASS)
        low, high = platinum_ohm(celsius - kelvin, at_zero), platinum_ohm(celsius + kelvin, at_zero)
        return (high - low) / 2 / platinum_ohm(celsius, at_zero)

    return Sensor(
        name=f"Pt{at_zero:g}",
        rises=True,
        ohm=lambda celsius: platinum_ohm(celsius, at_zero),
        celsius=lambda ohm: platinum_celsius(ohm, at_zero),
        within=within,
        law=f"IEC 60751:2008, class {PLATINUM_CLASS}",
    )


def _thermistor(law: Thermistor, name: str, words: str) -> Sensor:
    def within(celsius: float) -> float:
        # β's error counts from 25 °C on: ln R changes by Δβ · (1/T − 1/298.15).
        beta = BETA_WITHIN / law.b * abs(1 / (celsius + 273.15) - 1 / 298.15)
        return NTC_WITHIN + beta

    return Sensor(name=name, rises=False, ohm=law.ohm, celsius=law.celsius, within=within, law=words)


def room_limits(sensor: Sensor, room_celsius: float, room_within_kelvin: float) -> tuple[float, float, float]:
    """Resistance at room temperature, and between which a sound sensor's lies: low, expected, high in Ω."""
    ends = [sensor.ohm(room_celsius - room_within_kelvin), sensor.ohm(room_celsius + room_within_kelvin)]
    part = sensor.within(room_celsius)
    return min(ends) * (1 - part), sensor.ohm(room_celsius), max(ends) * (1 + part)


def table_rows(sensor: Sensor, low: float, high: float, step: float) -> tuple[tuple[str, str, str], ...]:
    """Temperature, resistance and what a sound one may be off in K, at round temperatures."""
    count = min(400, math.floor((high - low) / step + 1e-9) + 1)
    rows = []
    for index in range(count):
        celsius = low + index * step
        ohm = sensor.ohm(celsius)
        slope = (sensor.ohm(celsius + 0.05) - sensor.ohm(celsius - 0.05)) / 0.1
        kelvin = abs(sensor.within(celsius) * ohm / slope) if slope else math.inf
        rows.append((f"{celsius:g}", figure(ohm), f"{kelvin:.1f}"))
    return tuple(rows)


def figure(ohm: float) -> str:
    """A resistance with five digits that count, at most three places."""
    places = max(0, min(3, 4 - math.floor(math.log10(ohm)))) if ohm > 0 else 1
    return f"{ohm:.{places}f}"
