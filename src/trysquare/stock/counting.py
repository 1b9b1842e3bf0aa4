"""The count: every row of every packing list with the part it means, and what still waits for an answer.

Only what is certain counts: names that are confirmed or plainly written, and numbers that are read or
weighed beyond doubt. Of a weighing that leaves several numbers open the least counts, and says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path as DiskPath

from trysquare.catalogue.values import BeltSize
from trysquare.ground.errors import ReadingError
from trysquare.machine.standard_types import standard_type
from trysquare.machine.values import Kind, Machine, PartType
from trysquare.stock.boxes import FOLDER_NAME, Boxes, BoxRow, read_boxes
from trysquare.stock.lots import StockLot
from trysquare.stock.matching import Match, Matcher, is_part
from trysquare.stock.need import Need
from trysquare.stock.quantities import pack_size_in
from trysquare.stock.remembered import read_names
from trysquare.stock.standard_parts import standard_of
from trysquare.stock.weighing import SCALE_HALF_WIDTH_GRAM, Weighed, mass_of_one, weighed

_LENGTH_IN_NAME = re.compile(
    r"(?<![\w.])([0-9]{1,3}(?:[.,][0-9]+)?) ?m(?:etres?|eters?)?\b(?!m)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RowCount:
    """One row and what it counts for. `pieces` of each of `match.parts`; 0 while its name waits.

    `weighed` is there when a scale counted; `remarks` say what a person should look at.
    """

    row: BoxRow
    match: Match
    pieces: int
    length_mm: float = 0.0
    weighed: Weighed | None = None
    remarks: tuple[str, ...] = ()

    @property
    def waits(self) -> bool:
        """Whether its name waits to be confirmed."""
        return not self.match.how


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """All rows counted. `lots` is what may be allotted: one a box, part, make and length."""

    boxes: Boxes
    rows: tuple[RowCount, ...]
    lots: tuple[StockLot, ...]

    @property
    def waiting(self) -> tuple[RowCount, ...]:
        """Rows whose name nobody has confirmed; they count for nothing yet."""
        return tuple(row for row in self.rows if row.waits)


def read_count(
    machine: Machine,
    whole: Need,
    problems: list[ReadingError],
    boxes_folder: DiskPath | None = None,
    half_width_gram: float | None = None,
) -> Count:
    """What is in the boxes of a machine folder, or of another folder of boxes. Problems are collected.

    `half_width_gram`: of the scale; the machine's own scale, if None.
    """
    folder = DiskPath(machine.folder)
    words = {line.name.casefold(): line.name for line in whole.supplies}

    def known(word: str) -> str | None:
        return words.get(word.strip().casefold()) or is_part(machine, word.strip())

    names = read_names(folder, known, problems)
    boxes = read_boxes(boxes_folder or folder / FOLDER_NAME, problems)
    needed = [line.part for line in whole.lines]
    matcher = Matcher(machine, needed, names, extra=words.values())
    scale = scale_half_width_gram(machine) if half_width_gram is None else half_width_gram
    rows = tuple(_counted(machine, row, matcher.match(row.name), scale) for row in boxes.rows)
    return Count(boxes=boxes, rows=rows, lots=lots_of(rows))


def scale_half_width_gram(machine: Machine) -> float:
    """The limits of the machine's own scale, in grams; of a kitchen scale when it names none."""
    scales = [one.half_width_mm for one in machine.instruments if one.sort == "scale"]
    return min(scales, default=SCALE_HALF_WIDTH_GRAM)


def type_of(machine: Machine, part: str) -> PartType | None:
    """The part type of a part in a box: the machine's, or the catalogue's; None for a plain word."""
    if part in machine.types:
        return machine.types[part]
    return standard_type(part) if standard_of(part) is not None else None


def lots_of(rows: Iterable[RowCount]) -> tuple[StockLot, ...]:
    """Rows added up: one lot for each box, part, make and length, in the order in which they came."""
    found: dict[tuple[str, str, str, float], int] = {}
    for counted in rows:
        for part in counted.match.parts:
            key = (counted.row.box, part, counted.row.grade, counted.length_mm)
            found[key] = found.get(key, 0) + counted.pieces
    return tuple(
        StockLot(box=box, part=part, pieces=pieces, grade=grade, length_mm=length_mm)
        for (box, part, grade, length_mm), pieces in found.items()
    )


def _counted(machine: Machine, row: BoxRow, match: Match, scale: float) -> RowCount:
    remarks: list[str] = []
    part_type = type_of(machine, match.parts[0]) if len(match.parts) == 1 else None
    said = pack_size_in(row.name)
    if said > 1 and row.pieces is not None and not row.packs and row.pieces < said:
        remarks.append(
            f"The name speaks of {said} in a pack; counted {row.pieces} single pieces, as the column says."
        )
    length_mm = 0.0  # a member's cut length is its own
    if part_type is not None and _is_cut(part_type):
        length_mm = row.length_mm or _length_in(row.name)
        if not length_mm:
            remarks.append("Nobody says how long it is: it serves nothing until the list does ('5 m').")
    pieces, reading = row.pieces, None
    if pieces is None:
        one = mass_of_one(part_type, machine.folder, row.mass_gram) if part_type is not None else None
        pieces = 0
        if one is not None:
            reading = weighed(row.weighed_gram, one, scale)
            pieces = reading.pieces if reading.decides else reading.low
            remarks += _of_weighing(row.weighed_gram, one.gram, reading)
        elif match.how:
            remarks.append("Weighed, but nobody knows what one piece weighs: count them.")
    return RowCount(
        row=row,
        match=match,
        pieces=pieces,
        length_mm=length_mm,
        weighed=reading,
        remarks=tuple(remarks),
    )


def _of_weighing(gram: float, one_gram: float, reading: Weighed) -> list[str]:
    """What to say of a weighing that leaves something open."""
    if reading.decides:
        return []
    if reading.agrees:
        says = (
            f"{gram:g} g are {reading.low} to {reading.high} pieces of {one_gram:.2f} g; counted "
            f"{reading.low}. This scale tells heaps apart from {reading.tells_apart} pieces on."
        )
    else:
        says = (
            f"{gram:g} g are no whole number of pieces of {one_gram:.2f} g: another part, or the bag lay on "
            f"the scale too; counted {reading.low}."
        )
    return [says]


def _length_in(name: str) -> float:
    """A length in metres that the name ends on or holds; 0 when it holds none."""
    found = _LENGTH_IN_NAME.search(name)
    return float(found[1].replace(",", ".")) * 1000 if found else 0.0


def _is_cut(part_type: PartType) -> bool:
    """Whether it is sold by length: wires and open belts. A closed belt is an own part type of its length."""
    belt = part_type.standard
    return part_type.kind is Kind.WIRE or (isinstance(belt, BeltSize) and part_type.id == belt.designation)
