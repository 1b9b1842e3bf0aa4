"""Pictures of how a machine swings: its spectra with the modes named, and what shapers leave of a swing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trysquare.publish.chart import Chart, Plot, chart_page
from trysquare.tuning.resonance import Resonance
from trysquare.tuning.resonance_axis import AxisFound, ResonanceCase
from trysquare.tuning.shaping import residual

Numbers = NDArray[np.float64]

_DEEPEST_DECIBEL = -50.0
_SMOOTH_HZ = 1.0
_MODES_NAMED = 4
_OFF = 0.4
_STYLES = {"none": "quiet", "ZV": "dotted", "ZVD": "dashed", "robust": "strong"}


def resonance_plot(case: ResonanceCase, found: Sequence[AxisFound]) -> Plot | None:
    """For each axis its spectrum, with the one before if there is one, and what shapers leave."""
    charts = []
    for one in found:
        charts.append(_spectrum(case, one))
        if one.swings:
            charts.append(_left(case, one))
    says = " ".join(
        f"Axis {one.axis} swings at {', '.join(f'{mode.frequency.value:.1f} Hz' for mode in one.modes)}."
        if one.modes
        else f"Axis {one.axis}: no swing found."
        for one in found
    )
    return chart_page("Resonance", says or "Nothing was measured.", charts)


def _spectrum(case: ResonanceCase, found: AxisFound) -> Chart:
    level = _level(case.resonance, found.axis)
    hz = case.resonance.spectrum.hz
    top = float(level.max())
    before = None
    if case.before is not None and found.axis in case.before.fits:
        before = _level(case.before, found.axis)
        top = max(top, float(before.max()))
    first = found.modes[0].frequency if found.modes else "no swing found"
    chart = Chart(
        title=f"{found.axis}: {first}",
        across="Hz",
        up="dB",
        across_limits=(float(hz[0]), float(hz[-1])),
        up_limits=(_DEEPEST_DECIBEL, 3.0),
    )
    if before is not None and case.before is not None:
        chart.line(case.before.spectrum.hz, before - top, "quiet", "before")
    chart.line(hz, level - top, "strong", "measured")
    fit = case.resonance.fits[found.axis]
    if len(fit.density) == len(hz):
        chart.line(hz, _decibel(fit.density) - top, "dashed", "modes and floor")
    for mode in found.modes[:_MODES_NAMED]:
        chart.mark(mode.frequency.value, f"{mode.frequency.value:.1f} Hz")
    return chart


def _level(resonance: Resonance, axis: str) -> Numbers:
    """Decibel of the density, smoothed over a hertz: what the eye reads."""
    spectrum = resonance.spectrum
    density = spectrum.density[:, resonance.shake.axes.index(axis)]
    width = max(1, round(_SMOOTH_HZ / spectrum.bin_hz))
    kernel = np.ones(width)
    return _decibel(np.convolve(density, kernel, mode="same") / np.convolve(density * 0 + 1, kernel, "same"))


def _decibel(density: Numbers) -> Numbers:
    return np.asarray(10 * np.log10(np.maximum(density, 1e-300)))


def _left(case: ResonanceCase, found: AxisFound) -> Chart:
    """What each shaper leaves of the first swing when its frequency is off."""
    swing = found.swings[0]
    off = np.linspace(-_OFF, _OFF, 321)
    chart = Chart(
        title=f"{found.axis}: what is left of the swing at {swing.hz:.1f} Hz when it is off",
        across="% off",
        up="% left",
        across_limits=(-100 * _OFF, 100 * _OFF),
        up_limits=(0.0, 66.0),
    )
    chart.band(
        -100 * case.error, 100 * case.error, f"frequency off by up to {100 * case.error:.0f} %"
    )  # fmt: skip
    for one in found.shaped:
        if len(one.shaper.amplitudes) > 1:
            left = 100 * residual(one.shaper, swing.hz * (1 + off), swing.damping)
            chart.line(100 * off, left, _STYLES[one.shaper.name], one.shaper.name)
    return chart
