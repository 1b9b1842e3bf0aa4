"""What the CAD kernel's labels and transformations say, as values of ours."""

from __future__ import annotations

from typing import Any

import numpy as np

from trysquare.ground.placement import Placement
from trysquare.intake.bodies import Colour


def placement_of(move: Any) -> Placement | None:
    """The rigid placement of a transformation; None when it mirrors or scales."""
    if move.IsNegative() or abs(move.ScaleFactor() - 1.0) > 1e-9:
        return None
    rows = np.array([[move.Value(row, column) for column in (1, 2, 3, 4)] for row in (1, 2, 3)])
    return Placement(rows[:, :3].copy(), rows[:, 3].copy())


def location_of(placement: Placement) -> Any:
    """The kernel's location of a placement."""
    from OCP.gp import gp_Trsf
    from OCP.TopLoc import TopLoc_Location

    move = gp_Trsf()
    move.SetValues(*[float(value) for row in placement.matrix()[:3] for value in row])
    return TopLoc_Location(move)


def entry_of(label: Any) -> str:
    """Where a label lies in its document, as "0:1:1:2": the same for all uses of a part."""
    from OCP.TCollection import TCollection_AsciiString
    from OCP.TDF import TDF_Tool

    text = TCollection_AsciiString()
    TDF_Tool.Entry_s(label, text)
    return str(text.ToCString())


def name_of(label: Any) -> str:
    """The name at a label, "" when it has none; what cannot be printed is a space."""
    from OCP.TDataStd import TDataStd_Name

    # asked first: looking for an attribute that is not there crashes the binding
    if label.IsNull() or not label.IsAttribute(TDataStd_Name.GetID_s()):
        return ""
    attribute = TDataStd_Name()
    label.FindAttribute(TDataStd_Name.GetID_s(), attribute)
    text = str(attribute.Get().ToExtString())
    return "".join(char if char.isprintable() else " " for char in text).strip()


def colour_of(colours: Any, of: Any) -> Colour | None:
    """The colour of a label or a shape, by the document's colour tool; None when nobody gave one."""
    from OCP.Quantity import Quantity_Color
    from OCP.TDF import TDF_Label
    from OCP.XCAFDoc import XCAFDoc_ColorCurv, XCAFDoc_ColorGen, XCAFDoc_ColorSurf, XCAFDoc_ColorTool

    colour = Quantity_Color()
    ask = XCAFDoc_ColorTool.GetColor_s if isinstance(of, TDF_Label) else colours.GetColor
    for kind in (XCAFDoc_ColorSurf, XCAFDoc_ColorGen, XCAFDoc_ColorCurv):
        if ask(of, kind, colour):
            return (colour.Red(), colour.Green(), colour.Blue())
    return None
