"""A solid of the CAD kernel as faces, figures and triangles of ours.

The kernel is imported inside functions: it takes most of a second to load.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.intake.bodies import Face, FaceKind, Triangles
from trysquare.intake.faces_fitted import fitted_surface
from trysquare.intake.faces_plain import KINDS, MAKERS, xyz

if TYPE_CHECKING:
    from OCP.TopoDS import TopoDS_Face, TopoDS_Shape

FLAT_WITHIN_MM = 0.05  # meshes stay this near the true surface: what our checks of solids need
FLAT_WITHIN_RAD = 0.35  # at least 18 flats a round
SAME_MESH_POINT_MM = 1e-5  # two faces draw their common edge with the same points, up to rounding
MOST_FITTED_FACES = 200  # a modelled thread has thousands of splines, none of them a round worth finding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """What a solid is before it is drawn. Fields as in `bodies.Shape`; `open_edges`: edges with one face."""

    faces: tuple[Face, ...]
    volume_mm3: float
    area_mm2: float
    centroid_mm: Array
    moments_mm5: Array
    axes: Array
    inside_out: bool
    open_edges: int


@cache
def _kernel() -> SimpleNamespace:
    """The kernel's classes that are used here, looked up once: an import in a function costs at each call."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.BRepGProp import BRepGProp
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.BRepTools import BRepTools
    from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as EdgeMap
    from OCP.GProp import GProp_GProps
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED, TopAbs_WIRE
    from OCP.TopExp import TopExp, TopExp_Explorer
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS

    return SimpleNamespace(
        BRepAdaptor_Surface=BRepAdaptor_Surface,
        BRepGProp=BRepGProp,
        BRepMesh_IncrementalMesh=BRepMesh_IncrementalMesh,
        BRepTools=BRepTools,
        BRep_Tool=BRep_Tool,
        EdgeMap=EdgeMap,
        GProp_GProps=GProp_GProps,
        TopAbs_EDGE=TopAbs_EDGE,
        TopAbs_FACE=TopAbs_FACE,
        TopAbs_REVERSED=TopAbs_REVERSED,
        TopAbs_WIRE=TopAbs_WIRE,
        TopExp=TopExp,
        TopExp_Explorer=TopExp_Explorer,
        TopLoc_Location=TopLoc_Location,
        TopoDS=TopoDS,
    )


def measured(solid: TopoDS_Shape) -> Measured:
    """Faces, volume, area, centroid and principal moments of a solid, in its own coordinates."""
    kernel = _kernel()
    volume = kernel.GProp_GProps()
    kernel.BRepGProp.VolumeProperties_s(solid, volume)
    mass = volume.Mass()
    inside_out = mass < 0
    faces, open_edges = _faces(solid, -1.0 if inside_out else 1.0)
    centroid = xyz(volume.CentreOfMass()) if abs(mass) > 0 else np.zeros(3)
    matrix = volume.MatrixOfInertia()
    inertia = np.array([[matrix.Value(row, column) for column in (1, 2, 3)] for row in (1, 2, 3)])
    # the kernel gives it about the centre of mass already
    if not np.isfinite(inertia).all():
        inertia = np.zeros((3, 3))
    moments, axes = np.linalg.eigh(-inertia if inside_out else inertia)
    return Measured(
        faces=faces,
        volume_mm3=abs(mass),
        area_mm2=sum(face.area_mm2 for face in faces),
        centroid_mm=centroid,
        moments_mm5=moments,
        axes=axes,
        inside_out=inside_out,
        open_edges=open_edges,
    )


def _faces(solid: TopoDS_Shape, sign: float) -> tuple[tuple[Face, ...], int]:
    """All faces with their neighbours, and the number of edges that only one face has."""
    kernel = _kernel()
    edges = kernel.EdgeMap()
    outlines: list[_Outline] = []
    parts: list[TopoDS_Face] = []
    explorer = kernel.TopExp_Explorer(solid, kernel.TopAbs_FACE)
    while explorer.More():
        face = kernel.TopoDS.Face(explorer.Current())
        parts.append(face)
        outlines.append(_outline(face, edges))
        explorer.Next()
    users: dict[int, list[int]] = {}
    for number, outline in enumerate(outlines):
        for edge in outline.edges:
            users.setdefault(edge, []).append(number)
    beside: list[set[int]] = [set() for _ in parts]
    for numbers in users.values():
        for one in numbers:
            beside[one].update(other for other in numbers if other != one)
    open_edges = sum(len(numbers) == 1 for numbers in users.values())
    fitted_left = MOST_FITTED_FACES
    faces = []
    for face, outline, near in zip(parts, outlines, beside, strict=True):
        made = _face(face, outline, tuple(sorted(near)), sign, fit=fitted_left > 0)
        fitted_left -= made.kind is FaceKind.OTHER
        faces.append(made)
    return tuple(faces), open_edges


@dataclass(slots=True)
class _Outline:
    edges: list[int]
    corners: list[Array]
    rings: int


def _outline(face: TopoDS_Face, edges: Any) -> _Outline:
    """The numbers of the face's edges (a seam twice, degenerate ones not), its corners, its rings."""
    kernel = _kernel()
    found = _Outline([], [], 0)
    rings = kernel.TopExp_Explorer(face, kernel.TopAbs_WIRE)
    while rings.More():
        found.rings += 1
        explorer = kernel.TopExp_Explorer(rings.Current(), kernel.TopAbs_EDGE)
        while explorer.More():
            edge = kernel.TopoDS.Edge(explorer.Current())
            explorer.Next()
            if kernel.BRep_Tool.Degenerated_s(edge):
                continue
            found.edges.append(edges.Add(edge))
            first = kernel.TopExp.FirstVertex_s(edge, True)
            if first.IsNull() or kernel.BRep_Tool.IsClosed_s(edge, face):  # a seam: where it lies is chance
                continue
            last = kernel.TopExp.LastVertex_s(edge, True)
            if not first.IsSame(last):
                found.corners.append(xyz(kernel.BRep_Tool.Pnt_s(first)))
        rings.Next()
    return found


