import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Action, Machine, Step
from trysquare.sequence.check import check_order
from trysquare.sequence.mend import Mended, mend_order
from trysquare.sequence.reach import Reach
from trysquare.sequence.rehearsal import is_stop

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="module")
def reed() -> Machine:
    return load_machine(DEMO / "reed-joints")


@pytest.fixture(scope="module")
def reach(reed: Machine) -> Reach:
    return Reach(reed)


def changed(
    machine: Machine, step: str, change: Callable[[tuple[Action, ...]], tuple[Action, ...]]
) -> Machine:
    steps = tuple(
        replace(one, actions=change(one.actions)) if one.id == step else one for one in machine.steps
    )
    return replace(machine, steps=steps)


def without(verb: str) -> Callable[[tuple[Action, ...]], tuple[Action, ...]]:
    return lambda actions: tuple(action for action in actions if action.verb != verb)


def is_clean(machine: Machine, mended: Mended, reach: Reach) -> bool:
    return not [one for one in check_order(replace(machine, steps=mended.steps), reach) if is_stop(one)]


def test_an_order_without_faults_is_left_alone(reed: Machine, reach: Reach) -> None:
    mended = mend_order(reed, reach=reach)
    assert mended.steps == reed.steps
    assert mended.edits == ()


def test_a_forgotten_tighten_is_added_in_the_step_that_left_it(reed: Machine, reach: Reach) -> None:
    mended = mend_order(changed(reed, "left-stop", without("tighten")), reach=reach)
    assert [(edit.step, edit.says) for edit in mended.edits] == [
        ("left-stop", "Added: tighten track/left-stop-screw, at the end of the step.")
    ]
    assert mended.left == ()


def test_a_forgotten_reading_is_added_before_the_screws_are_final(reed: Machine, reach: Reach) -> None:
    mended = mend_order(changed(reed, "rail-true", without("read")), reach=reach)
    assert [edit.says for edit in mended.edits] == [
        "Added: read rail-parallel, before track/rail-screws is tightened."
    ]
    assert is_clean(reed, mended, reach)


def test_a_forgotten_part_comes_where_it_is_first_wanted(reed: Machine, reach: Reach) -> None:
    mended = mend_order(changed(reed, "rail", without("place")), reach=reach)
    assert [(edit.step, edit.says) for edit in mended.edits] == [
        ("rail", "Added: place track/rail, before start track/rail-screws.")
    ]


def test_nuts_that_come_too_late_go_in_at_the_last_moment_that_is_left(reed: Machine, reach: Reach) -> None:
    # The right stop's nut is forgotten where it would still go in, and both end plates shut the slot first.
    nuts = changed(
        reed,
        "nuts",
        lambda actions: (replace(actions[0], joints=("track/rail-screws", "track/left-stop-screw")),),
    )
    steps = list(nuts.steps)
    ends = next(step for step in steps if step.id == "ends")
    block = next(step for step in steps if step.id == "block")
    steps.remove(ends)
    steps.insert(steps.index(block), ends)
    broken = replace(nuts, steps=tuple(steps))
    assert "nut-shut-out" in {one.code for one in check_order(broken, reach)}
    mended = mend_order(broken, reach=reach)
    assert mended.left == ()
    assert mended.edits[0].mends == "nut-shut-out"
    assert "insert track/right-stop-screw" in mended.edits[0].says
    assert mended.edits[0].step == "ends"


def test_a_carriage_without_its_right_stop_is_held(reed: Machine, reach: Reach) -> None:
    late = changed(reed, "block", lambda actions: (actions[0],))
    stop = next(step for step in reed.steps if step.id == "block").actions[2:]
    last = Step(id="stop", title="Right stop", unit="track", actions=stop)
    broken = changed(replace(late, steps=(*late.steps, last)), "run", without("release"))
    assert "carriage-can-run-off" in {one.code for one in check_order(broken, reach)}
    mended = mend_order(broken, reach=reach)
    assert mended.left == ()
    assert "Added: hold carriage/block with tape." in [edit.says for edit in mended.edits]


def test_a_release_of_what_nobody_holds_is_left_out_when_it_stops_the_build(
    reed: Machine, reach: Reach
) -> None:
    broken = changed(reed, "block", without("hold"))
    mended = mend_order(broken, reach=reach)
    assert is_clean(reed, mended, reach)


@pytest.mark.slow
def test_every_single_action_moved_anywhere_is_mended_with_few_edits(reed: Machine, reach: Reach) -> None:
    chance = random.Random(3)
    most = 0
    for _ in range(40):
        steps = [list(step.actions) for step in reed.steps]
        source = chance.choice(steps)
        action = source.pop(chance.randrange(len(source)))
        target = chance.choice(steps)
        target.insert(chance.randint(0, len(target)), action)
        broken = replace(
            reed,
            steps=tuple(
                replace(step, actions=tuple(new)) for step, new in zip(reed.steps, steps, strict=True)
            ),
        )
        mended = mend_order(broken, reach=reach)
        assert mended.left == (), (action, mended.edits)
        most = max(most, len(mended.edits))
    assert most <= 3


def test_a_stop_leaves_the_rest_unmended_and_says_so(reed: Machine, reach: Reach) -> None:
    mended = mend_order(changed(reed, "left-stop", without("tighten")), reach=reach, stop=lambda: True)
    assert mended.stopped
    assert [one.code for one in mended.left] == ["left-snug"]
