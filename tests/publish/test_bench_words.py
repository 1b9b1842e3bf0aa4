"""What a step says of itself: which way a rail lies, the grub screw on its flat, the teeth of a belt."""

from __future__ import annotations

from dataclasses import replace

import pytest

from command_line import DEMO
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.publish.bench_words import bench_words, teeth_between_clamps
from trysquare.sequence.state import events_of


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(DEMO / "larch", [])


def told(machine: Machine, step_id: str) -> list[str]:
    step = next(one for one in machine.steps if one.id == step_id)
    events = [event for event in events_of(machine) if event.step_id == step_id]
    return [words for event in events for words in bench_words(machine, step, event)]


def test_the_first_grub_screw_of_a_pulley_goes_on_the_flat_and_is_told_once(larch: Machine) -> None:
    (said,) = told(larch, "pulleys")
    assert said.startswith(
        "left-pulley, right-pulley: the first grub screw on the flat: turn the shaft until"
    )


def test_a_round_shaft_has_no_flat_to_look_for(larch: Machine) -> None:
    motor = larch.part["motion/left-motor"]
    round_shafts = tuple(replace(shaft, flat=False) for shaft in motor.type.shafts)
    types = replace(motor.type, shafts=round_shafts)
    placed = tuple(
        replace(one, type=types) if one.type.id == motor.type.id else one for one in larch.placed
    )  # fmt: skip
    assert told(replace(larch, placed=placed), "pulleys") == []


def test_the_belts_of_a_pair_have_one_count_of_teeth_and_it_is_told_where_they_are_laid(
    larch: Machine,
) -> None:
    counted, pair = told(larch, "belts")
    # Source: the belts' length from clamp to clamp by `show`, 1306.0 mm, at 2 mm a tooth.
    assert counted == ("Count the teeth from clamp to clamp before the belt goes in: belt-a 653, belt-b 653.")
    assert "the same count in both, for one tooth is 2 mm of racking" in pair


def test_a_pair_that_differs_by_less_than_half_a_tooth_is_counted_alike(larch: Machine) -> None:
    def with_teeth(a: float, b: float) -> tuple[int, int]:
        runs = {"motion/belt-a": a, "motion/belt-b": b}
        joints = tuple(
            replace(joint, belt=replace(joint.belt, teeth=runs[joint.id]))
            if joint.belt is not None and joint.id in runs
            else joint
            for joint in larch.joints
        )
        machine = replace(larch, joints=joints)
        one, two = (machine.joint[name].belt for name in runs)
        assert one is not None
        assert two is not None
        return teeth_between_clamps(machine, one), teeth_between_clamps(machine, two)

    assert with_teeth(652.4, 652.6) == (652, 652)
    assert with_teeth(652.0, 654.0) == (652, 654)
