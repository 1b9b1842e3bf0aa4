"""The log against the machine's own order."""

from __future__ import annotations

import pytest

from log_entries import logged, said
from small_frame import STEPS, UNIT, write_frame
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.record.events import Event
from trysquare.record.replay import replay
from trysquare.record.replay_sequence import order_faults, state_by_log, turned
from trysquare.sequence.state import Tightness


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    """The small frame, whose ends must be read, and whose rail is tightened in a stated order."""
    unit = UNIT.replace('screw = "ISO 7380-1 M5" }', 'screw = "ISO 7380-1 M5", align = "corner" }')
    steps = STEPS.replace(
        '{ tighten = ["rail"] }', '{ tighten = ["rail"], order = ["rail.2", "rail.1", "rail.3"] }'
    )
    folder = tmp_path_factory.mktemp("machine") / "frame"
    return load_machine(write_frame(folder, units__frame_toml=unit, steps_toml=steps))


def faults(machine: Machine, *events: Event) -> list[tuple[str, str | None, str]]:
    return [(one.code, one.step, one.joint) for one in order_faults(machine, replay(logged(events)))]


READ = said("reading", "frame", of="corner", value=0.1, unit="mm", id="r")


def test_the_state_after_the_steps_that_are_done(machine: Machine) -> None:
    built = state_by_log(machine, replay(logged([said("done", "nuts"), said("done", "frame")])))
    assert "frame/left" in built.present
    assert "frame/rail" not in built.present
    assert built.tightness("frame/ends.1") is Tightness.FINAL
    assert built.tightness("frame/rail.1") is Tightness.ABSENT


def test_a_step_that_is_taken_up_again_is_not_in_the_state(machine: Machine) -> None:
    events = [said("done", "nuts"), said("done", "frame"), said("reopened", "frame")]
    assert "frame/left" not in state_by_log(machine, replay(logged(events))).present


def test_what_was_logged_of_a_screw_goes_before_what_its_step_says(machine: Machine) -> None:
    events = [
        said("torqued", "frame", of=["frame/ends"], state="snug", id="s"),
        said("torqued", "frame", of=["frame/ends.1"], state="final", newton_metre=4.5, id="f"),
        said("done", "frame", id="d"),
    ]
    found = turned(machine, replay(logged(events)))
    assert found["frame/ends.1"].said.id == "f"
    assert found["frame/ends.1"].newton_metre == 4.5
    assert (found["frame/ends.2"].said.id, found["frame/ends.2"].level) == ("d", Tightness.FINAL)
    assert "frame/rail.1" not in found


def test_a_joint_read_before_it_is_tightened_is_in_order(machine: Machine) -> None:
    assert faults(machine, said("done", "nuts"), READ, said("done", "frame")) == []


def test_a_joint_that_was_never_read_is_named(machine: Machine) -> None:
    done = [said("done", "nuts"), said("done", "frame")]
    assert faults(machine, *done) == [("unread", "frame", "frame/ends")]
    aside = said("reading-set-aside", "frame", of="r", why="chip")
    assert faults(machine, done[0], READ, aside, done[1]) == [("unread", "frame", "frame/ends")]


def test_a_joint_that_was_read_too_late_is_named(machine: Machine) -> None:
    tight = said("torqued", "frame", of=["frame/ends"], state="final")
    assert faults(machine, said("done", "nuts"), tight, READ, said("done", "frame")) == [
        ("read-too-late", "frame", "frame/ends")
    ]


def test_snug_is_not_final(machine: Machine) -> None:
    assert faults(machine, said("torqued", "frame", of=["frame/ends"], state="snug")) == []


def test_steps_that_were_left_out_are_named_once(machine: Machine) -> None:
    events = [said("done", "plate"), said("done", "drive"), said("done", "nuts")]
    assert faults(machine, *events) == [("step-left-out", "plate", "")]
    (fault,) = order_faults(machine, replay(logged(events)))
    assert fault.says == "plate was done before nuts and 2 more."


def test_screws_tightened_in_another_order_than_the_papers_are_named(machine: Machine) -> None:
    def tighten(*screws: int) -> list[Event]:
        return [
            said("torqued", "rail", of=[f"frame/rail.{screw}"], state="final", minutes=screw)
            for screw in screws
        ]

    assert faults(machine, *tighten(2, 1, 3)) == []
    assert faults(machine, *tighten(2, 3)) == []
    assert faults(machine, *tighten(1, 2, 3)) == [("screw-order", "rail", "frame/rail")]


def test_steps_and_joints_of_another_machine_do_no_harm(machine: Machine) -> None:
    events = [said("done", "other"), said("torqued", "other", of=["other/joint"], state="final")]
    assert faults(machine, *events) == []
    assert turned(machine, replay(logged(events))) == {}
