"""The order in which screws are tightened, as the book draws it and a step tells it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.publish.action_words import action_facts
from trysquare.publish.known import Known, known_of
from trysquare.publish.tightening_orders import tightening

REED = Path(__file__).resolve().parents[2] / "demo" / "reed-joints"
STEP = "carriage-plate"


@pytest.fixture(scope="module")
def reed() -> Known:
    return known_of(load_machine(REED, []))


def order_told(known: Known) -> list[str]:
    step = next(one for one in known.machine.steps if one.id == STEP)
    told = (action_facts(known, step, event)["order"] for event in known.events_of[STEP])
    return [words for words in told if words]


def test_four_screws_of_a_plate_are_told_crosswise_in_two_passes(reed: Known) -> None:
    assert order_told(reed) == [
        "crosswise, each screw and then the one opposite, all snug, then once more to final"
    ]


def test_screws_that_were_snug_before_need_no_second_pass(reed: Known) -> None:
    steps = []
    for step in reed.machine.steps:
        actions = list(step.actions)
        if step.id == STEP:
            at = next(index for index, one in enumerate(actions) if one.verb == "tighten")
            actions.insert(at, replace(actions[at], verb="snug"))
        steps.append(replace(step, actions=tuple(actions)))
    told = order_told(known_of(replace(reed.machine, steps=tuple(steps))))
    assert told == ["crosswise, each screw and then the one opposite"]


def test_the_book_draws_rows_and_faces_with_the_turn_of_each_screw(reed: Known) -> None:
    by_joint = {row["joints"][0]: row for row in tightening(reed)}
    assert by_joint["track/rail-screws"]["order"].startswith("6, 5, 7")
    face = by_joint["carriage/block-screws"]
    words = [shape["word"] for shape in face["drawing"]["shapes"] if "word" in shape]
    assert sorted(words) == ["1", "2", "3", "4"]
    assert "the number in each screw is its turn" in face["drawing"]["says"]
