"""Wires from pin to pin in the report on wiring."""

from __future__ import annotations

from dataclasses import replace

from command_line import DEMO
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.tuning.report import Part
from trysquare.tuning.wiring import figures_of, runs_of
from trysquare.tuning.wiring_pins import ends_part

PAPERS = DEMO / "mistakes"


def told(machine: Machine) -> Part | None:
    return ends_part(machine, figures_of(runs_of(machine)))


def test_a_machine_whose_maps_agree_from_end_to_end_is_good() -> None:
    part = told(load_machine(DEMO / "larch", []))
    assert part is not None
    assert part.verdict == "good"
    assert not [row for row in part.tables[0].rows if row[-1]]


def test_a_crossed_plug_is_bad_and_only_its_own_row_is_marked() -> None:
    part = told(load_machine(DEMO / "larch", [PAPERS / "28-coil-pairs-crossed.toml"]))
    assert part is not None
    assert part.verdict == "bad"
    assert "Swap B1 red and A2 green" in part.says[0]
    assert [row[0] for row in part.tables[0].rows if row[-1] == "crossed"] == ["Motor A"]


def test_a_motor_without_a_map_of_its_plug_cannot_be_told() -> None:
    machine = load_machine(DEMO / "larch", [])
    joints = tuple(
        replace(one, cable=replace(one.cable, pins=()))
        if one.cable is not None and one.cable.label == "Motor B"
        else one
        for one in machine.joints
    )
    part = told(replace(machine, joints=joints))
    assert part is not None
    assert part.verdict == "cannot tell"
    assert part.says[0].startswith("Motor B: write pins of the run")


def test_a_machine_of_which_no_part_says_its_pins_has_no_such_part() -> None:
    machine = load_machine(DEMO / "larch", [])
    placed = tuple(replace(one, type=replace(one.type, pins={})) for one in machine.placed)
    assert told(replace(machine, placed=placed)) is None
