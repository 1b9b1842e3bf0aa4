"""How a machine swings: spectra of its movement, and its modes with frequency, damping and uncertainty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from scipy.signal.windows import tukey
from scipy.special import polygamma

from trysquare.tuning.resonance_decay import Decay, decays_of
from trysquare.tuning.resonance_fit import (
    LEAST_DAMPING_PART,
    LEAST_HZ_PART,
    SPECTRUM,
    Fit,
    FittedMode,
    fit_modes,
)
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
STEADY_TONE = "steady tone"
# A line no wider than so many bins is a steady tone of a fan or motor, no mode.
TONE_BINS = 1.0
# A mode is sure when its frequency is known within this and its damping within that, expanded.
SURE_HZ, SURE_DAMPING = 0.03, 0.6
# Beyond this damping nothing swings: it only shapes the floor. A mode moves at least this share of the power
# of the axis' strongest one.
LEAST_SWINGING, LEAST_SHARE = 0.2, 0.0001
LEAST_FREE_SHARE = 1e-6  # of free swinging, which no drive colours
# One that moves less than this part may as well be a colour of the drive: it is told, but not as sure.
LEAST_SURE_SHARE = 0.003
# A sweep ends where the power falls so far within so many hertz, having been even before, and stays there.
CLIFF_DECIBEL, CLIFF_HZ, EVEN_DECIBEL = 10.0, 3.0, 4.0
# Lines of fans are narrower than half of this; no sweep is shorter than that.
LINE_HZ, LEAST_DRIVEN_HZ = 1.0, 15.0
# A movement is no random one when its spectrum is so many times more even; it counts as so many at most.
SURELY_EVEN, MOST_EVEN, LEAST_BENDS = 3.0, 16.0, 50
NORMAL_MEDIAN = 0.6745  # the median of a normal variate's size


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
        counts = spectrum.counts[driven] * evenness(power, spectrum.counts[driven])
        fit = _scaled(fit_modes(spectrum.hz[driven], power, counts), scale)
        column = [one[:, shake.axes.index(name)] for one in shake.stretches]
        fits[name] = _swung_freely(
            fit, decays_of(column, shake.rate_hz, lowest_hz, highest_hz), shake.seconds
        )
    found = [(name, one) for name, fit in fits.items() for one in fit.modes]
    lines = [
        one
        for _, one in found
        if one.basis == STEADY_TONE or 2 * one.hz * one.damping < TONE_BINS * spectrum.bin_hz
    ]
    tones = sorted({round(one.hz, 2) for one in lines})
    most = {
        name: max((one.power for one in fit.modes if _swings(one)), default=0.0) for name, fit in fits.items()
    }
    swings = [
        (name, one)
        for name, one in found
        if one not in lines and _swings(one) and one.power >= _least_share(one) * most[name]
    ]
    modes = _merged(swings, most)
    return Resonance(shake=shake, spectrum=spectrum, modes=modes, tones=tuple(tones), fits=fits)


def _swings(one: FittedMode) -> bool:
    return one.damping <= LEAST_SWINGING


def _least_share(one: FittedMode) -> float:
    return LEAST_SHARE if one.basis == SPECTRUM else LEAST_FREE_SHARE


def evenness(power: Numbers, counts: Numbers) -> float:
    """How many times more a bin is worth than one of a random movement, 1 to MOST_EVEN.

    The logarithms of a random movement's bins scatter with the variance ψ′(n) about a smooth curve, n being
    the ordinates in each; a sweep's scatter less. power and counts (n,). Source: the trigamma function ψ′ as
    the variance of the logarithm of a gamma variate, any text on statistics, from memory.
    """
    bends = np.diff(np.log(power + 1e-300), 2)
    if len(bends) < LEAST_BENDS:
        return 1.0
    random = 6 * float(np.mean(polygamma(1, counts)))
    seen = float(np.median(np.abs(bends)) / NORMAL_MEDIAN) ** 2
    more = random / max(seen, 1e-12)
    return min(more, MOST_EVEN) if more > SURELY_EVEN else 1.0


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


def _swung_freely(fit: Fit, decays: Sequence[Decay], seconds: float) -> Fit:
    """The decays' modes in place of the spectrum's, where something swung freely: no drive colours them."""
    if not decays:
        return fit
    modes = tuple(
        FittedMode(
            hz=one.hz,
            hz_uncertainty=one.hz * float(np.sqrt(one.hz_variance + LEAST_HZ_PART**2)),
            damping=one.damping,
            damping_uncertainty=one.damping * float(np.sqrt(one.damping_variance + LEAST_DAMPING_PART**2)),
            power=one.energy / seconds,
            basis=STEADY_TONE if one.steady else "free swinging",
        )
        for one in decays
        if one.energy >= (LEAST_SHARE if one.steady else LEAST_FREE_SHARE) * decays[0].energy
    )
    return Fit(modes=modes, density=fit.density, floor=fit.floor)


def _scaled(fit: Fit, scale: float) -> Fit:
    return Fit(
        modes=tuple(
            FittedMode(
                hz=one.hz,
                hz_uncertainty=one.hz_uncertainty,
                damping=one.damping,
                damping_uncertainty=one.damping_uncertainty,
                power=one.power * scale,
                basis=one.basis,
            )
            for one in fit.modes
        ),
        density=fit.density * scale,
        floor=fit.floor * scale,
    )


def _merged(found: Sequence[tuple[str, FittedMode]], most: Mapping[str, float]) -> tuple[Mode, ...]:
    """Modes of all axes, those of one frequency taken together; the strongest movement first.

    `most`: the power of each axis' strongest one.
    """
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
                frequency=Measured(value=hz[0], standard_uncertainty=hz[1], unit="Hz", basis=first.basis),
                damping=Measured(
                    value=damping[0], standard_uncertainty=damping[1], unit="", basis=first.basis
                ),
                rms={name: float(np.sqrt(one.power)) for name, one in alike},
                axis=axis,
                sure=2 * hz[1] < SURE_HZ * hz[0]
                and 2 * damping[1] < SURE_DAMPING * damping[0]
                and (first.basis != SPECTRUM or first.power >= LEAST_SURE_SHARE * most[axis]),
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
