"""In or out: a reading against its limit, with what its instrument leaves open. Pure.

The pages' script judges while one types, with the same rule.
"""

from __future__ import annotations

from trysquare.bench.views_step import ToReadView
from trysquare.record.replay import BuildState
from trysquare.record.state import LENGTH_UNITS_MM, Reading

GOOD, BAD, CANNOT_TELL = "good", "bad", "cannot-tell"
SLACK = 1e-9  # far below any reading, far above rounding


def judge(value: float, limit: float, half_width: float) -> str:
    """Good or bad only where the whole error limits of the instrument stand behind it."""
    size, half = abs(value), abs(half_width)
    if size <= limit - half + SLACK:
        return GOOD
    return BAD if size > limit + half + SLACK else CANNOT_TELL


def value_in(reading: Reading, unit: str) -> float | None:
    """A reading's value in this unit; None where it was read in something else."""
    if reading.unit == unit:
        return reading.value
    if unit in LENGTH_UNITS_MM and reading.value_mm is not None:
        return reading.value_mm / LENGTH_UNITS_MM[unit]
    return None


def half_width_of(reading: Reading, what: ToReadView) -> float:
    """The error limits of a reading in the unit of its limit: as it said, else its instrument's, else 0."""
    if reading.uncertainty is not None:
        own = LENGTH_UNITS_MM.get(reading.unit, 1.0) / LENGTH_UNITS_MM.get(what.unit, 1.0)
        return reading.uncertainty * (own if reading.unit != what.unit else 1.0)
    found = next((one for one in what.instruments if one.id == reading.instrument), None)
    return found.half_width or 0.0 if found is not None else 0.0


def verdict(reading: Reading, what: ToReadView) -> str:
    """A reading's verdict; "" without a limit, or where its unit is another."""
    value = value_in(reading, what.unit)
    if what.limit is None or value is None:
        return ""
    return judge(value, what.limit, half_width_of(reading, what))


def readings_at(state: BuildState, step: str, of: str) -> tuple[Reading, ...]:
    """All readings of a characteristic made at a step, or at none, oldest first."""
    found = (*state.readings.get((step, of), ()), *state.readings.get((None, of), ()))
    return tuple(sorted(found, key=lambda one: one.said.seq))


def verdict_of(state: BuildState, step: str, what: ToReadView) -> str:
    """The verdict of the last reading at a step that counts; "" when there is none."""
    counting = [one for one in readings_at(state, step, what.of) if not one.set_aside]
    return verdict(counting[-1], what) if counting else ""
