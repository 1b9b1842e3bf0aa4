"""The fundamental of a plucked span: its series of overtones found among hum, noise and other spans."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.tuning.plucks import Samples

LOWEST_HZ, HIGHEST_HZ = 18.0, 600.0
# A line of the spectrum stands so far over the noise beside it, as a ratio of amplitudes.
LINE_OVER_NOISE = 4.0
# A line that was there before the pluck, and has not grown by this factor, belongs to the room.
GROWN = 2.0
MOST_LINES = 24
# Overtones of a belt lie a little higher than whole multiples, for it resists bending.
MOST_STIFFNESS = 4e-3
# How far a line may lie from where the series wants it, as a part of the fundamental.
MATCH = 0.06
# Once the stiffness is known its lines lie as near as this, or within half a line's width.
TIGHT = 0.025
# What a score loses when all that it promises is silent, and gains when the fundamental itself is heard.
SILENT, FIRST_HEARD, FRACTION = 0.7, 0.3, 0.5
# The part of the sound in which the window rises.
RISE = 0.1
# A telephone's microphone is weak below this; a loud second span must not win by it alone.
# Common practice, no source.
MICROPHONE_HZ = 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A fundamental with the overtones that belong to it.

    `confidence` is 0 … 1: the share of the sound's lines (by amplitude) that the series explains, less what
    it promises and is not heard. `overtones` are their numbers, 1 for the fundamental.
    """

    fundamental_hz: float
    standard_uncertainty_hz: float
    overtones: tuple[int, ...]
    stiffness: float
    strength: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines of a spectrum: frequencies and amplitudes, shape (n,), by frequency; and the width of one."""

    hz: NDArray[np.float64]
    amplitude: NDArray[np.float64]
    over_noise: NDArray[np.float64]
    width_hz: float


def candidates_of(lines: Lines, lowest_hz: float, highest_hz: float) -> NDArray[np.float64]:
    """Frequencies that could be the fundamental: each line divided by 1 … 8, shape (n,), sorted."""
    hz = (lines.hz[:, None] / np.arange(1, 9)).ravel()
    return np.unique(np.round(hz[(hz >= lowest_hz) & (hz <= highest_hz)], 2))


def scores_of(lines: Lines, hz: NDArray[np.float64], stiffness: float = 0.0) -> NDArray[np.float64]:
    """How well each fundamental, shape (n,), explains the lines, less what it promises and is not heard.

    The scores, shape (n,), are about −1 … 1.15. The idea, matching both ways, is that of Maher and Beauchamp,
    J. Acoust. Soc. Am. 95 (1994), 2254, from memory; the weights are ours.
    """
    if not len(lines.hz):
        return np.zeros(len(hz))
    weight = np.sqrt(lines.amplitude / lines.amplitude.max())
    number, off = numbered(lines, hz[:, None], stiffness)
    room = np.clip(0.5 * lines.width_hz / hz, MATCH if stiffness == 0 else 0.04, 0.45)[:, None]
    # Overtones may lie up to a stiff belt's amount too high, and none below.
    high = np.where(off > 0, off / (1 + (0.004 * number**3 if stiffness == 0 else 0.0)), off)
    fit = np.clip(1 - (np.abs(high) / room) ** 2, 0.0, 1.0)
    explained = (fit @ weight) / weight.sum()
    # Promised: every overtone up to the highest that is well heard, counted once.
    heard = np.where((fit > 0.3) & (weight > 0.15), number, 0).astype(np.int64)
    last = heard.max(axis=1)
    ordered = np.sort(heard, axis=1)
    counted = (np.diff(ordered, axis=1, prepend=0) > 0).sum(axis=1)
    silent = 1 - counted / np.maximum(last, 1)
    # Overtones that are all multiples of one number are another span's series, and this its fraction.
    fraction = np.gcd.reduce(heard, axis=1) > 1
    first = (heard == 1).any(axis=1)
    scores = explained - SILENT * silent + FIRST_HEARD * first - FRACTION * fraction
    return np.asarray(np.where(last > 0, scores, -1.0))


def score_of(lines: Lines, hz: float, stiffness: float = 0.0) -> float:
    """The score of one fundamental, as `scores_of`."""
    return float(scores_of(lines, np.array([hz]), stiffness)[0])


def lines_of(sound: Samples, background: Samples, rate_hz: float) -> Lines:
    """The lines of a decaying sound that were not there before it, at most MOST_LINES, strongest kept."""
    count = len(sound)
    empty = np.zeros(0)
    if count < 32:
        return Lines(empty, empty, empty, rate_hz / max(count, 1))
    size = 1 << int(np.ceil(np.log2(4 * count)))
    step = rate_hz / size
    spectrum = spectrum_of(sound, size)
    top = min(len(spectrum) - 2, int(min(2500.0, 0.45 * rate_hz) / step))
    # One line of a Hann window is four bins of the unpadded transform wide.
    width = rate_hz / count
    noise = _noise(spectrum[: top + 2], max(9, round(12 * width / step)))
    inner = spectrum[1:top]
    peak = (
        (inner > spectrum[: top - 1])
        & (inner >= spectrum[2 : top + 1])
        & (inner > LINE_OVER_NOISE * noise[1:top])
    )
    at = np.flatnonzero(peak) + 1
    at = at[at * step >= LOWEST_HZ * 0.8]
    if len(background) >= 64 and len(at):
        # The background may be shorter: its own lines are as high, though wider.
        before = spectrum_of(background, size)
        reach = max(1, round(rate_hz / len(background) / step))
        near = np.stack(
            [before[np.clip(at + shift, 0, len(before) - 1)] for shift in range(-reach, reach + 1)]
        )
        at = at[spectrum[at] > GROWN * near.max(axis=0)]
    if not len(at):
        return Lines(empty, empty, empty, width)
    kept = np.sort(at[np.argsort(-spectrum[at])[:MOST_LINES]])
    # A side lobe of a strong line beside it, 31 dB down or more, is no line of its own.
    amplitude = spectrum[kept]
    hz = (kept + _summit(spectrum, kept)) * step
    apart = np.abs(hz[:, None] - hz[None, :])
    lobe = ((apart < 4.5 * width) & (amplitude[:, None] < 0.05 * amplitude[None, :])).any(axis=1)
    own = ~lobe
    return Lines(hz[own], amplitude[own], (amplitude / noise[kept])[own], width)


def spectrum_of(samples: Samples, size: int) -> NDArray[np.float64]:
    """Amplitudes of the sound's frequencies; a steady sine of amplitude 1 gives 1 however long it lasts."""
    # The window rises soon and falls slowly, as a pluck does: a symmetric one would look hardest when
    # the plucked belt has died and only what sounds along is left.
    rise = max(1, round(RISE * len(samples)))
    window = np.concatenate(
        [np.hanning(2 * rise)[:rise], np.hanning(2 * (len(samples) - rise))[-(len(samples) - rise) :]]
    )
    windowed = (samples - samples.mean()) * window
    return np.asarray(np.abs(np.fft.rfft(windowed, size)) * (2 / window.sum()), dtype=np.float64)


