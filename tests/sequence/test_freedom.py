"""The part-built machine after a step: held, captive, free, and what is open."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sequence.folders import Bench
from trysquare.ground.errors import ReadingError
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.freedom import PartState, StateReport, state_after

DEMO = Path(__file__).resolve().parents[2] / "demo"

TRACK = Bench(
    parts="""
[part.beam]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 200
[part.stop]
kind = "printed"
solid = [{ box_mm = [12, 18, 10] }]
hole = [{ name = "m", at_mm = [6, 9, 10], thickness_mm = 10, diameter_mm = 3.4 }]
""",
    place="""
beam = { part = "beam" }
rail = { part = "rail 9x100", on = "beam:+z", offset_mm = 50 }
block = { part = "block 9 standard", on = "rail", at_mm = [50, 0, 0] }
stop-a = { part = "stop", on = "beam:+z", offset_mm = 38, across_mm = -9 }
stop-b = { part = "stop", on = "beam:+z", offset_mm = 150, across_mm = -9 }
""",
    joint="""
rail = { recipe = "rail-on-slot", rail = "rail", screw = "ISO 4762 M3x8", align = "straight" }
block = { recipe = "block-on-rail", rail = "rail", blocks = ["block"] }
stop-a = { recipe = "plate-on-slots", through = ["stop-a:m"], screw = "ISO 4762 M3", nut = "slide-in" }
stop-b = { recipe = "plate-on-slots", through = ["stop-b:m"], screw = "ISO 4762 M3", nut = "roll-in" }
""",
    steps="""
beam: place beam
nuts: insert stop-a rail stop-b
rail: place rail; start rail; snug rail
true: read rail reads=straight; tighten rail
block: place block
tape: hold block means=tape
first: place stop-a; start stop-a; tighten stop-a; release block
second: place stop-b; start stop-b; tighten stop-b
loose: snug rail
""",
    head="""
[characteristic.straight]
sort = "parallelism"
of = ["w/rail", "w/beam"]
limit = 0.1
unit = "mm"
""",
)
"""A rail on a beam, a carriage on the rail, a stop at each end."""


def after(machine: Machine, step: str) -> StateReport:
    return state_after(machine, step)


def part(report: StateReport, name: str) -> PartState:
    (found,) = [one for one in report.parts if one.part == f"w/{name}"]
    return found


@pytest.fixture(scope="module")
def track(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    return TRACK.machine(tmp_path_factory.mktemp("track"))


def test_a_part_that_nothing_joins_is_free_and_lies_apart(track: Machine) -> None:
    beam = part(after(track, "beam"), "beam")
    assert (beam.state, beam.ways) == ("free", ())


def test_a_preloaded_nut_moves_along_its_slot_and_out_at_its_open_end(track: Machine) -> None:
    first = part(after(track, "nuts"), "stop-a/nut.1")
    assert first.state == "free"
    assert [(way.looks, way.out) for way in first.ways] == [("left", True), ("right", False)]
    assert {way.along for way in first.ways} == {"along slot +z of w/beam"}


def test_a_slide_in_nut_between_others_is_captive(track: Machine) -> None:
    assert part(after(track, "nuts"), "rail/nut.2").state == "captive"


def test_an_insertable_nut_can_leave_through_the_mouth(track: Machine) -> None:
    ways = part(after(track, "nuts"), "stop-b/nut.1").ways
    assert [way.looks for way in ways if way.along.startswith("through the mouth")] == ["top"]


def test_a_snug_screw_holds_all_it_goes_through(track: Machine) -> None:
    report = after(track, "rail")
    assert {name: part(report, name).state for name in ("beam", "rail", "rail/nut.1")} == {
        "beam": "held",
        "rail": "held",
        "rail/nut.1": "held",
    }


def test_a_started_screw_keeps_a_part_captive(tmp_path: Path) -> None:
    bench = TRACK.but(("start rail; snug rail", "start rail"))
    rail = part(after(bench.machine(tmp_path), "rail"), "rail")
    assert (rail.state, rail.by, rail.ways) == ("captive", ("w/rail",), ())


def test_a_carriage_on_an_open_rail_is_free_both_ways(track: Machine) -> None:
    block = part(after(track, "block"), "block")
    assert block.state == "free"
    assert [(way.looks, way.along, way.out) for way in block.ways] == [
        ("right", "along w/rail", True),
        ("left", "along w/rail", True),
    ]


def test_tape_holds_a_carriage(track: Machine) -> None:
    block = part(after(track, "tape"), "block")
    assert (block.state, block.by) == ("held", ("tape",))


def test_one_stop_leaves_one_end_open(track: Machine) -> None:
    report = after(track, "first")
    (rail,) = report.rails
    assert (rail.blocks, rail.open_ends, rail.kept) == (("w/block",), ("b",), "")
    assert [(way.looks, way.out) for way in part(report, "block").ways] == [("right", True), ("left", False)]


def test_two_stops_make_a_carriage_captive(track: Machine) -> None:
    report = after(track, "second")
    assert part(report, "block").state == "captive"
    assert len(part(report, "block").ways) == 2
    assert report.rails[0].open_ends == ()


def test_joints_are_as_far_as_their_loosest_screw(track: Machine) -> None:
    levels = {joint.joint: joint.level for joint in after(track, "true").joints}
    assert levels == {"w/rail": "final", "w/block": "no screws", "w/stop-a": "absent", "w/stop-b": "absent"}


def test_a_slot_shows_what_lies_in_it_now_and_which_ends_are_open(track: Machine) -> None:
    (slot,) = [slot for slot in after(track, "nuts").slots if slot.slot == "+z"]
    assert slot.pieces[0] == "w/stop-a/nut.1"
    assert slot.pieces[-1] == "w/stop-b/nut.1"
    assert slot.open_ends == ("a", "b")


def test_an_alignment_waits_for_its_joint_to_be_snug(track: Machine) -> None:
    (before,), (now,) = after(track, "nuts").alignments, after(track, "rail").alignments
    assert (before.read_in, before.holds, before.waits) == ("", False, ("w/rail",))
    assert (now.read_in, now.holds, now.waits) == ("", False, ())


def test_a_reading_holds_until_its_joint_is_loosened(track: Machine) -> None:
    (read,), (loosened,) = after(track, "second").alignments, after(track, "loose").alignments
    assert (read.read_in, read.holds) == ("true", True)
    assert (loosened.read_in, loosened.holds) == ("true", False)


def test_works_that_nothing_joins_lie_apart(tmp_path: Path) -> None:
    bench = replace(TRACK, steps="all: place beam rail\n")
    assert after(bench.machine(tmp_path), "all").works == (("w/beam",), ("w/rail",))


def test_what_lies_between_the_parts_of_a_carriage_runs_with_it() -> None:
    report = state_after(load_machine(DEMO / "reed-joints"), "run")
    (block,) = [one for one in report.parts if one.part == "carriage/block"]
    assert [way.looks for way in block.ways] == ["right", "left"]


def test_a_step_that_is_not_there_is_an_error_with_the_nearest(track: Machine) -> None:
    with pytest.raises(ReadingError, match="Did you mean 'block'"):
        state_after(track, "blok")
