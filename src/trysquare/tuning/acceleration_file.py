"""Accelerometer tables as text: any separator, comment lines, headings, odd numbers; told by their lines.

What is a number becomes an array, what is not is passed over and named; nothing is guessed in silence.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.errors import one_problem
from trysquare.tuning.acceleration_rows import Layout, Passed, first_row, layout_of, no_rows, numbers_of
from trysquare.tuning.acceleration_window import MOST_ROWS, Window

LEAST_ROWS = 200
_MILLI = re.compile(r"\bms\b|milli|_ms$|\(ms\)|\[ms\]", re.IGNORECASE)
_MICRO = re.compile(r"\b[uµ]s\b|micro|_us$|\(us\)|\[us\]", re.IGNORECASE)
MOST_AT_THE_END = 10  # of one reading; a swing passes its turning points now and then
FINE_READINGS = 40  # with fewer different ones the sensor is coarse, and says the same often
_UNITS = (("mm/s", "mm/s²"), ("m/s", "m/s²"), ("mg", "mg"), ("(g)", "g"), ("[g]", "g"), ("_g", "g"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """An accelerometer's table as read.

    time_second: (n,), None when the table has no column of times; acceleration: (n, axes), in `unit`
    ("" when nobody says); `axes`: their names, such as ("x", "y", "z"). `lines`: (n,), the line of each
    row in the file, from 1. `notes`: what was odd, in words.
    """

    file: str
    time_second: NDArray[np.float64] | None
    acceleration: NDArray[np.float64]
    axes: tuple[str, ...]
    unit: str
    lines: NDArray[np.int64]
    notes: tuple[str, ...]


def parse_acceleration(text: str, file: str) -> Table:
    """Reads a table with the columns time, x, y, z, or those that its heading names. Raises ReadingErrors."""
    return acceleration_of([text], file)


def acceleration_of(pieces: Iterable[str], file: str, most_rows: int = MOST_ROWS) -> Table:
    """The same from pieces of the text as they are read, each ending where a line ends. Raises ReadingErrors.

    A table of more than `most_rows` is never held whole: the stretch of so many that shook most is kept.
    """
    layout: Layout | None = None
    window = Window([], most_rows)
    first_line = 1
    odd, empty, finite_rows = Passed(), Passed(), 0
    first_second = last_second = 0.0
    for piece in pieces:
        rows = piece.splitlines()
        begin = 0
        if layout is None:
            begin, heading = first_row(rows, file)
            layout = layout_of(rows[begin], heading, file, begin)
            window = Window([column for column, _ in layout.axes], most_rows)
        values, lines = numbers_of(rows[begin:], first_line + begin, layout, odd)
        first_line += len(rows)
        finite = np.isfinite(values[:, layout.used]).all(axis=1)
        if not finite.all():
            empty.take(lines[~finite].tolist())
            values, lines = values[finite], lines[finite]
        if layout.time is not None and len(values):
            first_second = first_second if finite_rows else float(values[0, layout.time])
            last_second = float(values[-1, layout.time])
        finite_rows += len(values)
        window.take(values, lines)
    if layout is None:
        raise no_rows(file, [])
    notes = []
    if odd.count:
        notes.append(f"{odd.count} rows are no numbers and were passed over: line {odd} of {file}.")
    if empty.count:
        notes.append(f"{empty.count} rows hold no number (NaN or empty) and were passed over: line {empty}.")
    if finite_rows < LEAST_ROWS:
        raise one_problem(
            file, 0, f"{finite_rows} rows of numbers", f"{LEAST_ROWS} or more, some seconds of movement",
            "Record for ten seconds or more.",
        )  # fmt: skip
    return _table(file, layout, window, notes, (first_second, last_second))


def _table(file: str, layout: Layout, window: Window, notes: list[str], whole: tuple[float, float]) -> Table:
    """The table of the rows that are kept; `whole`: the file's first and last time as written."""
    values, lines = window.kept()
    axes, time = layout.axes, layout.time
    acceleration = values[:, [column for column, _ in axes]]
    notes += _ends_of_range(acceleration, [name for _, name in axes])
    seconds, factor = None, 1.0
    if time is not None:
        seconds, factor = _seconds(values[:, time], layout.names, time, notes)
    if len(values) < window.rows:
        told = f"Of {window.rows} rows the {len(values)} that shook most are looked at, "
        told += f"lines {lines[0]} to {lines[-1]}"
        if seconds is not None:
            begin, end = ((at - whole[0] * factor) / 60 for at in (seconds[0], seconds[-1]))
            told += f": minutes {begin:.1f} to {end:.1f} of {(whole[1] - whole[0]) * factor / 60:.1f}"
        notes.append(told + ".")
    return Table(
        file=file,
        time_second=seconds,
        acceleration=np.ascontiguousarray(acceleration),
        axes=tuple(name for _, name in axes),
        unit=_unit(layout.heading),
        lines=lines,
        notes=tuple(notes),
    )


def _ends_of_range(acceleration: NDArray[np.float64], names: Sequence[str]) -> list[str]:
    """A note where the liveliest axis stands still at its largest or smallest reading again and again."""
    lively = int(np.argmax(np.ptp(acceleration, axis=0)))
    values = acceleration[:, lively]
    ends = int(max((values == values.max()).sum(), (values == values.min()).sum()))
    if ends < max(MOST_AT_THE_END, 0.01 * len(values)) or len(np.unique(values)) < FINE_READINGS:
        return []
    told = f"{names[lively]} reads its very last value {ends} times: the sensor is at the end of its range."
    return [f"{told} Choose a wider one, or shake less; strengths are too small until then."]


def _seconds(
    time: NDArray[np.float64], names: Sequence[str], column: int, notes: list[str]
) -> tuple[NDArray[np.float64], float]:
    """Times in seconds and what they were multiplied by: by the heading's word, else by what a sensor's step
    can be."""
    name = names[column] if column < len(names) else ""
    steps = np.diff(time)
    steps = steps[steps > 0]
    usual = float(np.median(steps)) if len(steps) else 0.0
    factor = 1.0
    if _MICRO.search(name):
        factor = 1e-6
    elif _MILLI.search(name):
        factor = 1e-3
    elif usual > 20:  # nobody samples a swinging machine every 20 seconds
        notes.append("The times are taken as microseconds: their steps are too long for anything else.")
        factor = 1e-6
    elif usual > 0.05:
        notes.append("The times are taken as milliseconds: their steps are too long for seconds.")
        factor = 1e-3
    return time * factor, factor


def _unit(heading: str) -> str:
    text = heading.casefold().replace("^2", "²").replace("s2", "s²")
    return next((unit for word, unit in _UNITS if word in text), "")
