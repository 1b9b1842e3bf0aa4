"""Overlaps of solids, each as the finding that names its cause."""

from __future__ import annotations

from pathlib import Path

import pytest

from fit.folders import codes, machine_of, only
from trysquare.fit.check import check_fit
from trysquare.fit.clashes import clash_findings

BLOCK = """
[part.lump]
kind = "plate"
size_mm = [10, 10, 10]
"""

BASE = """
[part.base]
kind = "plate"
size_mm = [30, 30, 4]
hole = [ { name = "s", at_mm = [15, 15], diameter_mm = 3.4 } ]
"""


def test_two_parts_in_one_place_are_said_with_volume_place_and_side(tmp_path: Path) -> None:
    found = only(tmp_path, parts=BLOCK, place='lump = { part = "lump", at_mm = [175, 210, -4] }\n')
    assert found.code == "overlap"
    assert set(found.parts) == {"frame/holder", "frame/lump"}
    assert "the +x side of frame/holder" in found.says


def test_the_shared_volume_and_its_middle_are_exact(tmp_path: Path) -> None:
    found = only(tmp_path, parts=BLOCK, place='lump = { part = "lump", at_mm = [96, 205, -8] }\n')
    assert found.code == "overlap"
    assert found.value == pytest.approx(6 * 10 * 2, rel=1e-6)
    assert found.at_mm == pytest.approx((103, 210, 1))
    assert "the -x side" in found.says


def test_faces_that_touch_are_no_overlap(tmp_path: Path) -> None:
    machine = machine_of(tmp_path, parts=BLOCK, place='lump = { part = "lump", at_mm = [90, 205, 2] }\n')
    assert check_fit(machine) == ()


def test_the_same_clash_in_many_places_is_one_finding(tmp_path: Path) -> None:
    place = "".join(
        f'lump{i} = {{ part = "lump", at_mm = [{400 + 40 * i}, 0, 0] }}\n'
        f'other{i} = {{ part = "lump", at_mm = [{405 + 40 * i}, 0, 0] }}\n'
        for i in range(4)
    )
    found = only(tmp_path, parts=BLOCK, place=place)
    assert "4 places alike" in found.says
    assert len(found.parts) == 8


def test_a_screw_through_a_part_without_a_hole_is_a_missing_hole(tmp_path: Path) -> None:
    # a shim lies between the two shelves and has no hole
    found = only(
        tmp_path,
        (
            'upper = { part = "shelf", at_mm = [100, 200, 4] }',
            'upper = { part = "shelf", at_mm = [100, 200, 4.05] }',
        ),
        parts='\n[part.shim]\nkind = "plate"\nsize_mm = [30, 30, 0.05]\n',
        place='shim = { part = "shim", at_mm = [100, 200, 4] }\n',
    )
    assert found.code == "hole-missing"
    assert found.parts == ("frame/shelf/screw.1", "frame/shim")


def test_a_hole_beside_the_screw_s_line_is_off_line(tmp_path: Path) -> None:
    # 0.29 mm beside, which still starts; the 3.4 mm hole leaves 0.2 mm
    found = only(
        tmp_path,
        (
            'lower = { part = "shelf", at_mm = [100, 200, 0] }',
            'lower = { part = "shelf", at_mm = [100.29, 200, 0] }',
        ),
    )
    assert found.code == "hole-off-line"


def test_a_hole_missing_in_reading_is_not_said_again_as_overlap(tmp_path: Path) -> None:
    machine = machine_of(
        tmp_path,
        (
            'lower = { part = "shelf", at_mm = [100, 200, 0] }',
            'lower = { part = "base", at_mm = [104, 200, 0] }',
        ),
        parts=BASE,
    )
    assert set(codes(machine.findings)) == {"hole-missing"}
    assert clash_findings(machine) == []
