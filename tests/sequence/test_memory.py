"""Answers kept from one check to the next: the same findings, and no harm from a damaged file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sequence.folders import Bench, is_clean
from sequence.mutations import mutations
from sequence.test_rules_hold import CRANE, RUN
from sequence.test_rules_screws import FRAME, HOOD, LID, RAIL
from sequence.test_rules_slots import SLOT, TWO_PLATES, closed
from sequence.test_rules_truth import GANTRY
from sequence.test_rules_ways import BELT, CUP, SHELL, WITH_KNOB
from trysquare.cli import order_memory
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence import memory
from trysquare.sequence.check import check_order
from trysquare.sequence.reach import Reach

DEMO = Path(__file__).parents[2] / "demo"
SHUT = closed(closed(SLOT, "panel", "a", "one"), "member", "b", "two")
BENCHES = (BELT, CRANE, CUP, FRAME, GANTRY, HOOD, LID, RAIL, RUN, SHELL, SHUT, TWO_PLATES, WITH_KNOB)
EDITS = (
    (SHUT.ordered("beam", "one", "two", "nuts", "plate"), SLOT),  # parts taken away
    (SLOT, SHUT.ordered("beam", "one", "two", "nuts", "plate")),  # parts added
    (CUP, CUP.ordered("cup", "cap", "spring")),  # an order changed
    (CUP.ordered("cup", "cap", "spring"), CUP.but(("[20, 20, 10] }", "[20, 20, 12] }"))),  # a part moved
    (LID, LID.but(("box_mm = [160, 160, 60]", "box_mm = [160, 160, 40]"))),  # a shape changed
    (FRAME, FRAME.but(("left = {", "other = {"), ("place left right", "place other right"))),  # renamed
    (WITH_KNOB, SHELL),
)


def told_with(kept: memory.Memory, machine: Machine) -> tuple[tuple[Finding, ...], memory.Memory]:
    reach = Reach(machine, kept)
    return check_order(machine, reach), reach.remembered()


@pytest.mark.slow
@pytest.mark.parametrize(("first", "second"), EDITS)
def test_an_edited_machine_is_judged_as_if_nothing_were_remembered(
    first: Bench, second: Bench, tmp_path: Path
) -> None:
    _, kept = told_with(memory.Memory(), first.machine(tmp_path / "first"))
    machine = second.machine(tmp_path / "second")
    fresh = check_order(machine)
    findings, again = told_with(kept, machine)
    assert findings == fresh
    assert told_with(again, machine)[0] == fresh
    # and back again, with what both have left
    back = first.machine(tmp_path / "back")
    assert told_with(again, back)[0] == check_order(back)


@pytest.mark.slow
def test_one_memory_serves_all_machines_and_orders(tmp_path: Path) -> None:
    kept = memory.Memory()
    for number, bench in enumerate(BENCHES):
        machine = bench.machine(tmp_path / str(number))
        for steps in (machine.steps, *mutations(machine.steps, 3, seed=number)):
            order = replace(machine, steps=steps)
            findings, kept = told_with(kept, order)
            assert findings == check_order(order)


def test_a_second_check_makes_no_bodies() -> None:
    machine = load_machine(DEMO / "reed-joints")
    _, kept = told_with(memory.Memory(), machine)
    reach = Reach(machine, kept)
    assert check_order(machine, reach) == ()
    assert reach.probes
    assert not [probe for probe in reach.probes.values() if probe is not None and probe.made is not None]


def test_a_file_gives_back_what_was_kept(tmp_path: Path) -> None:
    _, kept = told_with(memory.Memory(), load_machine(DEMO / "reed-joints"))
    assert order_memory.keep(tmp_path / "deep" / "answers", "one", kept)
    back = order_memory.recall(tmp_path / "deep" / "answers", "one")
    assert back.stamps == kept.stamps
    assert list(back.answers) == list(kept.answers)
    for about, answer in kept.answers.items():
        assert back.answers[about].near == answer.near
        assert back.answers[about].crosses == answer.crosses
        assert np.array_equal(back.answers[about].box_mm, answer.box_mm)
    assert [file.name for file in (tmp_path / "deep").iterdir()] == ["answers"]


def test_an_empty_memory_is_kept_and_recalled(tmp_path: Path) -> None:
    assert order_memory.keep(tmp_path / "answers", "one", memory.Memory())
    assert order_memory.recall(tmp_path / "answers", "one").answers == {}


def test_a_missing_file_or_another_program_s_is_no_memory(tmp_path: Path) -> None:
    _, kept = told_with(memory.Memory(), load_machine(DEMO / "reed-joints"))
    assert order_memory.recall(tmp_path / "nothing", "one").answers == {}
    assert order_memory.recall(tmp_path, "one").answers == {}
    order_memory.keep(tmp_path / "answers", "one", kept)
    assert order_memory.recall(tmp_path / "answers", "two").answers == {}


@pytest.mark.parametrize("how", ["cut", "flipped", "longer", "empty", "text"])
def test_a_damaged_file_is_not_believed(how: str, tmp_path: Path) -> None:
    _, kept = told_with(memory.Memory(), load_machine(DEMO / "reed-joints"))
    file = tmp_path / "answers"
    order_memory.keep(file, "one", kept)
    whole = file.read_bytes()
    for place in (0, 20, 40, 80, len(whole) // 2, len(whole) - 1):
        spoiled = {
            "cut": whole[:place],
            "flipped": whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :],
            "longer": whole + whole[:place] + b"x",
            "empty": b"",
            "text": b"trysquare order memory 1\n" + b"0" * place,
        }[how]
        file.write_bytes(spoiled)
        assert order_memory.recall(file, "one").answers == {}


def test_a_place_that_cannot_be_written_is_no_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    assert not order_memory.keep(tmp_path / "file" / "answers", "one", memory.Memory())


def test_the_clean_benches_are_clean(tmp_path: Path) -> None:
    # What the edits above start from.
    assert is_clean(CUP, tmp_path / "cup")
    assert is_clean(LID, tmp_path / "lid")
