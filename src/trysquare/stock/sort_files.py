"""Counts and lengths that the builder wrote down: CSV or XLSX, in any usual encoding and separator.

Counts have the columns letter and pieces; lengths the columns letter (or part), length_mm and, if wanted,
piece and instrument. Other columns are passed over.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from trysquare.ground.errors import ReadingError, ReadingErrors, Where, nearest
from trysquare.machine.values import Instrument, Kind, Machine
from trysquare.stock.key import Sort
from trysquare.stock.matched import Measured
from trysquare.stock.miscount import add_found
from trysquare.stock.tables import Table, read_tables

FAR_OFF_MM = 5.0  # a length this far from the drawing's is another part, or a slip of the pen
_HEADINGS = {
    "letter": ("letter", "sort", "pile"),
    "part": ("part",),
    "pieces": ("pieces", "count", "found"),
    "length_mm": ("length_mm", "length"),
    "piece": ("piece", "mark", "no"),
    "instrument": ("instrument", "with"),
}


def read_counts(file: Path, letters: Iterable[str]) -> dict[str, int]:
    """What was counted, by pile: see `miscount.explain_counts`. Raises ReadingErrors with all problems."""
    letters = list(letters)
    problems: list[ReadingError] = []
    found: dict[str, int] = {}
    for table, columns in _tables(file, ("letter", "pieces"), problems):
        for line, row in _rows(table, columns):
            try:
                add_found(found, row["letter"], row["pieces"], letters, where=f"{table.file}:{line}")
            except ReadingError as problem:
                problems.append(problem)
    _end(problems)
    return found


def read_lengths(file: Path, machine: Machine, sorts: Sequence[Sort]) -> tuple[Measured, ...]:
    """The measured members, in the file's order. Raises ReadingErrors with all problems: what is no length,
    no member, too far from its drawing, read beyond its instrument's reach, or too few pieces."""
    problems: list[ReadingError] = []
    found: list[Measured] = []
    reader = _Lengths(machine, sorts, problems)
    for table, columns in _tables(file, ("length_mm",), problems, one_of=("letter", "part")):
        for line, row in _rows(table, columns):
            piece = reader.read(row, Where(file=table.file, line=line), found)
            if piece is not None:
                found.append(piece)
    if not problems:
        reader.enough(found, file.name)
    _end(problems)
    return tuple(found)


def _end(problems: list[ReadingError]) -> None:
    if problems:
        raise ReadingErrors(problems)


