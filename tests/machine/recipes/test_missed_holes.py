"""Screws that meet no hole below: once for two parts, with how far off and what brings them over it."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine

LOWER = "[[10, 15, 8], [30, 15, 8], [10, 25, 8], [30, 25, 8]]"  # 20 x 10 apart round 20, 20


def missed(folder: Path, upper: str, at_mm: str = "[0, 0, 8]", lower: str = LOWER) -> list[Finding]:
    """What is found of an upper plate with these clearance holes on a lower one with tapped holes."""
    (folder / "units").mkdir()
    (folder / "machine.toml").write_text('format = 1\nname = "test"\n', encoding="utf-8")
    (folder / "parts.toml").write_text(
        f"""
[part.upper]
kind = "plate"
material = "aluminium"
size_mm = [40, 40, 5]
hole = [{{ name = "screw", at_mm = {upper}, diameter_mm = 3.4 }}]

[part.lower]
kind = "plate"
material = "aluminium"
size_mm = [40, 40, 8]
hole = [{{ name = "tap", at_mm = {lower}, thread = "M3" }}]
""",
        encoding="utf-8",
    )
    (folder / "units" / "frame.toml").write_text(
        f"""
[place]
lower = {{ part = "lower" }}
upper = {{ part = "upper", at_mm = {at_mm} }}
[joint.screws]
recipe = "through-bolt"
through = "upper:screw"
into = "lower:tap"
screw = "ISO 4762 M3"
""",
        encoding="utf-8",
    )
    found = load_machine(folder).findings
    assert {one.code for one in found} <= {"hole-missing"}
    return list(found)


def test_a_pattern_lying_the_other_way_is_one_finding_that_names_the_quarter_turn(tmp_path: Path) -> None:
    (finding,) = missed(tmp_path, "[[15, 10, 5], [25, 10, 5], [15, 30, 5], [25, 30, 5]]")
    assert finding.parts == ("frame/upper", "frame/lower")
    # Source: Pythagoras: from (15, 10) to (10, 15) it is 5 times the root of 2.
    assert finding.value == pytest.approx(5 * 2**0.5)
    assert finding.says == (
        "frame/screws: 4 screws through frame/upper (screw.1, screw.2, screw.3, screw.4) meet no hole of "
        "frame/lower: the nearest lie 7.07 mm beside them."
    )
    assert "quarter turn" in finding.remedy
    assert "exchange the two spacings" in finding.remedy


def test_a_part_laid_aside_is_told_how_far_and_which_way(tmp_path: Path) -> None:
    (finding,) = missed(tmp_path, LOWER.replace(", 8]", ", 5]"), at_mm="[2, -1.5, 8]")
    # Source: Pythagoras: 2, 1.5 and 2.5 are a right triangle's sides.
    assert finding.value == pytest.approx(2.5)
    assert finding.remedy == (
        "Move frame/upper by 2 mm to the left and 1.5 mm to the back: then all 4 meet a hole of frame/lower."
    )


def test_a_pattern_that_is_turned_half_round_is_told_so(tmp_path: Path) -> None:
    lower = "[[10, 15, 8], [30, 15, 8], [10, 25, 8]]"
    (finding,) = missed(tmp_path, "[[30, 25, 5], [10, 25, 5], [30, 15, 5]]", lower=lower)
    assert "the screw through frame/upper (screw.1) meets no hole" in finding.says
    assert "half turn" in finding.remedy
    assert "spacings" not in finding.remedy


def test_one_hole_beside_its_place_says_by_how_much_and_names_no_turn(tmp_path: Path) -> None:
    (finding,) = missed(tmp_path, "[[10, 15, 5], [30, 15, 5], [10, 25, 5], [28, 25, 5]]")
    assert finding.says.endswith("(screw.4) meets no hole of frame/lower: the nearest lies 2 mm beside it.")
    assert finding.remedy == ""
