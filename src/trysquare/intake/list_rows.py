"""The rows of a parts list as values: name, pieces, pack, length, note. No row with any text is lost."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.ground.errors import Where
from trysquare.intake.list_columns import Columns
from trysquare.stock.quantities import NotACount, number, read_quantity
from trysquare.stock.row_text import understand
from trysquare.stock.tables import Table, TableRow

LONGEST_NAME = 300
LONGEST_CELL = 1000
_TOTAL = re.compile(r"(?:grand |sub[- ]?)?(?:total|sum|summe|gesamt)(?: pieces| quantity| qty| parts)?:?")


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedRow:
    """One row of a list. `name`: the name column as written; `text`: with what size, standard and material
    columns add. `pieces` is None where `why_not` says why the quantity cannot be read; `quantity` is it as
    written. `pack_size` 0: not said. `length_mm` 0: not said."""

    name: str
    text: str
    quantity: str
    pieces: int | None
    where: Where
    packs: int = 0
    pack_size: int = 0
    length_mm: float = 0.0
    note: str = ""
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedRows:
    """All rows in their order. `passed_over`: rows that are no parts (titles, totals), in words."""

    rows: tuple[ListedRow, ...]
    passed_over: tuple[str, ...] = ()


def read_rows(table: Table, columns: Columns) -> ListedRows:
    """Every row below the heading; a row without a name but with a number is named by its other cells."""
    rows: list[ListedRow] = []
    passed: list[str] = []
    for row in table.rows:
        if row.line <= columns.heading_line:
            if row.line < columns.heading_line or not columns.heading_line:
                passed.append(f"{table.file}:{row.line}: above the heading: {_joined(row)[:80]}")
            continue
        name = _cell(row, columns, "name")[:LONGEST_NAME]
        counts = [key for key in ("pieces", "packs") if _cell(row, columns, key)]
        first = next((text for text in (_text(cell) for cell in row.cells) if text), "")
        if columns.heading_line and _is_heading(row, columns):
            passed.append(f"{table.file}:{row.line}: the heading again: {_joined(row)[:80]}")
            continue
        if _TOTAL.fullmatch((name or first).casefold()):
            passed.append(f"{table.file}:{row.line}: a total, not a part: {_joined(row)[:80]}")
            continue
        filled = sum(bool(_text(cell)) for cell in row.cells)
        is_title = not counts and filled == 1 and len(row.cells) > 1
        read = understand(name) if is_title and name else None
        if is_title and (read is None or (read.certain is None and not read.pieces)):
            passed.append(f"{table.file}:{row.line}: a title or remark between the rows: {first[:80]}")
            continue
        rows.append(_row(table, row, columns, name or _joined(row)[:LONGEST_NAME]))
    return ListedRows(rows=tuple(rows), passed_over=tuple(passed))


def _is_heading(row: TableRow, columns: Columns) -> bool:
    """Whether the row says the headings of name and pieces once more, as before a second block."""
    found = [key for key in ("name", "pieces", "packs") if key in columns.found]
    same = (_cell(row, columns, key).casefold() == columns.found[key].heading.casefold() for key in found)
    return len(found) > 1 and all(same)


def _row(table: Table, row: TableRow, columns: Columns, name: str) -> ListedRow:
    key = columns.found.get("pieces") or columns.found.get("packs")
    where = Where(
        file=table.file,
        line=row.line,
        key=" · ".join(word for word in (table.sheet, key.heading if key is not None else "") if word),
    )
    length = _length_mm(row, columns, decimal_comma=table.decimal_comma)
    pieces, packs, size, why_not, own_length = _count(table, row, columns)
    extra = [_cell(row, columns, sort) for sort in ("standard", "size")]
    text = " ".join([name, *(word for word in extra if word and word.casefold() not in name.casefold())])
    if length and not re.search(rf"(?<![0-9.]){re.escape(f'{length:g}')}(?![0-9.])", text):
        text = f"{text}, L={length:g}"
    material = _cell(row, columns, "material")
    return ListedRow(
        name=name,
        text=f"{text} {material}".strip()
        if material and material.casefold() not in text.casefold()
        else text,
        quantity=" × ".join(
            _cell(row, columns, sort)
            for sort in ("packs", "pieces", "pack_size")
            if _cell(row, columns, sort)
        ),
        pieces=pieces,
        where=where,
        packs=packs,
        pack_size=size,
        length_mm=length or own_length,
        note=_cell(row, columns, "note")[:LONGEST_NAME],
        why_not=why_not,
    )


def _count(table: Table, row: TableRow, columns: Columns) -> tuple[int | None, int, int, str, float]:
    """Pieces (None with a reason), packs, pack size, the reason, the length of a piece that the cell says."""
    said = {}
    for sort in ("pieces", "packs", "pack_size"):
        column = columns.found.get(sort)
        cell = row.cells[column.at] if column is not None and column.at < len(row.cells) else None
        if not _text(cell):
            continue
        try:
            said[sort] = read_quantity(cell, decimal_comma=table.decimal_comma)
        except NotACount as wrong:
            return None, 0, 0, f"'{_text(cell)[:60]}' is not {wrong.expected}. {wrong.in_a_list}", 0.0
    pieces, packs, size = said.get("pieces"), said.get("packs"), said.get("pack_size")
    each = size.pieces if size is not None else 0
    if pieces is not None and pieces.packs and not pieces.pack_size:  # "2 packs"
        packs, pieces = read_quantity(pieces.packs), None
    if pieces is not None:
        if packs is not None and each and packs.pieces * each != pieces.pieces:
            why = f"{packs.pieces} packs of {each} are not {pieces.pieces} pieces. Correct one of them."
            return None, packs.pieces, each, why, 0.0
        return pieces.pieces, pieces.packs, pieces.pack_size or each, "", pieces.length_mm
    if packs is not None:
        if each:
            return packs.pieces * each, packs.pieces, each, "", 0.0
        return None, packs.pieces, 0, f"{packs.pieces} packs, and nobody says how many are in one.", 0.0
    return None, 0, each, "No number of pieces is written.", 0.0


def _length_mm(row: TableRow, columns: Columns, *, decimal_comma: bool) -> float:
    column = columns.found.get("length")
    text = _cell(row, columns, "length").casefold()
    found = re.fullmatch(r"([0-9.,'’ ]+?)\s*(mm|cm|m)?", text) if column is not None else None
    if column is None or found is None:
        return 0.0
    try:
        value = number(found[1], decimal_comma=decimal_comma, fraction=True)
    except NotACount:
        return 0.0
    factor = {"mm": 1.0, "cm": 10.0, "m": 1000.0}[found[2]] if found[2] else column.factor
    return value * factor if 0 < value * factor <= 100_000 else 0.0


def _cell(row: TableRow, columns: Columns, sort: str) -> str:
    column = columns.found.get(sort)
    return _text(row.cells[column.at]) if column is not None and column.at < len(row.cells) else ""


def _text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    text = " ".join(str(cell)[:LONGEST_CELL].split())
    return text.encode("utf-8", "replace").decode("utf-8")  # half a character stands in some spreadsheets


def _joined(row: TableRow) -> str:
    return " ".join(text for text in (_text(cell) for cell in row.cells) if text)


def listed(parts: Sequence[ListedRows]) -> ListedRows:
    """Several tables of one file as one list."""
    return ListedRows(
        rows=tuple(row for each in parts for row in each.rows),
        passed_over=tuple(text for each in parts for text in each.passed_over),
    )
