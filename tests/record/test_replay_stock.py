"""The log against the boxes and the need."""

from __future__ import annotations

import pytest

from log_entries import logged, said
from small_frame import write_frame
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.record.events import Event
from trysquare.record.replay import replay
from trysquare.record.replay_stock import changes, lots_after, need_after, part_of
from trysquare.stock.demands import StockLot
from trysquare.stock.need import Need, need


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    return load_machine(write_frame(tmp_path_factory.mktemp("machine") / "frame"))


@pytest.fixture(scope="module")
def whole(machine: Machine) -> Need:
    return need(machine)


LOTS = (
    StockLot(box="A", part="ISO 4762 M3x6", pieces=8),
    StockLot(box="B", part="ISO 4762 M3x6", pieces=4),
    StockLot(box="B", part="post", pieces=2),
)


def lots(machine: Machine, whole: Need, *events: Event) -> dict[tuple[str, str], int]:
    found = lots_after(machine, whole, LOTS, replay(logged(events)))
    return {(lot.box, lot.part): lot.pieces for lot in found}


AS_LISTED = {("A", "ISO 4762 M3x6"): 8, ("B", "ISO 4762 M3x6"): 4, ("B", "post"): 2}


def test_a_ref_means_the_part_it_is_of(machine: Machine, whole: Need) -> None:
    assert part_of(machine, whole, "frame/left") == "post"
    assert part_of(machine, whole, "traverse") == "beam"
    assert part_of(machine, whole, "ISO 4762 M3x6") == "ISO 4762 M3x6"
    assert part_of(machine, whole, "nobody's") == "nobody's"
    piece = next(name for name, one in whole.picking.pieces.items() if one.part == "ISO 4762 M3x6")
    assert part_of(machine, whole, piece) == "ISO 4762 M3x6"


def test_a_count_of_a_box_stands_for_its_list(machine: Machine, whole: Need) -> None:
    assert lots(machine, whole) == AS_LISTED
    counted = said("counted", sort="ISO 4762 M3x6", count=7, box="A")
    assert lots(machine, whole, counted) == {**AS_LISTED, ("A", "ISO 4762 M3x6"): 7}
    new = said("counted", sort="ISO 4762 M3x6", count=3, box="C")
    assert lots(machine, whole, new) == {**AS_LISTED, ("C", "ISO 4762 M3x6"): 3}


def test_a_count_without_a_box_stands_for_all_boxes(machine: Machine, whole: Need) -> None:
    counted = said("counted", sort="ISO 4762 M3x6", count=11)
    assert lots(machine, whole, counted) == {("B", "post"): 2, ("", "ISO 4762 M3x6"): 11}


def test_what_is_lost_after_the_count_is_not_there_and_what_was_lost_before_is_counted(
    machine: Machine, whole: Need
) -> None:
    damaged = said("deviation", "rail", what="damaged", part="ISO 4762 M3x6", count=2)
    counted = said("counted", sort="ISO 4762 M3x6", count=7, box="A")
    assert lots(machine, whole, damaged)[("A", "ISO 4762 M3x6")] == 6
    assert lots(machine, whole, damaged, counted)[("A", "ISO 4762 M3x6")] == 7
    assert sum(lots(machine, whole, counted, damaged).values()) == 7 + 4 + 2 - 2


def test_more_lost_than_there_was_leaves_none(machine: Machine, whole: Need) -> None:
    gone = said("deviation", "frame", what="missing", part="frame/left", count=9)
    assert lots(machine, whole, gone)[("B", "post")] == 0


def test_deviations_change_the_need(machine: Machine, whole: Need) -> None:
    events = [
        said("deviation", "plate", what="substitute", part="ISO 7380-1 M5x8", by="ISO 7380-1 M5x10", count=2),
        said("deviation", "rail", what="extra", part="ISO 4762 M3x6"),
        said("deviation", "drive", what="skipped", part="drive/foot", minutes=1),
        said("deviation", "drive", what="damaged", part="drive/cover", minutes=2),
    ]
    found = changes(machine, whole, replay(logged(events)))
    assert [(one.of, one.part, one.pieces) for one in found] == [
        ("need", "ISO 7380-1 M5x8", -2),
        ("need", "ISO 7380-1 M5x10", 2),
        ("need", "ISO 4762 M3x6", 1),
        ("need", "foot", -1),
        ("stock", "cover", -1),
    ]
    pieces = need_after(whole, found)
    assert (pieces["ISO 7380-1 M5x8"], pieces["ISO 7380-1 M5x10"]) == (0, 2)
    assert (pieces["ISO 4762 M3x6"], pieces["foot"], pieces["cover"], pieces["post"]) == (11, 0, 1, 2)


def test_an_undone_deviation_changes_nothing(machine: Machine, whole: Need) -> None:
    events = [
        said("deviation", what="extra", part="post", id="d"),
        said("undo", of="d"),
        said("deviation", what="substitute", id="e"),
    ]
    assert changes(machine, whole, replay(logged(events))) == ()
