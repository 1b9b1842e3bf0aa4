"""Parts that must suit each other."""

from __future__ import annotations

from pathlib import Path

import pytest

from fit.folders import codes, machine_of, only
from trysquare.fit.check import check_fit
from trysquare.fit.pairs import pair_findings

PULLEY = '{ part = "pulley 2 mm pitch 20 teeth bore 5", at_mm = [%g, %g, 300] }'


def belts(second_at_mm: float) -> dict[str, str]:
    return {
        "place": f"""
p1 = {PULLEY % (0, 400)}
p2 = {PULLEY % (200, 400)}
q1 = {PULLEY % (0, 500)}
q2 = {PULLEY % (second_at_mm, 500)}
""",
        "joint": """
[joint.left]
recipe = "belt-path"
belt = "belt 2 mm pitch 6 mm wide"
over = [{ pulley = "p1", turn = "anticlockwise" }, { pulley = "p2", turn = "anticlockwise" }]
equal_to = "right"
[joint.right]
recipe = "belt-path"
belt = "belt 2 mm pitch 6 mm wide"
over = [{ pulley = "q1", turn = "anticlockwise" }, { pulley = "q2", turn = "anticlockwise" }]
equal_to = "left"
""",
    }


def test_equal_belts_on_equal_paths_are_good(tmp_path: Path) -> None:
    assert check_fit(machine_of(tmp_path, **belts(200))) == ()


def test_a_pair_of_belts_off_by_two_teeth_is_said_once(tmp_path: Path) -> None:
    found = only(tmp_path, **belts(202))
    assert found.code == "belts-unequal"
    assert found.value == pytest.approx(4.0)
    assert found.limit == 1.0
    assert "2.0 teeth" in found.says


def test_half_a_tooth_is_still_taken_up_by_the_clamp(tmp_path: Path) -> None:
    assert pair_findings(machine_of(tmp_path, **belts(200.4))) == []


def test_a_pulley_with_few_teeth_in_mesh_is_a_doubt_and_an_idler_is_not(tmp_path: Path) -> None:
    # the belt turns by a right angle: 20 / 4 = 5 teeth
    place = f"""
p1 = {PULLEY % (0, 400)}
ends = {{ part = "anchor", at_mm = [0, 0, 0] }}
"""
    parts = """
[part.anchor]
kind = "bought"
points = { a = [-200, 406.4, 300], b = [6.4, 200, 300] }
"""
    joint = """
[joint.belt]
recipe = "belt-path"
belt = "belt 2 mm pitch 6 mm wide"
over = [{ pulley = "p1", turn = "clockwise" }]
ends = ["ends:a", "ends:b"]
"""
    machine = machine_of(tmp_path, place=place, parts=parts, joint=joint)
    centre = machine.part["frame/p1"].type.standard.belt_centre_mm  # type: ignore[union-attr]
    texts = parts.replace(", 300]", f", {300 + centre}]")
    found = pair_findings(machine_of(tmp_path, place=place, parts=texts, joint=joint))
    assert codes(found) == ["few-teeth-in-mesh"]
    assert found[0].value == pytest.approx(5.0, abs=0.2)
    idler = place.replace("pulley 2 mm", "idler 2 mm")
    assert pair_findings(machine_of(tmp_path, place=idler, parts=texts, joint=joint)) == []


def test_a_part_of_another_revision_than_its_partner_needs_is_a_mismatch(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        ('[part.cover]\nkind = "plate"', '[part.cover]\nkind = "plate"\nmates_with = { holder = "C" }'),
        ('[part.holder]\nkind = "printed"', '[part.holder]\nkind = "printed"\nrevision = "B"'),
    )
    assert found.code == "revision-mismatch"
    assert set(found.parts) == {"frame/holder", "frame/cover"}


def test_the_revision_a_part_needs_is_good(tmp_path: Path) -> None:
    machine = machine_of(
        tmp_path,
        ('[part.cover]\nkind = "plate"', '[part.cover]\nkind = "plate"\nmates_with = { holder = "C" }'),
        ('[part.holder]\nkind = "printed"', '[part.holder]\nkind = "printed"\nrevision = "C"'),
    )
    assert check_fit(machine) == ()
