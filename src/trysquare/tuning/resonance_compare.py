"""Before and after a change: which modes moved, which calmed down."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trysquare.truing.verdicts import Verdict
from trysquare.tuning.resonance import Mode, Resonance
from trysquare.tuning.values import Measured

# Modes farther apart than this part are not the same mode. Common practice, no source.
SAME_AFTER = 0.25
# A change of movement below this is within what two recordings of one machine differ by. Common practice, no
# source: 2 dB.
LEAST_DECIBEL = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One mode before and after; None where it is not there. `decibel`: of its movement, > 0 is more."""

    before: Mode | None
    after: Mode | None
    hz: Measured | None
    decibel: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """All changes; `rms_decibel` by axis, over all frequencies looked at; `says`: the verdict in words."""

    changes: tuple[Change, ...]
    rms_decibel: dict[str, float]
    verdict: Verdict
    says: tuple[str, ...]


def compare(before: Resonance, after: Resonance) -> Comparison:
    """Two shakes of one machine, made in the same way. Good: calmer beyond doubt; bad: livelier."""
    left = list(after.modes)
    changes = []
    for one in before.modes:
        apart = [(_apart(one, each), index) for index, each in enumerate(left) if each.axis == one.axis]
        nearest = min(apart, default=(math.inf, 0))
        other = left[nearest[1]] if nearest[0] < SAME_AFTER else None
        if other is not None:
            left.remove(other)
        changes.append(_change(one, other))
    changes += [_change(None, one) for one in left]
    rms = {
        name: 10 * math.log10(_power(after, name) / _power(before, name))
        for name in before.fits
        if name in after.fits and _power(before, name) > 0 and _power(after, name) > 0
    }
    most = max(rms.values(), key=abs, default=0.0)
    verdict = Verdict.CANNOT_TELL
    if rms and max(rms.values()) <= LEAST_DECIBEL and min(rms.values()) < -LEAST_DECIBEL:
        verdict = Verdict.GOOD
    elif rms and max(rms.values()) > LEAST_DECIBEL and min(rms.values()) >= -LEAST_DECIBEL:
        verdict = Verdict.BAD
    return Comparison(
        changes=tuple(changes),
        rms_decibel=rms,
        verdict=verdict,
        says=tuple(_says(changes, rms, most, verdict)),
    )


def _apart(one: Mode, other: Mode) -> float:
    return abs(math.log(other.frequency.value / one.frequency.value))


def _change(before: Mode | None, after: Mode | None) -> Change:
    if before is None or after is None:
        return Change(before=before, after=after, hz=None, decibel=None)
    spread = math.hypot(before.frequency.standard_uncertainty, after.frequency.standard_uncertainty)
    moved = Measured(
        value=after.frequency.value - before.frequency.value,
        standard_uncertainty=spread,
        unit="Hz",
        basis="two shakes",
    )
    level = 20 * math.log10(after.rms[after.axis] / before.rms[before.axis])
    return Change(before=before, after=after, hz=moved, decibel=level)


def _power(one: Resonance, axis: str) -> float:
    column = one.spectrum.density[:, one.shake.axes.index(axis)]
    return float(column.sum()) * one.spectrum.bin_hz


def _says(changes: list[Change], rms: dict[str, float], most: float, verdict: Verdict) -> list[str]:
    told = []
    if verdict is Verdict.GOOD:
        told.append(f"Calmer: {-most:.1f} dB less movement where it changed most.")
    elif verdict is Verdict.BAD:
        told.append(f"Livelier: {most:.1f} dB more movement where it changed most.")
    elif rms and abs(most) <= LEAST_DECIBEL:
        told.append("No clear change: two recordings of one machine differ by as much.")
    else:
        told.append("Some axes are calmer and some livelier: compare recordings of the same moves.")
    for one in changes:
        if (
            one.before is not None
            and one.after is not None
            and one.hz is not None
            and one.decibel is not None
        ):
            if abs(one.hz.value) > one.hz.expanded:
                told.append(
                    f"{one.before.axis}: {one.before.frequency.value:.1f} Hz went to "
                    f"{one.after.frequency.value:.1f} Hz ({one.decibel:+.1f} dB)."
                )
        elif one.before is not None:
            told.append(f"{one.before.axis}: {one.before.frequency.value:.1f} Hz is not seen any more.")
        elif one.after is not None:
            told.append(f"{one.after.axis}: {one.after.frequency.value:.1f} Hz is new.")
    return told
