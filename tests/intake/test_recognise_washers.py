"""Washers whose edges are broken: by a chamfer, as ISO 7090 has one, or by the punch's round."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from trysquare.catalogue.rows import rows
from trysquare.intake.bodies import Sort
from trysquare.intake.recognise import recognised
from trysquare.intake.step_file import shape_of_solid

WASHERS = [row for row in rows("washers") if row["standard"] == "ISO 7089"]  # 7090 has the same sizes
FREE_MM = 0.05  # of a thickness that no edge takes


def ring(
    inner_mm: float, outer_mm: float, thick_mm: float, edge_mm: float, *, rounded: bool, edges: str
) -> Any:
    """A ring, drawn by OpenCascade. `edges`: "outer", "all", or "top", the two of one side."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer, BRepFilletAPI_MakeFillet
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    disc = BRepPrimAPI_MakeCylinder(outer_mm / 2, thick_mm).Shape()
    solid = BRepAlgoAPI_Cut(disc, BRepPrimAPI_MakeCylinder(inner_mm / 2, thick_mm).Shape()).Shape()
    maker = BRepFilletAPI_MakeFillet(solid) if rounded else BRepFilletAPI_MakeChamfer(solid)
    done: list[Any] = []
    explorer = TopExp_Explorer(solid, TopAbs_EDGE)
    while explorer.More():
        edge = TopoDS.Edge(explorer.Current())
        explorer.Next()
        curve = BRepAdaptor_Curve(edge)
        if curve.GetType().name != "GeomAbs_Circle" or any(edge.IsSame(each) for each in done):
            continue
        done.append(edge)
        is_outer = 2 * curve.Circle().Radius() > (inner_mm + outer_mm) / 2
        is_top = curve.Circle().Location().Z() > thick_mm / 2
        if edges == "all" or (edges == "outer" and is_outer) or (edges == "top" and is_top):
            maker.Add(edge_mm, edge)
    return maker.Shape()


def sizes_of(row: Mapping[str, str]) -> tuple[float, float, float]:
    return float(row["inner_mm"]), float(row["outer_mm"]), float(row["thickness_mm"])


@pytest.mark.parametrize("edges", ["outer", "all", "top"])
@pytest.mark.parametrize("rounded", [False, True], ids=["chamfered", "rounded"])
@pytest.mark.parametrize("row", WASHERS, ids=[row["thread"] for row in WASHERS])
def test_a_washer_with_broken_edges_is_still_that_washer(
    row: Mapping[str, str], rounded: bool, edges: str
) -> None:
    inner, outer, thick = sizes_of(row)
    most = (thick if edges == "top" else thick / 2) - FREE_MM
    for edge in (each for each in (0.1, 0.2, 0.3, 0.4, 0.5) if each < min(most, (outer - inner) / 4)):
        found = recognised(shape_of_solid(ring(inner, outer, thick, edge, rounded=rounded, edges=edges)))
        assert found.designation == f"{row['standard']} {row['thread']}", edge
        assert found.is_sure


@pytest.mark.parametrize("edges", ["outer", "all"])
@pytest.mark.parametrize("row", WASHERS[2:], ids=[row["thread"] for row in WASHERS[2:]])
def test_a_chamfered_washer_that_came_as_a_mesh_is_that_washer(row: Mapping[str, str], edges: str) -> None:
    inner, outer, thick = sizes_of(row)
    shape = shape_of_solid(ring(inner, outer, thick, 0.15, rounded=False, edges=edges))
    found = recognised(replace(shape, faces=(), source="stl"))
    assert found.designation == f"{row['standard']} {row['thread']}"


@pytest.mark.parametrize("edges", ["outer", "all", "top"])
@pytest.mark.parametrize("row", WASHERS, ids=[row["thread"] for row in WASHERS])
def test_a_rounded_washer_that_came_as_a_mesh_is_that_washer(row: Mapping[str, str], edges: str) -> None:
    inner, outer, thick = sizes_of(row)
    most = (thick if edges == "top" else thick / 2) - FREE_MM
    for edge in (each for each in (0.1, 0.3, 0.5) if each < min(most, (outer - inner) / 4)):
        shape = shape_of_solid(ring(inner, outer, thick, edge, rounded=True, edges=edges))
        found = recognised(replace(shape, faces=(), source="stl"))
        assert found.designation == f"{row['standard']} {row['thread']}", edge


def test_a_chamfered_ring_of_no_washer_s_size_stays_an_own_part() -> None:
    for inner, outer, thick in ((5.3, 14.0, 1.0), (5.3, 10.0, 2.5), (7.2, 10.0, 1.0)):
        found = recognised(shape_of_solid(ring(inner, outer, thick, 0.3, rounded=False, edges="all")))
        assert found.sort is not Sort.WASHER
        assert not found.designation or not found.is_sure
