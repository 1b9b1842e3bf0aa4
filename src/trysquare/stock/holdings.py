"""What the steps ask of the boxes as bare numbers, to be answered again whenever a count changes.

`asking.asked_of` is the slow part, once for a machine; `hand_out` answers it for other counts in a
millisecond, and needs no machine: the bench's server never holds one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trysquare.stock.flows import Lot, Question, cheapest, most_pieces
from trysquare.stock.lots import Lack, StockLot


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice:
    """Pieces of one part that one step picks up (`step` from 0; the number of all steps for none). `serve`:
    the lots that may serve them, as (lot number, points of compromise)."""

    part: str
    step: int
    pieces: int
    serve: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """All that is counted, in the order of steps, and the lots. A needed part that no box has stands among
    the lots with 0 pieces, as somebody may find it. `rolls`: what is cut and does not suffice, which no
    count changes."""

    steps: tuple[str, ...]
    slices: tuple[Slice, ...]
    lots: tuple[StockLot, ...]
    rolls: tuple[Lack, ...] = ()


def hand_out(slices: Sequence[Slice], lots: Sequence[StockLot]) -> Mapping[tuple[int, int], int]:
    """(slice, lot) → pieces. Slices are served in their order: none goes without for a later one, and still
    as many pieces as possible are served, with the least compromise: what was asked costs no points."""
    in_order = most_pieces(_question([one.pieces for one in slices], slices, lots), in_order=True)
    served = [0] * len(slices)
    for (number, _), pieces in in_order.items():
        served[number] += pieces
    question = _question(served, slices, lots)
    return cheapest(question, most_pieces(question))


def _question(wanted: Sequence[int], slices: Sequence[Slice], lots: Sequence[StockLot]) -> Question:
    boxes = {name: number for number, name in enumerate(dict.fromkeys(lot.box for lot in lots))}
    return Question(
        demands=tuple(wanted),
        lots=tuple(Lot(box=boxes[lot.box], pieces=lot.pieces) for lot in lots),
        points={(number, lot): points for number, one in enumerate(slices) for lot, points in one.serve},
    )
