"""Tables of words and numbers as text: any separator, comment lines, a heading; faults by their lines."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from trysquare.ground.errors import ReadingError, ReadingErrors, Where, nearest, one_problem, shown

COMMENTS = ("#", "%", "//")
AS_NUMBER = "Write it with a point and without its unit: 100.05."
MOST_ROWS = 100_000
MOST_TOLD = 20
_SEPARATORS = (";", "\t", ",")


@dataclass(slots=True, kw_only=True)
class Row:
    """A row by column names, with its line in the file. Faults found in it are kept in `problems`."""

    file: str
    line: int
    cells: Mapping[str, str]
    comma: bool
    problems: list[ReadingError] = field(default_factory=list)

    def word(self, name: str, known: Sequence[str], default: str | None = None) -> str:
        """One of some words; an empty cell is the default. Anything else is a problem, and gives ""."""
        text = self.cells.get(name, "").casefold()
        if not text and default is not None:
            return default
        if text in known:
            return text
        self._problem(
            name, text, f"one of {', '.join(known)}", nearest(text, known) if text else "Write one."
        )
        return ""

    def number(
        self, name: str, *, above: float = -math.inf, most: float = math.inf, default: float | None = None
    ) -> float:
        """A finite number in its bounds; an empty cell is the default. Else a problem, and NaN."""
        text = self.cells.get(name, "")
        if not text and default is not None:
            return default
        try:
            value = float(text.replace(",", ".") if self.comma else text)
        except ValueError:
            value = math.nan
        if math.isfinite(value) and above < value <= most:
            return value
        bounds = f" above {above:g}" if above > -math.inf else ""
        bounds += f"{' and' if bounds else ''} up to {most:g}" if most < math.inf else ""
        remedy = "Check the column and its unit." if math.isfinite(value) else AS_NUMBER
        self._problem(name, text, f"a number{bounds}", remedy)
        return math.nan

    def has(self, name: str) -> bool:
        """Whether the row says anything in this column."""
        return bool(self.cells.get(name))

    def fault(self, name: str, expected: str, remedy: str) -> None:
        """Adds a problem about a cell that reads well but cannot be."""
        self._problem(name, self.cells.get(name, ""), expected, remedy)

    def _problem(self, name: str, read: str, expected: str, remedy: str) -> None:
        where = Where(file=self.file, line=self.line, key=name)
        self.problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))


def named_rows(text: str, file: str, needed: Sequence[str], example: str) -> list[Row]:
    """The rows of a table whose heading names at least the `needed` columns; `example` is such a heading.

    Separators are , ; or tab; with ; or tab, numbers may have a decimal comma. Lines that begin with
    # % or // are comments. Raises ReadingErrors.
    """
    lines = [
        (number, line.strip("\ufeff \r"))
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip("\ufeff \t\r,;") and not line.lstrip("\ufeff \t").startswith(COMMENTS)
    ]
    if len(lines) < 2:
        read = "no rows" if lines else "nothing"
        raise one_problem(
            file, 0, read, f"a heading ({example}) and rows beneath it", "Write one row a reading."
        )
    if len(lines) > MOST_ROWS:
        raise one_problem(file, 0, f"{len(lines)} lines", f"at most {MOST_ROWS}", "Split the file.")
    heading = lines[0][1]
    separator = next((one for one in _SEPARATORS if one in heading), ",")
    names = [name.strip().strip('"').casefold().replace(" ", "_") for name in heading.split(separator)]
    missing = [name for name in needed if name not in names]
    if missing:
        near = " ".join(
            f"Is '{shown(close)[1:-1]}' meant?" for one in missing if (close := _close(one, names))
        )
        remedy = near or f"Write a first line such as {example}"
        raise one_problem(file, lines[0][0], heading, f"a heading with {', '.join(missing)}", remedy)
    twice = sorted({name for name in names if name and names.count(name) > 1})
    if twice:
        raise one_problem(file, lines[0][0], heading, f"each column once; {', '.join(twice)} is there twice",
                     "Rename one of them.")  # fmt: skip
    rows, problems = [], []
    for number, line in lines[1:]:
        cells = next(csv.reader([line], delimiter=separator), [])  # alone: an open quote ends with its line
        cells_kept = [cell.strip() for cell in cells]
        if len(cells_kept) > len(names) and any(cells_kept[len(names) :]):
            remedy = (
                "With a decimal comma, put ; between the columns." if separator == "," else "Check this line."
            )
            where = Where(file=file, line=number)
            read = separator.join(cells_kept)
            expected = f"{len(names)} cells, as the heading has"
            problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))
            continue
        rows.append(
            Row(
                file=file,
                line=number,
                cells=dict(zip(names, cells_kept, strict=False)),
                comma=separator != ",",
            )
        )
    if problems:
        raise ReadingErrors(problems[:MOST_TOLD])
    return rows


def refuse_faults(rows: Sequence[Row]) -> None:
    """Raises ReadingErrors with all the problems that reading the rows' cells has found, if any."""
    problems = [problem for row in rows for problem in row.problems]
    if problems:
        raise ReadingErrors(problems[:MOST_TOLD])


def _close(wanted: str, names: Sequence[str]) -> str:
    stem = wanted.removesuffix("_mm")
    return next((name for name in names if len(name) > 2 and (stem in name or name in wanted)), "")
