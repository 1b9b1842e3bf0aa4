"""Screws, their holes, heads, nuts and keys: one fault at a time in an otherwise clean machine."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from fit.folders import codes, machine_of, only
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.profiles import profile_designations, slot_nut_designations
from trysquare.catalogue.values import Profile, Screw, SlotNut
from trysquare.fit.check import check_fit
from trysquare.fit.heads import head_radius_mm, tightest
from trysquare.fit.screws import screw_findings
from trysquare.fit.slots import nut_misfit
from trysquare.ground.findings import Weight


def section() -> Profile:
    found = lookup("profile 20x20 slot 6")
    assert isinstance(found, Profile)
    return found


def test_a_clean_machine_gives_no_findings(tmp_path: Path) -> None:
    machine = machine_of(tmp_path)
    assert machine.findings == ()
    assert check_fit(machine) == ()


def test_a_screw_that_bites_too_little_names_the_length_to_take(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        ('into = "holder:in", screw = "ISO 4762 M3x8"', 'into = "holder:in", screw = "ISO 4762 M3x5"'),
    )
    assert found.code == "screw-too-short"
    assert (found.value, found.limit, found.unit) == (2.0, 3.0, "mm")
    assert "ISO 4762 M3x6" in found.remedy
    assert found.joint == "frame/cover"


def test_a_screw_that_does_not_reach_its_thread_says_so(tmp_path: Path) -> None:
    found = only(tmp_path, ("size_mm = [30, 30, 3]", "size_mm = [30, 30, 9]"))
    assert found.code == "screw-too-short"
    assert "does not reach" in found.says
    assert found.value == pytest.approx(-1.0)


def test_a_gap_under_the_head_is_said_once_and_not_as_a_short_screw(tmp_path: Path) -> None:
    machine = machine_of(tmp_path, ("across_mm = -15 }", "across_mm = -15, height_mm = 6 }"))
    assert codes(machine.findings) == ["gap-in-stack"] * 2
    assert check_fit(machine) == ()


def test_a_screw_on_the_slot_floor_clamps_nothing(tmp_path: Path) -> None:
    found = only(tmp_path, ("ISO 7380-1 M5x8", "ISO 7380-1 M5x10"))
    assert found.code == "screw-too-long"
    assert "feels tight and clamps nothing" in found.says
    assert found.value == pytest.approx(10.29)  # js15 over 6 up to 10 mm
    assert found.limit == pytest.approx(9.1)
    assert "ISO 7380-1 M5x8" in found.remedy
    assert "2 places alike" in found.says
    assert len([part for part in found.parts if "/screw." in part]) == 2


def test_a_screw_through_a_block_thread_crushes_the_ball_return(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        (
            '"carriage:b"], screw = "ISO 4762 M3x8"',
            '"carriage:b"], screw = "ISO 4762 M3x10"',
        ),
    )
    assert found.code == "screw-too-long"
    assert "ball return" in found.says
    assert "frame/block" in found.parts


def test_a_screw_on_the_bottom_of_a_blind_insert_hole_is_too_long(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        ('into = "holder:in", screw = "ISO 4762 M3x8"', 'into = "holder:in", screw = "ISO 4762 M3x12"'),
    )
    assert found.code == "screw-too-long"
    assert found.limit == pytest.approx(12.0)


def test_a_screw_longer_than_the_tapped_end_jams_where_the_thread_ends(tmp_path: Path) -> None:
    found = only(tmp_path, ('screw = "ISO 7380-1 M5" }', 'screw = "ISO 7380-1 M5x20" }'))
    assert found.code == "screw-too-long"
    assert "frame/beam" in found.parts


def test_a_tip_less_than_a_millimetre_above_the_floor_is_noted(tmp_path: Path) -> None:
    found = only(tmp_path, ("size_mm = [40, 30, 3]", "size_mm = [40, 30, 2.5]"))
    assert (found.code, found.weight) == ("tip-near-floor", Weight.NOTE)
    assert found.value == pytest.approx(0.6)


def test_a_screw_of_another_thread_than_its_nut_is_one_finding(tmp_path: Path) -> None:
    found = only(tmp_path, ('nut = "slide-in"', 'nut = "slide-in nut slot 6 M4"'))
    assert found.code == "wrong-thread"


def test_a_hole_below_the_shank_is_too_small(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        (
            'name = "c", at_mm = [15, 15], diameter_mm = 3.4',
            'name = "c", at_mm = [15, 15], diameter_mm = 2.8',
        ),
    )
    assert (found.code, found.value, found.limit) == ("hole-too-small", 2.8, 3.0)
    assert found.weight is Weight.STOP


def test_a_hole_below_the_fine_series_is_a_doubt(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        (
            'name = "c", at_mm = [15, 15], diameter_mm = 3.4',
            'name = "c", at_mm = [15, 15], diameter_mm = 3.1',
        ),
    )
    assert (found.code, found.limit, found.weight) == ("hole-tight", 3.2, Weight.DOUBT)


def test_a_head_wider_than_its_counterbore_is_too_big(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        (
            'name = "c", at_mm = [15, 15], diameter_mm = 3.4',
            'name = "c", at_mm = [15, 15], diameter_mm = 3.4, counterbore_mm = [5, 1]',
        ),
    )
    assert (found.code, found.value, found.limit) == ("head-too-big", 5.68, 5.0)


def test_a_head_higher_than_its_counterbore_is_noted(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        (
            'name = "c", at_mm = [15, 15], diameter_mm = 3.4',
            'name = "c", at_mm = [15, 15], diameter_mm = 3.4, counterbore_mm = [6, 1]',
        ),
    )
    assert (found.code, found.weight) == ("head-stands-proud", Weight.NOTE)
    assert found.value == pytest.approx(2.0)


def test_a_head_above_its_rail_jams_the_block(tmp_path: Path) -> None:
    shallow = """
