"""What a log says of the stock: what was counted, and what deviations change in need and boxes. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from trysquare.machine.values import Machine
from trysquare.record.state import BuildState, Count, Deviation, Said
from trysquare.stock.demands import StockLot
from trysquare.stock.need import Need, canonical


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Pieces of one part more (or, below 0, fewer) than the machine folder says.

    `of`: "need" (the machine takes more or fewer) or "stock" (the boxes hold fewer). `says`: why, in words.
    """

    of: str
    part: str
    pieces: int
    step: str | None
    says: str
    said: Said


def part_of(machine: Machine, whole: Need, ref: str) -> str:
    """The part that a ref means: a placed part or piece is its part, a designation is written as the
    catalogue does, anything else stays as it is."""
    piece = whole.picking.pieces.get(ref)
    if piece is not None:
        return piece.part
    if ref in machine.part:
        return machine.part[ref].type.id
    return canonical(machine, ref)


def changes(machine: Machine, whole: Need, state: BuildState) -> tuple[Change, ...]:
    """What the deviations change, in the order in which they were logged."""
    return tuple(change for one in state.deviations for change in _changes(machine, whole, one))


def _changes(machine: Machine, whole: Need, one: Deviation) -> Iterator[Change]:
    part = part_of(machine, whole, one.part) if one.part else ""
    by = part_of(machine, whole, one.by) if one.by else ""

    def change(of: str, name: str, pieces: int, says: str) -> Iterator[Change]:
        if name and pieces:
            yield Change(of=of, part=name, pieces=pieces, step=one.step, says=says, said=one.said)

    if one.what == "substitute":
        yield from change("need", part, -one.count, f"{by or 'another part'} serves instead")
        yield from change("need", by, one.count, f"it serves instead of {part or 'another part'}")
    elif one.what == "extra":
        yield from change("need", by or part, one.count, "one more than the steps say was used")
    elif one.what == "skipped":
        yield from change("need", part, -one.count, "it was left out")
    elif one.what == "damaged":
        yield from change("stock", part, -one.count, "it was damaged")
    elif one.what == "missing":
        yield from change("stock", part, -one.count, "it was not there")


def need_after(whole: Need, found: Sequence[Change]) -> Mapping[str, int]:
    """Pieces of each part that the machine takes after the changes, never below 0; parts that nothing
    changes included."""
    pieces = {line.part: line.pieces for line in whole.lines}
    for change in found:
        if change.of == "need":
            pieces[change.part] = pieces.get(change.part, 0) + change.pieces
    return {part: max(0, number) for part, number in pieces.items()}


def lots_after(
    machine: Machine, whole: Need, lots: Sequence[StockLot], state: BuildState
) -> tuple[StockLot, ...]:
    """What the boxes hold: the packing lists, corrected by what was counted and by what was lost since.

    A count of a sort in a box stands for that box's lots of it; a count without a box for all lots of the
    sort. What was damaged or missing before a count is in the count already.
    """
    found = list(lots)
    counts = {part_of(machine, whole, sort): count for sort, count in state.counted.items()}
    for part, count in counts.items():
        found = _counted(found, part, count)
    for change in changes(machine, whole, state):
        if change.of == "stock" and (
            change.part not in counts or change.said.seq > counts[change.part].said.seq
        ):
            found = _taken(found, change.part, -change.pieces)
    return tuple(found)


def _counted(lots: Sequence[StockLot], part: str, count: Count) -> list[StockLot]:
    """The lots with those of a counted sort as they were counted."""
    if "" in count.boxes:
        kept, here = [lot for lot in lots if lot.part != part], [lot for lot in lots if lot.part == part]
        pattern = here[0] if here else StockLot(box="", part=part, pieces=0)
        boxes = {**dict.fromkeys((box for box in count.boxes if box), 0), **count.boxes}
        return [*kept, *(replace(pattern, box=box, pieces=pieces) for box, pieces in boxes.items())]
    found = list(lots)
    for box, pieces in count.boxes.items():
        same = [lot for lot in found if lot.part == part and lot.box == box]
        pattern = same[0] if same else StockLot(box=box, part=part, pieces=0)
        found = [lot for lot in found if not (lot.part == part and lot.box == box)]
        found.append(replace(pattern, pieces=pieces))
    return found


def _taken(lots: Sequence[StockLot], part: str, pieces: int) -> list[StockLot]:
    """The lots with so many pieces of a part fewer, from the first lots on, as far as there are any."""
    found: list[StockLot] = []
    for lot in lots:
        fewer = min(pieces, lot.pieces) if lot.part == part and not lot.length_mm else 0
        pieces -= fewer
        found.append(replace(lot, pieces=lot.pieces - fewer) if fewer else lot)
    return found
