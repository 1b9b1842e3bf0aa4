"""How a machine swings: spectra of its movement, and its modes with frequency, damping and uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from scipy.signal.windows import tukey

from trysquare.tuning.resonance_fit import Fit, FittedMode, fit_modes
from trysquare.tuning.shakes import Shake
from trysquare.tuning.values import Measured

Numbers = NDArray[np.float64]

# Where machines of this size swing. Common practice, no source: 25 to 90 Hz are usual.
LOWEST_HZ, HIGHEST_HZ = 8.0, 200.0
# Bins no finer than this: a mode's width is larger.
FINEST_HZ = 0.1
# The share of a stretch that the window rises and falls in.
TAPER = 0.1
# Stretches shorter than this part of the longest one are too coarse to stand beside it.
COMPARABLE = 0.4
# Modes of two axes within this part are one mode, seen from two sides.
SAME_MODE = 0.02
# A line no wider than so many bins is a steady tone of a fan or motor, no mode.
TONE_BINS = 1.0
# A mode is sure when its frequency is known within this and its damping within that, expanded.
SURE_HZ, SURE_DAMPING = 0.03, 0.6
# Beyond this damping nothing swings: it only shapes the floor. A mode moves at least this share of the power
# of the axis' strongest one.
LEAST_SWINGING, LEAST_SHARE = 0.2, 0.003
# A sweep ends where the power falls so far within so many hertz, having been even before, and stays there.
CLIFF_DECIBEL, CLIFF_HZ, EVEN_DECIBEL = 10.0, 3.0, 4.0
# Lines of fans are narrower than half of this; no sweep is shorter than that.
LINE_HZ, LEAST_DRIVEN_HZ = 1.0, 15.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spectrum:
    """Power density of each axis: hz (n,) ascending, density (n, axes) in the file's unit² / Hz.

    `counts` (n,): how many ordinates of the periodogram each bin averages. `bin_hz`: their distance.
    """

    hz: Numbers
    density: Numbers
    counts: Numbers
    bin_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """A resonance of the machine. `rms` by axis, in the file's unit; `axis` is where it is strongest.

    `damping` is the ratio to critical damping. `sure`: both are known well enough to build on.
    """

    frequency: Measured
    damping: Measured
    rms: dict[str, float]
    axis: str
    sure: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Resonance:
    """What a shake says. `tones` are steady lines of fans and motors, Hz; `fits` by axis."""

    shake: Shake
    spectrum: Spectrum
    modes: tuple[Mode, ...]
    tones: tuple[float, ...]
    fits: dict[str, Fit]


def spectrum_of(shake: Shake, lowest_hz: float = 0.0, highest_hz: float = np.inf) -> Spectrum:
    """The spectrum of all stretches together, in bins that average the periodogram's ordinates.

    Equation: S(f) = 2 |Σ w x exp(−2πi f t)|² / (rate Σ w²), one-sided. The window rises and falls over a
    tenth. Source: any text on spectral analysis; averaging neighbours as P. J. Daniell (1946), from memory.
    """
    longest = max(len(one) for one in shake.stretches)
    used = [one for one in shake.stretches if len(one) >= COMPARABLE * longest]
    shortest = min(len(one) for one in used)
    width = max(FINEST_HZ, shake.rate_hz / shortest)
    highest = min(highest_hz, 0.45 * shake.rate_hz)
    bins = max(1, int((highest - lowest_hz) / width))
    total = np.zeros((bins, len(shake.axes)))
    counts = np.zeros(bins)
    for one in used:
        window = tukey(len(one), TAPER)
        hz = np.fft.rfftfreq(len(one), 1 / shake.rate_hz)
        place = np.floor((hz - lowest_hz) / width).astype(int)
        inside = (place >= 0) & (place < bins) & (hz > 0)
        first, last = np.flatnonzero(inside)[[0, -1]]
        scale = 2 / (shake.rate_hz * float(np.square(window).sum()))
        for axis in range(one.shape[1]):
            power = np.square(np.abs(np.fft.rfft(one[:, axis] * window)[first : last + 1])) * scale
            total[:, axis] += np.bincount(place[first : last + 1], power, bins)
        counts += np.bincount(place[first : last + 1], minlength=bins)
    kept = counts > 0
    middles: Numbers = lowest_hz + (np.arange(bins, dtype=np.float64) + 0.5) * width
    return Spectrum(
        hz=middles[kept],
        density=total[kept] / counts[kept, None],
        counts=counts[kept],
        bin_hz=width,
    )


def resonance_of(
    shake: Shake, lowest_hz: float = LOWEST_HZ, highest_hz: float = HIGHEST_HZ, axes: Sequence[str] = ()
) -> Resonance:
    """Spectra and modes of a shake between two frequencies, of all axes or of those named."""
    spectrum = spectrum_of(shake, lowest_hz, highest_hz)
    wanted = [name for name in axes or shake.axes if name not in shake.still]
    fits = {}
    for name in wanted:
        density = spectrum.density[:, shake.axes.index(name)]
        scale = float(density.max()) or 1.0
        driven = driven_band(spectrum.hz, density, spectrum.bin_hz)
        power = density[driven] / scale + 1e-15
        fits[name] = _scaled(fit_modes(spectrum.hz[driven], power, spectrum.counts[driven]), scale)
    found = [(name, one) for name, fit in fits.items() for one in fit.modes]
    lines = [one for _, one in found if 2 * one.hz * one.damping < TONE_BINS * spectrum.bin_hz]
    tones = sorted({round(one.hz, 2) for one in lines})
    most = {
        name: max((one.power for one in fit.modes if _swings(one)), default=0.0) for name, fit in fits.items()
    }
    swings = [
        (name, one)
        for name, one in found
        if one not in lines and _swings(one) and one.power >= LEAST_SHARE * most[name]
    ]
    modes = _merged(swings)
    return Resonance(shake=shake, spectrum=spectrum, modes=modes, tones=tuple(tones), fits=fits)


def _swings(one: FittedMode) -> bool:
    return one.damping <= LEAST_SWINGING


def driven_band(hz: Numbers, density: Numbers, bin_hz: float) -> slice:
    """The bins (n,) that something shook: a sweep's end is a cliff, and beyond it the sensor hears itself."""
    # The median passes over a fan's line, which would be a cliff by itself.
    even = median_filter(density, max(1, round(LINE_HZ / bin_hz)), mode="nearest")
    level = 10 * np.log10(np.maximum(even, 1e-12 * float(even.max()) + 1e-300))
    first, last = len(hz) - _cliff(level[::-1], bin_hz), _cliff(level, bin_hz)
    return slice(first, last) if (last - first) * bin_hz >= LEAST_DRIVEN_HZ else slice(0, len(hz))


