"""Preload and tightening torque of a screw by the equations of VDI 2230."""

from __future__ import annotations

import math

from trysquare.catalogue.values import Thread

YIELD_SHARE = 0.9  # of the proof strength, used by tightening; VDI 2230-1
NUT_FACTOR = 0.2  # torque per diameter and load, dry steel; handbook rule, common practice


def preload_newton(
    thread: Thread, yield_mpa: float, thread_friction: float, share: float = YIELD_SHARE
) -> float:
    """Largest preload while tightening: tension and twist together reach `share` of the proof strength.

    Equation: F_M = A0 · ν · Rp0.2 / √(1 + 3 [ 3/2 · d2/d0 · (P/(π d2) + 1.155 μG) ]²), with d0 the
    stress diameter (d2 + d3)/2 and A0 its area.
    Source: VDI 2230-1, assembly preload table's equation.
    """
    stress_diameter = (thread.pitch_diameter_mm + thread.root_diameter_mm) / 2
    slope = thread.pitch_mm / (math.pi * thread.pitch_diameter_mm) + 1.155 * thread_friction
    twist = 1.5 * thread.pitch_diameter_mm / stress_diameter * slope
    return thread.stress_area_mm2 * share * yield_mpa / math.sqrt(1 + 3 * twist**2)


def tightening_torque_newton_metre(
    thread: Thread, preload: float, thread_friction: float, head_friction: float, friction_diameter_mm: float
) -> float:
    """Torque that gives the preload (newton); `friction_diameter_mm` is the mean under the head.

    Equation: M_A = F_M [ 0.16 P + 0.58 d2 μG + D_Km/2 · μK ], D_Km = (dw + dh)/2; the rounded numbers are
    the guideline's own (1/2π and 1/(2 cos 30°) = 0.159 and 0.577) and its tables follow them.
    Source: VDI 2230-1.
    """
    arm_mm = (
        0.16 * thread.pitch_mm
        + 0.58 * thread.pitch_diameter_mm * thread_friction
        + friction_diameter_mm / 2 * head_friction
    )
    return preload * arm_mm / 1000


def rule_torque_newton_metre(diameter_mm: float, load_newton: float, factor: float = NUT_FACTOR) -> float:
    """Torque at which a screw pulls with this load, by the handbook's nut factor.

    Equation: T = K · d · F. Source: handbook rule (for example Shigley's machine design, bolted joints).
    """
    return factor * diameter_mm * load_newton / 1000
