"""A closed mesh as a body of the CAD kernel: its flat faces, each region of triangles in one plane as one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.solid.brep_bodies import Shape, point
from trysquare.solid.meshes import Triangles, normals_of

if TYPE_CHECKING:
    from OCP.TopoDS import TopoDS_Face

FLAT_MM = 2e-5  # corners of a region lie this near to its plane: single precision at a part's size
SLIVER = 1e-9  # a triangle less wide than this share of its length has no normal to go by


def faceted(points_mm: Array, triangles: Triangles) -> Shape:
    """A solid bounded by the mesh (n, 3), (m, 3), which has to be closed, counter-clockwise from outside."""
    from OCP.BRep import BRep_Builder
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeSolid
    from OCP.ShapeFix import ShapeFix_ShapeTolerance
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopoDS import TopoDS_Shell

    edges = _Edges(points_mm)
    shell = TopoDS_Shell()
    builder = BRep_Builder()
    builder.MakeShell(shell)
    for loops, normal in regions(points_mm, triangles):
        builder.Add(shell, edges.face(loops, normal))
    shell.Closed(True)  # the kernel's own
    solid = BRepBuilderAPI_MakeSolid(shell).Solid()
    ShapeFix_ShapeTolerance().SetTolerance(solid, 2 * FLAT_MM, TopAbs_ShapeEnum.TopAbs_EDGE)
    ShapeFix_ShapeTolerance().SetTolerance(solid, 2 * FLAT_MM, TopAbs_ShapeEnum.TopAbs_VERTEX)
    return solid


class _Edges:
    """Corners and edges, each made once, so that neighbouring faces share them."""

    def __init__(self, points_mm: Array) -> None:
        from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex

        self._points = points_mm
        self._vertices = [BRepBuilderAPI_MakeVertex(point(one)).Vertex() for one in points_mm]
        self._edges: dict[tuple[int, int], Any] = {}

    def _edge(self, one: int, two: int) -> Any:
        from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge

        low, high = min(one, two), max(one, two)
        if (low, high) not in self._edges:
            made = BRepBuilderAPI_MakeEdge(self._vertices[low], self._vertices[high])
            self._edges[(low, high)] = made.Edge()
        edge = self._edges[(low, high)]
        return edge if one == low else edge.Reversed()

    def face(self, loops: list[list[int]], normal: Array) -> TopoDS_Face:
        """A flat face within loops of point numbers, the outer one first."""
        from OCP.BRep import BRep_Builder
        from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
        from OCP.gp import gp_Dir, gp_Pln
        from OCP.TopoDS import TopoDS_Wire

        builder = BRep_Builder()
        plane = gp_Pln(point(self._points[loops[0]].mean(axis=0)), gp_Dir(*(float(n) for n in normal)))
        face = None
        for loop in loops:
            wire = TopoDS_Wire()
            builder.MakeWire(wire)
            for one, two in zip(loop, [*loop[1:], loop[0]], strict=True):
                builder.Add(wire, self._edge(one, two))
            wire.Closed(True)
            if face is None:
                face = BRepBuilderAPI_MakeFace(plane, wire, True)
            else:
                face.Add(wire)
        assert face is not None  # a region has an outline
        return face.Face()


def regions(points_mm: Array, triangles: Triangles) -> list[tuple[list[list[int]], Array]]:
    """The mesh's flat regions as loops of point numbers, the outer one first, with unit normals (3,).

    A region whose boundary meets itself in a corner is given triangle by triangle.
    """
    normals = normals_of(points_mm, triangles)
    length = np.linalg.norm(normals, axis=1)
    normals = normals / np.maximum(length, 1e-300)[:, None]
    neighbours = _neighbours(triangles)
    region = np.full(len(triangles), -1)
    found: list[tuple[list[list[int]], Array]] = []
    for seed in np.argsort(-length, kind="stable"):  # the largest first: its plane is known best
        if region[seed] >= 0:
            continue
        members = _grown(points_mm, triangles, normals, neighbours, region, int(seed), len(found))
        loops = _loops(triangles[members])
        if loops is None:
            found += [([[int(n) for n in triangles[one]]], normals[one]) for one in members]
        else:
            loops.sort(key=lambda loop: -abs(_flat_area(points_mm[loop], normals[seed])))
            found.append((loops, normals[seed]))
    return found


def _neighbours(triangles: Triangles) -> NDArray[np.int64]:
    """Array (m, 3): the triangle beyond each edge; -1 where there is none."""
    starts, ends = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    owner = {(int(a), int(b)): number // 3 for number, (a, b) in enumerate(zip(starts, ends, strict=True))}
    beyond = [owner.get((int(b), int(a)), -1) for a, b in zip(starts, ends, strict=True)]
    return np.array(beyond, dtype=np.int64).reshape(-1, 3)


def _grown(
    points_mm: Array, triangles: Triangles, normals: Array, neighbours: NDArray[np.int64],
    region: NDArray[np.int64], seed: int, name: int,
) -> list[int]:  # fmt: skip
    """All triangles that hang together in the seed's plane and belong to no region yet."""
    normal, through = normals[seed], points_mm[triangles[seed][0]]
    region[seed] = name
    members, waiting = [seed], [seed]
    while waiting:
        for other in neighbours[waiting.pop()]:
            if other < 0 or region[other] >= 0:
                continue
            away = np.abs((points_mm[triangles[other]] - through) @ normal).max()
            if away <= FLAT_MM and float(normals[other] @ normal) > 0.5:
                region[other] = name
                members.append(int(other))
                waiting.append(int(other))
    return members


def _loops(triangles: Triangles) -> list[list[int]] | None:
    """Boundary loops of a region; None when a corner lies twice on it."""
    starts, ends = triangles.ravel().tolist(), np.roll(triangles, -1, axis=1).ravel().tolist()
    half_edges = set(zip(starts, ends, strict=True))
    after: dict[int, int] = {}
    for one, two in zip(starts, ends, strict=True):
        if (two, one) not in half_edges:
            if one in after:
                return None
            after[one] = two
    loops: list[list[int]] = []
    while after:
        first, at = after.popitem()
        loop = [first]
        while at != first:
            loop.append(at)
            at = after.pop(at)
        loops.append(loop)
    return loops


def _flat_area(corners: Array, normal: Array) -> float:
    """Area within a loop of corners (n, 3), seen along the normal."""
    first = corners - corners[0]
    return float(np.cross(first, np.roll(first, -1, axis=0)).sum(axis=0) @ normal) / 2
