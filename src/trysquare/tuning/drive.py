"""Steps, travel and directions of an axis: what should be, what was measured, which wire is wrong."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np


def travel_per_turn_belt_mm(teeth: int, pitch_mm: float) -> float:
    """Travel of a belt for one turn of its pulley. Source: kinematics."""
    return teeth * pitch_mm


def travel_per_turn_screw_mm(pitch_mm: float, starts: int) -> float:
    """Travel of a nut for one turn of its screw: the lead. Source: kinematics."""
    return pitch_mm * starts


def steps_per_mm(
    full_steps: int, microsteps: int, travel_per_turn_mm: float, gear_ratio: float = 1.0
) -> float:
    """Microsteps for a millimetre; `gear_ratio` is turns of the motor for one turn of pulley or screw.

    Source: kinematics.
    """
    return full_steps * microsteps * gear_ratio / travel_per_turn_mm


def crossed_belt_axes_mm(a_mm: float, b_mm: float) -> tuple[float, float]:
    """Head's x and y for the belts' travels a and b of a two-motor crossed-belt drive. Source: kinematics."""
    return (a_mm + b_mm) / 2, (a_mm - b_mm) / 2


def crossed_belt_motors_mm(x_mm: float, y_mm: float) -> tuple[float, float]:
    """Belts' travels a and b for a move of the head. Source: kinematics."""
    return x_mm + y_mm, x_mm - y_mm


class Wiring(StrEnum):
    """What is the wrong way round in a crossed-belt drive."""

    RIGHT = "right"
    A_REVERSED = "a-reversed"
    B_REVERSED = "b-reversed"
    BOTH_REVERSED = "both-reversed"
    SWAPPED = "swapped"
    SWAPPED_A_REVERSED = "swapped-a-reversed"
    SWAPPED_B_REVERSED = "swapped-b-reversed"
    SWAPPED_BOTH_REVERSED = "swapped-both-reversed"


# For each fault, what the belts do when a and b are asked for: rows of a 2 × 2 matrix.
_FAULTS: dict[Wiring, tuple[tuple[int, int], tuple[int, int]]] = {
    Wiring.RIGHT: ((1, 0), (0, 1)),
    Wiring.A_REVERSED: ((-1, 0), (0, 1)),
    Wiring.B_REVERSED: ((1, 0), (0, -1)),
    Wiring.BOTH_REVERSED: ((-1, 0), (0, -1)),
    Wiring.SWAPPED: ((0, 1), (1, 0)),
    Wiring.SWAPPED_A_REVERSED: ((0, -1), (1, 0)),
    Wiring.SWAPPED_B_REVERSED: ((0, 1), (-1, 0)),
    Wiring.SWAPPED_BOTH_REVERSED: ((0, -1), (-1, 0)),
}


def moved_by(wiring: Wiring, x_mm: float, y_mm: float) -> tuple[float, float]:
    """Where the head goes when x and y are asked for and the motors are wired so. Source: kinematics."""
    asked = np.array(crossed_belt_motors_mm(x_mm, y_mm))
    a, b = np.array(_FAULTS[wiring]) @ asked
    return crossed_belt_axes_mm(float(a), float(b))


def wiring_seen(x_went: tuple[float, float], y_went: tuple[float, float]) -> Wiring | None:
    """What is wired wrongly, from two small moves: +x was asked for and the head went `x_went`; then +y.

    Only directions count. None when no wiring of two motors does that: then a coil is open or a belt is off.
    """
    seen = (_direction(x_went), _direction(y_went))
    for wiring in Wiring:
        if (_direction(moved_by(wiring, 1, 0)), _direction(moved_by(wiring, 0, 1))) == seen:
            return wiring
    return None


def _direction(went: tuple[float, float]) -> tuple[int, int]:
    far = max(abs(went[0]), abs(went[1]))
    if far <= 0:
        return (0, 0)
    x, y = (0 if abs(one) < 0.5 * far else (1 if one > 0 else -1) for one in went)
    return (x, y)


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveTimes:
    """A move from rest to rest: its highest speed and how long it takes."""

    speed_mm_per_second: float
    seconds: float


def move_times(distance_mm: float, acceleration_mm_per_s2: float, limit_mm_per_s: float) -> MoveTimes:
    """Triangular when the limit is not reached: v = √(d·a), t = 2·√(d/a); else trapezoidal.

    Source: kinematics.
    """
    peak = math.sqrt(distance_mm * acceleration_mm_per_s2)
    if peak <= limit_mm_per_s:
        return MoveTimes(
            speed_mm_per_second=peak, seconds=2 * math.sqrt(distance_mm / acceleration_mm_per_s2)
        )
    ramp = limit_mm_per_s / acceleration_mm_per_s2
    return MoveTimes(
        speed_mm_per_second=limit_mm_per_s,
        seconds=2 * ramp + (distance_mm - limit_mm_per_s * ramp) / limit_mm_per_s,
    )


def screw_torque_newton_metre(force_newton: float, lead_mm: float, efficiency: float) -> float:
    """Torque that lifts a force on a screw. Equation: F · lead / (2π · η).

    Source: any text on machine elements.
    """
    return force_newton * lead_mm / 1000 / (2 * math.pi * efficiency)
