"""The edges of a mesh with the faces on either side: all a line drawing of it can consist of.

Worked out once for each different body. Edges inside a flat face are left out: they are neither seen as a
crease nor ever an outline.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.solid.drawing.scene import Body, Numbers
from trysquare.solid.meshes import normals_of, signed_volume_mm3

SHARP_RAD = math.radians(35.0)  # flats of a drawn round turn by 30° at most, a chamfer by 45°
FLAT_RAD = 1e-3  # a round of 6000 flats turns more from one to the next, rounding of a flat face less
SLIVER_MM = 1e-4  # a triangle this low has no normal worth the name
SAME_POINT_REL = 1e-9  # of the body's size: points of a mesh nearer than this are one
KEPT_EDGES = 4000

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """A mesh ready for drawing.

    `points_mm` (n, 3). `triangles` (m, 3), degenerate ones left out. `normals` (m, 3), unit, outwards.
    `ends` (e, 2): point numbers. `faces` (e, 2): triangles on either side, the second -1 where the mesh
    has its rim. `low_mm`, `high_mm` (3,): its box. `sharp`, `convex` (e,): crease and ridge. `closed`:
    every edge has two faces, so that faces turned away from the eye are never seen. `dropped`: how many
    triangles had no area.
    """

    points_mm: Array
    triangles: Numbers
    normals: Array
    ends: Numbers
    faces: Numbers
    low_mm: Array
    high_mm: Array
    sharp: Flags
    convex: Flags
    closed: bool
    dropped: int


_edges: OrderedDict[bytes, Edges] = OrderedDict()


def edges_of(body: Body) -> Edges:
    """The edges of a body, made once for each different one."""
    known = _edges.get(body.digest)
    if known is None:
        known = find_edges(body.points_mm, body.triangles)
        _edges[body.digest] = known
        if len(_edges) > KEPT_EDGES:
            _edges.popitem(last=False)
    return known


def forget_edges() -> None:
    """Drops all edges kept in memory, for measuring a cold start."""
    _edges.clear()


def find_edges(points_mm: Array, triangles: Numbers) -> Edges:
    """The edges of points (n, 3) and triangles (m, 3).

    Triangles with a corner that is no number, or two corners in one place, are dropped and counted. A
    closed mesh that is inside out is turned.
    """
    points, rows, dropped = _welded(points_mm, triangles)
    twins = _half_edges(rows)
    closed = bool(len(rows)) and twins.closed
    if closed and signed_volume_mm3(points, rows) < 0:
        rows = rows[:, ::-1].copy()
        twins = _half_edges(rows)
    normals = _normals(points, rows, twins)
    first, second = twins.faces[:, 0], twins.faces[:, 1]
    rim = (second < 0) | twins.many
    cosine = np.einsum("ij,ij->i", normals[first], normals[second])
    along = points[twins.ends[:, 1]] - points[twins.ends[:, 0]]
    bend = np.einsum("ij,ij->i", np.cross(normals[first], normals[second]), along)
    keep = rim | (cosine < math.cos(FLAT_RAD))
    return Edges(
        points_mm=points,
        triangles=rows,
        normals=normals,
        ends=twins.ends[keep],
        faces=twins.faces[keep],
        low_mm=points.min(axis=0) if len(points) else np.zeros(3),
        high_mm=points.max(axis=0) if len(points) else np.zeros(3),
        sharp=(rim | (cosine < math.cos(SHARP_RAD)))[keep],
        convex=(rim | (bend >= 0))[keep],
        closed=closed,
        dropped=dropped,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Twins:
    """Every edge once: its ends in the winding of its first face, its two faces, whether it has more."""

    ends: Numbers
    faces: Numbers
    many: Flags
    closed: bool
    of_half: Numbers  # (3 m,): which edge each side of each triangle is


def _welded(points_mm: Array, triangles: Numbers) -> tuple[Array, Numbers, int]:
    """Points in one place made one, and the triangles that still have three different corners."""
    given = len(triangles)
    points = np.asarray(points_mm, dtype=float)
    sound = np.isfinite(points).all(axis=1)
    rows = np.asarray(triangles, dtype=np.int64)
    rows = rows[sound[rows].all(axis=1)]
    if not len(rows):
        return np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64), given
    points = np.where(sound[:, None], points, points[rows[0, 0]])
    low = points.min(axis=0)
    grid = max(float((points.max(axis=0) - low).max()) * SAME_POINT_REL, 1e-12)
    _, kept, name = np.unique(
        np.rint((points - low) / grid).astype(np.int64), axis=0, return_index=True, return_inverse=True
    )
    rows = name.reshape(-1)[rows]
    differ = (rows[:, 0] != rows[:, 1]) & (rows[:, 1] != rows[:, 2]) & (rows[:, 2] != rows[:, 0])
    rows = rows[differ]
    return points[kept], rows, given - len(rows)


def _half_edges(rows: Numbers) -> _Twins:
    begin = rows.reshape(-1)
    end = rows[:, [1, 2, 0]].reshape(-1)
    low, high = np.minimum(begin, end), np.maximum(begin, end)
    key = low * (int(high.max(initial=0)) + 1) + high
    order = np.argsort(key, kind="stable")
    starts = np.flatnonzero(np.diff(key[order], prepend=-1))
    counts = np.diff(np.append(starts, len(key)))
    face = order // 3
    second = np.full(len(starts), -1, dtype=np.int64)
    pair = counts >= 2
    second[pair] = face[starts[pair] + 1]
    first_half = order[starts]
    # both faces must run along the edge in opposite ways, or they do not agree on what is outside
    agree = np.ones(len(starts), dtype=bool)
    agree[pair] = begin[first_half[pair]] != begin[order[starts[pair] + 1]]
    of_half = np.empty(len(key), dtype=np.int64)
    of_half[order] = np.repeat(np.arange(len(starts)), counts)
    return _Twins(
        ends=np.stack([begin[first_half], end[first_half]], axis=1),
        faces=np.stack([face[starts], second], axis=1),
        many=(counts > 2) | ~agree,
        # an even number of faces round each edge still closes the body: two boxes that share an edge
        closed=bool((counts % 2 == 0).all() and agree[counts == 2].all()),
        of_half=of_half,
    )


def _normals(points: Array, rows: Numbers, twins: _Twins) -> Array:
    """Unit normals; a sliver takes that of the face beyond its longest side.

    Its third corner lies on that side, so it is part of that face, and the edge it belongs to is the one
    along its two other sides.
    """
    normals = normals_of(points, rows)
    double_area = np.linalg.norm(normals, axis=1)
    sides = np.linalg.norm(points[rows[:, [1, 2, 0]]] - points[rows], axis=2)
    longest = sides.argmax(axis=1) if len(rows) else np.zeros(0, dtype=np.int64)
    length = sides.max(axis=1, initial=0.0)
    size = float(np.ptp(points, axis=0).max()) if len(points) else 0.0
    sliver = double_area <= np.minimum(SLIVER_MM, 1e-6 * size) * length
    normals = normals / np.maximum(double_area, 1e-300)[:, None]
    narrow = np.flatnonzero(sliver)
    beyond = twins.faces[twins.of_half[narrow * 3 + longest[narrow]]]
    beyond = np.where(beyond[:, 0] == narrow, beyond[:, 1], beyond[:, 0])
    open_ = sliver.copy()
    for _ in range(8):  # slivers in a row hand the normal on
        ready = open_[narrow] & (beyond >= 0) & ~open_[beyond]
        if not ready.any():
            break
        normals[narrow[ready]] = normals[beyond[ready]]
        open_[narrow[ready]] = False
    return np.asarray(normals)
