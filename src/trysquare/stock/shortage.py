"""The order list: what to buy, in pieces and in packs, as rows, as CSV and as XLSX.

A cell that a spreadsheet could take for a formula is written so that it cannot.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from trysquare.machine.values import Kind, Machine
from trysquare.stock.allocation import Allocation
from trysquare.stock.workbook import workbook_bytes

HEADINGS = (
    "part",
    "name",
    "pieces",
    "packs",
    "pack_size",
    "pack_basis",
    "cuts_mm",
    "length_mm",
    "first_step",
)
USUAL_PACKS = (10, 25, 50, 100)  # of screws, nuts and washers; common practice, no source
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One thing to buy. `packs` of `pack_size` cover the pieces; `pack_basis` says whose size that is.
    Belts and wires have their `cuts_mm` instead, and their sum. `pieces` 0: something used up, not counted.
    """

    part: str
    name: str
    pieces: int
    packs: int
    pack_size: int
    pack_basis: str
    cuts_mm: tuple[float, ...]
    first_step: str

    @property
    def length_mm(self) -> float:
        return sum(self.cuts_mm)


def order_lines(
    machine: Machine, allocation: Allocation, step_ids: Sequence[str], pack_sizes: Mapping[str, int]
) -> tuple[OrderLine, ...]:
    """What no box serves. `pack_sizes`: of parts whose packs came in some box, as the vendor packs them."""
    found = []
    for short in allocation.short:
        part_type = machine.types.get(short.part)
        size, basis = pack_sizes.get(short.part, 0), "as it came in a box"
        if short.cuts_mm:
            size, basis = 0, ""
        elif not size and part_type is not None and part_type.kind is Kind.FASTENER:
            size = next((pack for pack in USUAL_PACKS if pack >= short.pieces), USUAL_PACKS[-1])
            basis = "usual pack; common practice, no source"
        elif not size:
            size, basis = 1, "single"
        found.append(
            OrderLine(
                part=short.part,
                name=part_type.name if part_type is not None else short.part,
                pieces=short.pieces,
                packs=math.ceil(short.pieces / size) if size else 0,
                pack_size=size,
                pack_basis=basis,
                cuts_mm=short.cuts_mm,
                first_step=step_ids[short.step] if 0 <= short.step < len(step_ids) else "",
            )
        )
    found += [
        OrderLine(
            part=supply.supply,
            name=supply.supply,
            pieces=0,
            packs=0,
            pack_size=0,
            pack_basis="",
            cuts_mm=(),
            first_step=supply.steps[0] if supply.steps else "",
        )
        for supply in allocation.supplies
        if not supply.box
    ]
    return tuple(found)


def pack_sizes_of(rows: Iterable[tuple[str, int]]) -> Mapping[str, int]:
    """The smallest pack in which each part came; `rows` are parts with the size of a pack, 0 if not said."""
    found: dict[str, int] = {}
    for part, size in rows:
        if size > 1:
            found[part] = min(size, found.get(part, size))
    return found


def harmless(text: str) -> str:
    """A text that no spreadsheet takes for a formula: one that could begin one gets an apostrophe before it.

    Blanks before the sign do not help: some programs pass them over.
    """
    return f"'{text}" if text.startswith(_FORMULA) or text.lstrip().startswith(_FORMULA[:4]) else text


def _cells(line: OrderLine) -> tuple[str | int | float, ...]:
    return (
        harmless(line.part),
        harmless(line.name),
        line.pieces or "",
        line.packs or "",
        line.pack_size or "",
        harmless(line.pack_basis),
        " ".join(f"{cut:.0f}" for cut in line.cuts_mm),
        math.ceil(line.length_mm) if line.cuts_mm else "",
        harmless(line.first_step),
    )


def order_csv(lines: Iterable[OrderLine]) -> str:
    """The order list as CSV, with a heading row and Windows line ends, as spreadsheets like it."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(HEADINGS)
    writer.writerows(_cells(line) for line in lines)
    return text.getvalue()


def order_xlsx(lines: Iterable[OrderLine]) -> bytes:
    """The order list as a workbook of one sheet; every text is a text cell, never a formula."""
    from openpyxl import Workbook  # noqa: PLC0415  # only wanted where a spreadsheet is asked for

    book = Workbook()
    sheet = book.active
    sheet.title = "Order"
    for row, cells in enumerate([HEADINGS, *map(_cells, lines)], start=1):
        for column, value in enumerate(cells, start=1):
            cell = sheet.cell(row=row, column=column)
            if isinstance(value, str):
                cell.value = _printable(value)
                cell.data_type = "s"  # whatever it begins with
                cell.quotePrefix = value.startswith("'")
            else:
                cell.value = value
    for letter, width in zip("ABCDEFGHI", (34, 40, 8, 8, 10, 24, 24, 10, 18), strict=True):
        sheet.column_dimensions[letter].width = width
    return workbook_bytes(book)


def _printable(text: str) -> str:
    """Without the control characters that a workbook cannot hold."""
    return "".join(char if char.isprintable() else " " for char in text)
