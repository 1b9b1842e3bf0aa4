"""What a stepper motor can pull at a speed, from its data sheet and the supply; and how warm it may run.

The ideal two-phase motor with sine currents: no iron losses, no detent, no swinging. A real one does less, so
half of it is what is planned with.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

RESERVE = 2.0  # plan with half of what the ideal motor pulls: common practice, no source
USUAL_SHARE = 0.7  # of the rated current, where nothing was measured: common practice, no source
# Where a motor is held by a printed part, and by metal; above 60 °C skin burns. Common practice, no source.
PRINTED_CELSIUS, METAL_CELSIUS = 55.0, 75.0
ROOM_CELSIUS = 22.0
STEPS_PER_POLE_PAIR = 4  # full steps of a two-phase motor in one electrical turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Motor:
    """A two-phase hybrid stepper by its data sheet: a phase's resistance and inductance, the rated current of
    a phase (RMS, both phases on), the holding torque at it, the rotor's inertia, full steps a turn."""

    resistance_ohm: float
    inductance_millihenry: float
    rated_ampere: float
    holding_newton_metre: float
    rotor_gram_cm2: float = 0.0
    full_steps: int = 200

    def __post_init__(self) -> None:
        values = (
            self.resistance_ohm,
            self.inductance_millihenry,
            self.rated_ampere,
            self.holding_newton_metre,
        )
        if not (all(0 < one < math.inf for one in values) and self.rotor_gram_cm2 >= 0):
            raise ValueError(f"no motor: {self!r}")

    @property
    def pole_pairs(self) -> float:
        """Electrical turns for one of the shaft: 50 for 200 full steps."""
        return self.full_steps / STEPS_PER_POLE_PAIR

    @property
    def torque_constant(self) -> float:
        """N·m for an ampere of a phase's sine, at its crest; also V·s/rad.

        Equation: both phases at the rated current hold with T = k · √2 · I, as a sine of crest √2 · I does.
        Source: vectors of two phases at right angles, any text on stepping motors.
        """
        return self.holding_newton_metre / (math.sqrt(2) * self.rated_ampere)

    @property
    def rotor_kg_m2(self) -> float:
        return self.rotor_gram_cm2 * 1e-7


