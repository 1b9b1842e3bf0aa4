"""From an assembly to joints: demos given out as STEP come back with the same screws, slots and rides."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from intake.taken import (
    ASKEW,
    FASTENERS,
    Back,
    assembly_of,
    back,
    bolted_plates,
    counted,
    member_holes,
    members,
    nameless_and_turned,
    rides,
    scattered,
    screws,
    without,
    written,
)
from trysquare.fit.check import check_fit
from trysquare.intake.bodies import Sort
from trysquare.intake.rulings import Memory
from trysquare.intake.taken_in import taken_in
from trysquare.intake.tried import moved_mm
from trysquare.machine.load import load_machine

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def reed(tmp_path_factory: pytest.TempPathFactory) -> Back:
    return back("reed-joints", tmp_path_factory.mktemp("reed"))


@pytest.fixture(scope="module")
def larch(tmp_path_factory: pytest.TempPathFactory) -> Back:
    return back("larch", tmp_path_factory.mktemp("larch"))


@pytest.fixture(scope="module")
def askew(tmp_path_factory: pytest.TempPathFactory) -> Back:
    return back("reed-joints", tmp_path_factory.mktemp("askew"), nameless_and_turned)


def test_the_slider_comes_back_screw_by_screw(reed: Back) -> None:
    assert screws(reed, reed.machine) == screws(reed, reed.demo)
    assert counted(reed.machine) == counted(reed.demo)
    assert members(reed, reed.machine) == members(reed, reed.demo)
    assert rides(reed, reed.machine) == rides(reed, reed.demo)
    assert reed.taken.result.reasons == {}


def test_the_sliders_joints_are_said_by_recipe(reed: Back) -> None:
    recipes = Counter(joint.recipe for joint in reed.machine.joints)
    assert recipes == {"through-bolt": 4, "plate-on-slots": 4, "block-on-rail": 1, "rail-on-slot": 1}
    assert {joint.unit for joint in reed.machine.joints} == {"carriage", "track"}


def test_what_comes_back_has_nothing_to_find_fault_with(reed: Back) -> None:
    assert list(reed.machine.findings) == []
    assert {finding.code for finding in check_fit(reed.machine)} <= {
        finding.code for finding in check_fit(reed.demo)
    }


def test_names_and_directions_do_not_matter(askew: Back) -> None:
    assert ASKEW.turn[0, 0] != pytest.approx(1, abs=0.3)
    assert screws(askew, askew.machine) == screws(askew, askew.demo)
    assert counted(askew.machine) == counted(askew.demo)
    assert members(askew, askew.machine) == members(askew, askew.demo)
    assert rides(askew, askew.machine) == rides(askew, askew.demo)


def test_every_member_hole_rail_and_screw_of_the_printer_comes_back(larch: Back) -> None:
    """Figures asked of us: all members, holes, rails and joints, 99 of 100 fasteners; reached: all."""
    assert members(larch, larch.machine) == members(larch, larch.demo)
    assert member_holes(larch, larch.machine) == member_holes(larch, larch.demo)
    assert counted(larch.machine) == counted(larch.demo)
    assert rides(larch, larch.machine) == rides(larch, larch.demo)
    assert screws(larch, larch.machine) == screws(larch, larch.demo)
    assert larch.taken.result.reasons == {}
    assert list(larch.machine.findings) == []


def test_the_printer_without_names_and_turned_comes_back_all_the_same(tmp_path: Path) -> None:
    """Only the lead screws are told by their names alone: their threads are not drawn."""
    side = back("larch", tmp_path, nameless_and_turned)
    assert members(side, side.machine) == members(side, side.demo)
    assert member_holes(side, side.machine) == member_holes(side, side.demo)
    assert screws(side, side.machine) == screws(side, side.demo)
    assert rides(side, side.machine) == rides(side, side.demo)
    assert counted(side.demo) - counted(side.machine) == {"lead screw 8x2 starts 4 length 250": 2}


@pytest.mark.parametrize(("scatter_mm", "moved"), [(0.001, False), (0.01, False), (0.05, True)])
def test_a_drawing_that_is_not_exact_gives_the_same_joints(scatter_mm: float, moved: bool) -> None:
    taken = taken_in(scattered(assembly_of("reed-joints"), scatter_mm), Memory())
    recipes = Counter(draft.recipe for draft in taken.result.drafts)
    assert recipes == {"through-bolt": 4, "plate-on-slots": 4, "block-on-rail": 1, "rail-on-slot": 1}
    assert bool(moved_mm(taken.result)) == moved
    assert max(moved_mm(taken.result).values(), default=0.0) < 0.3


@pytest.mark.parametrize(
    ("screw", "nut", "washer"),
    [
        ("iso4762_M3x8_simple", "iso4032_M3_simple", "iso7089_M3_simple"),
        ("iso7380_1_M3x8_simple", "iso4032_M3_thread", "iso7089_M3_simple"),
        ("iso10642_M3x12_simple", "iso4032_M3_simple", ""),
    ],
)
def test_fasteners_drawn_by_another_program_are_joined_as_ours(screw: str, nut: str, washer: str) -> None:
    taken = taken_in(bolted_plates(screw, nut, washer), Memory())
    (joint,) = taken.result.lines.units["machine"]["joint"].values()
    assert joint["recipe"] == "through-bolt"
    assert joint["nut"] == "ISO 4032 M3"
    assert joint.get("washer") == ("ISO 7089 M3" if washer else None)
    assert len(joint["through"]) == 2
    assert taken.findings == ()
    assert taken.result.reasons == {}


def test_no_screw_is_proposed_where_none_is_missing(reed: Back, larch: Back) -> None:
    assert reed.taken.proposals == ()
    assert larch.taken.proposals == ()
    assert {finding.code for finding in (*reed.taken.findings, *larch.taken.findings)} == {"in-no-joint"}


def test_what_no_joint_holds_is_told_with_what_it_touches(reed: Back, larch: Back) -> None:
    says = [finding.says for finding in reed.taken.findings]
    assert says == ["carriage/camera-screw is in no joint; it touches carriage/camera-plate."]
    named = {part for finding in larch.taken.findings for part in finding.parts}
    joined = {part for joint in larch.demo.joints if joint.fastenings for part in joint.parts}
    assert {"bed/heater", "toolhead/nozzle", "panels/magnet"} <= named
    assert not {part for part in named if part in joined and not part.startswith("toolhead/sink-fan")}


def test_nut_carriers_come_with_their_joint(larch: Back) -> None:
    brought = Counter(piece.type.id for piece in larch.machine.joint["y-rails/left-rail-screws"].brings)
    assert brought["nut-carrier"] == 14
    assert larch.machine.types["nut-carrier"].holds_nuts


def test_all_screws_are_proposed_where_a_drawing_has_no_fasteners(tmp_path: Path, reed: Back) -> None:
    taken = taken_in(without(assembly_of("reed-joints"), *FASTENERS), Memory())
    written(tmp_path, taken)
    machine = load_machine(tmp_path)
    said = [finding for finding in taken.findings if finding.code == "screws-proposed"]
    assert {finding.code for finding in taken.findings} == {"screws-proposed", "in-no-joint"}
    assert all("the file has holes in line there and no screws" in finding.says for finding in said)
    assert all(joint.note.startswith("Not in the CAD file") for joint in machine.joints if joint.fastenings)

    def thread_and_place(of: Back, which: str) -> Counter[tuple[object, ...]]:
        known = screws(of, of.demo if which == "demo" else machine)
        return Counter(
            {(str(key[0]).split("x")[0].split()[-1], key[1], key[5]): n for key, n in known.items()}
        )

    assert thread_and_place(replace(reed, machine=machine), "") == thread_and_place(reed, "demo")


def test_a_screw_without_its_nut_is_a_finding_and_stays_where_it_is(tmp_path: Path) -> None:
    taken = taken_in(without(assembly_of("reed-joints"), Sort.SLOT_NUT), Memory())
    codes = Counter(finding.code for finding in taken.findings)
    assert codes["screw-bites-nothing"] == 17
    written(tmp_path, taken)
    assert counted(load_machine(tmp_path))["ISO 4762 M3x8"] == 15


def test_a_nut_without_its_screw_is_a_finding(tmp_path: Path) -> None:
    taken = taken_in(without(assembly_of("reed-joints"), Sort.SCREW), Memory(), propose=False)
    assert Counter(finding.code for finding in taken.findings)["nut-without-screw"] == 17
    written(tmp_path, taken)
    assert counted(load_machine(tmp_path))["slide-in nut slot 6 M3"] == 13


def test_proposals_can_be_left_out() -> None:
    taken = taken_in(without(assembly_of("reed-joints"), *FASTENERS), Memory(), propose=False)
    assert {finding.code for finding in taken.findings} == {"in-no-joint"}
    assert {draft.recipe for draft in taken.result.drafts} == {"block-on-rail"}
