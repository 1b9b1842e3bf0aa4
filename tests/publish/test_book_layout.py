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
