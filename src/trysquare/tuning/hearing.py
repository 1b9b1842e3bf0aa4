"""What is heard in a stretch of a recording: plucks, hum and clipping, before a pitch is looked for.

A long recording is heard stretch by stretch, so that it never stands in memory whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.signal import resample_poly

from trysquare.tuning.hum import Hum, hum_of
from trysquare.tuning.plucks import Pluck, Samples, find_plucks

# The rate that the search works at: overtones of a belt beyond 2.5 kHz are not heard.
WORKING_HZ = 5500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What was heard in a stretch of a recording, before a pitch is looked for.

    `starts_second` are counted from the recording's beginning. `top` is the largest sample, and
    `at_top` how many stand beside each other at that level.
    """

    plucks: tuple[Pluck, ...]
    starts_second: tuple[float, ...]
    rate_hz: float
    hum: Hum | None
    top: float
    at_top: int
    samples: int


def hear(
    samples: Samples,
    rate_hz: float,
    begins_second: float = 0.0,
    keep_second: tuple[float, float] | None = None,
) -> Heard:
    """The plucks of a stretch, shape (n,), that begins at `begins_second` of the recording.

    Only plucks that start within `keep_second`, of the recording, are kept: stretches may overlap.
    """
    top, at_top = _at_top(samples)
    working, rate = _slower(samples, rate_hz)
    plucks = find_plucks(working, rate)
    hum = hum_of(working, rate, [pluck.start_second for pluck in plucks])
    if hum is not None:
        working = working - hum.sound(len(working), rate)
        plucks = find_plucks(working, rate)
    low, high = keep_second or (-np.inf, np.inf)
    kept = [pluck for pluck in plucks if low <= pluck.start_second + begins_second < high]
    return Heard(
        plucks=tuple(kept),
        starts_second=tuple(pluck.start_second + begins_second for pluck in kept),
        rate_hz=rate,
        hum=hum,
        top=top,
        at_top=at_top,
        samples=len(samples),
    )


def only_loudest(heard: Sequence[Heard], most: int) -> list[Heard]:
    """The same, with the sounds of the loudest plucks alone, so that hours of plucking take little memory.

    What is kept is copied: a pluck is a view of its whole stretch, which then can go.
    """
    every = sorted((loudness(pluck) for one in heard for pluck in one.plucks), reverse=True)
    least = every[most - 1] if len(every) >= most else 0.0
    return [_with_plucks(one, least) for one in heard]


def _with_plucks(heard: Heard, least: float) -> Heard:
    pairs = [
        (replace(pluck, sound=pluck.sound.copy(), background=pluck.background.copy()), start)
        for pluck, start in zip(heard.plucks, heard.starts_second, strict=True)
        if loudness(pluck) >= least
    ]
    return replace(
        heard,
        plucks=tuple(pluck for pluck, _ in pairs),
        starts_second=tuple(start for _, start in pairs),
    )


def loudness(pluck: Pluck) -> float:
    """A pluck's energy, in squares of full scale times samples."""
    return float(np.square(pluck.sound).sum())


def _slower(samples: Samples, rate_hz: float) -> tuple[Samples, float]:
    """The recording at about WORKING_HZ; nothing is done to one that is slower already."""
    factor = max(1, int(rate_hz / WORKING_HZ))
    middle = samples - samples.mean() if len(samples) else samples
    if factor == 1:
        return middle, rate_hz
    return np.asarray(resample_poly(middle, 1, factor)), rate_hz / factor


def _at_top(samples: Samples) -> tuple[float, int]:
    """The largest sample, and how many pairs stand beside each other at the very same level."""
    top = float(np.abs(samples).max(initial=0.0))
    if top <= 0:
        return 0.0, 0
    at_top = np.abs(samples) >= 0.999 * top
    # One highest sample is no clipping: two beside each other at the very same level are.
    return top, int((at_top[1:] & at_top[:-1]).sum())


def clipped_share(heard: Sequence[Heard]) -> float:
    """The part of all samples at the recorder's limit; a quiet stretch has its own top, and no say in it."""
    top = max((one.top for one in heard), default=0.0)
    at_top = sum(one.at_top for one in heard if one.top >= 0.999 * top)
    return at_top / max(1, sum(one.samples for one in heard))
