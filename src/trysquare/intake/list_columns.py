"""Which column of somebody's table is what: by its heading, by what stands in it, or as the builder says.

The headings stand in list_headings.csv, of each column the most particular word first.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Any

from trysquare.ground.errors import ReadingError, Where, nearest
from trysquare.intake.list_telling import rival_column, telling_column
from trysquare.stock.quantities import NotACount, read_quantity
from trysquare.stock.tables import Table, TableRow

HEADING_WITHIN = 40  # rows above a heading: titles, addresses, revisions
SAMPLE_ROWS = 400  # rows that are looked at to tell what a column without a heading holds
MOSTLY = 0.8  # share of a column's cells that must be of one sort

_UNIT = re.compile(r"[(\[]\s*([^)\]]*)\s*[)\]]\s*$|\bin\s+(mm|cm|m)$|[_ ](mm|cm)$")
_FACTORS = {"mm": 1.0, "cm": 10.0, "m": 1000.0}
NEEDED = ("name", "pieces")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """Where a column stands (from 0), its heading as written, and the factor of its unit to mm."""

    at: int
    heading: str
    factor: float = 1.0

    @property
    def letter(self) -> str:
        return letter_of(self.at)


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The columns of one table, the line of its heading (0: it has none), and what was guessed, in words."""

    found: Mapping[str, Column]
    heading_line: int = 0
    how: tuple[str, ...] = ()


