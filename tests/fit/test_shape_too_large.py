"""A shape file that is many times too large is told by where its holes open, or by what stands beside it."""

from __future__ import annotations

from pathlib import Path

import pytest
import trimesh

from machine.folders import write
from trysquare.fit.check import check_fit
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine

HOLES = 'hole = [ { name = "m", at_mm = [[7, 20, 6], [53, 20, 6]], diameter_mm = 4.5, depth_mm = 6 } ]'
BRACKET = '[part.bracket]\nkind = "printed"\nmaterial = "PETG"\nshape = "shapes/bracket.stl"\n'
BEAM = '[part.beam]\nkind = "member"\nprofile = "profile 20x20 slot 6"\nlength_mm = 300\n'
UNIT = """
[unit]
title = "Frame"
[place]
bracket = { part = "bracket", at_mm = [0, 400, 0] }
one = { part = "beam", at_mm = [0, 0, 0], along = "+x" }
two = { part = "beam", at_mm = [0, 60, 0], along = "+x" }
three = { part = "beam", at_mm = [0, 120, 0], along = "+x" }
"""


def found(
    folder: Path, scale: float, holes: str = HOLES, size: tuple[int, int, int] = (60, 40, 6)
) -> list[Finding]:
    """What is said of a bracket whose file was scaled. trimesh writes it."""
    files = {
        "machine.toml": 'format = 1\nname = "B"\n',
        "parts.toml": f"{BRACKET}{holes}\n{BEAM}",
        "units/frame.toml": UNIT,
    }
    write(folder, files)
    (folder / "shapes").mkdir(exist_ok=True)
    box = trimesh.creation.box(bounds=[[0, 0, 0], size])
    box.apply_scale(scale)
    box.export(folder / "shapes" / "bracket.stl")
    codes = ("shape-too-large", "holes-outside-shape")
    return [one for one in check_fit(load_machine(folder)) if one.code in codes]


@pytest.mark.parametrize("times", [10, 25.4, 1000])
def test_a_shape_too_large_for_its_holes_is_told_with_its_factor(tmp_path: Path, times: float) -> None:
    (finding,) = found(tmp_path, times)
    assert f"It looks {times:g} times too large" in finding.says
    assert "then bracket is 60 x 40 x 6 mm" in finding.says
    assert "its 2 holes open deep inside it" in finding.says
    assert finding.parts == ("frame/bracket",)


@pytest.mark.parametrize("times", [25.4, 1000])
def test_a_shape_without_holes_that_dwarfs_the_machine_is_told(tmp_path: Path, times: float) -> None:
    (finding,) = found(tmp_path, times, holes="")
    assert "all other parts of the machine together are 300 mm long" in finding.says
    assert f"{times:g} times too large" in finding.says


def test_a_shape_of_the_right_size_is_not_spoken_of(tmp_path: Path) -> None:
    assert found(tmp_path / "a", 1.0) == []
    assert found(tmp_path / "b", 1.0, holes="") == []


def test_a_long_part_with_its_holes_at_one_end_is_not_spoken_of(tmp_path: Path) -> None:
    holes = 'hole = [ { name = "m", at_mm = [[5, 10, 5], [20, 10, 5]], diameter_mm = 4.5, depth_mm = 5 } ]'
    assert found(tmp_path, 1.0, holes, (300, 20, 5)) == []
