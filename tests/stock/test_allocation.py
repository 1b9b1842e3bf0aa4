"""Need against stock on the small frame and on the demo machine: from which box, what is short, how far."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from small_frame import write_frame
from trysquare.ground.errors import ReadingError
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.stock.allocation import Allocation, allocate, left_over
from trysquare.stock.counting import read_count
from trysquare.stock.cuts import Roll, cut_from
from trysquare.stock.demands import demands_of, serves_as_asked
from trysquare.stock.lots import StockLot
from trysquare.stock.need import Need, need
from trysquare.stock.reach_step import balance, boxes_findings, reach
from trysquare.stock.shortage import harmless, order_csv, order_lines, order_xlsx, pack_sizes_of

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


@cache
def frame() -> tuple[Machine, Need]:
    with TemporaryDirectory() as folder:
        machine = load_machine(write_frame(Path(folder)))
    return machine, need(machine)


def exactly(*, but: dict[str, int] | None = None, box: str = "A") -> list[StockLot]:
    """Boxes that hold exactly what the small frame needs, but for these numbers."""
    _, whole = frame()
    lots = []
    for line in whole.lines:
        pieces = (but or {}).get(line.part, 1 if line.cuts_mm else line.pieces)
        length = 2 * line.length_mm if line.cuts_mm else 0.0
        lots.append(StockLot(box=box, part=line.part, pieces=pieces, length_mm=length))
    known = {line.part for line in whole.lines}
    lots += [StockLot(box=box, part=part, pieces=n) for part, n in (but or {}).items() if part not in known]
    lots.append(StockLot(box=box, part="grease NLGI 2", pieces=1))
    lots.append(StockLot(box=box, part="threadlocker medium", pieces=1))
    return lots


def served(allocation: Allocation) -> Counter[tuple[str, str]]:
    found: Counter[tuple[str, str]] = Counter()
    for one in allocation.allotments:
        found[(one.asked, one.part)] += one.pieces
    return found


def test_what_came_exactly_is_served_exactly() -> None:
    machine, whole = frame()
    allocation = allocate(machine, whole, exactly())
    assert allocation.served == allocation.wanted == whole.pieces
    assert not allocation.short
    assert allocation.proven
    assert all(one.asked == one.part for one in allocation.allotments)
    assert not left_over(allocation).keys() - {"grease NLGI 2", "threadlocker medium"}


def test_every_place_is_served_once() -> None:
    machine, whole = frame()
    places = Counter(place for one in allocate(machine, whole, exactly()).allotments for place in one.places)
    assert places == Counter(whole.picking.pieces.keys())


def test_a_class_that_nobody_asked_for_is_no_compromise() -> None:
    assert serves_as_asked("ISO 4762 M3x6 8.8", "ISO 4762 M3x6")
    assert not serves_as_asked("ISO 4762 M3x6", "ISO 4762 M3x6 8.8")
    machine, whole = frame()
    lots = exactly(but={"ISO 4762 M3x6": 0, "ISO 4762 M3x6 A2-70": 10})
    allocation = allocate(machine, whole, lots)
    assert (allocation.points, allocation.short) == (0, ())


def test_a_substitute_is_taken_only_where_pieces_are_short_and_says_what_follows() -> None:
    machine, whole = frame()
    lots = exactly(but={"ISO 7380-1 M5x12": 1, "ISO 7380-1 M5x16": 5})
    allocation = allocate(machine, whole, lots)
    assert served(allocation)[("ISO 7380-1 M5x12", "ISO 7380-1 M5x16")] == 1
    (instead,) = [one for one in allocation.allotments if one.compromise.points]
    assert "longer" in instead.compromise.says
    assert instead.places[0].startswith("frame/ends/screw.")
    assert left_over(allocation)["ISO 7380-1 M5x16"] == 4


def test_without_substitutes_the_same_boxes_are_short() -> None:
    machine, whole = frame()
    lots = exactly(but={"ISO 7380-1 M5x12": 1, "ISO 7380-1 M5x16": 5})
    (short,) = allocate(machine, whole, lots, substitutes=False).short
    assert (short.part, short.pieces, short.served) == ("ISO 7380-1 M5x12", 1, 1)


def test_a_chain_of_substitutes_serves_more_than_each_by_itself() -> None:
    # The ends' M5x12 are short; the plate's M5x8 cannot help them, longer ones can.
    machine, whole = frame()
    lots = exactly(but={"ISO 7380-1 M5x12": 0, "ISO 7380-1 M5x16": 1, "ISO 4762 M5x12": 4})
    allocation = allocate(machine, whole, lots)
    assert sum(short.pieces for short in allocation.short) == 1  # a cylinder head does not go into a slot


def test_the_fewest_boxes_are_opened() -> None:
    machine, whole = frame()
    lots = [*exactly(box="A"), *exactly(box="B")[:3]]
    assert allocate(machine, whole, lots).boxes == ("A",)


def test_a_better_rail_goes_where_it_gains_most() -> None:
    from trysquare.stock.grades import gains

    machine = load_machine(LARCH)
    whole = need(machine)
    gain = gains(machine)
    rails = [part.id for part in machine.placed if part.type.id == "rail 9x280"]
    assert len(rails) == 2
    lots = [
        StockLot(box="A", part="rail 9x280", pieces=1, grade="economy"),
        StockLot(box="B", part="rail 9x280", pieces=1, grade="precision"),
    ]
    allocation = allocate(machine, whole, lots)
    given_to = {one.grade: one.places[0] for one in allocation.allotments}
    assert gain[given_to["precision"]] == max(gain[rail] for rail in rails)
    economy = next(one for one in allocation.allotments if one.grade == "economy")
    assert "plainer make" in economy.compromise.says


def test_so_many_machines_want_so_many_times_the_pieces() -> None:
    machine, whole = frame()
    lots = [replace(lot, pieces=3 * lot.pieces) for lot in exactly()]
    allocation = allocate(machine, whole, lots, 3)
    assert allocation.served == 3 * whole.pieces
    lacking = [replace(lot, pieces=lot.pieces - (lot.part == "beam")) for lot in lots]
    allocation = allocate(machine, whole, lacking, 3)
    reached = reach(whole, allocation.demands, lacking, allocation.supplies, 3)
    assert reached.machines == 2


@settings(max_examples=20)
@given(
    st.dictionaries(
        st.sampled_from([line.part for line in frame()[1].lines if not line.cuts_mm]), st.integers(0, 14)
    )
)
def test_served_and_short_make_the_need_and_served_and_left_make_the_stock(but: dict[str, int]) -> None:
    machine, whole = frame()
    lots = exactly(but=but)
    allocation = allocate(machine, whole, lots)
    assert allocation.served + sum(short.pieces for short in allocation.short) == whole.pieces
    taken: Counter[str] = Counter()
    for one in allocation.allotments:
        taken[one.part] += 1 if one.cuts_mm else one.pieces
    left = left_over(allocation)
    for lot in lots:
        assert taken[lot.part] + left.get(lot.part, 0) == lot.pieces
    assert allocation.proven


# --- belts and wires


def test_cuts_come_from_rolls_without_joining_ends() -> None:
    cutting = cut_from([400.0, 400.0, 300.0], [Roll(box="A", length_mm=700), Roll(box="A", length_mm=400)])
    assert cutting.cut == 3
    assert cutting.proven
    assert cut_from([400.0, 400.0], [Roll(box="A", length_mm=799)]).cut == 1


def test_a_clumsy_packing_is_asked_again_exactly() -> None:
    # First fit with the longest first needs three rolls here; two are enough.
    cutting = cut_from([6, 5, 5, 4, 4, 4, 2], [Roll(box="A", length_mm=15), Roll(box="A", length_mm=15)])
    assert cutting.cut == 7
    assert cutting.proven


@pytest.mark.slow
@given(st.lists(st.integers(1, 30), max_size=7), st.lists(st.integers(1, 60), max_size=3))
def test_no_way_of_cutting_gives_more(cuts: list[int], lengths: list[int]) -> None:
    cutting = cut_from([float(cut) for cut in cuts], [Roll(box="A", length_mm=length) for length in lengths])
    used: Counter[int] = Counter()
    for cut, roll in zip(cuts, cutting.roll_of, strict=True):
        if roll is not None:
            used[roll] += cut
    assert all(used[roll] <= lengths[roll] for roll in used)

    def most(number: int, left: tuple[int, ...]) -> int:
        if number == len(cuts):
            return 0
        found = most(number + 1, left)
        for roll in {room: at for at, room in enumerate(left)}.values():
            if left[roll] >= cuts[number]:
                rest = (*left[:roll], left[roll] - cuts[number], *left[roll + 1 :])
                found = max(found, 1 + most(number + 1, rest))
        return found

    assert cutting.cut == most(0, tuple(lengths))
    assert cutting.proven


def test_a_wire_whose_length_nobody_says_serves_nothing() -> None:
    machine, whole = frame()
    lots = [replace(lot, length_mm=0.0) if lot.part == "wire AWG 22" else lot for lot in exactly()]
    (short,) = allocate(machine, whole, lots).short
    assert (short.part, short.pieces) == ("wire AWG 22", 4)
    assert short.cuts_mm == (400.0,) * 4


# --- how far


def test_the_last_step_is_the_one_before_something_lacks() -> None:
    machine, whole = frame()
    lots = exactly(but={"rail 9x200": 0})
    allocation = allocate(machine, whole, lots)
    reached = reach(whole, allocation.demands, lots, allocation.supplies)
    assert whole.picking.steps[reached.last].step == "frame"
    assert [(lack.step, lack.part) for lack in reached.lacks] == [(2, "rail 9x200")]


def test_what_is_used_up_and_in_no_box_stops_the_step_that_uses_it() -> None:
    machine, whole = frame()
    lots = [lot for lot in exactly() if lot.part != "grease NLGI 2"]
    allocation = allocate(machine, whole, lots)
    reached = reach(whole, allocation.demands, lots, allocation.supplies)
    assert [lack.part for lack in reached.lacks] == ["grease NLGI 2"]
    assert boxes_findings(whole, reached, 0) == ()


def test_boxes_that_run_out_are_a_finding_at_the_first_step_that_goes_without() -> None:
    machine, whole = frame()
    lots = exactly(but={"slide-in nut slot 6 M3": 8})
    reached = reach(whole, demands_of(machine, whole, lots), lots)
    (finding,) = boxes_findings(whole, reached, 2)
    assert (finding.code, finding.step, str(finding.weight)) == ("boxes-run-out", "nuts", "stop")
    assert (finding.value, finding.limit, len(finding.parts)) == (10, 8, 2)
    assert "2 names in the boxes wait" in finding.remedy


def test_an_earlier_step_never_goes_without_for_a_later_one() -> None:
    machine, whole = frame()
    for missing in range(1, 10):
        lots = exactly(but={"ISO 4762 M3x6": 10 - missing, "ISO 7380-1 M5x8": 1})
        reached = reach(whole, demands_of(machine, whole, lots), lots)
        total = sum(lack.pieces for lack in reached.lacks)
        assert total == sum(short.pieces for short in allocate(machine, whole, lots).short)


def test_a_size_runs_down_step_by_step_to_what_is_left() -> None:
    machine, whole = frame()
    lots = exactly(but={"slide-in nut slot 6 M3": 14})
    allocation = allocate(machine, whole, lots)
    rows = balance([(a.asked, a.part, a.steps, a.cuts_mm) for a in allocation.allotments], lots)
    had, drawn = rows["slide-in nut slot 6 M3"]
    assert had == 14
    assert [(row.step, row.takes, row.left) for row in drawn] == [(0, 10, 4)]


# --- the order list


def test_the_order_list_has_pieces_and_packs() -> None:
    machine, whole = frame()
    lots = exactly(but={"ISO 4762 M3x6": 0, "foot": 0})
    allocation = allocate(machine, whole, lots)
    steps = [step.step for step in whole.picking.steps]
    sizes = pack_sizes_of([("ISO 4762 M3x6", 25), ("ISO 4762 M3x6", 4), ("foot", 0)])
    lines = {line.part: line for line in order_lines(machine, allocation, steps, sizes)}
    screws = lines["ISO 4762 M3x6"]
    assert (screws.pieces, screws.packs, screws.pack_size, screws.first_step) == (10, 3, 4, "rail")
    assert (lines["foot"].pieces, lines["foot"].pack_size) == (1, 1)
    read = list(csv.DictReader(io.StringIO(order_csv(lines.values()))))
    assert {row["part"]: row["pieces"] for row in read} == {"ISO 4762 M3x6": "10", "foot": "1"}
    sheet = load_workbook(io.BytesIO(order_xlsx(lines.values()))).active
    assert [cell.value for cell in sheet[1]][:3] == ["part", "name", "pieces"]
    assert sheet.max_row == 3


@pytest.mark.parametrize("begins", ["=", "+", "-", "@", "\t=", "\r", " =", "\n+"])
def test_a_cell_that_could_be_a_formula_is_written_so_that_it_is_none(begins: str) -> None:
    machine, whole = frame()
    named = replace(machine.types["foot"], name=f"{begins}HYPERLINK(A1)")
    other = replace(machine, types={**machine.types, "foot": named})
    allocation = allocate(machine, whole, exactly(but={"foot": 0}))
    lines = order_lines(other, allocation, [step.step for step in whole.picking.steps], {})
    row = next(csv.DictReader(io.StringIO(order_csv(lines), newline="")))
    assert row["name"].startswith("'")
    cell = load_workbook(io.BytesIO(order_xlsx(lines))).active["B2"]
    assert cell.data_type == "s"
    assert str(cell.value).startswith("'")


@given(st.text(max_size=20))
def test_harmless_text_never_begins_a_formula(text: str) -> None:
    assert not harmless(text).lstrip().startswith(("=", "+", "-", "@"))


# --- the demo machine


@pytest.mark.slow
def test_the_boxes_of_the_demo_machine_serve_all_of_it_with_substitutes() -> None:
    machine = load_machine(LARCH)
    whole = need(machine)
    problems: list[ReadingError] = []
    count = read_count(machine, whole, problems)
    assert not problems
    assert [row.row.name for row in count.waiting] == []
    allocation = allocate(machine, whole, count.lots)
    assert allocation.served == allocation.wanted
    assert allocation.proven
    sorts = {one.compromise.sort for one in allocation.allotments if one.compromise.points}
    assert {"length", "head", "nut", "holes"} <= sorts
    assert [one.supply for one in allocation.supplies if not one.box] == ["isopropyl alcohol"]
    assert left_over(allocation)["rail 9x200"] == 2
    assert not boxes_findings(whole, reach(whole, allocation.demands, count.lots), 0)
