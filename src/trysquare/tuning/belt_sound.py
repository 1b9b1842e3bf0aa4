"""What a recording of a plucked belt says: the pitch of its span, how sure, and what else was heard."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from trysquare.tuning.hearing import Heard, clipped_share, hear, loudness
from trysquare.tuning.hum import Hum
from trysquare.tuning.pitch import (
    HIGHEST_HZ,
    LOWEST_HZ,
    Lines,
    Series,
    candidates_of,
    lines_of,
    refined,
    score_of,
    scores_of,
    without,
)
from trysquare.tuning.plucks import Samples
from trysquare.tuning.second_tone import second_tone
from trysquare.tuning.values import Measured

# Pitches of plucks of one span agree within this; what is farther off is another span or an overtone.
SAME_PITCH = 0.02
SURE = 0.55
# A second series in the same bounds, so loud beside the first, might be the one that was plucked.
ALSO = 0.3
# One outside the bounds that is so much louder: then the bounds, or the span, are not what was thought.
LOUDER = 1.5
# Of two series that both explain much, the louder was plucked and the other sounds along.
LOUD = 0.6
# Plucks of one span agree better than this (standard deviation, as a part of the pitch): 99.6 % of single
# strings stepped in time did. Two spans almost in tune pull each pluck to another place between them.
PLUCKS_APART = 0.003
CLIPPED_SHARE = 0.0005
# Of a long recording so many plucks are listened to, the loudest; others are counted.
MOST_PLUCKS = 24


class Doubt(StrEnum):
    """Why a pitch is not to be trusted as it stands."""

    NO_PLUCK = "no-pluck"
    NO_LINE = "no-line"
    DISAGREE = "plucks-disagree"
    TWO_SPANS = "two-spans"
    WEAK = "weak"
    OUTSIDE = "outside-expected"


@dataclass(frozen=True, slots=True, kw_only=True)
class BeltSound:
    """The pitch of a plucked span. `pitch` is None when none was found; `doubts` () means that it is sure.

    `heard_hz` has one pitch for each pluck in order of time (None: no line); `used` tells which agree.
    `other_hz` is the other tone that is possible: of a second span that sounds along, or of this one; it is
    there whenever two are possible. `clipped_share` is the part of the samples at the recorder's limit.
    """

    pitch: Measured | None
    confidence: float
    doubts: tuple[Doubt, ...]
    starts_second: tuple[float, ...]
    heard_hz: tuple[float | None, ...]
    used: tuple[bool, ...]
    overtones: tuple[int, ...]
    other_hz: float | None
    hum: Hum | None
    clipped_share: float
    seconds: float

    @property
    def sure(self) -> bool:
        return self.pitch is not None and not self.doubts


def pitch_of(samples: Samples, rate_hz: float, expected_hz: tuple[float, float] | None = None) -> BeltSound:
    """The fundamental of the span plucked in a recording, shape (n,), one channel, full scale ±1.

    `expected_hz` are the bounds that the machine gives: the span's length and the sane tensions. Without them
    every pitch of a belt is possible, and a louder second span can be taken for the first.
    """
    return pitch_from([hear(samples, rate_hz)], len(samples) / rate_hz, expected_hz)


def pitch_from(
    heard: Sequence[Heard], seconds: float, expected_hz: tuple[float, float] | None = None
) -> BeltSound:
    """The fundamental from all stretches of a recording of so many seconds, as `pitch_of`."""
    clipped = clipped_share(heard)
    hum = max((one.hum for one in heard if one.hum), key=lambda one: one.share, default=None)
    every = [
        (start, pluck, one.rate_hz)
        for one in heard
        for start, pluck in zip(one.starts_second, one.plucks, strict=True)
    ]
    every.sort(key=lambda one: -loudness(one[1]))
    # What stays 30 dB below the loudest is a chair or a cough.
    every = [one for one in every if loudness(one[1]) > 1e-3 * loudness(every[0][1])][:MOST_PLUCKS]
    every.sort(key=lambda one: one[0])
    starts = [start for start, _, _ in every]
    lines = [lines_of(pluck.sound, pluck.background, rate) for _, pluck, rate in every]
    low, high = expected_hz or (LOWEST_HZ, HIGHEST_HZ)
    ranked = _ranked([one for one in lines if len(one.hz)], low, high)
    if not ranked:
        doubt = Doubt.NO_LINE if starts else Doubt.NO_PLUCK
        beyond = _ranked([one for one in lines if len(one.hz)], LOWEST_HZ, HIGHEST_HZ)[:1]
        return BeltSound(
            pitch=None, confidence=0.0, doubts=(Doubt.OUTSIDE,) if beyond else (doubt,),
            starts_second=tuple(starts),
            heard_hz=tuple(None for _ in starts), used=tuple(False for _ in starts), overtones=(),
            other_hz=beyond[0] if beyond else None, hum=hum, clipped_share=clipped, seconds=seconds,
        )  # fmt: skip
    about = ranked[0]
    series = [_near(one, about) for one in lines]
    return _concluded(starts, lines, series, hum, clipped, seconds, low, high)


def _ranked(lines: Sequence[Lines], low: float, high: float) -> list[float]:
    """Fundamentals that explain all plucks together, best first."""
    if not lines:
        return []
    found = np.unique(np.concatenate([candidates_of(one, low, high) for one in lines]))
    if not len(found):
        return []
    # Every pluck votes with its own lines, the clearer the louder.
    power = np.array([float(one.over_noise.max()) for one in lines])
    vote = np.sqrt(power / power.sum())
    scores = sum(
        (v * scores_of(one, found) for v, one in zip(vote, lines, strict=True)), np.zeros(len(found))
    )
    order = np.argsort(-scores)[:8]
    tried: list[tuple[float, float, float]] = []
    for hz in found[order].tolist():
        near = [_near(one, hz) for one in lines]
        score = sum(
            v * (score_of(one, s.fundamental_hz, s.stiffness) if s else -1.0)
            for v, one, s in zip(vote, lines, near, strict=True)
        )
        series = [s for s in near if s]
        if series:
            strength = float(np.median([s.strength for s in series]))
            tried.append((score, float(np.median([s.fundamental_hz for s in series])), strength))
    loudest = max((strength for _, _, strength in tried), default=1.0)
    best = [(score + LOUD * strength / loudest, hz) for score, hz, strength in tried]
    return [hz for _, hz in sorted(best, reverse=True)]


def _near(lines: Lines, hz: float) -> Series | None:
    """The series of a pluck beside a fundamental, or None when it has none there."""
    if not len(lines.hz):
        return None
    series = refined(lines, hz)
    return series if series and abs(series.fundamental_hz / hz - 1) < 3 * SAME_PITCH else None


def _concluded(
    starts: Sequence[float],
    lines: Sequence[Lines],
    series: Sequence[Series | None],
    hum: Hum | None,
    clipped: float,
    seconds: float,
    low: float,
    high: float,
) -> BeltSound:
    """The plucks that agree, averaged by their weights; what disagrees is told."""
    heard = np.array([s.fundamental_hz if s else np.nan for s in series])
    middle = float(np.nanmedian(heard))
    used = np.abs(heard / middle - 1) < SAME_PITCH
    own = [s for s, take in zip(series, used.tolist(), strict=True) if s and take]
    weight = np.array([1 / s.standard_uncertainty_hz**2 for s in own])
    value = float((weight * np.array([s.fundamental_hz for s in own])).sum() / weight.sum())
    scatter = float(np.std([s.fundamental_hz for s in own], ddof=1)) if len(own) > 1 else 0.0
    spread = scatter / np.sqrt(len(own))
    known = max(float(np.sqrt(1 / weight.sum())), spread, 0.001 * value)
    confidence = float(np.average([s.confidence for s in own], weights=[s.strength for s in own]))
    other = _other(lines, series, used)
    doubts: list[Doubt] = []
    if len(own) < 0.6 * len(starts) or scatter > PLUCKS_APART * value:
        doubts.append(Doubt.DISAGREE)
    if confidence < SURE or 2 * known > 0.01 * value:
        doubts.append(Doubt.WEAK)
    # Overtones that are all multiples of one number are a series for themselves, beyond the bounds.
    step = math.gcd(*(n for one in own for n in one.overtones))
    if step > 1:
        doubts.append(Doubt.OUTSIDE)
        other = (step * value, 1.0)
    elif other is not None and other[1] > LOUDER and not low * 0.97 <= other[0] <= high * 1.03:
        doubts.append(Doubt.OUTSIDE)
    if other is not None and other[1] > ALSO and low * 0.97 <= other[0] <= high * 1.03:
        doubts.append(Doubt.TWO_SPANS)
    plucks = [(one, s) for one, s, take in zip(lines, series, used.tolist(), strict=True) if s and take]
    second = None if Doubt.TWO_SPANS in doubts else second_tone(plucks, high / value)
    if second is not None:
        doubts.append(Doubt.TWO_SPANS)
        other = (second, 1.0)
    return BeltSound(
        pitch=Measured(value=value, standard_uncertainty=known, unit="Hz", basis=_basis(len(own))),
        confidence=confidence,
        doubts=tuple(doubts),
        starts_second=tuple(starts),
        heard_hz=tuple(None if np.isnan(one) else float(one) for one in heard),
        used=tuple(bool(one) for one in used.tolist()),
        overtones=tuple(sorted({n for s in own for n in s.overtones})),
        other_hz=other[0] if other else None,
        hum=hum,
        clipped_share=clipped,
        seconds=seconds,
    )


def _basis(count: int) -> str:
    return "one pluck" if count == 1 else f"{count} plucks"


def _other(
    lines: Sequence[Lines], series: Sequence[Series | None], used: NDArray[np.bool_]
) -> tuple[float, float] | None:
    """Another span that sounds along: its fundamental, and its strength beside the first's."""
    rest = [without(one, s) for one, s, take in zip(lines, series, used.tolist(), strict=True) if s and take]
    rest = [one for one in rest if len(one.hz)]
    ranked = _ranked(rest, LOWEST_HZ, HIGHEST_HZ)
    if not ranked:
        return None
    found = [s for s in (_near(one, ranked[0]) for one in rest) if s]
    first = [s for s, take in zip(series, used.tolist(), strict=True) if s and take]
    if len(found) * 2 < len(first):
        return None
    ratio = float(np.median([s.strength for s in found]) / np.median([s.strength for s in first]))
    return (float(np.median([s.fundamental_hz for s in found])), ratio) if ratio > 0.08 else None
