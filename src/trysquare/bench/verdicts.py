"""In or out: a reading against its limit, with what its instrument leaves open. Pure.

The pages' script judges while one types, with the same rule.
"""

from __future__ import annotations

from collections.abc import Sequence

from trysquare.bench.views_step import ToReadView
from trysquare.record.replay import BuildState
from trysquare.record.state import LENGTH_UNITS_MM, Reading
from trysquare.sequence.instruments import expanded_told

GOOD, BAD, CANNOT_TELL = "good", "bad", "cannot-tell"
SLACK = 1e-9  # far below any reading, far above rounding


def judge(value: float, limit: float, half_width: float) -> str:
    """Good within the limit less U, bad beyond the limit plus U. Source: ISO 14253-1, the classic rule."""
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
    """U of a reading in the unit of its limit: of the error limits it said, else its instrument's, else 0."""
    found = next((one for one in what.instruments if one.id == reading.instrument), None)
    if reading.uncertainty is not None:
        own = LENGTH_UNITS_MM.get(reading.unit, 1.0) / LENGTH_UNITS_MM.get(what.unit, 1.0)
        said = reading.uncertainty * (own if reading.unit != what.unit else 1.0)
        return expanded_told(said, found.scatter if found is not None else 0.0)
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


def standing(readings: Sequence[Reading], what: ToReadView) -> tuple[str, Reading | None]:
    """The verdict that stands, and the reading that gave it; ("", None) when none counts. readings: oldest
    first.

    The last one that counts, except that what was out stays out until a reading says in: one that cannot
    tell, or is in a unit that says nothing of the limit, takes nothing back.
    """
    stands: tuple[str, Reading | None] = ("", None)
    for one in readings:
        if one.set_aside:
            continue
        judged = verdict(one, what)
        if stands[0] != BAD or judged in (GOOD, BAD):
            stands = (judged, one)
    return stands


def verdict_of(state: BuildState, step: str, what: ToReadView) -> str:
    """The verdict that stands at a step; "" when there is none."""
    return standing(readings_at(state, step, what.of), what)[0]
