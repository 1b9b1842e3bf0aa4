"""Picture of repeated touches: each in the order made, the band that holds 95 of 100, what went astray."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from trysquare.publish.chart import Chart, Plot, chart_page
from trysquare.tuning.touches import Touches
from trysquare.tuning.touches_report import Series


def touches_plot(series: Sequence[Series], found: Mapping[str, Touches]) -> Plot | None:
    """One chart for each series, in micrometres about its mean."""
    charts = [_chart(one, found[one.name]) for one in series]
    says = " ".join(f"{one.name}: deviation {found[one.name].deviation_mm:.4f} mm." for one in series)
    return chart_page("Homing", says or "Nothing was touched.", charts)


def _chart(one: Series, touches: Touches) -> Chart:
    number = np.arange(1, len(one.positions_mm) + 1, dtype=np.float64)
    off = 1000 * (np.asarray(one.positions_mm) - touches.mean_mm)
    good = np.ones(len(off), dtype=bool)
    good[list(touches.astray)] = False
    spread = 2000 * touches.deviation_mm
    most = max(1.3 * float(np.abs(off[good]).max()), 1.3 * spread, 1.0)
    chart = Chart(
        title=f"{one.name}: deviation {1000 * touches.deviation_mm:.1f} µm, mean {touches.mean_mm:.4f} mm",
        across="touch",
        up="µm",
        across_limits=(0.5, len(off) + 0.5),
        up_limits=(-most, most),
    )
    rise = 1000 * touches.drift_mm * (number - number.mean()) / max(1.0, len(off) - 1.0)
    middle = rise if touches.drifts else np.zeros_like(rise)
    chart.line(number[good], off[good], "strong", "touches")
    chart.line(number, middle, "quiet", "drift" if touches.drifts else "mean")
    chart.line(number, middle + spread, "dashed", "± 2 deviations")
    chart.line(number, middle - spread, "dashed")
    for index in touches.astray:
        chart.mark(index + 1, f"astray {off[index]:+.0f} µm".replace("-", "−"), dashed=True)
    return chart