@cache
def _ranks() -> dict[str, dict[str, int]]:
    """Of each sort of column its headings, with their rank; sorts in the order in which they are tried."""
    ranks: dict[str, dict[str, int]] = {}
    text = files("trysquare.intake").joinpath("list_headings.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(text.splitlines()):
        of_sort = ranks.setdefault(row["column"], {})
        of_sort.setdefault(row["heading"], len(of_sort))
    return ranks


def column_sorts() -> tuple[str, ...]:
    """What a column may be."""
    return tuple(_ranks())


def letter_of(at: int) -> str:
    """A column's letters as spreadsheets write them: 0 is A, 26 is AA."""
    letters = ""
    at += 1
    while at:
        at, rest = divmod(at - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def find_columns(table: Table, said: Mapping[str, str], problems: list[ReadingError]) -> Columns | None:
    """The columns of a table: as said, by headings, else by contents. None after a problem, or without rows.

    `said`: what the builder says: a column's sort to its heading, letter or number (from 1).
    """
    heading, by_heading, twice = _heading(table)
    line = heading.line if heading is not None else 0
    rows = [row for row in table.rows if row.line > line]
    columns = dict(by_heading)
    if not said and not columns and not any(_is_list_row(row) for row in rows[:SAMPLE_ROWS]):
        return None
    before = len(problems)
    for sort, word in said.items():
        at = _said_column(table, heading, sort, word, problems)
        if at is not None:
            columns = {key: column for key, column in columns.items() if column.at != at and key != sort}
            columns[sort] = Column(
                at=at, heading=_heading_at(heading, at), factor=_factor(_heading_at(heading, at))
            )
            twice.pop(sort, None)
    how: list[str] = []
    if heading is not None and not by_heading:
        how.append(f"Row {line} is taken for the heading: {_shown(heading)}.")
    for sort, many in twice.items():
        filled = [one for one in many if any(_text(row, one.at) for row in rows)]
        if len(filled) > 1 and sort in NEEDED and not _all_alike(rows, filled):
            letters = " and ".join(one.letter for one in filled)
            problems.append(
                ReadingError(
                    where=Where(file=table.file, line=line, key=table.sheet),
                    read=f"{filled[0].heading} in columns {letters}",
                    expected=f"one column for {_words(sort)}",
                    remedy=f"Say which one counts: --columns {sort}={filled[0].letter}.",
                )
            )
        elif filled and sort in NEEDED:
            columns[sort] = filled[0]
    if len(problems) > before:
        return None
    for sort in NEEDED:
        if sort in columns or (sort == "pieces" and "packs" in columns):
            continue
        guess = _by_contents(rows, columns, sort)
        if guess is None:
            problems.append(
                ReadingError(
                    where=Where(file=table.file, line=line, key=table.sheet),
                    read=_shown(heading or (table.rows[0] if table.rows else None)),
                    expected=f"a column for {_words(sort)}",
                    remedy=f"Say which it is: --columns {sort}=HEADING, a letter (B) or a number (2).",
                )
            )
            return None
        columns[sort] = Column(at=guess, heading=_heading_at(heading, guess))
        how.append(f"Column {letter_of(guess)} is taken for {_words(sort)}, by what stands in it.")
    how += [] if "name" in said else _told_better(rows, columns, heading)
    return Columns(found=columns, heading_line=line, how=tuple(how))


def _words(sort: str) -> str:
    return {"name": "the parts' names", "pieces": "the number of pieces"}.get(sort, sort)


# --- headings


def _heading(table: Table) -> tuple[TableRow | None, dict[str, Column], dict[str, list[Column]]]:
    """The row that heads the columns: the one that names most of them, with a name or a number among them."""
    best: tuple[TableRow | None, dict[str, Column], dict[str, list[Column]]] = (None, {}, {})
    for row in table.rows[:HEADING_WITHIN]:
        found, twice = _headed(row)
        useful = "name" in found or "pieces" in found or "packs" in found
        if useful and len(found) > max(len(best[1]), 1 if len(row.cells) > 1 and len(found) == 1 else 0):
            best = (row, found, twice)
    if best[0] is None:
        for row in table.rows[:HEADING_WITHIN]:
            found, twice = _headed(row)
            if found.keys() & {"name", "pieces", "packs"} and not any(_is_number(cell) for cell in row.cells):
                return row, found, twice
        return _unknown_heading(table.rows), {}, {}
    return best


def _told_better(rows: Sequence[TableRow], columns: dict[str, Column], heading: TableRow | None) -> list[str]:
    """Takes the column whose cells tell the parts, where its heading says another; the words for it."""
    better = telling_column(rows, {key: one.at for key, one in columns.items()})
    if better is None:
        return _told_rival(rows, columns, heading)
    old = columns["name"]
    columns["name"] = Column(at=better.at, heading=_heading_at(heading, better.at))
    if better.old_has_words:
        columns.setdefault("note", old)
    how = f"Column {letter_of(better.at)} is taken for the parts' names: {better.why}."
    return [how, *_told_rival(rows, columns, heading)]


def _told_rival(rows: Sequence[TableRow], columns: dict[str, Column], heading: TableRow | None) -> list[str]:
    """Which column was taken for the names and how to take the other, where another could be it as well."""
    cells = heading.cells if heading is not None else ()
    names = _ranks()["name"]
    headed = [at for at, cell in enumerate(cells) if isinstance(cell, str) and _bare(cell) in names]
    other = rival_column(rows, {key: one.at for key, one in columns.items()}, headed)
    if other is None:
        return []
    name = columns["name"]
    words = [
        f"{letter_of(at)}{f' ({said})' if said else ''}"
        for at, said in ((name.at, name.heading), (other, _heading_at(heading, other)))
    ]
    says = (
        f"Column {words[0]} is taken for the parts' names; column {words[1]} could be them as well: "
        f"to take it instead, --columns name={letter_of(other)}."
    )
    return [says]


def _unknown_heading(rows: Sequence[TableRow]) -> TableRow | None:
    """A row of words alone, right above the first row with a name and a number."""
    for row, below in pairwise(rows[:HEADING_WITHIN]):
        if _is_list_row(row):
            return None
        words = [cell for cell in row.cells if isinstance(cell, str) and cell.strip()]
        if _is_list_row(below) and len(words) > 1 and not any(_is_number(cell) for cell in row.cells):
            return row
    return None


def _headed(row: TableRow) -> tuple[dict[str, Column], dict[str, list[Column]]]:
    found: dict[str, Column] = {}
    ranks: dict[str, int] = {}
    all_of: dict[str, dict[int, list[Column]]] = {}
    for at, cell in enumerate(row.cells):
        if not isinstance(cell, str) or not cell.strip() or len(cell) > 60:
            continue
        bare = _bare(cell)
        for sort, ranked in _ranks().items():
            rank = ranked.get(bare)
            if rank is None:
                continue
            column = Column(at=at, heading=" ".join(cell.split()), factor=_factor(cell))
            all_of.setdefault(sort, {}).setdefault(rank, []).append(column)
            if sort not in found or (sort == "name" and rank < ranks[sort]):
                found[sort], ranks[sort] = column, rank
            break
    twice = {
        sort: many[min(many)] if sort == "name" else [one for each in many.values() for one in each]
        for sort, many in all_of.items()
    }
    return found, {sort: many for sort, many in twice.items() if len(many) > 1}


def _bare(cell: str) -> str:
    text = " ".join(cell.casefold().replace("_", " ").split())
    unit = _UNIT.search(text)
    return (text[: unit.start()] if unit else text).strip().rstrip(".:#* ").strip()


def _factor(cell: str) -> float:
    unit = _UNIT.search(" ".join(cell.casefold().split()))
    word = next((group for group in unit.groups() if group), "") if unit else ""
    return _FACTORS.get(word.strip(), 1.0)


def _heading_at(heading: TableRow | None, at: int) -> str:
    if heading is None or at >= len(heading.cells) or heading.cells[at] is None:
        return ""
    return " ".join(str(heading.cells[at]).split())


def _said_column(
    table: Table, heading: TableRow | None, sort: str, word: str, problems: list[ReadingError]
) -> int | None:
    """The column that the builder means by a heading, a letter or a number from 1."""
    width = max((len(row.cells) for row in table.rows), default=0)
    headings = [_heading_at(heading, at) for at in range(width)]
    if heading is None:  # the builder's own word may show which row heads the columns
        for row in table.rows[:HEADING_WITHIN]:
            if any(isinstance(cell, str) and _bare(cell) == _bare(word) for cell in row.cells):
                headings = [_heading_at(row, at) for at in range(width)]
                break
    same = [at for at, text in enumerate(headings) if text and _bare(text) == _bare(word)]
    if len(same) == 1:
        return same[0]
    plain = word.strip().upper()
    if plain.isascii() and plain.isdigit() and 1 <= int(plain[:6]) <= width:
        return int(plain) - 1
    if re.fullmatch(r"[A-Z]{1,2}", plain):
        at = 0
        for char in plain:
            at = at * 26 + ord(char) - 64
        if at <= width:
            return at - 1
    known = [text for text in headings if text]
    problems.append(
        ReadingError(
            where=Where(file=table.file, line=heading.line if heading is not None else 0, key=table.sheet),
            read=f"{sort}={word}",
            expected=f"one of {width} columns, by its heading, letter or number"
            if width
            else "a table with columns",
            remedy="Two columns have this heading; give a letter." if len(same) > 1 else nearest(word, known),
        )
    )
    return None


# --- contents


def _by_contents(rows: Sequence[TableRow], taken: Mapping[str, Column], sort: str) -> int | None:
    """The column whose cells are of this sort; None where none or several fit equally."""
    used = {column.at for column in taken.values()}
    sample = rows[:SAMPLE_ROWS]
    width = max((len(row.cells) for row in sample), default=0)
    scores: list[tuple[float, int]] = []
    for at in range(width):
        cells = [row.cells[at] for row in sample if _text(row, at)]
        if at in used or not cells:
            continue
        fits = sum(_is_number(cell) if sort == "pieces" else _is_name(cell) for cell in cells) / len(cells)
        share = len(cells) / len(sample)
        if fits < MOSTLY or share < 0.5 or (sort == "pieces" and _is_running_number(cells)):
            continue
        length = sum(len(str(cell)) for cell in cells) / len(cells)
        scores.append((share + (min(length, 40) / 40 if sort == "name" else 0.0), at))
    scores.sort(reverse=True)
    if not scores or (len(scores) > 1 and sort == "pieces" and scores[0][0] - scores[1][0] < 0.2):
        return None
    return scores[0][1]


def _is_list_row(row: TableRow) -> bool:
    return any(_is_name(cell) for cell in row.cells) and any(_is_number(cell) for cell in row.cells)


def _is_name(cell: Any) -> bool:
    return (
        isinstance(cell, str) and bool(re.search(r"[^\W\d_]{2}|[^\W\d_][0-9]", cell)) and not _is_number(cell)
    )


def _is_number(cell: Any) -> bool:
    if isinstance(cell, bool) or cell is None:
        return False
    if isinstance(cell, int | float):
        return True
    try:
        read_quantity(cell)
    except NotACount:
        return False
    return True


def _is_running_number(cells: Sequence[Any]) -> bool:
    """1, 2, 3 …: positions, not pieces."""
    texts = [
        str(int(cell)) if isinstance(cell, float) and cell.is_integer() else str(cell).strip()
        for cell in cells
    ]
    return len(texts) > 2 and texts in (
        [str(n) for n in range(1, len(texts) + 1)],
        [str(n) for n in range(len(texts))],
    )


def _all_alike(rows: Sequence[TableRow], columns: Sequence[Column]) -> bool:
    return all(len({_text(row, column.at) for column in columns}) == 1 for row in rows)


def _text(row: TableRow, at: int) -> str:
    return " ".join(str(row.cells[at]).split()) if at < len(row.cells) and row.cells[at] is not None else ""


def _shown(row: TableRow | None) -> str:
    if row is None:
        return "no rows"
    return ", ".join(str(cell) for cell in row.cells if cell is not None)[:80]
