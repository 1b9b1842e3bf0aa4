"""The mains' hum in a recording: a steady tone of 50 or 60 Hz with its overtones, taken out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from trysquare.tuning.plucks import LONGEST_SECOND, Samples

MAINS_HZ = (50.0, 60.0)
# A grid holds its frequency within some tenths of a per cent, and so does a recorder's clock.
OFF = 0.004
OVERTONES = 8
LEAST_QUIET_SECOND = 0.3
# Hum is taken out when it is at least this share of what is heard in the quiet.
SHARE = 0.15
# The rate that hum is looked for at: it holds all overtones, and many frequencies are tried.
LOOKING_HZ = 1300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hum:
    """A steady tone: fundamental, and cosine and sine amplitudes of overtones 1 …, shape (n,)."""

    hz: float
    cosine: NDArray[np.float64]
    sine: NDArray[np.float64]
    share: float

    def sound(self, count: int, rate_hz: float) -> Samples:
        """The hum alone, shape (count,)."""
        t = 2 * np.pi * self.hz / rate_hz * np.arange(count)
        out = np.zeros(count)
        for n, (c, s) in enumerate(zip(self.cosine, self.sine, strict=True), start=1):
            out += c * np.cos(n * t) + s * np.sin(n * t)
        return out


def hum_of(samples: Samples, rate_hz: float, starts_second: Sequence[float]) -> Hum | None:
    """The hum heard where nothing was plucked, or None when there is none or no quiet to hear it in.

    Amplitudes by linear least squares for each frequency tried; the one that leaves least is taken.
    """
    factor = max(1, int(rate_hz / LOOKING_HZ))
    if factor > 1:
        samples, rate_hz = resample_poly(samples, 1, factor), rate_hz / factor
    quiet = _quiet(len(samples), rate_hz, starts_second)
    if quiet.sum() < LEAST_QUIET_SECOND * rate_hz:
        return None
    at = np.flatnonzero(quiet)
    heard = samples[at] - samples[at].mean()
    total = float(np.square(heard).sum())
    if total <= 0:
        return None
    best: Hum | None = None
    for mains in MAINS_HZ:
        overtones = [n for n in range(1, OVERTONES + 1) if n * mains < 0.45 * rate_hz]
        coarse = mains * (1 + np.linspace(-OFF, OFF, 9))
        tried = [_fitted(heard, at, rate_hz, float(hz), overtones, total) for hz in coarse]
        top = max(range(len(tried)), key=lambda index: tried[index].share)
        around = coarse[top] + (coarse[1] - coarse[0]) * np.linspace(-0.8, 0.8, 7)
        finest = max(
            (_fitted(heard, at, rate_hz, float(hz), overtones, total) for hz in around),
            key=lambda one: one.share,
        )
        if best is None or finest.share > best.share:
            best = finest
    return best if best is not None and best.share >= SHARE else None


def _quiet(count: int, rate_hz: float, starts_second: Sequence[float]) -> NDArray[np.bool_]:
    quiet = np.ones(count, dtype=bool)
    for start in starts_second:
        begin = max(0, int((start - 0.06) * rate_hz))
        quiet[begin : int((start + 0.8 * LONGEST_SECOND) * rate_hz)] = False
    return quiet


def _fitted(
    heard: Samples, at: NDArray[np.intp], rate_hz: float, hz: float, overtones: Sequence[int], total: float
) -> Hum:
    phase = (2 * np.pi * hz / rate_hz) * at
    turn = np.exp(1j * phase)
    power = np.ones_like(turn)
    columns = []
    for _ in overtones:
        power = power * turn
        columns += [power.real, power.imag]
    design = np.stack(columns)
    normal = design @ design.T
    right = design @ heard
    found = np.linalg.solve(normal + 1e-9 * np.trace(normal) * np.eye(len(right)), right)
    return Hum(hz=hz, cosine=found[0::2], sine=found[1::2], share=float(found @ right / total))
