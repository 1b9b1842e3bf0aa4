"""Pictures of what was measured on the running machine: a pluck's spectrum and decay, how a machine swings.

Drawn in ink on paper size, told apart by weight and dash, never by colour alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.publish.chart import Chart, Plot, chart_page
from trysquare.tuning.belt_reading import BeltReading
from trysquare.tuning.belt_sound import BeltSound
from trysquare.tuning.pitch import spectrum_of
from trysquare.tuning.plucks import FRAME_SECOND, Pluck

Numbers = NDArray[np.float64]

_SHOWN_OVERTONES = 10.5
_DEEPEST_DECIBEL = -60.0
_PARTIAL_NAMES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class BeltPicture:
    """A belt as it was read, with the pluck to be shown; `rate_hz` is the pluck's own."""

    reading: BeltReading
    sound: BeltSound
    pluck: Pluck | None
    rate_hz: float


def belt_plot(pictures: Sequence[BeltPicture]) -> Plot | None:
    """For each belt the spectrum of its loudest pluck, its overtones numbered, and how it dies away."""
    charts = []
    for one in pictures:
        if one.pluck is not None and len(one.pluck.sound) >= 64:
            charts += [_spectrum(one), _decay(one)]
    says = " ".join(sentence for one in pictures for sentence in one.reading.says)
    return chart_page("Belt tension", says or "Nothing was plucked.", charts, columns=2)


def _spectrum(one: BeltPicture) -> Chart:
    assert one.pluck is not None  # by the caller's choice
    size = 1 << int(np.ceil(np.log2(4 * len(one.pluck.sound))))
    amplitude = spectrum_of(one.pluck.sound, size)
    hz = np.arange(len(amplitude)) * one.rate_hz / size
    pitch = one.sound.pitch.value if one.sound.pitch is not None else None
    top = min(float(hz[-1]), _SHOWN_OVERTONES * pitch) if pitch else min(float(hz[-1]), 1000.0)
    shown = hz <= top
    level = 20 * np.log10(np.maximum(amplitude[shown] / amplitude[shown].max(), 1e-6))
    chart = Chart(
        title=f"{one.reading.belt.name}: {one.sound.pitch or 'no tone'}",
        across="Hz",
        up="dB",
        across_limits=(0.0, top),
        up_limits=(_DEEPEST_DECIBEL, 6.0),
    )
    chart.line(hz[shown], level, "strong")
    if pitch:
        low, high, _ = one.reading.wanted_hz
        chart.band(low, high, "wanted")
        for number in [n for n in one.sound.overtones if n * pitch <= top][:_PARTIAL_NAMES]:
            chart.mark(number * pitch, str(number) if number > 1 else f"{pitch:.1f} Hz")
    if one.sound.other_hz is not None and one.sound.other_hz <= top:
        chart.mark(one.sound.other_hz, "other", dashed=True)
    if one.sound.hum is not None and one.sound.hum.hz <= top:
        chart.mark(one.sound.hum.hz, "hum", dashed=True)
    return chart


def _decay(one: BeltPicture) -> Chart:
    assert one.pluck is not None  # by the caller's choice
    width = max(1, round(FRAME_SECOND * one.rate_hz))
    frames = len(one.pluck.sound) // width
    power = np.square(one.pluck.sound[: frames * width]).reshape(frames, width).mean(axis=1)
    level: Numbers = 10 * np.log10(np.maximum(power / max(float(power.max()), 1e-300), 1e-6))
    seconds: Numbers = (np.arange(frames, dtype=np.float64) + 0.5) * FRAME_SECOND
    chart = Chart(
        title=f"{one.reading.belt.name}: how the pluck dies away",
        across="s",
        up="dB",
        across_limits=(0.0, max(0.2, float(seconds[-1]))),
        up_limits=(_DEEPEST_DECIBEL, 6.0),
    )
    chart.line(seconds, level, "strong")
    return chart
