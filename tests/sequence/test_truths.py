"""What the trade's order asks of a machine, read off its characteristics and joints.

Whatever is expected here is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.operations import work_of
from trysquare.sequence.reach import Reach
from trysquare.sequence.truths import Truths
from trysquare.sequence.walk import Walk
from trysquare.sequence.wishes import HANDY, wishes_of

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="module")
def larch() -> Machine:
    return replace(load_machine(DEMO / "larch"), steps=())


@pytest.fixture(scope="module")
def truths(larch: Machine) -> Truths:
    return Truths(Walk(larch, Reach(larch)))


@pytest.fixture(scope="module")
def pairs(truths: Truths) -> set[tuple[str, str]]:
    """Every wish as two texts: what comes first, and what after it."""
    return {(" ".join(one.first), " ".join(one.after)) for one in wishes_of(truths)}


@pytest.mark.slow
def test_the_frame_is_what_stands_still_and_is_joined_to_itself(truths: Truths) -> None:
    assert [one.id for one in truths.frame] == [
        "base-square", "base-twist", "uprights-square", "carry-square", "top-square", "posts-parallel",
    ]  # fmt: skip
    assert {one.id for one in truths.base()} == {"base-square", "base-twist"}


def test_a_characteristic_stands_on_those_whose_parts_its_joints_hold_on_to(truths: Truths) -> None:
    under = {name: set(others) for name, others in truths.under.items()}
    assert under["uprights-square"] == {"base-square", "base-twist"}
    assert under["carry-square"] == {"uprights-square"}
    assert under["top-square"] == {"uprights-square"}
    assert under["posts-parallel"] == {"base-square", "base-twist", "carry-square"}


def test_a_characteristic_that_no_joint_names_is_about_what_ties_its_parts(truths: Truths) -> None:
    about = {name: [joint.id for joint in joints] for name, joints in truths.about.items()}
    assert about["base-twist"] == ["base/corners"]  # not the deck's beams, which lie beside
    assert about["left-rail-offset"] == ["y-rails/left-rail"]
    assert about["carriage-free"] == ["toolhead/carriage"]
    assert about["earth-path"] == []


@pytest.mark.parametrize(
    ("first", "after"),
    [
        ("snug base/corners", "read base-twist"),
        ("read base-twist", "tighten base/corners"),
        ("tighten base/corners", "join uprights/feet"),
        ("tighten uprights/feet", "read carry-square"),
        ("tighten carry/carry-ends", "start y-rails/left-rail"),
        ("read base-twist", "start z-rails/left-rail"),
        ("tighten base/deck", "start y-rails/left-rail"),
        ("tighten y-rails/left-rail", "join gantry/left-plate"),
        ("tighten y-rails/stops", "join gantry/left-plate"),
        ("read gantry-free", "route motion/belt-a"),
        ("tighten motion/left-motor-plate", "route motion/belt-a"),
        ("route motion/belt-b", "again gantry-square"),
        ("again gantry-square", "join panels/sides"),
        ("route motion/belt-a", "read belts-equal"),
        ("tighten electronics/supply", "join electronics/plate-back"),
    ],
)
def test_the_trades_order_is_wished(first: str, after: str, pairs: set[tuple[str, str]]) -> None:
    assert (first, after) in pairs


def test_no_wish_is_turned_round(pairs: set[tuple[str, str]]) -> None:
    assert not {(after, first) for first, after in pairs} & pairs


def test_the_clamps_of_an_open_belt_are_closed_with_the_belt_in_them(pairs: set[tuple[str, str]]) -> None:
    assert ("tighten toolhead/left-clamp", "route motion/belt-a") not in pairs
    assert ("tighten toolhead/left-clamp", "again gantry-square") in pairs


def test_what_is_only_asked_whether_it_can_be_done_is_asked_without_wishes(larch: Machine) -> None:
    reach = Reach(larch)
    plain, whole = work_of(larch, reach), work_of(larch, reach, trade=True)
    assert len(plain.soft) < len(whole.soft)
    assert min(plain.soft.values()) > HANDY
    assert [one.of for one in whole.operations if one.sort == "again"] == ["gantry-square"]
    assert not [one for one in plain.operations if one.sort == "again"]


def test_a_machine_without_characteristics_wishes_for_nothing_but_handiness() -> None:
    reed = load_machine(DEMO / "reed-joints")
    bare = replace(reed, steps=(), characteristics=())
    assert {one.weight for one in wishes_of(Truths(Walk(bare)))} <= {HANDY}
