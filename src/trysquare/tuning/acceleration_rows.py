"""How an accelerometer's table is written: its heading, separators and columns; its rows as numbers."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.errors import ReadingErrors, one_problem

COMMENTS = ("#", "%", "//", "!", '"#')
LEAST_COLUMNS = 2  # time and one axis
AXES = ("x", "y", "z")
MOST_LINES_TOLD = 5
_TIME = re.compile(r"^(time|t|seconds?|timestamp|ms|us|µs)\b|^(time|t)_", re.IGNORECASE)
_AXIS = re.compile(r"(?:^|[^a-z])(?:a|acc|accel|acceleration)?[_ ]?([xyz])(?:$|[^a-z])", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How the rows are written: the columns' separator (None: blanks), decimal commas, how many columns.

    `names` of the columns; `time`: the one of times, None when there is none; `axes`: theirs with names."""

    heading: str
    separator: str | None
    comma: bool
    width: int
    names: tuple[str, ...]
    time: int | None
    axes: tuple[tuple[int, str], ...]

    @property
    def used(self) -> list[int]:
        """All columns that are read."""
        return [column for column, _ in self.axes] + ([self.time] if self.time is not None else [])


@dataclass(slots=True)
class Passed:
    """Lines that were passed over: how many, and the first of them by number."""

    count: int = 0
    first: list[int] = field(default_factory=list)

    def take(self, lines: Sequence[int]) -> None:
        self.count += len(lines)
        self.first += lines[: MOST_LINES_TOLD - len(self.first)]

    def __str__(self) -> str:
        told = ", ".join(str(line) for line in self.first)
        more = self.count - len(self.first)
        return f"{told} and {more} more" if more else told


def first_row(rows: Sequence[str], file: str) -> tuple[int, str]:
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
    raise no_rows(file, rows)


def no_rows(file: str, rows: Sequence[str]) -> ReadingErrors:
    """That no row of a table is one of numbers."""
    read = rows[0][:60] if rows else "nothing"
    return one_problem(
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


def layout_of(row: str, heading: str, file: str, start: int) -> Layout:
    """What the columns are, by the first row of numbers and the heading. Raises ReadingErrors."""
    separator, comma = _separator(row)
    width = len(_cells(row, separator, comma=comma))
    names = _cells(heading, separator, comma=False) if heading else []
    if len(names) != width:
        names = re.split(r"[;,\t ]+", heading) if heading else []
    time, axes = _columns(names, width)
    if not axes:
        raise one_problem(
            file, start + 1, f"{width} columns", "time, x, y, z, or at least time and one axis",
            "Name the columns in a heading: time,x,y,z.",
        )  # fmt: skip
    return Layout(
        heading=heading, separator=separator, comma=comma, width=width, names=tuple(names), time=time,
        axes=tuple(axes),
    )  # fmt: skip


def numbers_of(
    rows: Sequence[str], first_line: int, layout: Layout, odd: Passed
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """All rows of numbers, shape (n, width), and their lines; the quick way when every row is one, else row
    by row, what is no number going to `odd`."""
    separator, comma, width = layout.separator, layout.comma, layout.width
    if not rows:
        return np.zeros((0, width)), np.zeros(0, dtype=np.int64)
    text = "\n".join(rows)
    try:
        values = np.loadtxt(
            io.StringIO(text.replace(",", ".") if comma else text),
            delimiter=separator, comments=None, ndmin=2,
        )  # fmt: skip
    except ValueError:
        pass
    else:
        if len(values) == len(rows) and values.shape[1] == width:
            return values, np.arange(first_line, first_line + len(values))
    found: list[list[float]] = []
    lines: list[int] = []
    for number, row in enumerate(rows, start=first_line):
        text = row.strip()
        if not text or text.startswith(COMMENTS):
            continue
        cells = _cells(text, separator, comma=comma)
        try:
            numbers = [float(cell) if cell else np.nan for cell in cells[:width]]
        except ValueError:
            odd.take([number])
            continue
        if len(numbers) < width:
            odd.take([number])
            continue
        found.append(numbers)
        lines.append(number)
    return np.array(found, dtype=np.float64).reshape(-1, width), np.array(lines, dtype=np.int64)


def _cells(row: str, separator: str | None, *, comma: bool) -> list[str]:
    cells = [cell.strip().strip('"') for cell in row.strip().split(separator)]
    while len(cells) > 1 and not cells[-1]:  # a separator at the line's end
        cells.pop()
    return [cell.replace(",", ".") for cell in cells] if comma else cells


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
