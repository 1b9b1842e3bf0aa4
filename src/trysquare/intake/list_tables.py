"""Tables of parts lists: CSV and XLSX as the stock room reads them, ODS and XLS by a library for them.

Only values are read; a formula gives what was stored beside it and is never run.
"""

from __future__ import annotations

import io
import zipfile
from pathlib import Path as DiskPath
from typing import Any
from xml.parsers import expat

from trysquare.ground.errors import ReadingError, Where
from trysquare.stock.tables import (
    LARGEST_TABLE_BYTES,
    LARGEST_UNPACKED_BYTES,
    MOST_COLUMNS,
    MOST_ROWS,
    Table,
    TableRow,
    read_tables,
)

ENDINGS = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".ods", ".xls")
MOST_CELLS = 20_000_000
_OLD_SHEET = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_OPEN_SHEET = b"mimetypeapplication/vnd.oasis.opendocument.spreadsheet"


def read_list_tables(file: DiskPath, problems: list[ReadingError], *, named: str = "") -> list[Table]:
    """All tables of a file; none after a problem. `named`: a sheet that is read even when it is hidden."""
    data = _beginning(file)
    if data.startswith(_OLD_SHEET) or _OPEN_SHEET in data or file.suffix.casefold() in (".ods", ".xls"):
        return _by_library(file, problems, named)
    return read_tables(file.parent, file, problems, named=named)


def _beginning(file: DiskPath) -> bytes:
    try:
        with file.open("rb") as stream:
            return stream.read(200)
    except OSError:
        return b""  # told by whoever reads it whole


def _by_library(file: DiskPath, problems: list[ReadingError], named: str) -> list[Table]:
    def refuse(read: str, expected: str, remedy: str) -> list[Table]:
        where = Where(file=file.name)
        problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))
        return []

    try:
        size = file.stat().st_size
        if size > LARGEST_TABLE_BYTES:
            limit = f"at most {LARGEST_TABLE_BYTES // 1_000_000} MB"
            return refuse(f"{size / 1e6:.0f} MB", limit, "Save the parts list alone.")
        data = file.read_bytes()
    except OSError as error:
        says = error.strerror or "an error"
        return refuse(says, "a file that can be read", "Check that it is there and that you may read it.")
    again = "Save the sheet as XLSX or CSV again."
    try:
        if data.startswith(b"PK"):
            with zipfile.ZipFile(io.BytesIO(data)) as packed:
                unpacked = sum(entry.file_size for entry in packed.infolist())
                if unpacked > LARGEST_UNPACKED_BYTES:
                    limit = f"at most {LARGEST_UNPACKED_BYTES // 1_000_000} MB unpacked"
                    return refuse(f"{unpacked / 1e6:.0f} MB unpacked", limit, "Save the parts list alone.")
                if "content.xml" in packed.namelist() and _is_too_wide(packed.read("content.xml")):
                    limit = f"at most {MOST_CELLS} cells"
                    return refuse(
                        "a sheet that repeats its cells beyond that", limit, "Save the parts list alone."
                    )
        return _sheets(file.name, data, refuse, named)
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException as error:  # noqa: BLE001  # a damaged sheet; the library's own panics are no Exception
        return refuse(f"a damaged file, or none of this kind ({error})"[:160], "a spreadsheet", again)


def _is_too_wide(content: bytes) -> bool:
    """Whether an ODS says, by repeating rows and cells, more of them than anybody's memory holds."""
    cells, row_times, column, filled = 0, 1, 0, 0

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal row_times, column, filled
        if name == "table:table-row":
            row_times, column, filled = _times(attributes, "rows"), 0, 0
        elif name in ("table:table-cell", "table:covered-table-cell"):
            column += _times(attributes, "columns")
            if "office:value-type" in attributes:
                filled = column

    def end(name: str) -> None:
        nonlocal cells
        if name == "table:table-row":
            cells += row_times * filled

    reader = expat.ParserCreate()
    reader.StartElementHandler, reader.EndElementHandler = start, end
    reader.Parse(content, True)
    return cells > MOST_CELLS


def _times(attributes: dict[str, str], what: str) -> int:
    said = attributes.get(f"table:number-{what}-repeated", "1")
    return int(said) if said.isascii() and said.isdigit() and len(said) < 10 else 10**9


def _sheets(name: str, data: bytes, refuse: Any, named: str) -> list[Table]:
    from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum  # wanted seldom

    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    tables: list[Table] = []
    for about in book.sheets_metadata:
        is_shown = about.visible == SheetVisibleEnum.Visible or str(about.name) == named
        if not is_shown or about.typ != SheetTypeEnum.WorkSheet:
            continue
        sheet = book.get_sheet_by_name(about.name)
        if sheet.total_height > MOST_ROWS:
            expected = f"at most {MOST_ROWS} rows in a sheet"
            return list(refuse(f"{sheet.total_height} rows", expected, "Save the parts list alone."))
        first = sheet.start[0] + 1 if sheet.start is not None else 1
        rows = [
            TableRow(line=number, cells=tuple(None if cell == "" else cell for cell in cells[:MOST_COLUMNS]))
            for number, cells in enumerate(sheet.to_python(skip_empty_area=True), start=first)
            if any(str(cell).strip() for cell in cells)
        ]
        tables.append(Table(file=name, sheet=str(about.name), rows=tuple(rows)))
    return tables
