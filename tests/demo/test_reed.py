"""The small demo machine, once as a bare list and once with its joints and steps."""

from __future__ import annotations

import shutil
from collections import Counter
from pathlib import Path

import pytest

from trysquare.fit.check import check_fit
from trysquare.ground.findings import Weight
from trysquare.machine.load import load_machine
from trysquare.machine.stack import fits, stack_of
from trysquare.machine.values import Host, Machine
from trysquare.sequence.check import check_order
from trysquare.solid.overlap import overlaps
from trysquare.stock.need import need

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="module")
def listed() -> Machine:
    return load_machine(DEMO / "reed")


@pytest.fixture(scope="module")
def jointed() -> Machine:
    return load_machine(DEMO / "reed-joints")


@pytest.mark.parametrize("folder", ["reed", "reed-joints"])
def test_reading_finds_nothing_that_stops_the_build(folder: str) -> None:
    assert [one for one in load_machine(DEMO / folder).findings if one.weight is Weight.STOP] == []


def test_the_list_agrees_with_what_the_joints_need(listed: Machine, jointed: Machine) -> None:
    assert dict(listed.listed) == Counter(part.type.id for part in jointed.placed)
    one, other = ({line.part: line.pieces for line in need(each).lines} for each in (listed, jointed))
    assert one == other


def test_both_folders_say_the_same_of_the_base(listed: Machine, jointed: Machine) -> None:
    one, other = listed.types["base"], jointed.types["base"]
    assert (one.profile, one.length_mm, one.tapped_ends) == (
        other.profile,
        other.length_mm,
        other.tapped_ends,
    )


def test_it_is_a_small_machine(jointed: Machine) -> None:
    structural = [part for part in jointed.placed if not part.joint]
    assert 12 <= len(structural) <= 20
    assert 40 <= len(jointed.placed) <= 60


def test_no_two_parts_cross(jointed: Machine) -> None:
    assert overlaps(jointed.placed, jointed.folder) == ()


def test_everything_fits(jointed: Machine) -> None:
    assert [one for one in check_fit(jointed) if one.weight is Weight.STOP] == []


def test_every_screw_gives_the_thread_its_host_wants(jointed: Machine) -> None:
    for screw in jointed.fastening.values():
        assert fits(stack_of(screw), screw.screw_type.length_mm), screw.id


def test_the_rail_takes_a_slide_in_nut_under_each_hole(jointed: Machine) -> None:
    rail = jointed.part["track/rail"].type
    joint = jointed.joint["track/rail-screws"]
    assert len(joint.fastenings) == len(rail.holes) == 11
    assert {screw.slot_face for screw in joint.fastenings} == {"+z"}
    assert min(screw.slot_at_mm for screw in joint.fastenings) == pytest.approx(400 - 50 - 270 + 10)


def test_the_travel_ends_where_the_block_meets_the_stops(jointed: Machine) -> None:
    axis = jointed.axes[0]
    block = jointed.part["carriage/block"].placement.origin_mm[0]
    stops = [jointed.part[f"track/stop-{side}"].placement.origin_mm[0] for side in ("left", "right")]
    half = 35 / 2
    assert block - axis.at_mm - half == pytest.approx(stops[0])
    assert block + axis.travel_mm - axis.at_mm + half == pytest.approx(stops[1])


def test_the_erratum_gives_the_end_plates_longer_screws(jointed: Machine) -> None:
    joint = jointed.joint["track/left-end-screws"]
    assert {screw.screw_type.designation for screw in joint.fastenings} == {"ISO 10642 M5x16"}
    assert {(screw.host, screw.host_part) for screw in joint.fastenings} == {(Host.TAPPED, "track/base")}
    erratum = [saying for saying in jointed.sayings if saying.paper == "erratum-1"]
    assert len(erratum) == 2
    assert all(saying.stands for saying in erratum)


def test_without_the_erratum_the_end_plates_screws_are_too_short(tmp_path: Path) -> None:
    shutil.copytree(DEMO / "reed-joints", tmp_path / "reed")
    (tmp_path / "reed" / "papers" / "erratum-1.toml").unlink()
    found = [one for one in check_fit(load_machine(tmp_path / "reed")) if one.weight is Weight.STOP]
    assert {(one.code, one.joint) for one in found} == {
        ("screw-too-short", "track/left-end-screws"),
        ("screw-too-short", "track/right-end-screws"),
    }


def test_every_joint_is_tightened_once_and_every_part_placed_once(jointed: Machine) -> None:
    actions = [action for step in jointed.steps for action in step.actions]
    tightened = Counter(joint for action in actions if action.verb == "tighten" for joint in action.joints)
    placed = Counter(part for action in actions if action.verb == "place" for part in action.parts)
    assert tightened == Counter(joint.id for joint in jointed.joints)
    assert placed == Counter(part.id for part in jointed.placed if not part.joint)


def test_end_plates_come_after_every_nut_that_slides_in(jointed: Machine) -> None:
    order = [(action.verb, action) for step in jointed.steps for action in step.actions]
    last_nut = max(index for index, (verb, _) in enumerate(order) if verb == "insert")
    ends = [index for index, (verb, action) in enumerate(order) if "track/end-left" in action.parts]
    assert last_nut < min(ends)


def test_reading_twice_gives_the_same_machine(jointed: Machine) -> None:
    again = load_machine(DEMO / "reed-joints")
    assert again.digest == jointed.digest
    assert [(part.id, part.type.id) for part in again.placed] == [
        (part.id, part.type.id) for part in jointed.placed
    ]
    for one, other in zip(again.placed, jointed.placed, strict=True):
        assert (one.placement.matrix() == other.placement.matrix()).all()
    assert again.sayings == jointed.sayings
    assert [step.id for step in again.steps] == [step.id for step in jointed.steps]


def test_the_order_of_the_steps_holds(jointed: Machine) -> None:
    assert [one for one in check_order(jointed) if one.weight is Weight.STOP] == []
