"""Pictures of heat: the answer with its model, and how the settings are reckoned to fare."""

from __future__ import annotations

import numpy as np

from trysquare.publish.chart import Chart, Plot, chart_page
from trysquare.tuning.heat_report import Answered
from trysquare.tuning.heat_simulation import Heated
from trysquare.tuning.heat_step import answer, shown_times

_SHOWN_OF_THE_RISE = 0.3  # the last part of the way, where settings differ


def heat_plot(found: Answered) -> Plot | None:
    """The record with its model; beneath it the chosen setting's run, beside the quickest and the calmest."""
    charts = [_record(found)]
    if found.runs:
        charts.append(_runs(found))
    model = found.model
    says = f"Gain {model.gain}, time constant {model.time_constant}, dead time {model.dead_time}."
    return chart_page("Heat", says, charts)


def _record(found: Answered) -> Chart:
    record = found.record
    times = record.time_second - record.time_second[0]
    low, high = float(record.temperature_celsius.min()), float(record.temperature_celsius.max())
    chart = Chart(
        title="As recorded",
        across="s",
        up="°C",
        across_limits=(0.0, float(times[-1])),
        up_limits=(low - 0.04 * (high - low), high + 0.12 * (high - low)),
    )
    on = record.power_percent > (record.power_percent.max() + record.power_percent.min()) / 2
    edges = np.flatnonzero(np.diff(on.astype(np.int8)))
    starts = [*([0] if on[0] else []), *(int(at) + 1 for at in edges if not on[at])]
    for start in starts:
        ends = [int(at) + 1 for at in edges if on[at] and at + 1 > start]
        end = ends[0] if ends else len(times) - 1
        chart.band(float(times[start]), float(times[end]), "heater on")
    chart.line(times, record.temperature_celsius, "quiet", "recorded")
    chart.line(shown_times(record) - record.time_second[0], answer(found.model, record), "dashed", "model")
    return chart


def _runs(found: Answered) -> Chart:
    kept = [run for run in found.runs if run.settles] or list(found.runs)
    first = found.chosen or kept[0]
    others = sorted((run for run in kept if run is not first), key=lambda run: run.overshoot_kelvin)
    shown = [first, *dict.fromkeys(others[-1:])]
    end = max(min(float(run.time_second[-1]), 1.3 * _end(run)) for run in (first, *shown))
    ambient, target = found.model.ambient_celsius, found.target_celsius
    top = max(float(run.temperature_celsius.max()) for run in shown)
    low = target - _SHOWN_OF_THE_RISE * (target - ambient)
    start = min(float(run.time_second[np.argmax(run.temperature_celsius >= low)]) for run in shown)
    chart = Chart(
        title=f"Reckoned to {target:g} °C",
        across="s",
        up="°C",
        across_limits=(start, end),
        up_limits=(low, max(top, target) + 0.03 * (target - ambient)),
    )
    chart.line(np.array([start, end]), np.array([target, target]), "dotted", "wished")
    for run, style in zip(shown, ("strong", "dashed"), strict=False):
        seen = (run.time_second <= end) & (run.temperature_celsius >= low)
        chart.line(run.time_second[seen], run.temperature_celsius[seen], style, run.settings.title)
    return chart


def _end(run: Heated) -> float:
    last = float(run.time_second[-1])
    return run.settled_second + 0.1 * last if run.settles else last
