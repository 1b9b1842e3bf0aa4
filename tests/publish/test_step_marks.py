"""Sizes on a picture: where they have room, with their words clear of their lines; and places to look at."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from trysquare.machine.load import load_machine
from trysquare.publish.book_steps import mistakes
from trysquare.publish.callouts import Paper
from trysquare.publish.known import Known, known_of
from trysquare.publish.look_marks import MOST_LOOKS, is_look, look_labels, seen_looks
from trysquare.publish.picture_window import Window
from trysquare.publish.step_marks import sizes
from trysquare.publish.step_picture import step_picture
from trysquare.publish.step_scene import StepScenes
from trysquare.publish.step_shown import Look, Setting
from trysquare.solid.drawing import ISOMETRIC
from trysquare.solid.shapes import solid_of

DEMO = Path(__file__).resolve().parents[2] / "demo"
WINDOW = Window(low=np.array([-60.0, -60.0]), high=np.array([60.0, 60.0]), left=0.0, top=0.0, scale=1.0)


@pytest.fixture(scope="module")
def reed() -> Known:
    return known_of(load_machine(DEMO / "reed-joints", []))


def setting(value_mm: float) -> Setting:
    """A size along x from the origin, on a face that looks up."""
    return Setting(
        datum_mm=np.zeros(3), to_mm=np.array([value_mm, 0.0, 0.0]), out=np.array([0.0, 0.0, 1.0]),
        value_mm=value_mm, member="beam",
    )  # fmt: skip


def paper() -> Paper:
    return Paper(0.0, 0.0, 120.0, 120.0)


@pytest.mark.parametrize("value_mm", [6.0, 12.0, 40.0])
def test_the_words_of_a_size_never_lie_over_its_arrows(value_mm: float) -> None:
    _, lines = sizes([setting(value_mm)], ISOMETRIC, WINDOW, paper())
    box = next(each for each in lines if len(each) == 5)
    low, high = box.min(axis=0), box.max(axis=0)
    dimension = lines[2]
    for end in dimension:
        assert (end < low).any() or (end > high).any()


def test_a_size_stands_on_the_side_that_is_free() -> None:
    taken = paper()
    _, free = sizes([setting(40.0)], ISOMETRIC, WINDOW, paper())
    taken.take_lines(free)
    _, lines = sizes([setting(40.0)], ISOMETRIC, WINDOW, taken)
    assert not np.allclose(lines[2], free[2])


def test_two_sizes_at_one_place_are_not_drawn_over_each_other() -> None:
    _, lines = sizes([setting(40.0), setting(40.0)], ISOMETRIC, WINDOW, paper())
    dimensions = [lines[at] for at in (2, len(lines) // 2 + 2)]
    assert not np.allclose(*dimensions)


def test_a_size_that_cannot_be_seen_is_not_drawn() -> None:
    rows, lines = sizes([setting(0.2)], ISOMETRIC, WINDOW, paper())
    assert (rows, lines) == ([], [])


def looks(count: int) -> list[Look]:
    points = np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0]])
    return [Look(number=number, part="p", at_mm=points + number) for number in range(1, count + 1)]


def test_a_look_points_only_at_what_is_seen() -> None:
    found = seen_looks(looks(2), np.array([False, True, False, False]))
    assert [look.number for look in found] == [1]
    assert found[0].at_mm.tolist() == [[11.0, 1.0, 1.0]]


def test_a_picture_has_a_few_looks_at_most_and_none_outside_its_window() -> None:
    labels = look_labels(looks(9), ISOMETRIC, WINDOW)
    assert len(labels) == MOST_LOOKS
    assert all(is_look(label.name) for label in labels)
    away = [Look(number=1, part="p", at_mm=np.array([[900.0, 0.0, 0.0]]))]
    assert look_labels(away, ISOMETRIC, WINDOW) == []


def test_a_pictures_looks_are_the_mistakes_of_its_page(reed: Known) -> None:
    step = next(step for step in reed.machine.steps if step.title == "End plates")
    picture = step_picture(reed, step, StepScenes(reed).of(step.id), ISOMETRIC)
    assert picture is not None
    numbers = {int(number) for number in re.findall(r">look (\d)<", picture.svg)}
    assert numbers
    assert numbers <= {row["number"] for row in mistakes(reed, step)}


def test_what_tells_a_wrong_way_is_at_a_place_on_its_part(reed: Known) -> None:
    ways = [way for way in reed.ways if way.tells_at_mm]
    assert ways
    for way in ways:
        part = reed.machine.part[way.part]
        solid = solid_of(part.type, reed.machine.folder)
        own = part.placement.back(np.array(way.tells_at_mm))
        assert (own >= solid.low_mm - 0.5).all()
        assert (own <= solid.high_mm + 0.5).all()