class _Lengths:
    """Reads rows of lengths against what the machine has."""

    def __init__(self, machine: Machine, sorts: Sequence[Sort], problems: list[ReadingError]) -> None:
        self.machine, self.problems = machine, problems
        self.members = [sort for sort in sorts if sort.features.form == "profile bar"]
        self.by_name: dict[str, Sort] = {}
        for sort in self.members:
            for name in (*sort.also_called, *sort.parts, sort.letter):
                self.by_name[name.casefold()] = sort
        self.instruments = {one.id: one for one in machine.instruments}

    def problem(self, where: Where, key: str, read: object, expected: str, remedy: str) -> None:
        spot = Where(file=where.file, line=where.line, key=key)
        self.problems.append(ReadingError(where=spot, read=read, expected=expected, remedy=remedy))

    def read(self, row: Mapping[str, str], where: Where, before: Sequence[Measured]) -> Measured | None:
        """One row; None after noting a problem."""
        name = row.get("letter") or row.get("part") or ""
        sort = self.by_name.get(name.casefold())
        if sort is None:
            known = [one.letter for one in self.members] + [
                part for one in self.members for part in one.parts
            ]
            self.problem(where, "letter", name, "the letter of a member", nearest(name, known))
            return None
        length_mm = _number(row["length_mm"])
        if length_mm is None:
            self.problem(
                where, "length_mm", row["length_mm"], "a number of millimetres", "Write, for example, 379.95."
            )
            return None
        drawn = sort.features.sizes["length"]
        assert drawn is not None  # every member has a length
        if not abs(length_mm - drawn.value) <= FAR_OFF_MM:
            expected = f"within {FAR_OFF_MM:g} mm of the drawing's {drawn.value:g}"
            self.problem(
                where, "length_mm", row["length_mm"], expected, "Measure again, or sort the piece anew."
            )
            return None
        instrument = self._instrument(row.get("instrument", ""), length_mm, where)
        if instrument is None:
            return None
        same = sum(piece.letter == sort.letter for piece in before)
        mark = row.get("piece") or str(same + 1)
        mark = mark if mark.casefold().startswith(sort.letter.casefold()) else f"{sort.letter}{mark}"
        if any(piece.piece.casefold() == mark.casefold() for piece in before):
            self.problem(where, "piece", mark, "each piece once", "Mark the pieces with different numbers.")
            return None
        return Measured(
            letter=sort.letter,
            piece=mark,
            length_mm=length_mm,
            half_width_mm=instrument.trusted_half_width_mm,
            instrument=instrument.id,
            as_difference=instrument.sort == "pinch-rod",
        )

    def _instrument(self, name: str, length_mm: float, where: Where) -> Instrument | None:
        """The instrument named, else the owned one that reaches so far and reads best."""
        if name:
            instrument = self.instruments.get(name)
            if instrument is None:
                remedy = nearest(name, self.instruments)
                self.problem(where, "instrument", name, "an instrument of machine.toml", remedy)
            elif instrument.reach_mm and instrument.reach_mm < length_mm:
                expected = f"at most the {instrument.reach_mm:g} mm that it reaches"
                self.problem(where, "length_mm", length_mm, expected, "Name the instrument it was read with.")
                instrument = None
            return instrument
        sorts = ("caliper", "tape", "rule")
        able = [one for one in self.machine.instruments if one.sort in sorts and _reaches(one, length_mm)]
        if not able:
            expected = "a caliper, tape or rule in machine.toml that reaches so far"
            self.problem(
                where,
                "length_mm",
                length_mm,
                expected,
                "Add the instrument, or name it in a column instrument.",
            )
            return None
        return min(able, key=lambda one: one.trusted_half_width_mm)

    def enough(self, found: Sequence[Measured], file: str) -> None:
        """Whether each letter that was measured has a piece for each of its places."""
        if not found:
            self.problem(Where(file=file), "", "no rows", "one row for each member", "Measure them first.")
        for sort in self.members:
            pieces = sum(piece.letter == sort.letter for piece in found)
            places = sum(
                placed.type.id in sort.parts and placed.type.kind is Kind.MEMBER and not placed.joint
                for placed in self.machine.placed
            )
            if 0 < pieces < places:
                read, expected = f"{pieces} of {sort.letter}", f"at least the {places} that have a place"
                remedy = "Measure the others as well, or leave this letter out."
                self.problem(Where(file=file), sort.letter, read, expected, remedy)


def _reaches(instrument: Instrument, length_mm: float) -> bool:
    return not instrument.reach_mm or instrument.reach_mm >= length_mm


def _number(text: str) -> float | None:
    """A length with a decimal point or comma and perhaps its unit; None for anything else."""
    plain = re.fullmatch(r"([0-9]{1,6}(?:[.,][0-9]{1,6})?)\s*(?:mm)?", text.strip())
    value = float(plain[1].replace(",", ".")) if plain else math.nan
    return value if value > 0 else None


# --- tables


def _tables(
    file: Path,
    wanted: Sequence[str],
    problems: list[ReadingError],
    one_of: Sequence[str] = (),
) -> list[tuple[Table, dict[str, int]]]:
    """The tables of a file with the places of their known columns."""
    found = []
    if not file.is_file():
        remedy = "Check the path."
        problems.append(
            ReadingError(where=file.name, read=str(file), expected="a CSV or XLSX file", remedy=remedy)
        )
        return []
    for table in read_tables(file.parent, file, problems):
        heading = [str(cell or "").strip().casefold() for cell in table.rows[0].cells] if table.rows else []
        columns = {
            name: next(heading.index(word) for word in words if word in heading)
            for name, words in _HEADINGS.items()
            if any(word in heading for word in words)
        }
        lacking = [name for name in wanted if name not in columns]
        if one_of and not any(name in columns for name in one_of):
            lacking.append(" or ".join(one_of))
        if lacking:
            line = table.rows[0].line if table.rows else 1
            expected = f"a heading row with the columns {' and '.join(dict.fromkeys([*one_of[:1], *wanted]))}"
            remedy = f"Add {' and '.join(lacking)}."
            where = Where(file=table.file, line=line)
            problems.append(
                ReadingError(where=where, read=", ".join(heading), expected=expected, remedy=remedy)
            )
            continue
        found.append((table, columns))
    return found


def _rows(table: Table, columns: Mapping[str, int]) -> Iterable[tuple[int, dict[str, str]]]:
    """Each row below the heading, its known cells as text; a whole number of a spreadsheet without ".0"."""
    for row in table.rows[1:]:
        cells = {}
        for name, at in columns.items():
            cell = row.cells[at] if at < len(row.cells) else None
            if isinstance(cell, float) and cell.is_integer():
                cell = int(cell)
            cells[name] = "" if cell is None else str(cell).strip()
        yield row.line, cells
