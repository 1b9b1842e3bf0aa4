"""Plates whose edges are rounded by a good part of their thickness, as faces and as triangles."""

from __future__ import annotations

import functools
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import trimesh

from intake.made_step import bored, box, shape_of, turned
from intake.test_recognise_holes import rounded
from trysquare.intake.bodies import Recognition, Shape, Sort
from trysquare.intake.cad_file import read_cad
from trysquare.intake.recognise import recognised

THICK_MM = 5.0
SPOTS_MM = ((12.0, 12.0), (12.0, 38.0), (68.0, 12.0), (68.0, 38.0))


@functools.cache
def plate(by_mm: float, sunk: str = "") -> Any:
    """80 × 50 × 5 with four holes Ø5.5, plain, "countersunk" to Ø11 or "counterbored" Ø10 × 2, its outer
    edges rounded; drawn by OpenCascade. Plain holes' mouths are rounded as well."""
    solid = box(80, 50, THICK_MM)
    if sunk:
        solid = rounded(solid, by_mm)
    for x, y in SPOTS_MM:
        solid = bored(solid, (x, y, THICK_MM), (0, 0, -1), 5.5, THICK_MM)
        if sunk == "counterbored":
            solid = bored(solid, (x, y, THICK_MM), (0, 0, -1), 10, 2)
        if sunk == "countersunk":
            solid = sunk_at(solid, x, y)
    return turned(solid if sunk else rounded(solid, by_mm), 3)


def sunk_at(solid: Any, x: float, y: float) -> Any:
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCone
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    cone = BRepPrimAPI_MakeCone(gp_Ax2(gp_Pnt(x, y, THICK_MM), gp_Dir(0, 0, -1)), 5.5, 0, 5.5).Shape()
    return BRepAlgoAPI_Cut(solid, cone).Shape()


def meshed(shape: Shape, folder: Path, ending: str) -> Shape:
    """The shape as another library writes its triangles and we read them."""
    path = folder / f"plate.{ending}"
    trimesh.Trimesh(shape.points_mm, shape.triangles, process=False).export(path)
    return read_cad(path).shapes[0]


def assert_plate(found: Recognition, sunk: str) -> None:
    assert found.sort is Sort.PLATE
    assert found.is_sure
    assert sorted(found.parameters.values()) == pytest.approx([THICK_MM, 50.0, 80.0], abs=2e-3)
    assert len(found.holes) == 4
    for hole in found.holes:
        assert hole.through
        assert hole.diameter_mm == pytest.approx(5.5, abs=5e-3)
        assert hole.depth_mm == pytest.approx(THICK_MM, abs=5e-3)
        if sunk == "counterbored":
            assert hole.counterbore_mm == pytest.approx((10.0, 2.0), abs=5e-3)
        else:
            assert hole.counterbore_mm is None
        if sunk == "countersunk":
            assert hole.countersink_mm == pytest.approx(11.0, abs=2e-2)
        else:
            assert hole.countersink_mm is None
    assert [abs(float(hole.direction[2])) for hole in found.holes] == pytest.approx([1.0] * 4, abs=1e-6)


@pytest.mark.parametrize("sunk", ["", "countersunk", "counterbored"])
@pytest.mark.parametrize("by_mm", [0.5, 2.0, 2.3])
def test_a_plate_with_its_edges_rounded_widely_is_a_plate_with_its_holes(by_mm: float, sunk: str) -> None:
    assert_plate(recognised(shape_of(plate(by_mm, sunk))), sunk)


@pytest.mark.parametrize("ending", ["stl", "3mf"])
@pytest.mark.parametrize("sunk", ["", "countersunk", "counterbored"])
@pytest.mark.parametrize("by_mm", [1.0, 2.0])
def test_a_meshed_plate_with_its_edges_rounded_widely_is_a_plate_with_its_holes(
    by_mm: float, sunk: str, ending: str, tmp_path: Path
) -> None:
    shape = meshed(shape_of(plate(by_mm, sunk)), tmp_path, ending)
    assert_plate(recognised(replace(shape, number=0)), sunk)


def test_a_block_and_a_bent_sheet_with_rounded_edges_are_no_plates() -> None:
    assert recognised(shape_of(rounded(box(40, 30, 20), 4))).sort is not Sort.PLATE
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse

    bent = BRepAlgoAPI_Fuse(box(60, 40, 3), box(3, 40, 40)).Shape()
    assert recognised(shape_of(bent)).sort is not Sort.PLATE
