"""Holes whose mouths are rounded are as deep, and open where, they would with sharp edges."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from intake.made_step import bored, box, shape_of, turned
from trysquare.intake.bodies import Sort
from trysquare.intake.recognise import recognised


def rounded(solid: Any, by_mm: float) -> Any:
    """All edges rounded, by OpenCascade."""
    from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    maker = BRepFilletAPI_MakeFillet(solid)
    done: list[Any] = []
    explorer = TopExp_Explorer(solid, TopAbs_EDGE)
    while explorer.More():
        edge = TopoDS.Edge(explorer.Current())
        explorer.Next()
        if not any(edge.IsSame(each) for each in done):
            done.append(edge)
            maker.Add(by_mm, edge)
    return maker.Shape()


@pytest.mark.parametrize("by_mm", [0.1, 0.3, 0.6, 1.0])
def test_a_plate_with_all_edges_rounded_has_its_holes_from_face_to_face(by_mm: float) -> None:
    solid = box(60, 40, 5)
    for x in (10, 50):
        for y in (10, 30):
            solid = bored(solid, (x, y, 5), (0, 0, -1), 5.5, 5)
    found = recognised(shape_of(turned(rounded(solid, by_mm), 3)))
    assert found.sort is Sort.PLATE
    assert len(found.holes) == 4
    for hole in found.holes:
        assert hole.through
        assert hole.diameter_mm == pytest.approx(5.5)
        assert hole.depth_mm == pytest.approx(5.0, abs=1e-4)
        assert hole.counterbore_mm is None
        assert hole.countersink_mm is None


def test_a_counterbore_with_rounded_edges_keeps_its_depth_and_side() -> None:
    solid = bored(box(40, 40, 12), (20, 20, 12), (0, 0, -1), 5.5, 12)
    solid = bored(solid, (20, 20, 12), (0, 0, -1), 10, 5)
    shape = shape_of(turned(rounded(solid, 0.4), 5))
    (hole,) = recognised(shape).holes
    assert hole.depth_mm == pytest.approx(12, abs=1e-4)
    assert hole.counterbore_mm == pytest.approx((10, 5), abs=1e-4)


def test_a_blind_hole_with_a_rounded_mouth_begins_at_the_face() -> None:
    solid = bored(box(30, 30, 20), (15, 15, 20), (0, 0, -1), 4.2, 12)
    shape = shape_of(rounded(solid, 0.3))
    (hole,) = recognised(shape).holes
    assert not hole.through
    assert np.allclose(recognised(shape).frame.point(hole.at_mm), (15, 15, 20), atol=1e-4)
    assert hole.depth_mm == pytest.approx(12, abs=1e-4)
