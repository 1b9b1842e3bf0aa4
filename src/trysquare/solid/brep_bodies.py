"""Exact bodies with round faces, made by the CAD kernel: what `bodies` makes of flats, for others to read.

Nothing errs to the side of air here: a shaft and a hole of one diameter have the same radius. The kernel is
large, so every function loads what it needs of it when it is called.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import Array, Placement, Triple, facing
from trysquare.solid.bodies import ABOVE_MM, Outline

if TYPE_CHECKING:
    from OCP.gp import gp_Pnt
    from OCP.TopoDS import TopoDS_Shape, TopoDS_Wire

Shape: TypeAlias = "TopoDS_Shape"
Circle: TypeAlias = tuple[float, float, float]  # x, y, radius


def point(at_mm: Sequence[float] | Array) -> gp_Pnt:
    """The kernel's point."""
    from OCP.gp import gp_Pnt

    return gp_Pnt(float(at_mm[0]), float(at_mm[1]), float(at_mm[2]))


def box(low_mm: Triple, high_mm: Triple) -> Shape:
    """A box between two corners."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox

    return BRepPrimAPI_MakeBox(point(low_mm), point(high_mm)).Shape()


def cylinder(diameter_mm: float, from_mm: float, to_mm: float) -> Shape:
    """A cylinder about z."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir

    axis = gp_Ax2(point((0.0, 0.0, from_mm)), gp_Dir(0.0, 0.0, 1.0))
    return BRepPrimAPI_MakeCylinder(axis, diameter_mm / 2, to_mm - from_mm).Shape()


def spun(outline_mm: Outline, dome: tuple[int, tuple[float, float]] | None = None) -> Shape:
    """The outline (radius, z), counter-clockwise, turned about z.

    `dome`: number of an outline's edge, and a corner (radius, z) through which that edge goes as an arc.
    """
    from OCP.BRepBuilderAPI import (
        BRepBuilderAPI_MakeEdge,
        BRepBuilderAPI_MakeFace,
        BRepBuilderAPI_MakeWire,
    )
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeRevol
    from OCP.GC import GC_MakeArcOfCircle
    from OCP.gp import gp_Ax1, gp_Dir

    wire = BRepBuilderAPI_MakeWire()
    corners = [at for n, at in enumerate(outline_mm) if n == 0 or at != outline_mm[n - 1]]
    for number, (one, two) in enumerate(zip(corners, [*corners[1:], corners[0]], strict=True)):
        start, end = point((one[0], 0.0, one[1])), point((two[0], 0.0, two[1]))
        if dome is not None and dome[0] == number:
            middle = point((dome[1][0], 0.0, dome[1][1]))
            wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(start, middle, end).Value()).Edge())
        else:
            wire.Add(BRepBuilderAPI_MakeEdge(start, end).Edge())
    face = BRepBuilderAPI_MakeFace(wire.Wire()).Face()
    axis = gp_Ax1(point((0.0, 0.0, 0.0)), gp_Dir(0.0, 0.0, 1.0))
    return outwards(BRepPrimAPI_MakeRevol(face, axis).Shape())


def hexagon(across_flats_mm: float, from_mm: float, to_mm: float) -> Shape:
    """A hexagonal prism about z with flats facing ±y."""
    corner_mm = across_flats_mm / math.sqrt(3)
    ring = [(corner_mm * math.cos(math.pi / 3 * k), corner_mm * math.sin(math.pi / 3 * k)) for k in range(6)]
    return prism_z([ring], from_mm, to_mm)


def prism_z(
    rings_mm: Sequence[Outline | Array], from_mm: float, to_mm: float, circles: Sequence[Circle] = ()
) -> Shape:
    """What rings (x, y) enclose, raised from one z to another: outlines counter-clockwise, openings
    clockwise; `circles` are round openings, each inside one outline."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pln, gp_Vec

    plane = gp_Pln(point((0.0, 0.0, from_mm)), gp_Dir(0.0, 0.0, 1.0))
    rings = [np.asarray(ring, dtype=float) for ring in rings_mm]
    outer = [ring for ring in rings if _area(ring) > 0]
    bodies = []
    for outline in outer:
        face = BRepBuilderAPI_MakeFace(plane, _polygon(outline, from_mm), True)  # the kernel's own
        for ring in rings:
            if _area(ring) < 0 and (len(outer) == 1 or _inside(ring[0], outline)):
                face.Add(_polygon(ring, from_mm))
        for x, y, radius_mm in circles:
            if len(outer) == 1 or _inside(np.array([x, y]), outline):
                axis = gp_Ax2(point((x, y, from_mm)), gp_Dir(0.0, 0.0, -1.0))
                edge = BRepBuilderAPI_MakeEdge(gp_Circ(axis, radius_mm)).Edge()
                face.Add(BRepBuilderAPI_MakeWire(edge).Wire())
        bodies.append(BRepPrimAPI_MakePrism(face.Face(), gp_Vec(0.0, 0.0, to_mm - from_mm)).Shape())
    return bodies[0] if len(bodies) == 1 else together(bodies)


def prism_x(
    rings_mm: Sequence[Outline | Array], from_mm: float, to_mm: float, circles: Sequence[Circle] = ()
) -> Shape:
    """The same drawn in (y, z) and drawn out along x."""
    turn = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    return moved(prism_z(rings_mm, from_mm, to_mm, circles), Placement(turn, np.zeros(3)))


def _polygon(ring: Array, z_mm: float) -> TopoDS_Wire:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakePolygon

    wire = BRepBuilderAPI_MakePolygon()
    for x, y in ring:
        wire.Add(point((x, y, z_mm)))
    wire.Close()
    return wire.Wire()


def _area(ring: Array) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def _inside(spot: Array, ring: Array) -> bool:
    starts, ends = ring, np.roll(ring, -1, axis=0)
    across = (starts[:, 1] > spot[1]) != (ends[:, 1] > spot[1])
    rise = np.where(ends[:, 1] == starts[:, 1], 1.0, ends[:, 1] - starts[:, 1])
    right = starts[:, 0] + (spot[1] - starts[:, 1]) / rise * (ends[:, 0] - starts[:, 0]) > spot[0]
    return bool((across & right).sum() % 2)


def location(placement: Placement) -> Any:
    """The kernel's placement; Any, for its stubs do not name it alike in all releases."""
    from OCP.gp import gp_Trsf
    from OCP.TopLoc import TopLoc_Location

    turn, origin = placement.turn, placement.origin_mm
    move = gp_Trsf()
    move.SetValues(*(float(part) for row in range(3) for part in (*turn[row], origin[row])))
    return TopLoc_Location(move)