def _noise(spectrum: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    """The noise beside each line: the median over some tens of bins, interpolated between blocks."""
    width = min(width, len(spectrum))
    blocks = len(spectrum) // width
    levels = np.median(spectrum[: blocks * width].reshape(blocks, width), axis=1)
    # Where a line fills its block the neighbours tell the noise.
    wide = np.pad(levels, 2, mode="edge")
    smooth = np.median(np.lib.stride_tricks.sliding_window_view(wide, 5), axis=1)
    middle = (np.arange(blocks) + 0.5) * width
    return np.asarray(np.interp(np.arange(len(spectrum)), middle, smooth), dtype=np.float64) + 1e-12


def _summit(spectrum: NDArray[np.float64], at: NDArray[np.intp]) -> NDArray[np.float64]:
    """How far the true summit lies from the highest bin, −0.5 … 0.5, by a parabola through three logarithms.

    Source: J. O. Smith, Spectral Audio Signal Processing, interpolation of peaks, from memory.
    """
    left, middle, right = (np.log(spectrum[at + shift] + 1e-300) for shift in (-1, 0, 1))
    bend = left - 2 * middle + right
    return np.asarray(
        np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0), dtype=np.float64
    )


def numbered(
    lines: Lines, hz: float | NDArray[np.float64], stiffness: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """For each line the overtone nearest to it, and how far off it lies as a part of the fundamental.

    `hz` is one fundamental, or many of shape (n, 1); the answers then have the shape (n, lines).
    """
    ratio = lines.hz / hz
    number = np.maximum(1.0, np.round(ratio))
    # Stiff: f(n) = n f1 (1 + b n²)^½; the number sinks below the ratio for high overtones.
    for _ in range(2):
        number = np.maximum(1.0, np.round(ratio / np.sqrt(1 + stiffness * number**2)))
    off = ratio - number * np.sqrt(1 + stiffness * number**2)
    return number, off


def refined(lines: Lines, hz: float) -> Series | None:
    """Fundamental and stiffness by weighted least squares over the lines that belong to the series.

    Equation: (f(n) / n)² = f1² (1 + b n²), a straight line in n². Source: N. H. Fletcher and T. D. Rossing,
    The Physics of Musical Instruments, stiff strings, from memory.
    """
    stiffness = 0.0
    members = np.zeros(0, dtype=np.intp)
    for room_at_most in (MATCH, MATCH, TIGHT, TIGHT):
        number, off = numbered(lines, hz, stiffness)
        room = max(room_at_most, 0.5 * lines.width_hz / hz)
        members = np.flatnonzero(np.abs(off) < min(room, 0.45))
        members = _one_each(members, number, lines)
        if not len(members):
            return None
        n = number[members]
        f = lines.hz[members]
        # A line's frequency is known to its width over its height above the noise.
        sigma = lines.width_hz / np.sqrt(1 + np.square(lines.over_noise[members]))
        w = np.square(n * n / (2 * f * sigma))  # of (f/n)², by the rule of error propagation
        y = np.square(f / n)
        distinct = len(set(n.tolist()))
        if distinct >= 3:
            a = np.stack([np.ones_like(n), n * n], axis=1)
            normal = a.T @ (w[:, None] * a)
            intercept, slope = np.linalg.solve(normal, a.T @ (w * y))
            if not (0 <= slope <= MOST_STIFFNESS * intercept) or intercept <= 0:
                intercept, slope = float((w * y).sum() / w.sum()), 0.0
        else:
            intercept, slope = float((w * y).sum() / w.sum()), 0.0
        hz, stiffness = float(np.sqrt(intercept)), float(slope / intercept)
        if not LOWEST_HZ <= hz <= HIGHEST_HZ:
            return None
    number, off = numbered(lines, hz, stiffness)
    n = number[members]
    spread = float(np.sqrt(np.mean(np.square(lines.hz[members] / (n * np.sqrt(1 + stiffness * n * n)) - hz))))
    known = float(np.sqrt(1 / np.square(n / sigma).sum()))
    if (
        len(n) == 1
    ):  # nothing else says where the line's middle is, and a sound that dies fast has a broad one
        known = max(known, 0.25 * lines.width_hz / float(n[0]))
    confidence = max(0.0, min(1.0, score_of(lines, hz, stiffness)))
    return Series(
        # What a taut string without stiffness would sound is the root of the intercept.
        fundamental_hz=hz,
        standard_uncertainty_hz=max(known, spread / np.sqrt(len(n)), 0.0005 * hz),
        overtones=tuple(sorted({int(one) for one in n.tolist()})),
        stiffness=stiffness,
        strength=float(
            np.sqrt((np.square(lines.amplitude[members]) * (1 + np.square(MICROPHONE_HZ / f))).sum())
        ),
        confidence=confidence,
    )


def _one_each(members: NDArray[np.intp], number: NDArray[np.float64], lines: Lines) -> NDArray[np.intp]:
    """The strongest line on each overtone."""
    best: dict[int, int] = {}
    for index in members.tolist():
        n = int(number[index])
        if n not in best or lines.amplitude[index] > lines.amplitude[best[n]]:
            best[n] = index
    return np.array(sorted(best.values()), dtype=np.intp)


def without(lines: Lines, series: Series) -> Lines:
    """The lines that the series does not explain."""
    _, off = numbered(lines, series.fundamental_hz, series.stiffness)
    room = min(0.45, max(0.06, 1.2 * lines.width_hz / series.fundamental_hz))
    rest = np.abs(off) >= room
    return Lines(lines.hz[rest], lines.amplitude[rest], lines.over_noise[rest], lines.width_hz)
