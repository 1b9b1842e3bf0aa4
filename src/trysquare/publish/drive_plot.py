"""Pictures of an axis: deviations from what was commanded, positions at targets, torque over speed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trysquare.publish.chart import Chart
from trysquare.tuning.drive_file import Travels
from trysquare.tuning.motor import RESERVE, needed_newton_metre, pull_out_newton_metre
from trysquare.tuning.motor_report import MotorCase
from trysquare.tuning.positioning import COVERAGE, Positioning
from trysquare.tuning.travel import Travel

Numbers = NDArray[np.float64]
_ROOM = 0.12
_POINTS = 200


def travel_chart(read: Travels, found: Travel) -> Chart:
    """Measured less commanded over commanded, from each side, with the straight lines through them."""
    off = read.measured_mm - read.commanded_mm
    ends = np.array([read.commanded_mm.min(), read.commanded_mm.max()])
    chart = Chart(
        title=f"Measured less commanded; scale {found.scale}",
        across="commanded, mm",
        up="mm",
        across_limits=_limits(ends),
        up_limits=_limits(off),
    )
    lost = found.lost_mm.value if found.lost_mm is not None else 0.0
    one_sided = found.lost_mm is None
    for above, style, name in ((False, "strong", "from below"), (True, "dashed", "from above")):
        chosen = read.from_above == above
        if not chosen.any():
            continue
        shift = 0.0 if one_sided else (0.5 if above else -0.5) * lost
        chart.line(ends, found.offset_mm.value + shift + (found.scale.value - 1) * ends, style, name)
        for x, y in zip(read.commanded_mm[chosen].tolist(), off[chosen].tolist(), strict=True):
            _spot(chart, x, y, ends, style)
    return chart


def _spot(chart: Chart, x: float, y: float, ends: Numbers, style: str) -> None:
    """A reading as a short line across, so that it is seen on paper."""
    half = 0.008 * float(np.ptp(ends))
    chart.line(np.array([x - half, x + half]), np.array([y, y]), "quiet" if style == "dashed" else style)


def positions_chart(found: Positioning) -> Chart:
    """Mean deviations from both sides and their bands of two standard deviations."""
    bands = {
        "from below": (found.mean_up_mm, found.deviation_up_mm, "strong"),
        "from above": (found.mean_down_mm, found.deviation_down_mm, "dashed"),
    }
    edges = np.concatenate(
        [1000 * (mean + sign * COVERAGE * s) for mean, s, _ in bands.values() for sign in (1, -1)]
    )
    chart = Chart(
        title=f"Deviation at the targets; A {1000 * found.accuracy_mm:.0f} µm, "
        f"R {1000 * found.repeatability_mm:.0f} µm",
        across="target, mm",
        up="µm",
        across_limits=_limits(found.targets_mm),
        up_limits=_limits(edges),
    )
    for name, (mean, s, style) in bands.items():
        chart.line(found.targets_mm, 1000 * mean, style, name)
        for sign in (1, -1):
            label = "± 2 s" if sign > 0 and style == "strong" else ""
            chart.line(found.targets_mm, 1000 * (mean + sign * COVERAGE * s), "dotted", label)
    return chart


def torque_chart(case: MotorCase, highest_mm_per_second: float) -> Chart:
    """Torque over the head's speed, with what is needed and twice that."""
    far = max(1.6 * highest_mm_per_second, 1.3 * (case.speed_mm_per_second or 0.0), 50.0)
    speed = np.linspace(0.0, far, _POINTS)
    shaft = np.array([case.load.shaft_radian_per_second(one) for one in speed.tolist()])
    pulls = 1000 * pull_out_newton_metre(case.motor, case.volt, case.ampere, shaft)
    needed = 1000 * needed_newton_metre(case.motor, case.load)
    chart = Chart(
        title=f"What the motor pulls at {case.volt:g} V and {case.ampere:g} A",
        across="speed of the head, mm/s",
        up="mN·m",
        across_limits=(0.0, far),
        up_limits=(0.0, 1.12 * max(float(pulls.max()), RESERVE * needed)),
    )
    chart.line(speed, pulls, "strong", "ideal motor")
    chart.line(speed, np.full_like(speed, needed), "dashed", "needed")
    chart.line(speed, np.full_like(speed, RESERVE * needed), "dotted", f"{RESERVE:g} times that")
    if highest_mm_per_second > 0:
        chart.mark(highest_mm_per_second, f"{highest_mm_per_second:.0f} mm/s")
    if case.speed_mm_per_second is not None:
        chart.mark(case.speed_mm_per_second, "wished", dashed=True)
    return chart


def _limits(values: Numbers) -> tuple[float, float]:
    low, high = float(values.min()), float(values.max())
    room = _ROOM * (high - low) or 1.0
    return low - room, high + room
