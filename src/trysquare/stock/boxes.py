"""What came: the packing lists in `boxes/`, each row with its box, the vendor's name for it and how many.

Columns are found by their headings, in any order, below any title lines. A list without a column for the
box is one box, named after its file. Names are as the vendor wrote them: which part each one is, is
another question (`stock.matching`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path as DiskPath
from typing import Any

from trysquare.ground.errors import ReadingError, Where
from trysquare.stock.quantities import NotACount, Quantity, number, pack_size_in, read_quantity
from trysquare.stock.row_text import understand
from trysquare.stock.tables import Table, TableRow, read_tables

FOLDER_NAME = "boxes"
MOST_PROBLEMS = 200
HEADING_WITHIN = 40  # rows at the top of a table in which its heading is looked for
LONGEST_NAME = 300

# Column, and the headings that mean it: whole headings first, the more particular columns first. A
# heading may have a unit or remark behind it: "Qty (pcs)". Common practice, no source.
_HEADINGS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("pack_size", (
        "pack size", "pieces per pack", "pcs per pack", "pcs/pack", "pieces/pack", "per pack", "per bag",
        "qty per pack", "quantity per pack", "units per pack", "pack content", "contents of pack",
        "packungsinhalt", "stück pro packung", "stück/packung", "je packung",
    )),
    ("packs", ("packs", "number of packs", "no of packs", "packages", "packets", "bags", "packungen")),
    ("weighed", (
        "weighed", "scale reading", "reading", "net weight", "total weight", "total mass", "gewogen",
    )),
    ("mass", (
        "mass", "mass each", "unit mass", "unit weight", "weight each", "weight per piece", "mass per piece",
        "mass of one", "stückgewicht", "gewicht je stück",
    )),
    ("price", ("price", "unit price", "price each", "cost", "preis", "einzelpreis")),
    ("pieces", (
        "pieces", "pcs", "qty", "quantity", "count", "counted", "number of pieces", "amount", "no of pieces",
        "pieces in box", "menge", "anzahl", "stück", "stk", "quantité", "nombre", "cantidad", "aantal",
    )),
    ("length", ("length", "cut length", "length each", "länge", "longueur")),
    ("grade", ("grade", "accuracy", "quality", "accuracy class", "precision", "güte", "genauigkeit")),
    ("box", (
        "box", "box no", "box number", "carton", "case", "in box", "bag no", "karton", "kiste", "beutel",
    )),
    ("name", (
        "designation", "part", "part name", "description", "name", "item", "item name", "item description",
        "article", "component", "product", "title", "bezeichnung", "benennung", "beschreibung", "teil",
        "artikel", "désignation", "descripción", "omschrijving",
    )),
)  # fmt: skip
_NAME_ORDER = {heading: rank for rank, heading in enumerate(dict(_HEADINGS)["name"])}
_UNIT = re.compile(r"[(\[]\s*([^)\]]*)\s*[)\]]\s*$|\bin\s+(mm|cm|m|g|kg|gram)$|[_ ](mm|cm|gram|g|kg)$")
_TOTAL = re.compile(r"(?:grand |sub[- ]?)?(?:total|sum|summe|gesamt)(?: pieces| quantity| qty)?:?")


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRow:
    """One row of a packing list.

    `pieces` is None where nothing but `weighed_gram`, a scale's reading of all of them, says how many.
    `length_mm`: of each piece, for what is sold by length; 0 when not said. `mass_gram`: of one piece,
    as the list says it; 0 when it does not. `grade`: the vendor's word for a better or plainer make.
    """

    box: str
    name: str
    pieces: int | None
    where: Where
    packs: int = 0
    pack_size: int = 0
    length_mm: float = 0.0
    weighed_gram: float = 0.0
    mass_gram: float = 0.0
    price: str = ""
    grade: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Boxes:
    """All rows of all packing lists, in the order of files and lines.

    `passed_over`: what was not read as a row, in words: sheets without a heading, totals. `exists`: there
    is at least one packing list.
    """

    rows: tuple[BoxRow, ...]
    passed_over: tuple[str, ...] = ()
    exists: bool = False


def box_files(folder: DiskPath) -> list[DiskPath]:
    """The packing lists of a folder of boxes, sorted by name; lock files of spreadsheets are left out."""
    found = [
        file
        for file in sorted(folder.glob("*"))
        if file.suffix.casefold() in (".csv", ".tsv", ".xlsx") and not file.name.startswith((".", "~"))
    ]
    return [file for file in found if file.is_file() or file.is_symlink()]


def read_boxes(folder: DiskPath, problems: list[ReadingError]) -> Boxes:
    """All packing lists of `folder`; a folder that is not there has none. Problems are collected."""
    rows: list[BoxRow] = []
    passed: list[str] = []
    files = box_files(folder)
    for file in files:
        before = len(problems)
        tables = read_tables(folder.parent, file, problems)
        found_any = False
        for table in tables:
            reader = _Reader(table, file.stem if len(tables) == 1 else f"{file.stem} {table.sheet}", problems)
            if reader.find_heading():
                found_any = True
                rows += reader.rows()
                passed += reader.passed
            else:
                passed.append(f"{table.file}, sheet {table.sheet}: no heading row" if table.sheet else "")
        if not found_any and len(problems) == before:
            problems.append(
                ReadingError(
                    where=Where(file=f"{folder.name}/{file.name}"),
                    read=_first_row(tables),
                    expected="a heading row with a name of the part and a number of pieces",
                    remedy="Write part,pieces above the rows.",
                )
            )
        if len(problems) >= MOST_PROBLEMS:
            break
    return Boxes(rows=tuple(rows), passed_over=tuple(text for text in passed if text), exists=bool(files))


def _first_row(tables: Sequence[Table]) -> str:
    for table in tables:
        if table.rows:
            return ", ".join(str(cell) for cell in table.rows[0].cells if cell is not None)[:80]
    return "no rows"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """Where a column stands, as its heading calls it, and the factor of its unit to millimetres or grams."""

    at: int
    heading: str
    factor: float


class _Reader:
    """Reads the rows of one table."""

    def __init__(self, table: Table, box: str, problems: list[ReadingError]) -> None:
        self.table, self.box, self.problems = table, box.strip(), problems
        self.columns: Mapping[str, _Column] = {}
        self.heading_line = 0
        self.passed: list[str] = []

    def find_heading(self) -> bool:
        """Finds the row that heads the columns: the first with a name and a count."""
        for row in self.table.rows[:HEADING_WITHIN]:
            columns = _columns(row)
            if "name" in columns and columns.keys() & {"pieces", "packs", "weighed"}:
                self.columns, self.heading_line = columns, row.line
                return True
        return False

    def rows(self) -> Iterator[BoxRow]:
        """The rows below the heading; every one that cannot be used is a problem."""
        box = self.box
        for row in self.table.rows:
            if row.line <= self.heading_line:
                continue
            if len(self.problems) >= MOST_PROBLEMS:
                return
            box = self._text(row, "box") or box  # a box written once holds for the rows below it
            found = self._row(row, box)
            if found is not None:
                yield found

    def _row(self, row: TableRow, box: str) -> BoxRow | None:
        name = self._text(row, "name")[:LONGEST_NAME]
        counts = [key for key in ("pieces", "packs", "weighed") if self._text(row, key)]
        read = understand(name) if not counts and name else None
        if read is not None and read.pieces:
            return BoxRow(
                box=box, name=name, pieces=read.pieces, where=self._where(row, "name"),
                length_mm=self._number(row, "length"), mass_gram=self._number(row, "mass"),
                price=self._text(row, "price"), grade=self._text(row, "grade"),
            )  # fmt: skip
        if read is not None and read.certain is not None:
            self._problem(row, "pieces", "nothing", "a number of pieces", _EMPTY)
            return None
        if not counts:
            if name and sum(bool(_text(cell)) for cell in row.cells) > 1 + ("box" in self.columns):
                self._problem(row, "pieces", "nothing", "a number of pieces", _EMPTY)
            return None  # a title between the rows, or a row of remarks
        if _TOTAL.fullmatch(name.casefold()) or (not name and _TOTAL.fullmatch(_first_text(row).casefold())):
            self.passed.append(f"{self._spot(row)}: a total, not a part")
            return None
        if not name:
            self._problem(row, "name", "nothing", "a name or designation", "Write what this row is.")
            return None
        before = len(self.problems)
        quantity = self._quantity(row, name)
        weighed = self._number(row, "weighed")
        if len(self.problems) > before:
            return None
        pieces = quantity.pieces if quantity is not None else None
        if pieces is None and weighed <= 0:
            self._problem(row, "weighed", weighed, "a mass above 0", "Weigh again, or count.")
            return None
        length = (
            quantity.length_mm if quantity is not None and quantity.length_mm else self._number(row, "length")
        )
        return BoxRow(
            box=box,
            name=name,
            pieces=pieces,
            where=self._where(row, "pieces"),
            packs=quantity.packs if quantity else 0,
            pack_size=quantity.pack_size if quantity else 0,
            length_mm=length,
            weighed_gram=weighed,
            mass_gram=self._number(row, "mass"),
            price=self._text(row, "price"),
            grade=self._text(row, "grade"),
        )

    def _quantity(self, row: TableRow, name: str) -> Quantity | None:
        """How many: the pieces, or packs times their size; None when only a weight says it."""
        packs, size = self._read(row, "packs"), self._read(row, "pack_size")
        pieces = self._read(row, "pieces")
        if pieces is not None and pieces.packs and not pieces.pack_size:
            packs, pieces = Quantity(pieces=pieces.packs), None
        if pieces is not None and (packs is None or pieces.pack_size):
            return pieces
        if packs is None:
            return pieces
        each = size.pieces if size is not None else pack_size_in(name)
        if pieces is not None:
            # Both are said: they must agree, or the second is the size of a pack.
            if each and packs.pieces * each != pieces.pieces:
                read = f"{packs.pieces} packs of {each}, and {pieces.pieces} pieces"
                self._problem(row, "pieces", read, "one number of pieces", "Correct one of the two.")
            return pieces
        if not each:
            remedy = "Say how many are in a pack: '2 packs of 50', or a column 'pack size'."
            self._problem(row, "packs", f"{packs.pieces} packs", "packs with the size of a pack", remedy)
            return None
        return Quantity(pieces=packs.pieces * each, packs=packs.pieces, pack_size=each)

    def _read(self, row: TableRow, key: str) -> Quantity | None:
        cell = self._cell(row, key)
        if not _text(cell):
            return None
        try:
            return read_quantity(cell, decimal_comma=self.table.decimal_comma)
        except NotACount as wrong:
            self._problem(row, key, cell, wrong.expected, wrong.remedy)
            return None

    def _number(self, row: TableRow, key: str) -> float:
        """A length in millimetres or a mass in grams, by the heading's unit; 0 when nothing is said."""
        cell, column = self._cell(row, key), self.columns.get(key)
        if column is None or not _text(cell):
            return 0.0
        try:
            value = _measured(cell, column.factor, decimal_comma=self.table.decimal_comma)
        except NotACount as wrong:
            self._problem(row, key, cell, wrong.expected, wrong.remedy)
            return 0.0
        if not 0 <= value < 1e9:
            self._problem(row, key, cell, "a number of 0 or more", "Check the number.")
            return 0.0
        return value

    def _cell(self, row: TableRow, key: str) -> Any:
        column = self.columns.get(key)
        return row.cells[column.at] if column is not None and column.at < len(row.cells) else None

    def _text(self, row: TableRow, key: str) -> str:
        return _text(self._cell(row, key))

    def _where(self, row: TableRow, key: str) -> Where:
        column = self.columns.get(key)
        words = (self.table.sheet, column.heading if column is not None else "")
        return Where(file=self.table.file, line=row.line, key=" · ".join(word for word in words if word))

    def _spot(self, row: TableRow) -> str:
        return f"{self.table.file}:{row.line}"

    def _problem(self, row: TableRow, key: str, read: object, expected: str, remedy: str) -> None:
        self.problems.append(
            ReadingError(
                where=self._where(row, key),
                read=read if isinstance(read, str | int | float) else str(read),
                expected=expected,
                remedy=remedy,
            )
        )


