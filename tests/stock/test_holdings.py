"""What the steps ask of the boxes, as numbers that are answered again for other counts."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.stock.asking import asked_of
from trysquare.stock.counting import read_count
from trysquare.stock.demands import demands_of
from trysquare.stock.holdings import Slice, hand_out
from trysquare.stock.lots import StockLot
from trysquare.stock.need import need
from trysquare.stock.reach_step import reach

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


@pytest.mark.slow
def test_the_question_answers_as_the_reach_of_the_boxes_does() -> None:
    machine = load_machine(LARCH)
    whole = need(machine)
    count = read_count(machine, whole, [])
    asked = asked_of(machine, whole, count.lots)
    flows = hand_out(asked.slices, asked.lots)
    reached = reach(whole, demands_of(machine, whole, count.lots), count.lots)
    counted = sum(lack.pieces for lack in reached.lacks if lack.part not in {one.part for one in asked.rolls})
    assert sum(one.pieces for one in asked.slices) - sum(flows.values()) == counted
    assert sum(one.pieces for one in asked.slices) == sum(
        line.pieces for line in whole.lines if not line.cuts_mm
    )


@pytest.mark.slow
def test_a_needed_part_that_no_box_has_stands_among_the_lots_with_nothing_of_it() -> None:
    machine = load_machine(LARCH)
    whole = need(machine)
    asked = asked_of(machine, whole, ())
    assert {lot.pieces for lot in asked.lots} == {0}
    assert {one.part for one in asked.slices} <= {lot.part for lot in asked.lots}
    assert not asked.rolls


def test_an_earlier_step_never_goes_without_for_a_later_one_and_own_pieces_go_first() -> None:
    lots = (StockLot(box="A", part="short", pieces=2), StockLot(box="A", part="long", pieces=3))
    slices = (
        Slice(part="short", step=0, pieces=3, serve=((0, 0), (1, 4))),
        Slice(part="long", step=1, pieces=3, serve=((1, 0),)),
    )
    flows = hand_out(slices, lots)
    assert flows == {(0, 0): 2, (0, 1): 1, (1, 1): 2}
    served = Counter(number for (number, _), pieces in flows.items() for _ in range(pieces))
    assert served == {0: 3, 1: 2}


def test_a_part_serves_itself_before_it_serves_an_earlier_step_of_another() -> None:
    lots = (
        StockLot(box="A", part="short", pieces=1),
        StockLot(box="A", part="middle", pieces=2),
        StockLot(box="A", part="long", pieces=1),
    )
    slices = (
        Slice(part="short", step=0, pieces=2, serve=((0, 0), (1, 4), (2, 8))),
        Slice(part="middle", step=1, pieces=2, serve=((1, 0), (2, 4))),
    )
    assert hand_out(slices, lots) == {(0, 0): 1, (0, 2): 1, (1, 1): 2}
