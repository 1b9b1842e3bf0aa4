"""The slot ledger: what lies in each slot, its ways in, and until when its ends are open."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import permutations
from pathlib import Path

import pytest

from sequence.folders import Bench
from trysquare.machine.load import load_machine
from trysquare.machine.values import Host, Machine
from trysquare.sequence.check import check_order
from trysquare.sequence.slot_ledger import SlotRow, slot_ledger

DEMO = Path(__file__).resolve().parents[2] / "demo"

RACK = Bench(
    parts="""
[part.beam]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 200
tapped = ["a", "b"]
[part.cap]
kind = "plate"
size_mm = [20, 20, 4]
hole = [{ name = "core", at_mm = [10, 10], diameter_mm = 5.5 }]
[part.tag]
kind = "plate"
size_mm = [12, 12, 3]
hole = [{ name = "m", at_mm = [6, 6], diameter_mm = 5.5 }]
""",
    place="""
beam = { part = "beam" }
near = { part = "tag", on = "beam:+z", offset_mm = 40, across_mm = -6 }
far = { part = "tag", on = "beam:+z", offset_mm = 150, across_mm = -6 }
cap-a = { part = "cap", at_mm = [0, 10, -10], along = "-y", up = "-x" }
cap-b = { part = "cap", at_mm = [200, -10, -10], along = "+y", up = "+x" }
""",
    joint="""
near = { recipe = "plate-on-slots", through = ["near:m"], screw = "ISO 7380-1 M5", nut = "slide-in" }
far = { recipe = "plate-on-slots", through = ["far:m"], screw = "ISO 7380-1 M5", nut = "slide-in" }
cap-a = { recipe = "through-bolt", through = ["cap-a:core"], into = "beam:a", screw = "ISO 7380-1 M5" }
cap-b = { recipe = "through-bolt", through = ["cap-b:core"], into = "beam:b", screw = "ISO 7380-1 M5" }
""",
    steps="""
beam: place beam
near: insert near
left: place cap-a; start cap-a; tighten cap-a
far: insert far
right: place cap-b; start cap-b; tighten cap-b
tags: place near far; start near far; tighten near far
""",
)
"""A beam with two plates on its upper slot and a cap on each end."""


def slot(machine: Machine, name: str, member: str = "w/beam") -> SlotRow:
    (row,) = [row for row in slot_ledger(machine) if (row.member, row.slot) == (member, name)]
    return row


def test_each_slot_of_each_member_has_its_row(tmp_path: Path) -> None:
    rows = slot_ledger(RACK.machine(tmp_path))
    assert [(row.member, row.slot) for row in rows] == [("w/beam", face) for face in ("+y", "-y", "+z", "-z")]
    assert [row.looks for row in rows] == ["back", "front", "top", "bottom"]


def test_an_empty_slot_tells_what_closes_its_ends(tmp_path: Path) -> None:
    row = slot(RACK.machine(tmp_path), "-z")
    assert row.pieces == ()
    assert [(end.name, end.looks, end.closed_in, end.closed_by) for end in row.ends] == [
        ("a", "left", "left", "w/cap-a"),
        ("b", "right", "right", "w/cap-b"),
    ]


def test_nuts_lie_where_their_screws_come_down(tmp_path: Path) -> None:
    row = slot(RACK.machine(tmp_path), "+z")
    assert [(piece.sort, piece.at_mm) for piece in row.pieces] == [("nut", 46.0), ("nut", 156.0)]
    assert all(piece.from_mm < piece.at_mm < piece.to_mm for piece in row.pieces)


def test_a_nut_has_the_ways_that_are_open_when_it_comes(tmp_path: Path) -> None:
    near, far = slot(RACK.machine(tmp_path), "+z").pieces
    assert (near.step, near.ways) == ("near", ("a", "b"))
    assert (far.step, far.ways) == ("far", ("b",))  # end a is capped, and the near nut lies between


def test_a_nuts_last_step_is_that_in_which_its_last_way_closes(tmp_path: Path) -> None:
    near, far = slot(RACK.machine(tmp_path), "+z").pieces
    assert (near.closed_in, near.closed_by) == ("far", "w/far/nut.1")  # later it could not pass the far nut
    assert (far.closed_in, far.closed_by) == ("right", "w/cap-b")


def test_a_nut_that_comes_too_late_has_no_way(tmp_path: Path) -> None:
    bench = RACK.ordered("beam", "near", "left", "right", "far", "tags")
    far = slot(bench.machine(tmp_path), "+z").pieces[1]
    assert (far.step, far.ways, far.closed_in) == ("far", (), "right")


def test_nuts_of_one_action_are_not_in_each_others_way(tmp_path: Path) -> None:
    bench = replace(
        RACK,
        steps="""
