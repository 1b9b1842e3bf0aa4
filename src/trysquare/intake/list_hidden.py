"""What a spreadsheet hides: sheets, not read unless they are named, and rows and columns, which are read.

Source of the forms: ECMA-376-1:2016, 18.3.1.73 (row) and 18.3.1.13 (col), attribute `hidden`; OASIS Open
Document Format 1.2, part 1, 19.749 (`table:visibility`); from memory.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path as DiskPath
from xml.etree import ElementTree as ET
from xml.parsers import expat

from trysquare.intake.list_columns import letter_of
from trysquare.intake.list_old_sheet import hidden_in_old_book
from trysquare.stock.tables import LARGEST_TABLE_BYTES, LARGEST_UNPACKED_BYTES, MOST_COLUMNS, Table

MOST_TOLD = 8  # line numbers in a sentence
MOST_REPEATED = 1_000_000
_ROW = re.compile(rb'<(?:\w+:)?row\b[^>]*\bhidden="(?:1|true)"[^>]*>')
_COLUMN = re.compile(rb'<(?:\w+:)?col\b[^>]*\bhidden="(?:1|true)"[^>]*>')


@dataclass(frozen=True, slots=True, kw_only=True)
class HiddenSheet:
    """A sheet that is hidden and was not read. `rows`: how many of its rows hold anything."""

    file: str
    sheet: str
    rows: int

    @property
    def says(self) -> str:
        rows = "1 row" if self.rows == 1 else f"{self.rows} rows"
        return (
            f"{self.file}: the hidden sheet '{self.sheet}' is not read: {rows}. To bring it: "
            f'--sheet "{self.sheet}", or show it in a spreadsheet program'
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class HiddenLines:
    """Rows (their numbers) and columns (from 0) that are hidden in a sheet, hold something and were read."""

    file: str
    sheet: str
    rows: tuple[int, ...] = ()
    columns: tuple[int, ...] = ()

    @property
    def says(self) -> str:
        rows = [str(row) for row in self.rows[:MOST_TOLD]]
        more = ["…"] if len(self.rows) > MOST_TOLD else []
        parts = []
        if rows:
            parts.append(f"{_many(len(self.rows), 'hidden row')} ({', '.join(rows + more)})")
        if self.columns:
            letters = ", ".join(letter_of(at) for at in self.columns)
            parts.append(f"{_many(len(self.columns), 'hidden column')} ({letters})")
        many = len(self.rows) + len(self.columns) > 1
        sheet = f", sheet '{self.sheet}'" if self.sheet else ""
        return (
            f"{self.file}{sheet}: {' and '.join(parts)} {'are' if many else 'is'} read like the others. "
            f"To leave {'them' if many else 'it'} out, delete {'them' if many else 'it'} in a copy"
        )


def hidden_sheets(file: DiskPath, read: Iterable[str]) -> tuple[HiddenSheet, ...]:
    """The hidden sheets with anything in them, without those that were read; none for another file."""
    from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum  # wanted seldom

    data, names = _workbook_bytes(file), set(read)
    if not data:
        return ()
    found = []
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        for about in book.sheets_metadata:
            name = str(about.name)
            if (
                about.visible == SheetVisibleEnum.Visible
                or about.typ != SheetTypeEnum.WorkSheet
                or name in names
            ):
                continue
            cells = book.get_sheet_by_name(about.name).to_python(skip_empty_area=True)
            rows = sum(any(str(cell).strip() for cell in row) for row in cells)
            found.append(HiddenSheet(file=file.name, sheet=name, rows=rows))
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException:  # noqa: BLE001  # told by whoever reads its tables; the library's panics are no Exception
        return ()
    return tuple(found)


def hidden_lines(file: DiskPath, tables: Sequence[Table]) -> tuple[HiddenLines, ...]:
    """Of the tables that were read, the hidden rows and columns with anything in them."""
    data = _workbook_bytes(file)
    if not data:
        return ()
    try:
        hidden = _hidden(data)
    except (OSError, zipfile.BadZipFile, KeyError, ValueError, RuntimeError, EOFError, IndexError,
            NotImplementedError, ET.ParseError, expat.ExpatError):  # fmt: skip
        return ()  # told by whoever reads its tables
    found = []
    for table in tables:
        rows, columns = hidden.get(table.sheet, (set(), set()))
        lines = tuple(row.line for row in table.rows if row.line in rows)
        filled = (
            {
                at
                for row in table.rows
                for at, cell in enumerate(row.cells)
                if cell is not None and str(cell).strip()
            }
            if columns
            else set()
        )
        if lines or columns & filled:
            found.append(
                HiddenLines(
                    file=table.file, sheet=table.sheet, rows=lines, columns=tuple(sorted(columns & filled))
                )
            )
    return tuple(found)


def _workbook_bytes(file: DiskPath) -> bytes:
    """The bytes of a workbook of any sort; b"" for what is none, or is larger than a parts list."""
    try:
        if file.stat().st_size > LARGEST_TABLE_BYTES:
            return b""
        data = file.read_bytes()
        if data.startswith(b"PK"):
            with zipfile.ZipFile(io.BytesIO(data)) as packed:
                unpacked = sum(entry.file_size for entry in packed.infolist())
            return data if unpacked <= LARGEST_UNPACKED_BYTES else b""
    except (OSError, zipfile.BadZipFile, ValueError):
        return b""
    return data if data.startswith(b"\xd0\xcf\x11\xe0") else b""


def _hidden(data: bytes) -> dict[str, tuple[set[int], set[int]]]:
    """By sheet: the numbers of hidden rows, and the columns from 0."""
    if not data.startswith(b"PK"):
        return hidden_in_old_book(data)
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        if "content.xml" in packed.namelist():
            return _of_open_sheet(packed.read("content.xml"))
        return {name: _of_sheet(packed.read(path)) for name, path in _sheets(packed)}


def _sheets(packed: zipfile.ZipFile) -> list[tuple[str, str]]:
    """The names of a workbook's sheets, with their files in it."""
    links = {
        row.attrib["Id"]: row.attrib["Target"]
        for row in ET.fromstring(packed.read("xl/_rels/workbook.xml.rels"))
    }
    found = []
    for element in ET.fromstring(packed.read("xl/workbook.xml")).iter():
        if element.tag.endswith("}sheet"):
            target = next((links[value] for value in element.attrib.values() if value in links), "")
            path = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
            if path in packed.namelist():
                found.append((element.attrib.get("name", ""), path))
    return found


