"""Tables as they come from vendors and spreadsheets: CSV in any usual encoding and separator, and XLSX.

Only values are read. A formula gives the value that was stored beside it, or nothing; it is never run.
What cannot be read is a problem; nothing here knows what the columns mean.
"""

from __future__ import annotations

import csv
import io
import re
import stat
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path as DiskPath
from typing import Any
from xml.etree import ElementTree as ET

from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.not_there import unread
from trysquare.machine.toml_files import inside

MOST_ROWS = 1_000_000
LARGEST_TABLE_BYTES = 100_000_000
LARGEST_UNPACKED_BYTES = 400_000_000  # a sheet is packed some twentyfold; a bomb a thousandfold
MOST_COLUMNS = 200
MOST_MERGED = 20_000
DELIMITERS = ",;\t|"

_MARKS: tuple[tuple[bytes, str], ...] = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\x00\x00\xfe\xff", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """One row: its line in the file (of a CSV) or its number in the sheet, and its cells as they came.

    Cells of a CSV are texts; those of a sheet texts, numbers, dates or None.
    """

    line: int
    cells: tuple[Any, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """The rows of a CSV or of one sheet. `decimal_comma`: numbers in it are written 1.000,5."""

    file: str
    sheet: str
    rows: tuple[TableRow, ...]
    encoding: str = ""
    decimal_comma: bool = False


def read_tables(
    root: DiskPath, file: DiskPath, problems: list[ReadingError], *, named: str = "", remarks: bool = False
) -> list[Table]:
    """All tables of a file: one of a CSV, one a visible sheet of an XLSX; none after a problem.

    `named`: a sheet that is read even when it is hidden. `remarks`: lines of a CSV that begin with # are
    passed over; in a packing list # may head the column of numbers.

    A file whose links lead out of `root`, or that is larger than anybody's packing list, is refused.
    """
    name = file.relative_to(root).as_posix() if file.is_relative_to(root) else file.name

    def refuse(read: str, expected: str, remedy: str) -> list[Table]:
        problems.append(ReadingError(where=Where(file=name), read=read, expected=expected, remedy=remedy))
        return []

    if file.is_relative_to(root) and not inside(file, root.resolve()):
        return refuse("a link out of the folder", "a file inside the folder", "Copy the file itself here.")
    try:
        status = file.stat()
        if not stat.S_ISREG(status.st_mode):
            return refuse("no ordinary file", "a CSV or XLSX file", "Give it another name.")
        if status.st_size > LARGEST_TABLE_BYTES:
            limit = f"at most {LARGEST_TABLE_BYTES // 1_000_000} MB"
            return refuse(f"{status.st_size / 1e6:.0f} MB", limit, "Send the packing list alone.")
        data = file.read_bytes()
    except OSError as error:
        says, remedy = unread(file, error)
        return refuse(says, "a file that can be read", remedy)
    if file.suffix.casefold() == ".xlsx" or data.startswith(b"PK\x03\x04"):
        return _workbook(name, data, problems, named)
    return _csv(name, data, problems, remarks=remarks)


# --- CSV

_REMARK = re.compile(r"^[ \t]*\"?#.*$", re.MULTILINE)


def decoded(data: bytes) -> tuple[str, str] | None:
    """The text of a CSV and its encoding: by its mark, by its zero bytes (UTF-16), UTF-8, else Windows-1252.

    Windows-1252 agrees with Latin-1 in all letters; what it leaves open is read as Latin-1. None for
    bytes that are no text at all.
    """
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return _in(data, encoding)
    head = data[:4000]
    if head.count(0) > len(head) // 4:
        # plain letters have their zero byte second (little-endian) or first
        encoding = "utf-16-le" if head[1::2].count(0) >= head[0::2].count(0) else "utf-16-be"
        return _in(data, encoding)
    if b"\0" in data:
        return None
    return _in(data, "utf-8") or _in(data, "cp1252") or _in(data, "latin-1")


def _in(data: bytes, encoding: str) -> tuple[str, str] | None:
    try:
        return data.decode(encoding), encoding
    except UnicodeDecodeError:
        return None


def _csv(name: str, data: bytes, problems: list[ReadingError], *, remarks: bool) -> list[Table]:
    def problem(line: int, read: str, expected: str, remedy: str) -> None:
        where = Where(file=name, line=line)
        problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))

    found = decoded(data)
    if found is None:
        problem(0, "bytes that are no text", "a CSV as text", "Save the list as CSV, UTF-8.")
        return []
    text, encoding = found
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if text.count("\n") > MOST_ROWS:
        expected = f"at most {MOST_ROWS} rows"
        problem(0, f"more than {MOST_ROWS} rows", expected, "Send the packing list alone.")
        return []
    if remarks:  # an empty line in their place: the others keep their numbers
        text = _REMARK.sub("", text)
    delimiter, first = _delimiter(text)
    rows: list[TableRow] = []
    body = text.split("\n", 1)[1] if first and "\n" in text else ("" if first else text)
    reader = csv.reader(io.StringIO(body), delimiter=delimiter)
    before = first
    try:
        for cells in reader:
            line, before = before + 1, reader.line_num + first
            if any(cell.strip() for cell in cells):
                rows.append(TableRow(line=line, cells=tuple(cells[:MOST_COLUMNS])))
    except csv.Error as error:
        problem(reader.line_num + first, str(error), "separated text", "Save the list as CSV again.")
        return []
    return [
        Table(
            file=name,
            sheet="",
            rows=tuple(rows),
            encoding=encoding,
            # who separates columns by semicolons does so because the comma is the decimal mark
            decimal_comma=delimiter == ";",
        )
    ]


def _delimiter(text: str) -> tuple[str, int]:
    """The separator of a CSV, and 1 if its first line only names it ("sep=;", as spreadsheets write)."""
    first = text.partition("\n")[0].strip().strip('"')
    if first.casefold().startswith("sep=") and len(first) == 5:
        return first[4], 1
    head = text[:20_000].split("\n")[:20]
    # the one that cuts most rows into the same number of columns, of several columns the more
    best, score = ",", (0, 0)
    for delimiter in DELIMITERS:
        counts = [line.count(delimiter) for line in head if line.strip()]
        usual = max(set(counts), key=lambda count: (count > 0, counts.count(count), count)) if counts else 0
        if usual and (counts.count(usual), usual) > score:
            best, score = delimiter, (counts.count(usual), usual)
    return best, 0


# --- XLSX


def _workbook(name: str, data: bytes, problems: list[ReadingError], named: str) -> list[Table]:
    def refuse(read: str, expected: str, remedy: str) -> list[Table]:
        problems.append(ReadingError(where=Where(file=name), read=read, expected=expected, remedy=remedy))
        return []

    from openpyxl import load_workbook  # noqa: PLC0415  # only wanted where a spreadsheet came

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(entry.file_size for entry in packed.infolist())
        if unpacked > LARGEST_UNPACKED_BYTES:
            limit = f"at most {LARGEST_UNPACKED_BYTES // 1_000_000} MB unpacked"
            return refuse(f"{unpacked / 1e6:.0f} MB unpacked", limit, "Send the packing list alone.")
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        merged = _merged(data)
        tables: list[Table] = []
        for number, sheet in enumerate(book.worksheets):
            if sheet.sheet_state != "visible" and str(sheet.title) != named:
                continue
            rows = _sheet_rows(sheet)
            if rows is None:
                expected = f"at most {MOST_ROWS} rows in a sheet"
                return refuse(f"more than {MOST_ROWS} rows", expected, "Send the packing list alone.")
            filled = _filled(rows, merged[number] if number < len(merged) else ())
            tables.append(Table(file=name, sheet=str(sheet.title), rows=tuple(filled)))
    except Exception as error:  # noqa: BLE001  # a damaged workbook fails in as many ways as there are bytes
        is_text = not data.startswith(b"PK") and decoded(data) is not None
        read = "text" if is_text else f"a damaged workbook, or none ({error})"[:160]
        remedy = "Name it .csv." if is_text else "Save the sheet as XLSX or CSV again."
        return refuse(read, "an XLSX workbook", remedy)
    return tables


def _sheet_rows(sheet: Any) -> list[TableRow] | None:
    """The rows of a sheet that hold anything; None when there are too many."""
    rows: list[TableRow] = []
    for number, cells in enumerate(sheet.iter_rows(values_only=True, max_col=MOST_COLUMNS), start=1):
        if number > MOST_ROWS:
            return None
        if any(cell is not None and str(cell).strip() for cell in cells):
            rows.append(TableRow(line=number, cells=tuple(cells)))
    return rows


def _merged(data: bytes) -> list[tuple[tuple[int, int, int, int], ...]]:
    """For each sheet in order: its merged ranges as first column, first row, last column, last row, from 1.

    The quick reader passes them over, so they are taken from the sheet's own text.
    """
    from openpyxl.utils.cell import range_boundaries  # noqa: PLC0415  # as above

    found: list[tuple[tuple[int, int, int, int], ...]] = []
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        for path in _sheet_paths(packed):
            ranges: list[tuple[int, int, int, int]] = []
            for _, element in ET.iterparse(io.BytesIO(packed.read(path))):
                if element.tag.endswith("}mergeCell") and len(ranges) < MOST_MERGED:
                    ranges.append(range_boundaries(element.attrib["ref"]))
                elif element.tag.endswith("}row"):
                    element.clear()
            found.append(tuple(ranges))
    return found


def _sheet_paths(packed: zipfile.ZipFile) -> Iterator[str]:
    """The files of the worksheets inside a workbook, in the workbook's order."""
    links = {
        row.attrib["Id"]: row.attrib["Target"]
        for row in ET.fromstring(packed.read("xl/_rels/workbook.xml.rels"))
        if row.attrib.get("Type", "").endswith("/worksheet")
    }
    for element in ET.fromstring(packed.read("xl/workbook.xml")).iter():
        if element.tag.endswith("}sheet"):
            target = next((links[value] for value in element.attrib.values() if value in links), "")
            if target:
                yield target.lstrip("/") if target.startswith("/") else f"xl/{target}"


def _filled(rows: Sequence[TableRow], merged: Sequence[tuple[int, int, int, int]]) -> list[TableRow]:
    """The rows with each cell merged downwards repeated in the rows below it.

    Cells merged sideways are left alone: a heading over three columns is one heading.
    """
    down = [one for one in merged if one[3] > one[1]]
    if not down:
        return list(rows)
    cells = {row.line: list(row.cells) for row in rows}
    for first_column, first_row, _, last_row in down:
        top = cells.get(first_row)
        if top is None or first_column > len(top):
            continue
        for line in range(first_row + 1, min(last_row, first_row + MOST_MERGED) + 1):
            below = cells.get(line)
            if below is not None and first_column <= len(below) and below[first_column - 1] is None:
                below[first_column - 1] = top[first_column - 1]
    return [TableRow(line=row.line, cells=tuple(cells[row.line])) for row in rows]
