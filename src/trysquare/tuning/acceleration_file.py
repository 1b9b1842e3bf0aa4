"""Accelerometer tables as text: any separator, comment lines, headings, odd numbers; told by their lines.

What is a number becomes an array, what is not is passed over and named; nothing is guessed in silence.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.errors import one_problem

COMMENTS = ("#", "%", "//", "!", '"#')
LEAST_ROWS = 200
LEAST_COLUMNS = 2  # time and one axis
AXES = ("x", "y", "z")
_TIME = re.compile(r"^(time|t|seconds?|timestamp|ms|us|µs)\b|^(time|t)_", re.IGNORECASE)
_AXIS = re.compile(r"(?:^|[^a-z])(?:a|acc|accel|acceleration)?[_ ]?([xyz])(?:$|[^a-z])", re.IGNORECASE)
_MILLI = re.compile(r"\bms\b|milli|_ms$|\(ms\)|\[ms\]", re.IGNORECASE)
_MICRO = re.compile(r"\b[uµ]s\b|micro|_us$|\(us\)|\[us\]", re.IGNORECASE)
MOST_AT_THE_END = 10  # of one reading; a swing passes its turning points now and then
FINE_READINGS = 40  # with fewer different ones the sensor is coarse, and says the same often
_UNITS = (("mm/s", "mm/s²"), ("m/s", "m/s²"), ("mg", "mg"), ("(g)", "g"), ("[g]", "g"), ("_g", "g"))
MOST_LINES_TOLD = 5


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
    rows = text.splitlines()
    start, heading = _start(rows, file)
    separator, comma = _separator(rows[start])
    values, lines, notes = _numbers(rows, start, separator, file, comma=comma)
    return _table(file, heading, separator, values, lines, notes, start)


def _start(rows: Sequence[str], file: str) -> tuple[int, str]:
    """Index of the first row of numbers, and the heading before it ("" if none)."""
    heading = ""
    for index, row in enumerate(rows):
        text = row.strip().lstrip("\ufeff")
        if not text:
            continue
        words = re.split(r"[;,\t ]+", text)
        if not text.startswith(COMMENTS) and sum(_is_number(word) for word in words) >= LEAST_COLUMNS:
            return index, heading
        bare = text.lstrip('#%!/" ')
        # A heading may stand in a comment; the last one that names an axis is it.
        if len(re.split(r"[;,\t ]+", bare)) >= 3 and (_TIME.search(bare) or _AXIS.search(bare)):
            heading = bare
    read = rows[0][:60] if rows else "nothing"
    raise one_problem(
        file,
        1 if rows else 0,
        read,
        "rows of numbers: time, x, y, z",
        "Save the accelerometer's table as CSV with these columns.",
    )


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True


def _separator(row: str) -> tuple[str | None, bool]:
    """What stands between the columns (None: blanks), and whether numbers have a decimal comma."""
    if ";" in row:
        return ";", "," in row
    if "\t" in row:
        return "\t", "," in row
    return ("," if "," in row else None), False


def _numbers(
    rows: Sequence[str], start: int, separator: str | None, file: str, *, comma: bool
) -> tuple[NDArray[np.float64], NDArray[np.int64], list[str]]:
    """All rows of numbers, shape (n, columns); the quick way when every row is one, else row by row."""
    body = rows[start:]
    if not comma:
        try:
            values = np.loadtxt(io.StringIO("\n".join(body)), delimiter=separator, comments=None, ndmin=2)
        except ValueError:
            pass
        else:
            if len(values) == len(body):
                return values, np.arange(start + 1, start + 1 + len(values)), []
    width = len(_cells(body[0], separator, comma=comma))
    found: list[list[float]] = []
    lines: list[int] = []
    odd: list[int] = []
    for number, row in enumerate(body, start=start + 1):
        text = row.strip()
        if not text or text.startswith(COMMENTS):
            continue
        cells = _cells(text, separator, comma=comma)
        try:
            numbers = [float(cell) if cell else np.nan for cell in cells[:width]]
        except ValueError:
            odd.append(number)
            continue
        if len(numbers) < width:
            odd.append(number)
            continue
        found.append(numbers)
        lines.append(number)
    notes = []
    if odd:
        more = f" and {len(odd) - MOST_LINES_TOLD} more" if len(odd) > MOST_LINES_TOLD else ""
        told = ", ".join(str(line) for line in odd[:MOST_LINES_TOLD])
        notes.append(f"{len(odd)} rows are no numbers and were passed over: line {told}{more} of {file}.")
    return np.array(found, dtype=np.float64).reshape(-1, width), np.array(lines, dtype=np.int64), notes


def _cells(row: str, separator: str | None, *, comma: bool) -> list[str]:
    cells = [cell.strip().strip('"') for cell in row.strip().split(separator)]
    while len(cells) > 1 and not cells[-1]:  # a separator at the line's end
        cells.pop()
    return [cell.replace(",", ".") for cell in cells] if comma else cells


def _table(
    file: str, heading: str, separator: str | None, values: NDArray[np.float64], lines: NDArray[np.int64],
    notes: list[str], start: int,
) -> Table:  # fmt: skip
    names = _cells(heading, separator, comma=False) if heading else []
    if len(names) != values.shape[1]:
        names = re.split(r"[;,\t ]+", heading) if heading else []
    time, axes = _columns(names, values.shape[1])
    if not axes:
        raise one_problem(
            file, start + 1, f"{values.shape[1]} columns", "time, x, y, z, or at least time and one axis",
            "Name the columns in a heading: time,x,y,z.",
        )  # fmt: skip
    used = [column for column, _ in axes] + ([time] if time is not None else [])
    finite = np.isfinite(values[:, used]).all(axis=1)
    if not finite.all():
        bad = lines[~finite]
        told = ", ".join(str(line) for line in bad[:MOST_LINES_TOLD].tolist())
        more = f" and {len(bad) - MOST_LINES_TOLD} more" if len(bad) > MOST_LINES_TOLD else ""
        notes.append(
            f"{len(bad)} rows hold no number (NaN or empty) and were passed over: line {told}{more}."
        )
        values, lines = values[finite], lines[finite]
    if len(values) < LEAST_ROWS:
        raise one_problem(
            file, 0, f"{len(values)} rows of numbers", f"{LEAST_ROWS} or more, some seconds of movement",
            "Record for ten seconds or more.",
        )  # fmt: skip
    acceleration = values[:, [column for column, _ in axes]]
    notes += _ends_of_range(acceleration, [name for _, name in axes])
    return Table(
        file=file,
        time_second=None if time is None else _seconds(values[:, time], names, time, notes),
        acceleration=np.ascontiguousarray(acceleration),
        axes=tuple(name for _, name in axes),
        unit=_unit(heading),
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


def _columns(names: Sequence[str], width: int) -> tuple[int | None, list[tuple[int, str]]]:
    """The column of times (None: there is none), and the columns of the axes with their names."""
    time = next((index for index, name in enumerate(names) if _TIME.search(name.strip())), None)
    axes: list[tuple[int, str]] = []
    for index, name in enumerate(names):
        found = _AXIS.search(name)
        if index != time and found and found[1].lower() not in [axis for _, axis in axes]:
            axes.append((index, found[1].lower()))
    if axes:
        return time, sorted(axes, key=lambda one: one[1])
    if width == 3:  # no heading: three columns are the axes, four are time and the axes
        return None, list(enumerate(AXES))
    if width == 2:
        return 0, [(1, "x")]
    return (0, [(index + 1, name) for index, name in enumerate(AXES)]) if width >= 4 else (None, [])


def _seconds(
    time: NDArray[np.float64], names: Sequence[str], column: int, notes: list[str]
) -> NDArray[np.float64]:
    """Times in seconds, by the heading's word, else by what a sensor's step can be."""
    name = names[column] if column < len(names) else ""
    if _MICRO.search(name):
        return time * 1e-6
    if _MILLI.search(name):
        return time * 1e-3
    steps = np.diff(time)
    steps = steps[steps > 0]
    usual = float(np.median(steps)) if len(steps) else 0.0
    if usual > 20:  # nobody samples a swinging machine every 20 seconds
        notes.append("The times are taken as microseconds: their steps are too long for anything else.")
        return time * 1e-6
    if usual > 0.05:
        notes.append("The times are taken as milliseconds: their steps are too long for seconds.")
        return time * 1e-3
    return time


def _unit(heading: str) -> str:
    text = heading.casefold().replace("^2", "²").replace("s2", "s²")
    return next((unit for word, unit in _UNITS if word in text), "")
