"""STEP files and solids made for tests by the CAD kernel, turned and rewritten as other programs do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from trysquare.ground.placement import Placement
from trysquare.intake.bodies import Shape
from trysquare.intake.step_file import shape_of_solid


@dataclass(frozen=True)
class Made:
    """A part or an assembly to be written: a solid, or what stands in it, with placements and names."""

    name: str
    solid: Any = None
    inside: tuple[tuple[Made, Placement, str], ...] = ()
    colour: tuple[float, float, float] | None = None
    moved: dict[str, Any] = field(default_factory=dict)


def write_step(path: Path, made: Made, *, schema: str = "AP214IS", unit: str = "MM") -> Path:
    """Writes one assembly; equal `Made` values become one product."""
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Interface import Interface_Static
    from OCP.Message import Message
    from OCP.Quantity import Quantity_Color, Quantity_TOC_RGB
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_AsIs
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_ColorSurf, XCAFDoc_DocumentTool

    Message.DefaultMessenger_s().ChangePrinters().Clear()
    document = TDocStd_Document(TCollection_ExtendedString("BinXCAF"))
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    labels: dict[int, Any] = {}

    def named(label: Any, name: str) -> None:
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(name, True))

    def label_of(each: Made) -> Any:
        if id(each) in labels:
            return labels[id(each)]
        label = shapes.NewShape() if each.solid is None else shapes.AddShape(each.solid, False)
        labels[id(each)] = label
        named(label, each.name)
        if each.colour:
            colours.SetColor(label, Quantity_Color(*each.colour, Quantity_TOC_RGB), XCAFDoc_ColorSurf)
        for inner, placement, name in each.inside:
            named(shapes.AddComponent(label, label_of(inner), location(placement)), name)
        return label

    label_of(made)
    shapes.UpdateAssemblies()
    writer = STEPCAFControl_Writer()
    Interface_Static.SetCVal_s("write.step.schema", schema)
    Interface_Static.SetCVal_s("write.step.unit", unit)
    writer.SetNameMode(True)
    writer.SetColorMode(True)
    writer.Transfer(document, STEPControl_AsIs)
    assert writer.Write(str(path)) == IFSelect_RetDone
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
    return path


def location(placement: Placement) -> Any:
    from OCP.TopLoc import TopLoc_Location

    return TopLoc_Location(motion(placement))


def motion(placement: Placement) -> Any:
    from OCP.gp import gp_Trsf

    move = gp_Trsf()
    move.SetValues(*[float(value) for row in placement.matrix() for value in row])
    return move


def some_placement(seed: int) -> Placement:
    """A rotation and a shift that nobody would choose."""
    chance = np.random.default_rng(seed)
    axis = chance.normal(size=3)
    axis = axis / np.linalg.norm(axis)
    angle = chance.uniform(0.3, 3.0)
    x, y, z = axis
    skew = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    turn = np.eye(3) + math.sin(angle) * skew + (1 - math.cos(angle)) * skew @ skew
    return Placement(turn, chance.uniform(-300, 300, 3))


def turned(solid: Any, seed: int) -> Any:
    """The solid with its very faces moved to some placement, as a flat export has them."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform

    return BRepBuilderAPI_Transform(solid, motion(some_placement(seed)), True).Shape()


def mirrored(solid: Any) -> Any:
    """The mirror image of the solid in the plane x = 0."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf

    move = gp_Trsf()
    move.SetMirror(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0)))
    return BRepBuilderAPI_Transform(solid, move, True).Shape()


def as_splines(solid: Any) -> Any:
    """The solid as programs write it that know only splines."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    return BRepBuilderAPI_NurbsConvert(solid, True).Shape()


def in_halves(solid: Any) -> Any:
    """The solid as programs write it that cut every round in two."""
    from OCP.ShapeUpgrade import ShapeUpgrade_ShapeDivideAngle

    work = ShapeUpgrade_ShapeDivideAngle(math.pi * 1.0001, solid)
    work.Perform()
    return work.Result()


def box(x: float, y: float, z: float) -> Any:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox

    return BRepPrimAPI_MakeBox(x, y, z).Shape()


def bored(solid: Any, at: Sequence[float], direction: Sequence[float], diameter: float, depth: float) -> Any:
    """A solid with a round hole from a point on, along a direction into the material."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    axes = gp_Ax2(gp_Pnt(*at), gp_Dir(*direction))
    return BRepAlgoAPI_Cut(solid, BRepPrimAPI_MakeCylinder(axes, diameter / 2, depth).Shape()).Shape()


def handed_bracket() -> Any:
    """A block with two holes that make it differ from its mirror image."""
    block = bored(box(40, 20, 8), (8, 5, 9), (0, 0, -1), 4, 20)
    return bored(block, (30, 21, 5), (0, -1, 0), 3, 6)


def shape_of(solid: Any, name: str = "") -> Shape:
    """Our view of a solid, without a file between."""
    return shape_of_solid(solid, name)
