"""Bodies of known shape for drawing, and the samples that drawings are judged by."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
from manifold3d import Manifold

from trysquare.ground.placement import Array, Placement, Triple
from trysquare.machine.load import load_machine
from trysquare.solid.drawing import NEW, OLD, Mesh, Piece, Scene, View, mesh, scene_of
from trysquare.solid.drawing.edges import edges_of
from trysquare.solid.shapes import Solid, makes_solid, solid_from, solid_of
from trysquare.stock.bringing import bringing

LARCH = Path(__file__).resolve().parent.parent / "demo" / "larch"
ABOVE = View((0.0, 0.0, -1.0), up=(0.0, 1.0, 0.0))


def box(x: float, y: float, z: float) -> Solid:
    """A box with one corner at the origin."""
    return solid_from(Manifold.cube((x, y, z)))


def cylinder(radius: float, height: float, sides: int = 256) -> Solid:
    """A cylinder about z, its middle at the origin."""
    return solid_from(Manifold.cylinder(height, radius, radius, sides, True))


def sphere(radius: float, sides: int = 256) -> Solid:
    return solid_from(Manifold.sphere(radius, sides))


def torus(ring: float, tube: float, around: int = 240, across: int = 120) -> Mesh:
    """A torus about z."""
    u, v = np.meshgrid(
        np.arange(around) * 2 * math.pi / around, np.arange(across) * 2 * math.pi / across, indexing="ij"
    )
    out = ring + tube * np.cos(v)
    points = np.stack([out * np.cos(u), out * np.sin(u), tube * np.sin(v)], axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(around), np.arange(across), indexing="ij")
    a, b = i * across + j, (i + 1) % around * across + j
    c, d = (i + 1) % around * across + (j + 1) % across, i * across + (j + 1) % across
    rows = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    return mesh(points, rows)


def at(body: Solid | Mesh, x: float, y: float, z: float, *, id: str = "", role: str = OLD) -> Piece:  # noqa: A002
    """A body moved there."""
    place = Placement(origin_mm=np.array([x, y, z], dtype=float))
    return Piece(id=id or f"part at {x:g} {y:g} {z:g}", body=body, placement=place, role=role)


def larch_step(step: int) -> Scene:
    """The solids of the demo machine after a step."""
    machine = load_machine(LARCH)
    return scene_of(
        Piece(
            id=part.id,
            body=solid_of(part.type, LARCH),
            placement=part.placement,
            role=NEW if entry.step == step else OLD,
        )
        for entry in bringing(machine)
        if entry.step <= step
        for part in entry.pieces
        if makes_solid(part.type)
    )


def triangles_of(scene: Scene) -> Array:
    """Array (n, 3, 3): all triangles in the machine frame."""
    return np.concatenate(
        [piece.placement.point(piece.body.points_mm)[piece.body.triangles] for piece in scene.pieces]
    )


def samples_on_edges(scene: Scene, view: View, every_mm: float) -> Array:
    """Array (n, 3): points on all edges with a face towards the eye, hidden or not, so far apart on paper."""
    found = []
    away = view.frame()[2]
    for piece in scene.pieces:
        edges = edges_of(piece.body)
        front = (edges.normals @ (away @ piece.placement.turn)) < 0
        some = (front[edges.faces[:, 0]] | front[edges.faces[:, 1]]) & edges.sharp
        ends = piece.placement.point(edges.points_mm)[edges.ends[some]]
        on_paper = view.project(ends.reshape(-1, 3)).reshape(-1, 2, 3)[:, :, :2]
        count = np.floor(np.linalg.norm(on_paper[:, 1] - on_paper[:, 0], axis=1) / every_mm).astype(int)
        row = np.repeat(np.arange(len(ends)), count)
        place = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
        share = (place + 0.5) / np.maximum(count[row], 1)
        found.append(ends[row, 0] + (ends[row, 1] - ends[row, 0]) * share[:, None])
    return np.concatenate(found)


def free_by_rays(scene: Scene) -> Callable[[Array, Triple | Array, float], Array]:
    """A judge by another library: whether the way from points (n, 3) towards the eye is free, after
    leaving a little slack at the point itself."""
    from embreex.mesh_construction import TriangleMesh
    from embreex.rtcore_scene import EmbreeScene

    rays = EmbreeScene()
    TriangleMesh(rays, triangles_of(scene).astype(np.float32))

    def free(points: Array, away: Triple | Array, slack_mm: float) -> Array:
        to_eye = -np.asarray(away, dtype=float)
        starts = (points + to_eye * slack_mm).astype(np.float32)
        ways = np.tile(to_eye.astype(np.float32), (len(points), 1))
        hit: Array = np.asarray(rays.run(starts, ways, query="INTERSECT")) < 0
        return hit

    return free