[part.shallow]
kind = "guide"
standard = "rail 9x100"
hole = [ { name = "x", at_mm = [40, 0, 6], thickness_mm = 6, diameter_mm = 3.5, counterbore_mm = [6, 2] } ]
"""
    joint = """
[joint.small]
recipe = "plate-on-slots"
through = ["small:x"]
screw = "ISO 4762 M3"
"""
    place = 'small = { part = "shallow", on = "beam:+y", offset_mm = 60 }\n'
    findings = screw_findings(machine_of(tmp_path, parts=shallow, place=place, joint=joint))
    found = next(one for one in findings if one.code == "head-above-rail")
    assert found.value == pytest.approx(1.0)  # a 3 mm head in a counterbore of 2


def test_an_idler_s_bearing_is_as_wide_as_its_screw_and_not_tight(tmp_path: Path) -> None:
    idler = """
[part.idler]
kind = "drive"
standard = "idler 2 mm pitch 20 teeth bore 5"
hole = [ { name = "bore", at_mm = [0, 0, 9], thickness_mm = 9, diameter_mm = 5 } ]
"""
    joint = """
[joint.idler]
recipe = "through-bolt"
through = ["idler:bore"]
screw = "ISO 4762 M5"
nut = "ISO 4032 M5"
"""
    place = 'idler = { part = "idler", at_mm = [300, 300, 0] }\n'
    assert check_fit(machine_of(tmp_path, parts=idler, place=place, joint=joint)) == ()


def test_a_countersunk_head_on_a_plain_hole_bears_on_an_edge(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        ('into = "holder:in", screw = "ISO 4762 M3x8"', 'into = "holder:in", screw = "ISO 10642 M3x8"'),
    )
    assert found.code == "head-unlike-hole"


def test_a_flat_head_on_a_countersink_bears_on_an_edge(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        (
            'name = "c", at_mm = [15, 15], diameter_mm = 3.4',
            'name = "c", at_mm = [15, 15], diameter_mm = 3.4, countersunk = true',
        ),
    )
    assert found.code == "head-unlike-hole"


def test_a_cylinder_head_does_not_go_into_the_slot_of_a_blind_joint(tmp_path: Path) -> None:
    findings = screw_findings(machine_of(tmp_path, ('screw = "ISO 7380-1 M5" }', 'screw = "ISO 4762 M5" }')))
    found = next(one for one in findings if one.code == "head-too-big")
    assert found.value == 5.0
    assert found.limit == pytest.approx(4.4)


def test_a_missing_access_hole_is_a_stop(tmp_path: Path) -> None:
    # the hole stands on another face
    findings = check_fit(
        machine_of(tmp_path, ('name = "access", face = "-z"', 'name = "access", face = "-y"'))
    )
    assert codes(findings) == ["access-hole-missing"] * 2  # one for each post that must be drilled
    assert {found.parts[1] for found in findings} == {"frame/left", "frame/right"}


@pytest.mark.parametrize(
    ("hole_mm", "code"), [("3.2", "access-hole-too-small"), ("3.8", "access-hole-tight")]
)
def test_an_access_hole_is_judged_by_the_corners_of_the_key(tmp_path: Path, hole_mm: str, code: str) -> None:
    # M5 button head: key 3, 3.46 mm across its corners
    findings = check_fit(
        machine_of(tmp_path, ("diameter_mm = 5.5, access", f"diameter_mm = {hole_mm}, access"))
    )
    assert codes(findings) == [code] * 2


def test_an_access_hole_with_a_millimetre_of_room_is_good(tmp_path: Path) -> None:
    assert (
        screw_findings(machine_of(tmp_path, ("diameter_mm = 5.5, access", "diameter_mm = 4.5, access"))) == []
    )


def test_a_nut_of_another_slot_is_unfit_and_its_overlap_is_not_said_again(tmp_path: Path) -> None:
    found = only(tmp_path, ('nut = "slide-in"', 'nut = "slide-in nut slot 8 M5"'))
    assert found.code == "nut-unfit-for-slot"
    assert (found.value, found.limit) == (8.0, 6.0)


def test_nuts_nearer_than_their_length_cannot_both_be_there(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        (
            "at_mm = [[10, 15], [30, 15]], diameter_mm = 5.5",
            "at_mm = [[10, 15], [19, 15]], diameter_mm = 5.5",
        ),
    )
    assert found.code == "nuts-too-close"
    assert found.value == pytest.approx(9.0)
    assert found.limit == pytest.approx(11.0)


def test_a_nut_at_the_very_end_of_a_slot_hangs_out(tmp_path: Path) -> None:
    findings = screw_findings(
        machine_of(tmp_path, ('on = "beam:-y", offset_mm = 50', 'on = "beam:-y", offset_mm = -7'))
    )
    assert codes(findings) == ["nut-over-slot-end"]
    assert findings[0].value == pytest.approx(2.5)


def test_a_set_screw_that_does_not_reach_is_too_short(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        joint="""
[joint.foot]
recipe = "bracket"
bracket = "inside"
corners = [{ end = "beam:a", toward = "+y" }]
screw = "ISO 4026 M4x4"
""",
        parts="""
