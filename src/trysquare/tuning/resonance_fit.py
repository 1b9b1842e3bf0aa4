"""Modes out of a spectrum: how many there are, where, and how sure that is.

One cause moves all modes together, and their movements add with their signs; several causes that know nothing
of each other make their powers add. Which it was, and whether commanded moves or forces shook all frequencies
alike, nobody says: the likelier reading counts more, and where readings disagree the uncertainty grows.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks

from trysquare.tuning.resonance_model import (
    DONE_GROWING,
    EACH,
    KNOTS,
    ROUNDS_BEGUN,
    Model,
    Settled,
    Spectral,
    settled,
)

Numbers = NDArray[np.float64]

SPECTRUM = "spectrum"
MOST_MODES = 5
# What the model leaves is looked at where it stands out by so many of its own deviations, upwards or
# downwards: a mode that moves against its neighbour shows as a dip.
LEAST_DEVIATIONS = 3.5
SEEDS = 2
# Peaks to begin with: smoothed over so many hertz they rise by so much over what lies beside them.
PEAKS, PEAK_HZ, PEAK_DECIBEL = 3, 2.0, 3.0
# No mode is known better than this, as parts of its frequency and damping: neighbours that are too weak to be
# seen pull at it. Judged by simulated machines (tests/tuning).
LEAST_HZ_PART, LEAST_DAMPING_PART = 0.0025, 0.03
# The likelihood's curvature tells too little of a mode that is hardly seen: both spreads are widened by so
# many times what the damping's exceeds this part of it by. Judged by simulated machines (benchmarks).
HARDLY_SEEN, WELL_SEEN = 4.0, 0.05
# A floor that nothing is seen of, in logarithms of power.
FAR_BELOW = 5.0
# Modes are looked for in bins no more than these; the last fit takes all.
GROWING_BINS = 400
# A further mode must improve twice the likelihood by this and the logarithm of the number of ordinates, for
# each of its three numbers (Schwarz): what is left of a floor that is not quite smooth is no mode.
LEAST_GAIN = 2.0
# A commanded move shakes a mode by (f / f0)^0, a force by (f / f0)^2 in amplitude, when all frequencies of it
# are alike.
SLOPES = (0.0, 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedMode:
    """One resonance of one axis. Standard uncertainties; `power` is the mean square of its acceleration.

    `basis`: what it was found in.
    """

    hz: float
    hz_uncertainty: float
    damping: float
    damping_uncertainty: float
    power: float
    basis: str = SPECTRUM


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """All modes of one axis, strongest first, and the whole model: `density` (n,) over the bins."""

    modes: tuple[FittedMode, ...]
    density: Numbers
    floor: Numbers


def fit_modes(hz: Numbers, power: Numbers, counts: Numbers) -> Fit:
    """Modes of a spectrum: bins hz (n,), densities (n,) > 0, and how many ordinates each bin averages."""
    whole = Spectral(hz, power, counts)
    coarse = whole.coarser(max(1, len(hz) // GROWING_BINS))
    grown = [settled(_grown(coarse, slope).model, whole) for slope in SLOPES]
    apart = [settled(one.model.taken_apart(), whole) for one in grown if len(one.model.modes) > 1]
    return _told([*grown, *apart], _wanted(whole))


def _grown(data: Spectral, slope: float) -> Settled:
    """Starts from the spectrum's peaks, then adds modes where the model explains it worst."""
    wanted = _wanted(data)

    def price(one: Settled) -> float:
        return 2 * one.cost + wanted * len(one.model.modes)

    starts = [Model(_first_floor(data, 0.3), np.zeros((0, EACH)), slope)]
    peaks = _peaks(data)
    # What a mode's own flanks explain must not be taken by the floor before the mode is there.
    floors = [_first_floor(data, 0.05) - lower for lower in (0.0, FAR_BELOW)]
    for count in range(1, len(peaks) + 1):
        # The signs of all but the first are open.
        for signs in itertools.product((1.0, -1.0), repeat=count - 1):
            modes = np.array(peaks[:count])
            modes[1:, 0] *= signs
            starts += [Model(floor, modes, slope) for floor in floors]
    # A few rounds tell which starts are worth all of them.
    begun = sorted((settled(start, data, DONE_GROWING, ROUNDS_BEGUN) for start in starts), key=price)
    found = min((settled(one.model, data, DONE_GROWING) for one in begun[:2]), key=price)
    while len(found.model.modes) < MOST_MODES:
        tried = [
            settled(
                Model(found.model.floor, np.vstack([found.model.modes, seed * [sign, 1, 1, 1]]), slope),
                data, DONE_GROWING, ROUNDS_BEGUN,
            )
            for seed in _seeds(data, found.density)
            for sign in (1.0, -1.0)
        ]  # fmt: skip
        best = min(tried, key=price, default=None)
        if best is None or best.cost > found.cost - wanted / 8:
            break
        further = settled(best.model, data, DONE_GROWING)
        if price(further) > price(found):
            break
        found = further
    return found


def _wanted(data: Spectral) -> float:
    """What a further mode must gain in twice the logarithm of the likelihood."""
    return 3 * (LEAST_GAIN + float(np.log(data.counts.sum())))


def _first_floor(data: Spectral, share: float) -> Numbers:
    """The floor at its knots to begin with: a low quantile beside each."""
    pieces = np.array_split(np.arange(len(data.hz)), KNOTS)
    return np.array([np.log(np.quantile(data.power[piece], share) + 1e-300) for piece in pieces])


