"""How steps are laid out: the lowest way is taken, and what may be higher than a page is measured."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from trysquare.machine.load import load_machine
from trysquare.publish.book_layout import (
    ALL_BESIDE,
    BELOW,
    BESIDE,
    SURE_MM,
    height_mm,
    heights_mm,
    is_long,
    layout_of,
    pairs,
)
from trysquare.publish.book_steps import step_facts
from trysquare.publish.known import Known, known_of

DEMO = Path(__file__).resolve().parents[2] / "demo"
PICTURE = {"svg": "<svg/>", "width": 118.0, "height": 100.0, "says": ""}


@pytest.fixture(scope="module")
def reed() -> Known:
    return known_of(load_machine(DEMO / "reed-joints", []))


def facts(reed: Known, picture: dict[str, Any] | None = None, **changed: Any) -> dict[str, Any]:
    return {**step_facts(reed, reed.machine.steps[0], picture or PICTURE), **changed}


def test_a_short_step_does_its_work_beside_the_picture(reed: Known) -> None:
    step = facts(reed, actions=facts(reed)["actions"][:1], parts=[], nuts=[], reads=[], mistakes=[])
    assert layout_of(step) == BESIDE
    assert heights_mm(step)[BESIDE] == pytest.approx(PICTURE["height"])


def test_a_long_step_does_its_work_below_the_picture(reed: Known) -> None:
    step = facts(reed, actions=facts(reed)["actions"] * 6, reads=[], mistakes=[])
    assert layout_of(step) == BELOW


def test_readings_stand_beside_a_picture_that_is_high_enough(reed: Known) -> None:
    true = next(step for step in reed.machine.steps if step.id == "rail-true")
    step = step_facts(reed, true, {**PICTURE, "height": 160.0})
    assert step["reads"]
    assert layout_of(step) == ALL_BESIDE


def test_a_step_without_a_picture_has_one_way_only(reed: Known) -> None:
    step = {**facts(reed), "picture": None}
    assert layout_of(step) == BELOW
    assert height_mm(step) > 20


def test_only_a_step_that_may_be_higher_than_a_page_begins_one_of_its_own(reed: Known) -> None:
    assert not is_long(facts(reed))
    step = facts(reed, actions=facts(reed)["actions"] * 9)
    assert height_mm(step) > SURE_MM
    assert is_long(step)


def tall(number: int, height_mm: float, *, long: bool = False) -> dict[str, Any]:
    """A step that is only a picture so high."""
    empty: dict[str, Any] = dict.fromkeys(
        ("cautions", "parts", "tools", "supplies", "actions", "reads", "nuts", "wires", "leaves", "mistakes"),
        (),
    )
    picture = {"svg": "", "width": 118.0, "height": height_mm, "says": ""}
    return {**empty, "number": number, "why": "", "long": long, "picture": picture}


def test_two_steps_that_fit_only_with_smaller_pictures_are_a_pair() -> None:
    assert pairs([tall(1, 140.0), tall(2, 140.0)]) == {1}


@pytest.mark.parametrize("heights", [(100.0, 100.0), (220.0, 220.0)])
def test_steps_that_fit_anyway_or_never_are_no_pair(heights: tuple[float, float]) -> None:
    assert pairs([tall(number, high) for number, high in enumerate(heights, 1)]) == frozenset()


def test_no_step_belongs_to_two_pairs_and_a_long_one_to_none() -> None:
    steps = [tall(number, 140.0) for number in range(1, 6)]
    assert pairs(steps) == {1, 3}
    assert pairs([tall(1, 140.0, long=True), *steps[1:]]) == {2, 4}
    assert pairs([{**tall(1, 140.0), "picture": None}, steps[1]]) == frozenset()
