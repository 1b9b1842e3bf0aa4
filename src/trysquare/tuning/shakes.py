"""Acceleration at even steps of time, from times that jitter, stand still, run back or have gaps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from trysquare.ground.errors import ReadingError
from trysquare.tuning.acceleration_file import Table

Numbers = NDArray[np.float64]

# A step so many times the usual one is a gap. Common practice, no source.
GAP_STEPS = 4.0
# Jitter below this part of a step does no harm.
HARMLESS = 0.01
MOST_ROUNDED_STEPS = 2
# The shortest stretch without a gap that is looked at.
SHORTEST_SECOND = 0.5
LEAST_RATE_HZ, MOST_RATE_HZ = 20.0, 1e6
# A column that never moves by more than this part of the liveliest is no axis of the sensor.
STILL = 1e-9
# No sensor writes larger numbers, in any unit.
ABSURD = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class Shake:
    """A movement at even steps: stretches of acceleration, each (n, axes), with their means taken out.

    `seconds` is the whole time that is looked at. `jitter` is the part of a step that times scatter by.
    `still`: axes that never moved. `resting`: what the sensor showed on average, (axes,): gravity.
    """

    file: str
    rate_hz: float
    stretches: tuple[Numbers, ...]
    axes: tuple[str, ...]
    unit: str
    seconds: float
    jitter: float
    gaps: int
    still: tuple[str, ...]
    resting: Numbers
    notes: tuple[str, ...]


def shake_of(table: Table, rate_hz: float | None = None) -> Shake:
    """Even steps from a table. `rate_hz` goes before the times. Raises ReadingError.

    Where times repeat, the clock is coarser than the sensor: the samples are then laid evenly between
    gaps. Where they only jitter, a cubic through them is read at even steps.
    """
    notes = list(table.notes)
    if table.time_second is None or rate_hz is not None:
        if rate_hz is None:
            raise ReadingError(
                where=table.file,
                read="no column of times",
                expected="times, or the sensor's rate",
                remedy="Give --rate, samples a second.",
            )
        _check_rate(table.file, rate_hz)
        if len(table.acceleration) < SHORTEST_SECOND * rate_hz:
            raise ReadingError(
                where=table.file,
                read=f"{len(table.acceleration)} rows at {rate_hz:g} a second",
                expected=f"{SHORTEST_SECOND:g} s or more",
                remedy="Is --rate the sensor's samples a second? Record ten seconds or more.",
            )
        return _shake(table, rate_hz, [table.acceleration], 0.0, 0, notes)
    time, values, lines = table.time_second, table.acceleration, table.lines
    order = np.argsort(time, kind="stable")
    back = int((np.diff(time) < 0).sum())
    if back:
        line = int(lines[1:][np.diff(time) < 0][0])
        notes.append(f"The times run back {back} times, first on line {line}; the rows were put in order.")
        time, values = time[order], values[order]
    steps = np.diff(time)
    if not (steps > 0).any():
        raise ReadingError(
            where=table.file, read=f"the time {time[0]:g} on every row", expected="times that go on",
            remedy="Was the wrong column taken? Name the columns: time,x,y,z.",
        )  # fmt: skip
    coarse = float((steps == 0).mean()) > 0.02
    usual = float(np.median(steps[steps > 0]))
    if coarse:
        pause = steps > max(GAP_STEPS * usual, 0.02)
        notes.append("Times repeat: the clock is coarser than the sensor; its samples are laid evenly.")
    else:
        pause = steps > GAP_STEPS * usual
    good = steps[~pause]
    # Two lengths of step are an even sensor's times, rounded.
    coarse = coarse or len(np.unique(np.round(good, 9))) <= MOST_ROUNDED_STEPS
    usual = float(good.mean())
    rate = 1 / usual
    _check_rate(table.file, rate)
    jitter = float(np.std(good) / usual) if not coarse else 0.0
    ends = np.flatnonzero(pause) + 1
    if len(ends):
        lost = float((steps[pause] - usual).sum())
        notes.append(f"{len(ends)} gaps, {lost:.2f} s lost in all: what lies between them is looked at.")
    stretches = [
        _even(time[first:last], values[first:last], usual, even=coarse or jitter < HARMLESS)
        for first, last in zip([0, *ends.tolist()], [*ends.tolist(), len(time)], strict=True)
        if (last - first) * usual >= SHORTEST_SECOND
    ]
    if not stretches:
        seen = f"{time[-1] - time[0]:.2f} s"
        raise ReadingError(
            where=table.file,
            read=f"{len(ends)} gaps in {seen}" if len(ends) else f"{seen} of movement",
            expected=f"{SHORTEST_SECOND:g} s or more without a gap",
            remedy="Let the sensor write faster, or lower its rate."
            if len(ends)
            else "Record ten seconds or more; name the times' unit in the heading: time_s or time_ms.",
        )
    return _shake(table, rate, stretches, jitter, len(ends), notes)


def _check_rate(file: str, rate: float) -> None:
    if not LEAST_RATE_HZ <= rate <= MOST_RATE_HZ:
        raise ReadingError(
            where=file,
            read=f"{rate:g} samples a second",
            expected=f"{LEAST_RATE_HZ:g} to {MOST_RATE_HZ:g}",
            remedy="Name the unit of the times in the heading (time_ms, time_us), or give --rate.",
        )


def _even(time: Numbers, values: Numbers, step: float, *, even: bool) -> Numbers:
    if even or len(time) < 4:
        return values
    kept = np.concatenate([[True], np.diff(time) > 0])
    wanted = np.arange(time[0], time[-1], step)
    return np.asarray(CubicSpline(time[kept], values[kept])(wanted))


def _shake(
    table: Table, rate: float, stretches: list[Numbers], jitter: float, gaps: int, notes: list[str]
) -> Shake:
    largest = max(float(np.abs(one).max()) for one in stretches)
    if largest > ABSURD:
        raise ReadingError(
            where=table.file, read=f"accelerations up to {largest:.3g}",
            expected=f"less than {ABSURD:g} in any unit", remedy="Are columns exchanged, or separators lost?",
        )  # fmt: skip
    resting = np.concatenate(stretches).mean(axis=0)
    spread = np.concatenate(stretches).std(axis=0)
    most = float(spread.max())
    if most <= 0:
        raise ReadingError(
            where=table.file, read="columns that never change", expected="a sensor that moved",
            remedy="Is the sensor connected? Was the table filled with its last value?",
        )  # fmt: skip
    still = tuple(name for name, one in zip(table.axes, spread, strict=True) if one <= STILL * most)
    notes += [f"Column {name} never changes: nothing can be said of it." for name in still]
    notes += _gravity(table.axes, resting, table.unit)
    return Shake(
        file=table.file,
        rate_hz=rate,
        stretches=tuple(one - one.mean(axis=0) for one in stretches),
        axes=table.axes,
        unit=table.unit,
        seconds=sum(len(one) for one in stretches) / rate,
        jitter=jitter,
        gaps=gaps,
        still=still,
        resting=resting,
        notes=tuple(notes),
    )


def _gravity(axes: tuple[str, ...], resting: Numbers, unit: str = "") -> list[str]:
    """A word when gravity lies along an axis that is not z: the sensor is turned, or columns exchanged."""
    if "z" not in axes or len(axes) < 3:
        return []
    size = float(np.linalg.norm(resting))
    for said, one, meant in (
        ("g", 9.81, "m/s²"),
        ("m/s²", 1.0, "g"),
        ("mm/s²", 9.81, "m/s²"),
        ("g", 1000.0, "mg"),
    ):
        if unit == said and 0.8 < size / one < 1.25:
            return [f"Gravity reads {size:.1f}: that is {meant}, though the heading says {said}. Mend it."]
    along = int(np.argmax(np.abs(resting)))
    # 1 g, 9.81 m/s², 9810 mm/s² or 1000 mg; a sensor that takes gravity out shows none of them.
    plausible = any(0.8 < size / one < 1.25 for one in (1.0, 9.81, 9810.0, 1000.0))
    if plausible and abs(resting[along]) > 0.8 * size and axes[along] != "z":
        where = f"Gravity lies along {axes[along]}"
        return [f"{where}: is the sensor turned, or are columns exchanged? Axes are named as in the file."]
    return []