def moved(body: Shape, placement: Placement) -> Shape:
    """The body elsewhere, its own coordinates those of the new place: a copy, no reference."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform

    return BRepBuilderAPI_Transform(body, location(placement).Transformation(), True).Shape()


def aimed(body: Shape, at_mm: Triple | Array, z_axis: Triple | Array) -> Shape:
    """The body, drawn about z from the origin, with its z along `z_axis` and its origin at `at_mm`."""
    return moved(body, Placement(facing(z_axis), np.asarray(at_mm, dtype=float)))


def together(bodies: Sequence[Shape]) -> Shape:
    """Bodies that share nothing, as one."""
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    whole = TopoDS_Compound()
    builder = BRep_Builder()
    builder.MakeCompound(whole)
    for body in bodies:
        builder.Add(whole, body)
    return whole


def less(body: Shape, cutters: Sequence[Shape], where: str = "") -> Shape:
    """The body without the cutters; raises ReadingError where the kernel does not find it."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut

    return _boolean(BRepAlgoAPI_Cut(), body, cutters, where) if cutters else body


def joined(bodies: Sequence[Shape], where: str = "") -> Shape:
    """Bodies that touch or overlap, as one, with faces that lie in one surface made one."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse
    from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain

    if len(bodies) == 1:
        return bodies[0]
    whole = _boolean(BRepAlgoAPI_Fuse(), bodies[0], bodies[1:], where)
    unify = ShapeUpgrade_UnifySameDomain(whole, True, True, False)
    unify.Build()
    return unify.Shape()


def common(body: Shape, other: Shape, where: str = "") -> Shape:
    """What two bodies share."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

    return _boolean(BRepAlgoAPI_Common(), body, [other], where)


def _boolean(work: Any, body: Shape, tools: Sequence[Shape], where: str) -> Shape:
    from OCP.collections import List_TopoDS_Shape

    arguments, others = List_TopoDS_Shape(), List_TopoDS_Shape()
    arguments.Append(body)
    for tool in tools:
        others.Append(tool)
    work.SetArguments(arguments)
    work.SetTools(others)
    try:
        work.Build()
        found: Shape = work.Shape()
    except Exception:  # noqa: BLE001  # the kernel's failures share no class with each other
        found = None
    if found is None or found.IsNull():
        raise ReadingError(
            where=where or "solid",
            read="holes or bodies that the CAD kernel cannot cut",
            expected="a body that is left when they are cut",
            remedy="Move holes apart that only just touch each other or an edge.",
        )
    return found


def single(body: Shape) -> Shape:
    """The one solid of which a compound is made; the compound itself when there are several, or none."""
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer

    solids = TopExp_Explorer(body, TopAbs_ShapeEnum.TopAbs_SOLID)
    if not solids.More():
        return body
    first = solids.Current()
    solids.Next()
    return body if solids.More() else first


def outwards(body: Shape) -> Shape:
    """The body with its faces looking outwards, whichever way its outline was turned."""
    return body.Reversed() if volume_mm3(body) < 0 else body


def volume_mm3(body: Shape) -> float:
    """What the body holds; negative where its faces look inwards."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(body, found)
    return float(found.Mass())


def area_mm2(body: Shape) -> float:
    """The body's surface."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.SurfaceProperties_s(body, found)
    return float(found.Mass())


def is_sound(body: Shape) -> bool:
    """Whether the kernel's own check finds nothing wrong with the body."""
    from OCP.BRepCheck import BRepCheck_Analyzer

    return bool(BRepCheck_Analyzer(body).IsValid())


def hole_shape(
    diameter_mm: float, depth_mm: float, wide_mm: float = 0.0, shelf_mm: float = 0.0, sink_mm: float = 0.0
) -> Shape:
    """The air of a hole about z, from a little above z = 0 down: with a shelf at `shelf_mm` for a head, or a
    90° countersink that is `sink_mm` deep, `wide_mm` across at z = 0."""
    radius_mm = diameter_mm / 2
    outline = [(0.0, -depth_mm), (radius_mm, -depth_mm)]
    if sink_mm > 0:
        low_mm = max(wide_mm / 2 - sink_mm, radius_mm)
        outline += [(radius_mm, -sink_mm), (low_mm, -sink_mm), (low_mm + sink_mm + ABOVE_MM, ABOVE_MM)]
    elif shelf_mm > 0 and wide_mm > diameter_mm:
        outline += [(radius_mm, -shelf_mm), (wide_mm / 2, -shelf_mm), (wide_mm / 2, ABOVE_MM)]
    else:
        outline += [(radius_mm, ABOVE_MM)]
    return spun([*outline, (0.0, ABOVE_MM)])
