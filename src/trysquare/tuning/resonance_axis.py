"""An axis' swings, what may still them, what each way leaves and costs, and which one is advised."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.tuning.resonance import Mode, Resonance
from trysquare.tuning.resonance_culprit import ComputedMode
from trysquare.tuning.shaping import (
    Shaper,
    Smoothing,
    Swing,
    holds_within,
    no_shaper,
    shortest_robust,
    smoothing_of,
    worst_residual,
    zv,
    zvd,
)

# A mode that a move stirs less than this part of the strongest one is left out of shaping.
LEAST_STIRRED = 0.05
MOST_MODES_SHAPED = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class ResonanceCase:
    """What is asked of a shake. `axes`: those told in full, () for the one that moved most.

    `error`: how far a frequency may be off, a part of it; `limit`: the part of a swing that may be left;
    `wanted`: an acceleration that has to be possible, mm/s², None when nobody says.
    """

    resonance: Resonance
    before: Resonance | None = None
    computed: tuple[ComputedMode, ...] = ()
    axes: tuple[str, ...] = ()
    error: float = 0.1
    limit: float = 0.05
    path_mm: float = 0.1
    swing_mm: float = 0.02
    wanted: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shaped:
    """A shaper with what it leaves of all swings of an axis, and what it costs."""

    shaper: Shaper
    at_zero: float
    worst: float
    holds: tuple[float, float]
    smoothing: Smoothing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AxisFound:
    """An axis' modes, strongest stirred first, its swings for shaping, and shapers; () without modes."""

    axis: str
    modes: tuple[Mode, ...]
    swings: tuple[Swing, ...]
    shaped: tuple[Shaped, ...]
    advised: Shaped | None


def axes_told(case: ResonanceCase) -> tuple[str, ...]:
    """The axes that are told in full: those asked for, else the one that moved most."""
    if case.axes:
        return tuple(axis for axis in case.axes if axis in case.resonance.fits)
    shake, spectrum = case.resonance.shake, case.resonance.spectrum
    alive = [axis for axis in shake.axes if axis in case.resonance.fits]
    return tuple(
        sorted(alive, key=lambda axis: -float(spectrum.density[:, shake.axes.index(axis)].sum()))[:1]
    )


def axis_found(case: ResonanceCase, axis: str) -> AxisFound:
    """Modes and shapers of an axis.

    A move stirs a mode by its share of the movement: from the mean square of a noise's answer,
    rms² = H² π f / (4 ζ), H follows; a jump of acceleration then makes it swing by H / ω².
    """
    own = [mode for mode in case.resonance.modes if axis in mode.rms]
    if not own:
        return AxisFound(axis=axis, modes=(), swings=(), shaped=(), advised=None)
    stirred = {id(mode): _stirred(mode, axis) for mode in own}
    own.sort(key=lambda mode: -stirred[id(mode)])
    most = stirred[id(own[0])]
    swings = tuple(
        Swing(hz=mode.frequency.value, damping=mode.damping.value, weight=round(stirred[id(mode)] / most, 4))
        for mode in own
        if stirred[id(mode)] >= LEAST_STIRRED * most
    )[:MOST_MODES_SHAPED]
    first = swings[0]
    shapers = (
        no_shaper(), zv(first.hz, first.damping), zvd(first.hz, first.damping),
        shortest_robust(swings, case.error, case.limit),
    )  # fmt: skip
    shaped = tuple(_shaped(case, swings, one) for one in shapers)
    return AxisFound(
        axis=axis, modes=tuple(own), swings=swings, shaped=shaped, advised=_advised(case, shaped)
    )


def _stirred(mode: Mode, axis: str) -> float:
    hz = mode.frequency.value
    return mode.rms[axis] * math.sqrt(mode.damping.value / hz) / hz**2


def _shaped(case: ResonanceCase, swings: tuple[Swing, ...], shaper: Shaper) -> Shaped:
    reach = [holds_within(shaper, one, case.limit / one.weight) for one in swings]
    return Shaped(
        shaper=shaper,
        at_zero=worst_residual(shaper, swings, 0.0),
        worst=worst_residual(shaper, swings, case.error),
        holds=(min(low for low, _ in reach), min(high for _, high in reach)),
        smoothing=smoothing_of(
            shaper, swings, case.error, path_mm=case.path_mm, swing_mm=case.swing_mm
        ),
    )  # fmt: skip


def _advised(case: ResonanceCase, shaped: Sequence[Shaped]) -> Shaped:
    """Of those that leave little enough the one that allows most acceleration; else the one leaving least."""
    enough = [one for one in shaped if one.worst <= case.limit * (1 + 1e-3)]
    if enough:
        return max(enough, key=lambda one: (one.smoothing.acceleration, -one.shaper.seconds))
    return min(shaped, key=lambda one: one.worst)
