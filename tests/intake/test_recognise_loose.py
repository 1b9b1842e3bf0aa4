"""Belts and cables are told from their solids, with their figures; a frame is not taken for one."""

from __future__ import annotations

import math
from typing import Any

import pytest

from intake.made_step import bored, box, shape_of, turned
from trysquare.intake.bodies import Sort
from trysquare.intake.recognise import recognised


def stadium(radius: float, gap: float, wide: float) -> Any:
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    ends = [
        BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(x, 0, 0), gp_Dir(0, 0, 1)), radius, wide).Shape()
        for x in (0, gap)
    ]
    middle = BRepPrimAPI_MakeBox(gp_Pnt(0, -radius, 0), gp_Pnt(gap, radius, wide)).Shape()
    return BRepAlgoAPI_Fuse(BRepAlgoAPI_Fuse(ends[0], middle).Shape(), ends[1]).Shape()


def test_a_belt_round_two_pulleys_says_its_width_and_path() -> None:
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain

    whole = ShapeUpgrade_UnifySameDomain(BRepAlgoAPI_Cut(stadium(7.4, 200, 6), stadium(6.0, 200, 6)).Shape())
    whole.Build()  # one face a plane, as programs write it
    belt = whole.Shape()
    found = recognised(shape_of(turned(belt, 1)))
    assert found.sort is Sort.OWN
    assert "belt" in found.evidence[0]
    assert found.parameters["width_mm"] == pytest.approx(6)
    # by hand: two straights and two half circles in the middle of the belt
    assert found.parameters["path_mm"] == pytest.approx(400 + 2 * math.pi * 6.7, rel=1e-4)
    assert not found.is_sure


def test_a_frame_with_a_window_is_no_belt() -> None:
    found = recognised(shape_of(bored(box(60, 60, 6), (30, 30, 7), (0, 0, -1), 40, 8)))
    assert "belt" not in " ".join(found.evidence)


def test_a_bent_round_is_a_cable() -> None:
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakeTorus
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    bend = BRepPrimAPI_MakeTorus(20, 2, math.pi / 2).Shape()
    straight = BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(20, 0, 0), gp_Dir(0, -1, 0)), 2, 80).Shape()
    found = recognised(shape_of(turned(BRepAlgoAPI_Fuse(bend, straight).Shape(), 2)))
    assert "cable" in found.evidence[0]
    assert found.parameters["path_mm"] == pytest.approx(80 + 10 * math.pi, rel=1e-3)  # by hand