def _face(face: TopoDS_Face, outline: _Outline, near: tuple[int, ...], sign: float, *, fit: bool) -> Face:
    kernel = _kernel()
    surface = kernel.BRepAdaptor_Surface(face, False)
    figures = kernel.GProp_GProps()
    kernel.BRepGProp.SurfaceProperties_s(face, figures)
    area, centre = figures.Mass(), xyz(figures.CentreOfMass())
    window = kernel.BRepTools.UVBounds_s(face)
    outwards = sign * (-1.0 if face.Orientation() == kernel.TopAbs_REVERSED else 1.0)
    corners = np.array(outline.corners).reshape(-1, 3)
    common = {
        "area_mm2": area,
        "centre_mm": centre,
        "rings": outline.rings,
        "neighbours": near,
        "corners_mm": corners,
    }
    kind = KINDS.get(surface.GetType().name, FaceKind.OTHER)
    if kind is FaceKind.OTHER:
        made = fitted_surface(surface, window, outwards) if fit else {}
    else:
        made = MAKERS[kind](surface, window, outwards)
    made.setdefault("kind", FaceKind.OTHER)
    made.setdefault("origin_mm", centre)
    made.setdefault("direction", np.zeros(3))
    if made["kind"] is FaceKind.PLANE:
        made["origin_mm"] = centre
    return Face(**common, **made)


def drawn(solid: TopoDS_Shape, *, inside_out: bool = False) -> tuple[Array, Triangles, int]:
    """Points (n, 3) and triangles (m, 3) of a solid, edges shared, and how many faces could not be drawn."""
    kernel = _kernel()
    kernel.BRepMesh_IncrementalMesh(solid, FLAT_WITHIN_MM, False, FLAT_WITHIN_RAD, False)
    points: list[tuple[float, float, float]] = []
    triangles: list[Array] = []
    undrawn = 0
    explorer = kernel.TopExp_Explorer(solid, kernel.TopAbs_FACE)
    while explorer.More():
        face = kernel.TopoDS.Face(explorer.Current())
        explorer.Next()
        place = kernel.TopLoc_Location()
        mesh = kernel.BRep_Tool.Triangulation_s(face, place)
        if mesh is None:
            undrawn += 1
            continue
        first = len(points) - 1
        node, triangle = mesh.Node, mesh.Triangle
        if place.IsIdentity():
            points += [node(number).Coord() for number in range(1, mesh.NbNodes() + 1)]
        else:
            move = place.Transformation()
            points += [node(number).Transformed(move).Coord() for number in range(1, mesh.NbNodes() + 1)]
        some = np.array([triangle(number).Get() for number in range(1, mesh.NbTriangles() + 1)]).reshape(
            -1, 3
        )
        if (face.Orientation() == kernel.TopAbs_REVERSED) != inside_out:
            some = some[:, ::-1]
        triangles.append(some + first)
    cloud = np.array(points, dtype=float).reshape(-1, 3)
    corners = np.concatenate(triangles).astype(np.int64) if triangles else np.zeros((0, 3), dtype=np.int64)
    return *_joined(cloud, corners), undrawn


def _joined(points: Array, triangles: Triangles) -> tuple[Array, Triangles]:
    """Points nearer than `SAME_MESH_POINT_MM` become one; triangles without area go."""
    if not len(points) or not len(triangles):
        return points, triangles
    # rounding to a grid is quick and joins nearly all; a pair on the grid's edge is left apart, which shows
    rounded, inverse = _like_rounded(points)
    joined = _with_area(inverse[triangles])
    if open_edge_count(joined):
        rounded, inverse = _near(points)
        joined = _with_area(inverse[triangles])
    return points[rounded], joined


def _like_rounded(points: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    grid = np.round(points / SAME_MESH_POINT_MM).astype(np.int64)
    # one number a point: sorting it is much quicker than sorting rows of three
    mixed = grid[:, 0] * 0x9E3779B1 + grid[:, 1] * 0x85EBCA77C2B2AE + grid[:, 2] * 0x27D4EB2F165667C5
    _, first, inverse = np.unique(mixed, return_index=True, return_inverse=True)
    if np.array_equal(grid[first][inverse], grid):
        return first, inverse
    _, first, inverse = np.unique(grid, axis=0, return_index=True, return_inverse=True)
    return first, inverse.reshape(-1)


def _near(points: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(SAME_MESH_POINT_MM, output_type="ndarray")
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(points),) * 2)
    _, label = connected_components(graph, directed=False)
    _, first, inverse = np.unique(label, return_index=True, return_inverse=True)
    return first, inverse


def _with_area(triangles: Triangles) -> Triangles:
    one, two, three = triangles.T
    kept: Triangles = triangles[(one != two) & (two != three) & (three != one)]
    return kept


def open_edge_count(triangles: Triangles) -> int:
    """Edges that are not walked once each way: 0 for a closed skin."""
    begins, ends = triangles.ravel(), triangles[:, [1, 2, 0]].ravel()
    count = int(triangles.max(initial=0)) + 1
    there, back = np.sort(begins * count + ends), np.sort(ends * count + begins)
    return int(np.count_nonzero(there != back))
