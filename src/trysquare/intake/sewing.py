"""Loose faces made into solids: some programs write every face with edges of its own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trysquare.intake.limits import SEWN_WITHIN_MM

if TYPE_CHECKING:
    from OCP.TopoDS import TopoDS_Shape

MOST_SEWN_FACES = 20_000  # time grows with the faces; a body of more is a drawing of something
MOST_OPEN_SHARE = 0.2  # a box without its lid has a third of its edges open; a solid with a torn face has few


def sewn(loose: Sequence[TopoDS_Shape]) -> tuple[list[TopoDS_Shape], bool]:
    """The solids that loose faces and shells enclose, and whether some were left that enclose nothing.

    Edges nearer than `SEWN_WITHIN_MM` become one. A skin with a small gap counts as a solid: its open edges
    are told when it is measured.
    """
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeSolid, BRepBuilderAPI_Sewing
    from OCP.BRepLib import BRepLib
    from OCP.Standard import Standard_Failure
    from OCP.TopAbs import TopAbs_FACE, TopAbs_SHELL
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    work = BRepBuilderAPI_Sewing(SEWN_WITHIN_MM)
    count = 0
    for shape in loose:
        faces = TopExp_Explorer(shape, TopAbs_FACE)
        while faces.More():
            count += 1
            faces.Next()
        work.Add(shape)
    if count > MOST_SEWN_FACES:
        return [], True
    try:
        work.Perform()
    except Standard_Failure:
        return [], True
    solids: list[TopoDS_Shape] = []
    left = False
    shells = TopExp_Explorer(work.SewedShape(), TopAbs_SHELL)
    while shells.More():
        shell = TopoDS.Shell(shells.Current())
        shells.Next()
        if not shell.Closed() and open_share(shell) > MOST_OPEN_SHARE:
            left = True
            continue
        solid = BRepBuilderAPI_MakeSolid(shell).Solid()
        BRepLib.OrientClosedSolid_s(solid)
        solids.append(solid)
    return solids, left or TopExp_Explorer(work.SewedShape(), TopAbs_FACE, TopAbs_SHELL).More()


def open_share(shell: TopoDS_Shape) -> float:
    """The share of a shell's edges that only one of its faces has."""
    from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as EdgeMap
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopExp import TopExp_Explorer

    edges, uses = EdgeMap(), dict[int, int]()
    explorer = TopExp_Explorer(shell, TopAbs_EDGE)
    while explorer.More():
        number = edges.Add(explorer.Current())
        uses[number] = uses.get(number, 0) + 1
        explorer.Next()
    return sum(count == 1 for count in uses.values()) / max(len(uses), 1)
