"""The need as a table for a spreadsheet: CSV or XLSX, the same bytes for the same machine.

A text that a spreadsheet would take for a formula never is one: in a CSV it gets an apostrophe before it, in
an XLSX its cell is marked as text.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from trysquare.publish.typst_page import plain
from trysquare.stock.workbook import workbook_bytes

COLUMNS = (
    "part", "name", "kind", "pieces", "cuts_mm", "length_together_mm", "pieces_by_unit", "pieces_listed",
    "papers", "also_called", "asked_by",
)  # fmt: skip
_WIDTHS = {"part": 34, "name": 34, "pieces_by_unit": 34, "asked_by": 44, "cuts_mm": 20}
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What begins a formula in one spreadsheet or another, full-width signs too; common practice, no source."""
_NO_TIME = (1980, 1, 1, 0, 0, 0)

Cell = str | int | float | None


def need_rows(lines: Iterable[Mapping[str, Any]]) -> list[tuple[Cell, ...]]:
    """A row for each line of the need's facts, in the order of COLUMNS."""
    return [
        (
            _text(line["part"]),
            _text(line["name"]),
            _text(line["kind"]),
            line["pieces"],
            "; ".join(f"{cut:g}" for cut in line["cuts_mm"]),
            line["length_mm"] or _listed_mm(line),
            _text("; ".join(f"{unit or 'list'} {n}" for unit, n in line["pieces_by_unit"].items())),
            line["pieces_listed"],
            _text("; ".join(line["papers"])),
            _text("; ".join(line["also_called"])),
            _text("; ".join(f"{reason['by']} {reason['pieces']}" for reason in line["asked_by"])),
        )
        for line in lines
    ]


def _listed_mm(line: Mapping[str, Any]) -> float | None:
    """How long all pieces are together, as a parts list says it; None where it does not."""
    rows = line.get("listed_mm") or ()
    return sum(row["pieces"] * row["length_mm"] for row in rows) or None


def csv_bytes(rows: Sequence[Sequence[Cell]]) -> bytes:
    """UTF-8 with a mark, so that spreadsheets know it; lines end as RFC 4180 says."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([harmless(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue().encode("utf-8-sig")


def harmless(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet would reckon with it."""
    return f"'{text}" if text.lstrip(" '").startswith(_FORMULA) else text


def xlsx_bytes(rows: Sequence[Sequence[Cell]], title: str) -> bytes:
    """A workbook with one sheet; numbers are numbers, everything else is text."""
    import openpyxl  # noqa: PLC0415  # loaded when a workbook is written
    from openpyxl.styles import Alignment, Font  # noqa: PLC0415

    book = openpyxl.Workbook()
    sheet: Any = book.active
    sheet.title = "need"
    for number, row in enumerate([COLUMNS, *rows], start=1):
        for column, value in enumerate(row, start=1):
            cell = sheet.cell(row=number, column=column)
            cell.value = value
            if isinstance(value, str):
                cell.data_type = "s"  # else a text that begins with "=" is a formula
                cell.alignment = Alignment(wrap_text=True, vertical="top")
                cell.font = Font(bold=number == 1)
    for column, name in enumerate(COLUMNS):
        sheet.column_dimensions[chr(ord("A") + column)].width = _WIDTHS.get(name, 14)
    sheet.freeze_panes = "B2"
    sheet.auto_filter.ref = f"A1:{chr(ord('A') + len(COLUMNS) - 1)}{len(rows) + 1}"
    book.properties.title = plain(title)
    book.properties.creator = "Trysquare"
    return _without_time(workbook_bytes(book))


def _without_time(content: bytes) -> bytes:
    """The same package with no word of when it was made."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "docProps/core.xml":
                data = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"1980-01-01T00:00:00Z", data)
            new.writestr(zipfile.ZipInfo(name, _NO_TIME), data, compress_type=zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _text(value: str) -> str:
    """One line without control characters, which no workbook may hold."""
    return plain(str(value))