def pull_out_newton_metre(
    motor: Motor, volt: float, ampere: float, radian_per_second: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Largest torque of the ideal motor at speeds, shape (n,); 0 where the supply cannot even make it turn.

    `ampere` is the RMS current that the driver keeps, `volt` the supply. Equation: with the current (q, d) of
    crest √2 · I and the voltage (R + jωL)(q + jd) + kω of crest U at most, the largest k · q in both circles.
    Source: phasors of a synchronous machine, any text on electrical machines; the geometry is ours.
    """
    speed = np.asarray(radian_per_second, dtype=np.float64)
    crest = math.sqrt(2) * ampere
    impedance = motor.resistance_ohm + 1j * motor.pole_pairs * speed * motor.inductance_millihenry * 1e-3
    centre = -motor.torque_constant * speed / impedance
    radius = volt / np.abs(impedance)
    found = np.full(speed.shape, -np.inf)
    # The rightmost point of each disc, where the other holds it; else where their rims meet.
    found = np.where(np.abs(crest - centre) <= radius * (1 + 1e-12), crest, found)
    right = centre + radius
    inside = np.abs(right) <= crest * (1 + 1e-12)
    found = np.where(inside, np.maximum(found, right.real), found)
    apart = np.abs(centre)
    meet = (apart < crest + radius) & (apart > np.abs(crest - radius)) & (apart > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (apart**2 + crest**2 - radius**2) / (2 * apart)
        aside = np.sqrt(np.maximum(crest**2 - along**2, 0.0))
        way = centre / apart
        for sign in (1, -1):
            point = way * (along + sign * 1j * aside)
            found = np.where(meet, np.maximum(found, point.real), found)
    return np.asarray(motor.torque_constant * np.maximum(found, 0.0), dtype=np.float64)


def corner_radian_per_second(motor: Motor, volt: float, ampere: float) -> float:
    """Speed up to which the full current still fits into the supply's voltage; 0 when it never does.

    Equation: (R Î + kω)² + (p ω L Î)² = U², with the crest Î.
    """
    crest = math.sqrt(2) * ampere
    k, reactance = motor.torque_constant, motor.pole_pairs * motor.inductance_millihenry * 1e-3 * crest
    a, b = k * k + reactance * reactance, motor.resistance_ohm * crest * k
    c = (motor.resistance_ohm * crest) ** 2 - volt * volt
    return max(0.0, (-b + math.sqrt(b * b - a * c)) / a) if c < 0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What a motor has to move: by a belt (efficiency 1) or a screw, `travel_mm` for each of its turns.

    `share`: of the force for this motor: 1, or √½ for the worst way of a crossed-belt drive, where one motor
    runs √2 as fast as the head and does all the work.
    """

    travel_mm: float
    moving_gram: float
    acceleration_mm_per_s2: float
    drag_newton: float = 0.0
    lift_newton: float = 0.0
    efficiency: float = 1.0
    crossed: bool = False

    @property
    def share(self) -> float:
        return math.sqrt(0.5) if self.crossed else 1.0

    @property
    def force_newton(self) -> float:
        """m · a + drag + what is lifted."""
        inertia = self.moving_gram * 1e-3 * self.acceleration_mm_per_s2 * 1e-3
        return inertia + self.drag_newton + self.lift_newton

    def shaft_radian_per_second(self, mm_per_second: float) -> float:
        """Of the motor, at a speed of the head along the worst way."""
        return 2 * math.pi * mm_per_second / self.travel_mm / self.share


def needed_newton_metre(motor: Motor, load: Load) -> float:
    """Torque for the load and for the rotor itself.

    Equation: F · travel / (2π η), and J · 2π a / travel. Source: kinematics; work in is work out.
    """
    metre_per_radian = load.travel_mm * 1e-3 / (2 * math.pi)
    rotor = motor.rotor_kg_m2 * load.acceleration_mm_per_s2 * 1e-3 / metre_per_radian / load.share
    return load.force_newton * metre_per_radian * load.share / load.efficiency + rotor


def highest_speed_mm_per_second(
    motor: Motor, load: Load, volt: float, ampere: float, reserve: float = RESERVE
) -> float:
    """Speed of the head up to which the motor pulls `reserve` times what is needed; 0 if at none."""
    needed = reserve * needed_newton_metre(motor, load)

    def spare(mm_per_second: float) -> float:
        speed = np.array([load.shaft_radian_per_second(mm_per_second)])
        return float(pull_out_newton_metre(motor, volt, ampere, speed)[0]) - needed

    if spare(1e-6) <= 0:
        return 0.0
    high = 1.0
    while spare(high) > 0:
        high *= 2
        if high > 1e6:
            return high
    return float(brentq(spare, 0.0, high, xtol=1e-6))


def copper_watt(motor: Motor, ampere: float) -> float:
    """Heat of both phases at an RMS current. Equation: 2 I² R. Source: Joule's law."""
    return 2 * ampere**2 * motor.resistance_ohm


def current_for_celsius(
    now_ampere: float, now_celsius: float, wanted_celsius: float, room_celsius: float
) -> float:
    """RMS current that brings the case to a temperature, from what was measured at another current.

    Standing still a motor's rise goes with its copper heat: I = I₀ · √(wanted rise / rise). Needs a case
    warmer than the room. Source: Joule's law and Newton's law of cooling.
    """
    rise, wanted = now_celsius - room_celsius, wanted_celsius - room_celsius
    if not (rise > 0 and wanted > 0):
        raise ValueError(
            f"a case of {now_celsius:g} °C in a room of {room_celsius:g} °C: expected it to be warmer"
        )
    return now_ampere * math.sqrt(wanted / rise)


def microstep_newton_metre(motor: Motor, ampere: float, microsteps: int) -> float:
    """Torque that answers a load one microstep off: T · sin(90° / microsteps).

    Source: torque is a sine of the load angle with a quarter turn to each full step, any text on steppers.
    """
    return motor.holding_newton_metre * ampere / motor.rated_ampere * math.sin(math.pi / 2 / microsteps)