def _of_sheet(content: bytes) -> tuple[set[int], set[int]]:
    rows = {number for tag in _ROW.findall(content) if (number := _number(tag, b"r"))}
    columns: set[int] = set()
    for tag in _COLUMN.findall(content):
        first, last = _number(tag, b"min"), _number(tag, b"max")
        columns.update(range(max(first, 1) - 1, min(last, MOST_COLUMNS)))
    return rows, columns


def _number(tag: bytes, name: bytes) -> int:
    found = re.search(rb"\s" + name + rb'="([0-9]{1,9})"', tag)
    return int(found[1]) if found else 0


def _of_open_sheet(content: bytes) -> dict[str, tuple[set[int], set[int]]]:
    found: dict[str, tuple[set[int], set[int]]] = {}
    now: tuple[set[int], set[int]] = (set(), set())
    row = column = 0

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal now, row, column
        hidden = attributes.get("table:visibility", "visible") != "visible"
        if name == "table:table":
            now = found.setdefault(attributes.get("table:name", ""), (set(), set()))
            row = column = 0
        elif name == "table:table-row":
            times = _times(attributes, "rows")
            if hidden:
                now[0].update(range(row + 1, row + times + 1))
            row += times
        elif name == "table:table-column":
            times = _times(attributes, "columns")
            if hidden:
                now[1].update(range(column, min(column + times, MOST_COLUMNS)))
            column += times

    reader = expat.ParserCreate()
    reader.StartElementHandler = start
    reader.Parse(content, True)
    return found


def _times(attributes: dict[str, str], what: str) -> int:
    said = attributes.get(f"table:number-{what}-repeated", "1")
    return min(int(said), MOST_REPEATED) if said.isascii() and said.isdigit() and len(said) < 10 else 1


def _many(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
