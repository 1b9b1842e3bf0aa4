"""Reading a parts list for a machine folder: the folder as it is, the rows, and what they became."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from trysquare.cli import words
from trysquare.cli.answers import NotThere
from trysquare.ground.errors import ReadingError, ReadingErrors, Where, nearest
from trysquare.intake.list_columns import Columns, column_sorts, find_columns
from trysquare.intake.list_decide import Decided, Known, decide
from trysquare.intake.list_files import (
    LIST_FILE,
    MACHINE_FILE,
    PARTS_FILE,
    ListLine,
    decided_pieces,
    is_waiting,
    read_lines,
    waiting_names,
)
from trysquare.intake.list_hidden import HiddenLines, HiddenSheet, hidden_lines, hidden_sheets
from trysquare.intake.list_remarks import remarks_on
from trysquare.intake.list_rows import ListedRow, ListedRows, listed, read_rows
from trysquare.intake.list_tables import read_list_tables
from trysquare.machine.parts_list import LARGEST_LIST_ROWS
from trysquare.machine.values import Machine
from trysquare.stock.matching import Matcher, is_part
from trysquare.stock.remembered import FILE_NAME as NAMES_FILE
from trysquare.stock.remembered import plain_name, read_names

COLUMNS_FILE = "columns.toml"  # which columns the builder said
MOST_LIST_PROBLEMS = 500
MOST_LIKENED = 2000  # rows; beyond, names that look like an own part's are not offered


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the call says beside the file and the folder. `sheet`: of a workbook that sheet alone.

    `confirms`: NAME=PART, NAME=own, NAME= or NAME; `pieces`: NAME=NUMBER; `name`: of a new machine.
    """

    columns: tuple[str, ...] = ()
    sheet: str = ""
    confirms: tuple[str, ...] = ()
    pieces: tuple[str, ...] = ()
    name: str = ""


@dataclass(slots=True)
class Place:
    """The machine folder as it is, and what of it remembers. `texts`: the files that an import may change."""

    path: Path
    machine: Machine
    exists: bool
    names: dict[str, tuple[str, ...]]
    texts: dict[str, str]
    lines: tuple[ListLine, ...]
    columns: dict[str, str]


@dataclass(slots=True)
class Imported:
    """A list as it was understood, before anything is written."""

    file: Path
    place: Place
    rows: ListedRows
    columns: tuple[Columns, ...]
    known: Known
    decided: tuple[Decided, ...] = ()
    confirmed: dict[str, tuple[str, ...]] = field(default_factory=dict)  # name as written -> parts
    said_columns: dict[str, str] = field(default_factory=dict)
    name: str = ""
    hidden: tuple[HiddenSheet | HiddenLines, ...] = ()

    def decide(self) -> None:
        self.decided = decide(self.rows.rows, self.known)

    @property
    def waiting(self) -> list[Decided]:
        return [one for one in self.decided if one.outcome == "asked"]


# --- reading


def read_place(folder: str) -> Place:
    """The folder: a machine folder, an empty one, or none yet. Raises ReadingErrors or NotThere."""
    path = Path(folder)
    if path.exists() and not path.is_dir():
        raise NotThere(f"{words.one_line(path)} is a file. Name the machine's folder.")
    exists = (path / MACHINE_FILE).is_file()
    if path.is_dir() and not exists and any(path.iterdir()):
        raise NotThere(
            f"{words.one_line(path)} has something in it and is no machine folder (it has no machine.toml). "
            "Name a new folder, or a machine folder."
        )
    if not exists:
        return Place(path, _no_machine(path), exists, {}, {}, (), {})
    from trysquare.machine.load import load_machine

    machine = load_machine(path, [])
    problems: list[ReadingError] = []
    names = read_names(path, lambda word: is_part(machine, word), problems)
    if problems:
        raise ReadingErrors(problems)
    texts = {
        name: (path / name).read_text(encoding="utf-8-sig")
        for name in (LIST_FILE, PARTS_FILE, NAMES_FILE, COLUMNS_FILE)
        if (path / name).is_file()
    }
    lines = read_lines(texts[LIST_FILE]) if LIST_FILE in texts else ()
    return Place(path, machine, exists, names, texts, lines, _remembered_columns(texts.get(COLUMNS_FILE, "")))


def _no_machine(path: Path) -> Machine:
    return Machine(
        id=path.name, name=path.name, folder=str(path), types={}, placed=(), joints=(), units=(), steps=(),
        papers=(), sayings=(), rulings=(), aliases={},
    )  # fmt: skip


def _remembered_columns(text: str) -> dict[str, str]:
    try:
        table = tomllib.loads(text).get("columns", {})
    except tomllib.TOMLDecodeError:
        return {}
    if not isinstance(table, dict):
        return {}
    return {key: word for key, word in table.items() if key in column_sorts() and isinstance(word, str)}