def _cliff(level: Numbers, bin_hz: float) -> int:
    """How many bins there are before the level falls for good; all of them when it does not."""
    reach = max(2, round(CLIFF_HZ / bin_hz))
    count = len(level)
    if count < 8 * reach:
        return count
    # The highest that is still to come after each bin.
    coming = np.maximum.accumulate(level[::-1])[::-1]
    for at in range(2 * reach, count - 2 * reach):
        if level[at] - coming[at + reach] >= CLIFF_DECIBEL:
            before = level[max(0, at - 5 * reach) : at]
            if np.ptp(np.array([np.median(part) for part in np.array_split(before, 5)])) < EVEN_DECIBEL:
                return at - reach // 2
    return count


def _scaled(fit: Fit, scale: float) -> Fit:
    return Fit(
        modes=tuple(
            FittedMode(
                hz=one.hz,
                hz_uncertainty=one.hz_uncertainty,
                damping=one.damping,
                damping_uncertainty=one.damping_uncertainty,
                power=one.power * scale,
            )
            for one in fit.modes
        ),
        density=fit.density * scale,
        floor=fit.floor * scale,
    )


def _merged(found: Sequence[tuple[str, FittedMode]]) -> tuple[Mode, ...]:
    """Modes of all axes, those of one frequency taken together; the strongest movement first."""
    left = sorted(found, key=lambda one: -one[1].power)
    modes = []
    while left:
        axis, first = left[0]
        alike = [(axis, first)]
        for name, one in left[1:]:
            near = max(SAME_MODE * first.hz, 2 * np.hypot(one.hz_uncertainty, first.hz_uncertainty))
            if abs(one.hz - first.hz) < near and name not in [each for each, _ in alike]:
                alike.append((name, one))
        left = [one for one in left if one not in alike]
        hz = _together([(one.hz, one.hz_uncertainty) for _, one in alike])
        damping = _together([(one.damping, one.damping_uncertainty) for _, one in alike])
        modes.append(
            Mode(
                frequency=Measured(value=hz[0], standard_uncertainty=hz[1], unit="Hz", basis="spectrum"),
                damping=Measured(
                    value=damping[0], standard_uncertainty=damping[1], unit="", basis="spectrum"
                ),
                rms={name: float(np.sqrt(one.power)) for name, one in alike},
                axis=axis,
                sure=2 * hz[1] < SURE_HZ * hz[0] and 2 * damping[1] < SURE_DAMPING * damping[0],
            )
        )
    return tuple(modes)


def _together(values: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The weighted mean; where the values scatter more than they admit, the scatter counts.

    Source: any text on weighted means; the factor is Birge's ratio.
    """
    weights = np.array([1 / max(spread, 1e-12) ** 2 for _, spread in values])
    numbers = np.array([value for value, _ in values])
    mean = float((weights * numbers).sum() / weights.sum())
    inner = float(np.sqrt(1 / weights.sum()))
    birge = float(np.sqrt((weights * np.square(numbers - mean)).sum() / max(1, len(values) - 1)))
    return mean, inner * max(1.0, birge)