[part.inside]
kind = "bought"
material = "steel"
solid = [ { box_mm = [1, 1, 1], at_mm = [5, -0.5, 0.1] } ]
hole = [ { name = "set", at_mm = [12, 0, 0], thickness_mm = 4, thread = "M4" } ]
""",
    )
    assert found.code == "set-screw-too-short"
    assert found.value == pytest.approx(1.9)  # of a 4 mm thread, the tip 6.1 mm below its opening
    assert "ISO 4026 M4x6" in found.remedy


def test_every_catalogue_nut_suits_every_profile_of_its_slot() -> None:
    profiles = [lookup(name) for name in profile_designations()]
    nuts = [lookup(name) for name in slot_nut_designations()]
    for size in profiles:
        for nut in nuts:
            assert isinstance(nut, SlotNut)
            assert isinstance(size, Profile)
            if nut.slot_mm == size.slot_mm:
                assert nut_misfit(nut, size) is None, (nut.designation, size.designation)


def test_an_ordinary_hexagon_nut_spins_in_a_slot_wider_than_its_corners() -> None:
    nut, size = lookup("hex-in-slot nut slot 6 M5"), section()
    assert isinstance(nut, SlotNut)
    misfit = nut_misfit(replace(nut, width_mm=8.0), size)  # ISO 4032 M5: 8 across flats, 9.24 across corners
    assert misfit is not None
    assert "spins" in misfit[0]


def test_a_nut_narrower_than_the_mouth_pulls_out() -> None:
    nut, size = lookup("slide-in nut slot 6 M3"), section()
    assert isinstance(nut, SlotNut)
    misfit = nut_misfit(replace(nut, width_mm=6.0), size)
    assert misfit is not None
    assert "pulls out" in misfit[0]


def test_a_button_head_is_as_wide_as_printed_at_its_seat_and_closed_at_its_top() -> None:
    screw = lookup("ISO 7380-1 M5x12")
    assert isinstance(screw, Screw)
    assert head_radius_mm(screw, 0.0) == pytest.approx(9.5 / 2)
    assert head_radius_mm(screw, 2.75) == pytest.approx(0.0, abs=1e-6)
    needed, room = tightest(screw, section())
    assert needed < room