def said_columns(said: Sequence[str]) -> dict[str, str]:
    """--columns "name=Description,pieces=C" as a mapping. Raises NotThere."""
    found: dict[str, str] = {}
    for text in said:
        for one in text.split(","):
            sort, equals, word = (part.strip() for part in one.partition("="))
            if not equals or not word or sort not in column_sorts():
                raise NotThere(
                    f"--columns read '{words.one_line(one)}', expected SORT=COLUMN with one of "
                    f"{', '.join(column_sorts())}. Write --columns name=Description,pieces=C."
                )
            found[sort] = word
    return found


def read_import(file: str, folder: str, asked: Asked) -> Imported:
    """The list, read and decided as far as its words and the folder's memory go.

    Raises ReadingErrors with every problem of the file, NotThere for a call that cannot be answered.
    """
    place = read_place(folder)
    path = Path(file)
    said = said_columns(asked.columns)
    problems: list[ReadingError] = []
    tables = read_list_tables(path, problems, named=asked.sheet)
    if asked.sheet:
        known = [table.sheet for table in tables if table.sheet]
        known += [one.sheet for one in hidden_sheets(path, known)]
        tables = [table for table in tables if table.sheet == asked.sheet]
        if not tables and not problems:
            raise NotThere(
                f"There is no sheet '{words.one_line(asked.sheet)}'. {nearest(asked.sheet, known)}"
            )
    columns: list[Columns] = []
    parts: list[ListedRows] = []
    unheaded: list[str] = []
    for table in tables:
        found = find_columns(table, said or _fitting(place.columns, table), problems)
        if found is None:
            unheaded.append(f"{table.file}{f', sheet {table.sheet}' if table.sheet else ''}: no list in it")
            continue
        columns.append(found)
        parts.append(read_rows(table, found))
    rows = listed(parts)
    hidden: tuple[HiddenSheet | HiddenLines, ...] = (
        *hidden_sheets(path, (table.sheet for table in tables)),
        *hidden_lines(path, tables),
    )
    remarks = remarks_on(path, tables)
    rows = replace(rows, passed_over=(*remarks, *rows.passed_over))
    if not problems and not rows.rows:
        problems.append(
            ReadingError(
                where=Where(file=path.name),
                read="no rows"
                if not any(table.rows for table in tables)
                else "no row with a name and a number",
                expected="a parts list: a heading, and rows with a name and a number of pieces",
                remedy=". ".join((*(one.says for one in hidden), *remarks))
                or "Check the file; say the columns with --columns name=HEADING,pieces=HEADING.",
            )
        )
    if len(rows.rows) > LARGEST_LIST_ROWS:
        problems.append(
            ReadingError(
                where=Where(file=path.name),
                read=f"{len(rows.rows)} rows",
                expected=f"at most {LARGEST_LIST_ROWS} rows",
                remedy="Split the list; one machine does not have so many sorts.",
            )
        )
    if problems:
        raise ReadingErrors(problems[:MOST_LIST_PROBLEMS])
    if len(tables) > 1:
        rows = replace(rows, passed_over=(*rows.passed_over, *unheaded))
    found_import = Imported(
        file=path, place=place, rows=rows, columns=tuple(columns), known=_known(place, rows.rows),
        said_columns=said, name=asked.name, hidden=hidden,
    )  # fmt: skip
    found_import.decide()
    return found_import


def _fitting(remembered: Mapping[str, str], table: Any) -> dict[str, str]:
    """Remembered columns whose headings this table has as well."""
    headings = {
        " ".join(cell.casefold().split())
        for row in table.rows[:40]
        for cell in row.cells
        if isinstance(cell, str)
    }
    return {
        sort: word
        for sort, word in remembered.items()
        if " ".join(word.casefold().split()) in headings or (len(word) <= 2 and word.isalnum())
    }


def _known(place: Place, rows: Sequence[ListedRow]) -> Known:
    from trysquare.catalogue.values import Profile
    from trysquare.stock.standard_parts import standard_of

    matcher = Matcher(place.machine, (), place.names)
    own = {}
    for plain, (part, _) in matcher.certain.items():
        standard = standard_of(part)
        if standard is None or isinstance(standard, Profile):
            own[plain] = part
    waiting = waiting_names(place.lines) - place.names.keys()
    undecided = {line.part for line in place.lines if is_waiting(line)}
    alike = {}
    if own and len(rows) <= MOST_LIKENED:
        for plain in {plain_name(row.text) for row in rows} - own.keys() - place.names.keys():
            guesses = matcher.guesses(plain)
            alike[plain] = tuple(
                one for one in guesses if one.part in own.values() and one.part not in undecided
            )
    return Known(
        names=place.names,
        own=own,
        ids=frozenset(place.machine.types) | frozenset(place.machine.aliases),
        waiting=waiting,
        pieces=decided_pieces(place.lines),
        alike=alike,
    )
