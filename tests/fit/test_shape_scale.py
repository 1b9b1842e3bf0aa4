"""A shape file that was drawn in another unit than the holes, or from another origin."""

from __future__ import annotations

from pathlib import Path

import pytest
import trimesh

from machine.folders import write
from trysquare.fit.check import check_fit
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine

PARTS = """
[part.bracket]
kind = "printed"
material = "PETG"
shape = "shapes/bracket.stl"
hole = [ { name = "m", at_mm = [[7, 20, 6], [53, 20, 6]], diameter_mm = 4.5, depth_mm = 6 } ]
"""
UNIT = '[unit]\ntitle = "Frame"\n[place]\nbracket = { part = "bracket" }\n'


def found(folder: Path, *, scale: float = 1.0, shift_mm: float = 0.0) -> list[Finding]:
    """What is said of a bracket of 60 x 40 x 6 mm whose file was scaled or shifted. trimesh writes it."""
    files = {"machine.toml": 'format = 1\nname = "B"\n', "parts.toml": PARTS, "units/frame.toml": UNIT}
    write(folder, files)
    (folder / "shapes").mkdir(exist_ok=True)
    box = trimesh.creation.box(bounds=[[0, 0, 0], [60, 40, 6]])
    box.apply_translation([shift_mm, 0, 0])
    box.apply_scale(scale)
    box.export(folder / "shapes" / "bracket.stl")
    return [one for one in check_fit(load_machine(folder)) if one.code == "holes-outside-shape"]


def test_a_shape_that_holds_its_holes_is_not_spoken_of(tmp_path: Path) -> None:
    assert found(tmp_path) == []


@pytest.mark.parametrize(("scale", "unit"), [(1 / 25.4, "inches"), (0.1, "centimetres"), (0.001, "metres")])
def test_a_shape_in_another_unit_is_told_with_its_unit(tmp_path: Path, scale: float, unit: str) -> None:
    (finding,) = found(tmp_path, scale=scale)
    assert f"drawn in {unit}" in finding.says
    assert "2 of the 2 holes of bracket open outside it" in finding.says
    assert finding.remedy == "Export shapes/bracket.stl again in millimetres."
    assert finding.parts == ("frame/bracket",)


def test_a_shape_from_another_origin_is_told_by_how_much(tmp_path: Path) -> None:
    (finding,) = found(tmp_path, shift_mm=-30.0)
    assert finding.value == pytest.approx(23.0)
    assert "m.2" in finding.says
    assert "origin" in finding.remedy
