"""Picture of skew and scale: each plane's square as the machine makes it, its error enlarged."""

from __future__ import annotations

import numpy as np

from trysquare.publish.chart import Chart, Plot, chart_page
from trysquare.tuning.skew import PLANES, Skew
from trysquare.tuning.skew_report import per_100

# The chart is wider than high: limits in the same proportion, so that a square looks like one.
_HALF_MM, _ACROSS_MM, _UP_MM, _SHOWN_MM = 50.0, 132.0, 77.0, 16.0
_STEPS = (10, 20, 50, 100, 200, 500, 1000)


def skew_plot(found: Skew) -> Plot | None:
    """For each plane that was read: the square that was wished, dashed, and the one that is made."""
    planes = [plane for plane in PLANES if plane in found.skew]
    charts = [_plane(found, plane) for plane in planes]
    says = " ".join(f"{plane}: {per_100(found.skew[plane])}." for plane in planes)
    return chart_page("Skew and scale", says or "No plane was read.", charts, columns=2)


def _plane(found: Skew, plane: str) -> Chart:
    first, second = plane[0], plane[1]
    gamma = found.skew[plane].value
    strain = np.array(
        [
            [found.scale[first].value - 1 if first in found.scale else 0.0, gamma],
            [0.0, found.scale[second].value - 1 if second in found.scale else 0.0],
        ]
    )
    corners = _HALF_MM * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)], dtype=np.float64)
    most = float(np.abs(corners @ strain.T).max())
    times = next((one for one in reversed(_STEPS) if one * most <= _SHOWN_MM), _STEPS[0])
    made = corners + times * corners @ strain.T
    lean = per_100(found.skew[plane])
    chart = Chart(
        title=f"{plane.upper()}: {lean}",
        across=f"{first}, mm",
        up=second,
        across_limits=(-_ACROSS_MM, _ACROSS_MM),
        up_limits=(-_UP_MM, _UP_MM),
    )
    chart.line(corners[:, 0], corners[:, 1], "dashed", "wished")
    chart.line(made[:, 0], made[:, 1], "strong", f"made, error × {times}")
    return chart
