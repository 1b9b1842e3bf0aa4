"""Episodes end where the work can be left, and as near to the wished length as they can."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from small_frame import STEPS, write_frame
from trysquare.ground.errors import ReadingError
from trysquare.machine.load import load_machine
from trysquare.publish.durations import StepDuration
from trysquare.publish.episodes import Stop, deviation, episodes, stops_of


def step(name: str, minutes: float, unit: str = "frame") -> StepDuration:
    return StepDuration(
        step=name, title=name, unit=unit, seconds=minutes * 60, basis="said", begin_seconds=1, actions=()
    )


def stop(name: str, *unsafe: str, cost: float = 0.0) -> Stop:
    weak = (("a drawback", cost),) if cost else ()
    return Stop(step=name, next_step="", unsafe=unsafe, weak=weak, unit_ends=not cost)


def cuts(planned: Sequence[StepDuration], stops: Sequence[Stop], minutes: float) -> list[tuple[str, ...]]:
    return [one.steps for one in episodes(planned, stops, minutes * 60)]


def test_the_order_is_cut_near_the_wished_length() -> None:
    planned = [step(name, 10) for name in "abcdef"]
    assert cuts(planned, [stop(name) for name in "abcdef"], 20) == [("a", "b"), ("c", "d"), ("e", "f")]


def test_nothing_is_cut_where_the_work_cannot_be_left() -> None:
    planned = [step(name, 10) for name in "abcd"]
    stops = [stop("a"), stop("b", "held by hand only: x"), stop("c"), stop("d")]
    found = episodes(planned, stops, 20 * 60)
    assert "b" not in {one.steps[-1] for one in found}
    assert ("b", "held by hand only: x") in found[0].passed


def test_with_no_safe_stop_there_is_one_long_episode() -> None:
    planned = [step(name, 10) for name in "abc"]
    assert cuts(planned, [stop(name, "unsafe") for name in "abc"], 5) == [("a", "b", "c")]


def test_a_unit_s_end_is_worth_a_small_deviation() -> None:
    planned = [step("a", 9), step("b", 1), step("c", 10)]
    assert cuts(planned, [stop("a"), stop("b", cost=0.15), stop("c")], 10) == [("a",), ("b", "c")]


def test_no_steps_give_no_episodes() -> None:
    assert episodes((), (), 60) == ()


@pytest.mark.parametrize("wrong", [0.0, -1.0, float("nan"), float("inf")])
def test_a_length_is_more_than_nothing(wrong: float) -> None:
    with pytest.raises(ReadingError, match="more than 0"):
        episodes([step("a", 1)], [stop("a")], wrong)


@st.composite
def orders(draw: st.DrawFn) -> tuple[list[StepDuration], list[Stop], float]:
    count = draw(st.integers(1, 9))
    planned = [step(f"s{number}", draw(st.integers(1, 90))) for number in range(count)]
    stops = [
        stop(one.step, *(["unsafe"] if draw(st.booleans()) else []), cost=draw(st.integers(0, 20)) / 20)
        for one in planned
    ]
    return planned, stops, float(draw(st.integers(1, 200)))


def cost(
    planned: Sequence[StepDuration], stops: Sequence[Stop], ends: Sequence[int], minutes: float
) -> float:
    total, begin = 0.0, 0
    for end in (*ends, len(planned)):
        total += deviation(sum(one.seconds for one in planned[begin:end]), minutes * 60)
        total += stops[end - 1].cost if end < len(planned) else 0.0
        begin = end
    return total


@given(orders())
def test_no_other_safe_cuts_are_better(order: tuple[list[StepDuration], list[Stop], float]) -> None:
    planned, stops, minutes = order
    safe = [end for end in range(1, len(planned)) if not stops[end - 1].unsafe]
    least = min(
        cost(planned, stops, ends, minutes)
        for number in range(len(safe) + 1)
        for ends in itertools.combinations(safe, number)
    )
    found = episodes(planned, stops, minutes * 60)
    ends = list(itertools.accumulate(len(one.steps) for one in found))[:-1]
    assert set(ends) <= set(safe)
    assert cost(planned, stops, ends, minutes) == pytest.approx(least, abs=1e-6)
    assert [name for one in found for name in one.steps] == [one.step for one in planned]


# --- what makes a stop unsafe


def unsafe(folder: Path, steps: str, name: str) -> str:
    machine = load_machine(write_frame(folder, steps_toml=steps))
    return "; ".join(next(one for one in stops_of(machine) if one.step == name).unsafe)


def test_a_joint_that_is_only_started_cannot_be_left(tmp_path: Path) -> None:
    steps = STEPS.replace('  { tighten = ["rail"] },\n', "")
    assert "started but not snug: frame/rail" in unsafe(tmp_path, steps, "rail")


def test_what_is_held_by_hand_cannot_be_left_and_what_is_clamped_can(tmp_path: Path) -> None:
    by_hand = STEPS.replace('{ place = ["plate"] }', '{ place = ["plate"] }, { hold = ["plate"] }')
    clamped = by_hand.replace('{ hold = ["plate"] }', '{ hold = ["plate"], means = "clamp" }')
    assert "held by hand only: frame/plate" in unsafe(tmp_path / "a", by_hand, "plate")
    assert "held by hand" not in unsafe(tmp_path / "b", clamped, "plate")


def test_a_carriage_that_can_run_off_cannot_be_left(tmp_path: Path) -> None:
    assert "frame/block can run off" in unsafe(tmp_path, STEPS, "rail")


def test_a_carriage_is_asked_for_at_every_stop_anew(tmp_path: Path) -> None:
    assert "frame/block can run off" in unsafe(tmp_path, STEPS, "plate")


def test_a_wait_that_runs_cannot_be_left(tmp_path: Path) -> None:
    steps = STEPS.replace(
        'actions = [ { place = ["plate"] }',
        'actions = [ { wait = ["Cures."], minutes = 5 }, { place = ["plate"] }',
    )
    assert "already runs" in unsafe(tmp_path, steps, "rail")


def test_a_finished_step_with_everything_final_is_safe(tmp_path: Path) -> None:
    assert unsafe(tmp_path, STEPS, "nuts") == ""
