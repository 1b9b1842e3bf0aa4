"""Demos as assemblies of meshes: drawn by the mesh kernel, written as 3MF by a library of others or as STEP.

Nothing of the CAD kernel is in them: `solid.shapes` draws with manifold3d, trimesh writes objects and
components, `plain_step` writes STEP as text. Names are stripped, every part's own
coordinates are turned anyhow, and so is the whole.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import trimesh

from intake.made_step import some_placement
from intake.plain_step import Text, file_text
from trysquare.ground.placement import Array, Placement
from trysquare.intake.bodies import Triangles
from trysquare.machine.values import Machine
from trysquare.publish.given_tree import given_tree
from trysquare.solid.shapes import solid_of

WHOLE = 77  # the seed of the whole assembly's placement


def write_meshed(path: Path, machine: Machine) -> Placement:
    """Writes a machine's pieces as 3MF; gives how it stands in the file."""
    scene = trimesh.Scene()
    whole = some_placement(WHOLE)
    known: dict[str, Placement] = {}
    for number, piece in enumerate(given_tree(machine).all_pieces()):
        kind = piece.type
        if kind.id not in known:
            known[kind.id] = some_placement(len(known))
            solid = solid_of(kind, machine.folder)
            points = known[kind.id].point(solid.points_mm)
            scene.geometry[f"g{len(known)}"] = trimesh.Trimesh(points, solid.triangles, process=False)
        own = known[kind.id]
        name = f"g{list(known).index(kind.id) + 1}"
        placement = whole.then(piece.placement).then(own.inverse())
        matrix = np.eye(4)
        matrix[:3] = placement.matrix()[:3]
        node: dict[str, Any] = {"frame_from": "world", "frame_to": f"n{number}", "geometry": name}
        scene.graph.update(**node, matrix=matrix)  # type: ignore[no-untyped-call]
    path.write_bytes(trimesh.exchange.threemf.export_3MF(scene))  # type: ignore[no-untyped-call]
    return whole


def write_facetted(path: Path, machine: Machine) -> Placement:
    """The same as STEP of three-cornered flats, by the writer that is text alone; parts are mapped items."""
    text = Text()
    whole = some_placement(WHOLE)
    solids: dict[str, tuple[str, Placement]] = {}
    placed: list[tuple[str, Placement]] = []
    for piece in given_tree(machine).all_pieces():
        kind = piece.type
        if kind.id not in solids:
            own = some_placement(len(solids))
            drawn = solid_of(kind, machine.folder)
            solids[kind.id] = facetted(text, own.point(drawn.points_mm), drawn.triangles), own
        solid, own = solids[kind.id]
        placed.append((solid, whole.then(piece.placement).then(own.inverse())))
    path.write_text(file_text(text, placed), encoding="ascii")
    return whole


def facetted(text: Text, points_mm: Array, triangles: Triangles) -> str:
    """A MANIFOLD_SOLID_BREP of flat triangles that share their edges."""
    vertices = [text.vertex(point) for point in points_mm]
    edges: dict[tuple[int, int], str] = {}
    faces = []
    for a, b, c in triangles.tolist():
        sides = []
        for one, two in ((a, b), (b, c), (c, a)):
            key = (min(one, two), max(one, two))
            if key not in edges:
                first, last = key
                edges[key] = text.line(points_mm[first], points_mm[last], vertices[first], vertices[last])
            sides.append((edges[key], one < two))
        along = points_mm[b] - points_mm[a]
        normal = np.cross(along, points_mm[c] - points_mm[a])
        axes = text.axes(points_mm[a], normal / np.linalg.norm(normal), along / np.linalg.norm(along))
        faces.append(text.face(text.loop(sides), [], text.add(f"PLANE('',{axes})"), same=True))
    shell = text.add(f"CLOSED_SHELL('',({','.join(faces)}))")
    return text.add(f"MANIFOLD_SOLID_BREP('',{shell})")
