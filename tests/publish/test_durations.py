"""Planned times: from actions, from the papers, from what was measured."""

from __future__ import annotations

from pathlib import Path

import pytest

from small_frame import STEPS, write_frame
from trysquare.ground.errors import ReadingError
from trysquare.machine.load import load_machine
from trysquare.machine.values import VERBS, Machine
from trysquare.publish.durations import Learned, StepDuration, action_times, durations, learned_from


def planned(folder: Path, **files: str) -> dict[str, StepDuration]:
    return {step.step: step for step in durations(load_machine(write_frame(folder, **files)))}


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return load_machine(write_frame(tmp_path))


def seconds(doing: str, per: str) -> float:
    return action_times()[(doing, per)].seconds


def test_every_verb_but_wait_has_a_row_and_every_row_says_that_it_has_no_source() -> None:
    assert {doing for doing, _ in action_times()} == {*VERBS, "begin", "action"} - {"wait"}
    assert {row.source for row in action_times().values()} == {"common practice, no source"}
    assert all(row.seconds > 0 for row in action_times().values())


def test_a_step_takes_what_its_actions_take_and_a_moment_to_begin(machine: Machine) -> None:
    plate = next(step for step in durations(machine) if step.step == "plate")
    by_hand = seconds("begin", "step") + 4 * seconds("action", "action") + seconds("place", "part")
    by_hand += 2 * seconds("start", "screw") + 2 * seconds("tighten", "screw")
    assert (plate.seconds, plate.basis) == (pytest.approx(by_hand), "estimated")


def test_each_nut_and_each_screw_counts(machine: Machine) -> None:
    nuts = durations(machine)[0].actions[1]
    rail = len(machine.joint["frame/rail"].fastenings)
    assert nuts.counts == {"nut": rail + 2}


def test_belts_and_cables_count_by_the_metre(machine: Machine) -> None:
    route = durations(machine)[-1].actions[-1]
    belt, cable = machine.joint["drive/belt"].belt, machine.joint["drive/cable"].cable
    assert belt is not None
    assert cable is not None
    assert route.counts["belt or cable"] == 2
    assert route.counts["metre"] == pytest.approx((belt.length_mm + cable.length_mm) / 1000)


def test_the_papers_minutes_go_before_the_table(tmp_path: Path) -> None:
    steps = STEPS.replace('title = "Plate"', 'title = "Plate"\nminutes = 12')
    plate = planned(tmp_path, steps_toml=steps)["plate"]
    assert (plate.seconds, plate.basis) == (720, "said")


def test_a_wait_lasts_as_long_as_it_says_and_is_not_filmed(tmp_path: Path) -> None:
    steps = STEPS.replace(
        '{ tighten = ["plate"] }', '{ tighten = ["plate"] }, { wait = ["Cures."], minutes = 60 }'
    )
    before = planned(tmp_path / "a")["plate"]
    after = planned(tmp_path / "b", steps_toml=steps)["plate"]
    assert after.seconds - before.seconds == pytest.approx(3600)
    assert after.film_seconds - before.film_seconds == pytest.approx(seconds("action", "action"))


def test_what_the_log_has_measured_goes_before_everything(machine: Machine) -> None:
    learned = Learned(steps={"plate": 100.5}, each={("place", "part"): 1.0})
    found = {step.step: step for step in durations(machine, learned)}
    assert (found["plate"].seconds, found["plate"].basis) == (100.5, "measured")
    usual = {step.step: step for step in durations(machine)}
    faster = usual["frame"].seconds - found["frame"].seconds
    assert faster == pytest.approx(2 * (seconds("place", "part") - 1))


@pytest.mark.parametrize("wrong", [0.0, -1.0, float("nan"), float("inf")])
def test_a_measured_time_is_more_than_nothing(wrong: float) -> None:
    with pytest.raises(ReadingError, match="more than 0"):
        Learned(steps={"plate": wrong})


def test_a_learned_time_is_of_something_the_table_knows() -> None:
    with pytest.raises(ReadingError, match="place per screw"):
        Learned(each={("place", "screw"): 3.0})


def test_a_machine_without_steps_takes_no_time(tmp_path: Path) -> None:
    assert planned(tmp_path, steps_toml="") == {}


def test_three_measured_steps_tell_the_pace_of_the_others(machine: Machine) -> None:
    plan = {step.step: step for step in durations(machine)}
    took = {name: 2 * plan[name].seconds for name in ("nuts", "frame", "rail")}
    found = {step.step: step for step in durations(machine, learned_from(machine, took))}
    assert (found["plate"].seconds, found["plate"].basis) == (
        pytest.approx(2 * plan["plate"].seconds),
        "estimated",
    )
    assert (found["rail"].seconds, found["rail"].basis) == (
        pytest.approx(2 * plan["rail"].seconds),
        "measured",
    )


def test_two_measured_steps_tell_no_pace(machine: Machine) -> None:
    assert learned_from(machine, {"nuts": 9000.0, "frame": 9000.0}).pace == 1.0


def test_one_step_left_open_over_night_does_not_stretch_the_plan(machine: Machine) -> None:
    plan = {step.step: step.seconds for step in durations(machine)}
    took = {name: plan[name] for name in ("nuts", "frame", "plate")} | {"rail": 40_000.0}
    assert learned_from(machine, took).pace == pytest.approx(1.0)


def test_a_wait_is_no_work_and_keeps_its_length_at_any_pace(tmp_path: Path) -> None:
    waits = STEPS.replace(
        '{ grease = ["block"], using = ["grease NLGI 2"] },', '{ wait = ["The glue."], minutes = 60 },'
    )
    machine = load_machine(write_frame(tmp_path, steps_toml=waits))
    plan = {step.step: step for step in durations(machine)}
    took = {name: 3 * plan[name].seconds for name in ("nuts", "frame", "plate")}
    rail = {step.step: step for step in durations(machine, learned_from(machine, took))}["rail"]
    assert rail.waiting_seconds == pytest.approx(plan["rail"].waiting_seconds, abs=30)
    assert rail.seconds - rail.waiting_seconds == pytest.approx(
        3 * (plan["rail"].seconds - plan["rail"].waiting_seconds), rel=0.05
    )


def test_what_is_no_time_or_of_no_step_teaches_nothing(machine: Machine) -> None:
    learned = learned_from(machine, {"gone": 5.0, "nuts": -1.0, "frame": float("nan"), "rail": 60.0})
    assert learned.steps == {"rail": 60.0}


@pytest.mark.parametrize("wrong", [0.0, -1.0, float("inf"), float("nan")])
def test_a_pace_is_more_than_nothing(wrong: float) -> None:
    with pytest.raises(ReadingError):
        Learned(pace=wrong)
