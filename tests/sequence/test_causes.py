"""One cause gives one finding, whichever rooms speak of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.causes import one_for_each_cause

REED = Path(__file__).resolve().parents[2] / "demo" / "reed-joints"


@pytest.fixture(scope="module")
def machine() -> Machine:
    return load_machine(REED)


def finding(code: str, *parts: str, joint: str = "", step: str = "") -> Finding:
    return Finding(code=code, says=f"{code} {joint}.", parts=parts, joint=joint, step=step)


def codes(machine: Machine, *found: Finding) -> list[str]:
    return [one.code for one in one_for_each_cause(machine, found)]


def test_findings_of_different_causes_all_stay_in_their_order(machine: Machine) -> None:
    found = [
        finding("left-snug", "a", joint="j", step="s"),
        finding("screw-too-long", "b", joint="j"),
        finding("left-snug", "c", joint="k", step="s"),
    ]
    assert one_for_each_cause(machine, found) == found


def test_both_ends_of_one_untapped_member_are_one_finding(machine: Machine) -> None:
    (one,) = one_for_each_cause(
        machine,
        [
            finding("end-not-tapped", "beam", "left", joint="ring"),
            finding("end-not-tapped", "beam", "right", joint="ring"),
        ],
    )
    assert one.parts == ("beam", "left", "right")
    assert one.says.endswith("2 places alike.")


def test_holes_missing_in_one_member_are_one_finding_that_names_the_other_joint(machine: Machine) -> None:
    (one,) = one_for_each_cause(
        machine,
        [
            finding("access-hole-missing", "screw-1", "post", joint="feet"),
            finding("access-hole-missing", "screw-2", "post", joint="ring"),
        ],
    )
    assert one.joint == "feet"
    assert one.says.endswith("Likewise ring.")


def test_a_member_end_for_end_says_nothing_of_its_holes_and_keys(machine: Machine) -> None:
    assert codes(
        machine,
        finding("end-meets-no-slot", "post", joint="feet"),
        finding("access-hole-missing", "screw-1", "post", joint="ring"),
        finding("no-key-line", "screw-1", "post", joint="ring", step="ring"),
    ) == ["end-meets-no-slot"]


def test_a_key_line_that_something_else_closes_is_still_told(machine: Machine) -> None:
    assert codes(
        machine,
        finding("access-hole-missing", "screw-1", "post", joint="ring"),
        finding("no-key-line", "screw-1", "post", "panel", joint="ring", step="ring"),
    ) == ["access-hole-missing", "no-key-line"]


def test_a_part_that_shares_its_place_is_not_asked_for_its_way_in(machine: Machine) -> None:
    assert codes(
        machine,
        finding("overlap", "bracket", "spacer"),
        finding("no-way-in", "spacer", "idler", step="idlers"),
        finding("no-way-in", "idler", "bracket", step="idlers"),
    ) == ["overlap", "no-way-in"]


def test_a_screw_in_the_way_speaks_for_its_nut(machine: Machine) -> None:
    joint = machine.joint["track/left-stop-screw"]
    screw, nut = joint.fastenings[0].screw, joint.fastenings[0].host_part
    (one,) = one_for_each_cause(
        machine,
        [
            finding("in-moving-path", nut, "carriage/block", joint=joint.id),
            finding("in-moving-path", screw, "carriage/block", joint=joint.id),
        ],
    )
    assert one.parts == (screw, "carriage/block", nut)


def test_a_plug_too_large_for_two_openings_is_one_finding(machine: Machine) -> None:
    (one,) = one_for_each_cause(
        machine,
        [
            finding("plug-larger-than-hole", "panel:gland", joint="cable", step="wire"),
            finding("plug-larger-than-hole", "clip", joint="cable", step="wire"),
        ],
    )
    assert one.parts == ("panel:gland", "clip")


def test_two_of_one_hand_are_not_told_where_one_of_them_does_not_fit(machine: Machine) -> None:
    twice = finding("two-of-one-hand", "left-bracket", "right-bracket")
    assert codes(machine, finding("overlap", "left-bracket", "spacer"), twice) == ["overlap"]
    assert codes(machine, finding("overlap", "plate", "spacer"), twice) == ["overlap", "two-of-one-hand"]