def _peaks(data: Spectral) -> list[Numbers]:
    """The spectrum's highest peaks: height, logarithms of frequency and damping of each, at most PEAKS."""
    step = float(data.hz[1] - data.hz[0])
    width = max(1, round(PEAK_HZ / step))
    kernel = np.hanning(width + 2)[1:-1]
    even = np.convolve(data.power, kernel / kernel.sum(), mode="same")
    level = 10 * np.log10(even + 1e-300)
    at, about = find_peaks(level, prominence=PEAK_DECIBEL)
    found = []
    for index in at[np.argsort(-about["prominences"])][:PEAKS].tolist():
        low = high = index
        while low > 0 and level[low - 1] > level[index] - 3:
            low -= 1
        while high < len(level) - 1 and level[high + 1] > level[index] - 3:
            high += 1
        damping = float(np.clip((high - low + 1) * step / 2 / data.hz[index], 0.005, 0.15))
        height = 2 * damping * float(np.sqrt(even[index]))
        found.append(np.array([height, np.log(data.hz[index]), np.log(damping), 0.0]))
    return found


def _seeds(data: Spectral, density: Numbers) -> list[Numbers]:
    """Where the model explains the spectrum worst: height, logarithms of frequency and damping of each."""
    hz, counts = data.hz, data.counts
    ratio = data.power / density
    index = np.arange(len(hz))
    step = float(hz[1] - hz[0])
    many = np.concatenate([[0.0], np.cumsum(counts)])
    sums = np.concatenate([[0.0], np.cumsum(ratio * counts)])
    seeds: list[tuple[float, int, int]] = []
    for part in (0.01, 0.03, 0.08):
        half = np.maximum(1, (part * hz / step).astype(int))
        low, high = np.maximum(0, index - half), np.minimum(len(hz), index + half + 1)
        smooth = (sums[high] - sums[low]) / (many[high] - many[low])
        # Its own scatter is one over the root of the ordinates in the window.
        off = np.abs(np.log(smooth)) * np.sqrt(many[high] - many[low])
        for _ in range(SEEDS):
            at = int(np.argmax(off))
            if off[at] < LEAST_DEVIATIONS:
                break
            seeds.append((float(off[at]), at, int(half[at])))
            off[np.abs(hz / hz[at] - 1) < 2 * part + 0.03] = 0
    seeds.sort(reverse=True)
    kept: list[tuple[float, int, int]] = []
    for seed in seeds:
        if all(abs(hz[seed[1]] / hz[other[1]] - 1) > 0.04 for other in kept):
            kept.append(seed)
    return [_seed(data, density, at, half) for _, at, half in kept[:SEEDS]]


def _seed(data: Spectral, density: Numbers, at: int, half: int) -> Numbers:
    damping = float(np.clip(half * (data.hz[1] - data.hz[0]) / data.hz[at] / 2, 0.005, 0.2))
    near = slice(max(0, at - half), at + half + 1)
    over = float(np.average(data.power[near] - density[near], weights=data.counts[near]))
    height = max(over, 0.05 * float(density[at]))
    return np.array([2 * damping * np.sqrt(height), np.log(data.hz[at]), np.log(damping), 0.0])


def _told(readings: list[Settled], wanted: float) -> Fit:
    """The modes of the likeliest reading, with what the others say of the same modes by their likelihoods."""
    best = min(readings, key=lambda one: 2 * one.cost + wanted * len(one.model.modes))
    modes = []
    for index, (height, log_hz, log_damping, turned) in enumerate(best.model.modes):
        at, damping = float(np.exp(log_hz)), float(np.exp(log_damping))
        said = [one for one in (_said(reading, best, index) for reading in readings) if one is not None]
        weight = np.array([one[0] for one in said])
        weight /= weight.sum()
        hz, hz_variance, ratio, ratio_variance = (
            np.array(column) for column in list(zip(*said, strict=True))[1:]
        )
        mean_hz, mean_ratio = float(weight @ hz), float(weight @ ratio)
        hz_spread = float(np.sqrt(weight @ (hz_variance + np.square(hz - mean_hz))))
        ratio_spread = float(np.sqrt(weight @ (ratio_variance + np.square(ratio - mean_ratio))))
        wider = 1 + HARDLY_SEEN * max(0.0, ratio_spread / mean_ratio - WELL_SEEN)
        modes.append(
            FittedMode(
                hz=mean_hz,
                hz_uncertainty=float(np.hypot(wider * hz_spread, LEAST_HZ_PART * mean_hz)),
                damping=mean_ratio,
                damping_uncertainty=float(np.hypot(wider * ratio_spread, LEAST_DAMPING_PART * mean_ratio)),
                # The integral of the resonance over frequency.
                power=float(height**2 + turned**2) * at * np.pi / (4 * damping),
            )
        )
    modes.sort(key=lambda one: -one.power)
    return Fit(modes=tuple(modes), density=best.density, floor=best.floor)


def _said(reading: Settled, best: Settled, index: int) -> tuple[float, float, float, float, float] | None:
    """What a reading says of the best one's mode: its weight, frequency and variance, damping and variance.

    A reading with more numbers is as likely only if it explains as much more (Akaike). None: it has no such.
    """
    modes = reading.model.modes
    near = np.abs(modes[:, 1] - best.model.modes[index, 1]) if len(modes) else np.array([np.inf])
    mine = int(np.argmin(near))
    if near[mine] > 0.1:
        return None
    behind = reading.cost - best.cost + len(reading.model.numbers) - len(best.model.numbers)
    spread = np.diag(reading.covariance)[KNOTS + EACH * mine :][1:3]
    hz, damping = (float(one) for one in np.exp(modes[mine, 1:3]))
    return (
        float(np.exp(-min(max(behind, -50.0), 50.0))), hz, hz**2 * float(spread[0]), damping,
        damping**2 * float(spread[1]),
    )  # fmt: skip