beam: place beam
nuts: insert near far
left: place cap-a; start cap-a; tighten cap-a
tags: place near far; start near far; tighten near far
""",
    )
    pieces = slot(bench.machine(tmp_path), "+z").pieces
    assert [piece.ways for piece in pieces] == [("a", "b"), ("a", "b")]
    assert [piece.closed_in for piece in pieces] == ["", ""]  # end b stays open


def test_an_insertable_nut_goes_in_through_the_mouth_while_nothing_covers_it(tmp_path: Path) -> None:
    bench = RACK.but(
        ('through = ["far:m"], screw = "ISO 7380-1 M5", nut = "slide-in"',
         'through = ["far:m"], screw = "ISO 7380-1 M5", nut = "roll-in"'),
    ).ordered("beam", "near", "left", "right", "far", "tags")  # fmt: skip
    far = slot(bench.machine(tmp_path), "+z").pieces[1]
    assert (far.ways, far.closed_in, far.closed_by) == (("mouth",), "tags", "w/far")


def test_a_slot_without_steps_says_what_closes_it_in_the_end(tmp_path: Path) -> None:
    RACK.write(tmp_path)
    (tmp_path / "steps.toml").unlink()
    row = slot(load_machine(tmp_path), "+z")
    assert [(end.closed_in, end.closed_by) for end in row.ends] == [("", "w/cap-a"), ("", "w/cap-b")]
    assert [(piece.step, piece.ways) for piece in row.pieces] == [("", ()), ("", ())]


def test_a_blind_joints_head_lies_in_its_neighbours_slot(tmp_path: Path) -> None:
    bench = Bench(
        parts=RACK.parts
        + '[part.post]\nkind = "member"\nprofile = "profile 20x20 slot 6"\nlength_mm = 100\ntapped = ["a"]\n'
        'hole = [{ name = "key", face = "+z", from = "a", at_mm = 50, diameter_mm = 5.5 }]\n',
        place='beam = { part = "beam" }\npost = { part = "post", at_mm = [60, 0, 10], along = "+z" }\n',
        joint='foot = { recipe = "blind-joint", ends = ["post:a"], screw = "ISO 7380-1 M5x12" }\n',
        steps="all: place beam post; start foot; snug foot; tighten foot\n",
    )
    machine = bench.machine(tmp_path)
    row = slot(machine, "+z")
    assert [(piece.sort, piece.at_mm, piece.ways) for piece in row.pieces] == [("head", 60.0, ("a", "b"))]
    assert dict(row.counts) == {"ISO 7380-1 M5x12": 1}
    assert {row.ends[0].closed_by for row in slot_ledger(machine) if row.member == "w/post"} == {"w/beam"}


SHUT = frozenset({"nut-shut-out", "nuts-would-pass", "mouth-covered"})


@pytest.mark.slow
@pytest.mark.parametrize("nut", ["slide-in", "roll-in"])
@pytest.mark.parametrize("first", ["near", "left", "far", "right", "tags"])
def test_in_any_order_the_nuts_without_a_way_are_those_that_the_order_rules_name(
    nut: str, first: str, tmp_path: Path
) -> None:
    bench = RACK.but(
        (
            'through = ["far:m"], screw = "ISO 7380-1 M5", nut = "slide-in"',
            f'through = ["far:m"], screw = "ISO 7380-1 M5", nut = "{nut}"',
        )
    )
    rest = [step for step in ("near", "left", "far", "right", "tags") if step != first]
    for index, order in enumerate(permutations(rest)):
        machine = bench.ordered("beam", first, *order).machine(tmp_path / str(index))
        found = [one for one in check_order(machine) if one.code in SHUT]
        named = {part for one in found for part in one.parts[: int(one.value or 0)]}
        shut = {piece.part for row in slot_ledger(machine) for piece in row.pieces if not piece.ways}
        assert shut == named, order


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["reed-joints", "larch"])
def test_the_ledger_has_every_slot_nut_of_the_machine_once(folder: str) -> None:
    machine = load_machine(DEMO / folder)
    nuts = {one.host_part for one in machine.fastening.values() if one.host is Host.SLOT_NUT}
    listed = Counter(
        piece.part for row in slot_ledger(machine) for piece in row.pieces if piece.sort == "nut"
    )
    assert listed == Counter(nuts)
    heads = [one.screw for one in machine.fastening.values() if one.head_in_slot]
    listed = Counter(
        piece.part for row in slot_ledger(machine) for piece in row.pieces if piece.sort == "head"
    )
    assert listed == Counter(heads)