_EMPTY = (
    "Count them, or weigh them, and write the number; a formula counts only once the spreadsheet has "
    "stored its value."
)
_FACTORS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "g": 1.0, "gram": 1.0, "kg": 1000.0}


def _columns(row: TableRow) -> dict[str, _Column]:
    """The columns that a row heads. Of several names the most particular one is taken."""
    found: dict[str, _Column] = {}
    ranks: dict[str, int] = {}
    for at, cell in enumerate(row.cells):
        if not isinstance(cell, str) or len(cell) > 60:
            continue
        written = " ".join(cell.split())
        unit = _UNIT.search(written.casefold())
        bare = (
            (written[: unit.start()] if unit else written).strip().casefold().rstrip(".:# ").replace("_", " ")
        )
        for key, headings in _HEADINGS:
            if bare not in headings:
                continue
            rank = _NAME_ORDER.get(bare, 0) if key == "name" else 0
            if key not in found or rank < ranks[key]:
                word = next((word for word in unit.groups() if word), "") if unit else ""
                found[key] = _Column(at=at, heading=written, factor=_FACTORS.get(word.strip(), 1.0))
                ranks[key] = rank
            break
    return found


def _measured(cell: object, factor: float, *, decimal_comma: bool) -> float:
    """A length or mass: the cell's own unit goes before the heading's. Raises NotACount."""
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return float(cell) * factor
    found = re.fullmatch(r"([0-9.,'’ ]+?)\s*(mm|cm|m|g|kg|gram)?", _text(cell).casefold()[:60])
    if found is None:
        raise NotACount("a number", "Write the number alone.")
    value = number(found[1], decimal_comma=decimal_comma, fraction=True)
    return value * (_FACTORS[found[2]] if found[2] else factor)


def _text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return " ".join(str(cell).split())


def _first_text(row: TableRow) -> str:
    return next((text for text in map(_text, row.cells) if text), "")
