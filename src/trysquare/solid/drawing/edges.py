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
    has its rim. `low_mm`, `high_mm` (3,): its box. `sharp`, `convex` (e,): crease and ridge. `level`,
    `level_ends` (k, 2): triangles that go on flat into each other, and the points between. `closed`: every
    edge has two faces, so that faces turned away from the eye are never seen. `tidy`: no edge has more than
    two faces or faces that do not agree on what is outside. `dropped`: how many triangles had no area.
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
    level: Numbers
    level_ends: Numbers
    closed: bool
    tidy: bool
    dropped: int


@dataclass(frozen=True, slots=True, eq=False)
class Welded:
    """A mesh with points in one place made one. `points_mm` (n, 3), `triangles` (m, 3) with three different
    corners; `low_mm`, `high_mm` (3,): its box; `dropped`: how many triangles had no area."""

    points_mm: Array
    triangles: Numbers
    low_mm: Array
    high_mm: Array
    dropped: int


_welded: OrderedDict[bytes, Welded] = OrderedDict()
_edges: OrderedDict[bytes, Edges] = OrderedDict()


def welded_of(body: Body) -> Welded:
    """A body's mesh, welded once for each different one: all that is asked of what is not seen."""
    known = _welded.get(body.digest)
    if known is None:
        known = weld(body.points_mm, body.triangles)
        _welded[body.digest] = known
        if len(_welded) > KEPT_EDGES:
            _welded.popitem(last=False)
    return known


def edges_of(body: Body) -> Edges:
    """The edges of a body, made once for each different one."""
    known = _edges.get(body.digest)
    if known is None:
        known = find_edges(welded_of(body))
        _edges[body.digest] = known
        if len(_edges) > KEPT_EDGES:
            _edges.popitem(last=False)
    return known


def forget_edges() -> None:
    """Drops all edges kept in memory, for measuring a cold start."""
    _welded.clear()
    _edges.clear()


def weld(points_mm: Array, triangles: Numbers) -> Welded:
    """Points (n, 3) in one place made one, and the triangles (m, 3) that still have three different corners.

    Triangles with a corner that is no number, or two corners in one place, are dropped and counted.
    """
    given = len(triangles)
    points = np.asarray(points_mm, dtype=float)
    rows = np.asarray(triangles, dtype=np.int64)
    sound = np.isfinite(points).all(axis=1)
    if not sound.all():
        rows = rows[sound[rows].all(axis=1)]
    if not len(rows):
        return Welded(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64), np.zeros(3), np.zeros(3), given)
    points = points if sound.all() else np.where(sound[:, None], points, points[rows[0, 0]])
    low = points.min(axis=0)
    grid = max(float((points.max(axis=0) - low).max()) * SAME_POINT_REL, 1e-12)
    whole = np.rint((points - low) / grid).astype(np.int64)
    order = np.lexsort((whole[:, 2], whole[:, 1], whole[:, 0]))
    sorted_ = whole[order]
    first = np.append(True, (sorted_[1:] != sorted_[:-1]).any(axis=1))
    name = np.empty(len(points), dtype=np.int64)
    name[order] = np.cumsum(first) - 1
    rows = name[rows]
    differ = (rows[:, 0] != rows[:, 1]) & (rows[:, 1] != rows[:, 2]) & (rows[:, 2] != rows[:, 0])
    if not differ.all():
        rows = rows[differ]
    points = points[order[first]]
    return Welded(points, rows, points.min(axis=0), points.max(axis=0), given - len(rows))


def find_edges(mesh: Welded) -> Edges:
    """The edges of a mesh. A closed one that is inside out is turned."""
    points, rows = mesh.points_mm, mesh.triangles
    twins = _half_edges(rows)
    closed = bool(len(rows)) and twins.closed
    raw = raw_normals(points, rows)
    # a sixth of the sum of the triple products of corners is the volume inside
    if closed and float(np.einsum("ij,ij->", points[rows[:, 0]] - points.mean(axis=0), raw)) < 0:
        rows, raw = rows[:, ::-1].copy(), -raw
        twins = _half_edges(rows)
    normals = _normals(points, rows, raw, twins)
    first, second = twins.faces[:, 0], twins.faces[:, 1]
    rim = (second < 0) | twins.many
    one, two = normals[first], normals[second]
    cosine = np.einsum("ij,ij->i", one, two)
    keep = rim | (cosine < math.cos(FLAT_RAD))
    ends, rim, cosine = twins.ends[keep], rim[keep], cosine[keep]
    bend = np.einsum("ij,ij->i", _crossed(one[keep], two[keep]), points[ends[:, 1]] - points[ends[:, 0]])
    return Edges(
        points_mm=points,
        triangles=rows,
        normals=normals,
        ends=ends,
        faces=twins.faces[keep],
        low_mm=mesh.low_mm,
        high_mm=mesh.high_mm,
        sharp=rim | (cosine < math.cos(SHARP_RAD)),
        convex=rim | (bend >= 0),
        level=twins.faces[~keep],
        level_ends=twins.ends[~keep],
        closed=closed,
        tidy=not twins.many.any(),
        dropped=mesh.dropped,
    )


def _crossed(one: Array, two: Array) -> Array:
    """Cross products of rows (n, 3), many times quicker than numpy's own for few rows."""
    a, b, c = one.T
    x, y, z = two.T
    answer = np.empty(one.shape)
    answer[:, 0], answer[:, 1], answer[:, 2] = b * z - c * y, c * x - a * z, a * y - b * x
    return answer


def raw_normals(points: Array, rows: Numbers) -> Array:
    """Normals of triangles, as long as twice their area."""
    corner = points[rows]
    return _crossed(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])


@dataclass(frozen=True, slots=True, eq=False)
class _Twins:
    """Every edge once: its ends in the winding of its first face, its two faces, whether it has more."""

    ends: Numbers
    faces: Numbers
    many: Flags
    closed: bool
    of_half: Numbers  # (3 m,): which edge each side of each triangle is


def _half_edges(rows: Numbers) -> _Twins:
    begin = rows.reshape(-1)
    end = rows[:, [1, 2, 0]].reshape(-1)
    low, high = np.minimum(begin, end), np.maximum(begin, end)
    key = low * (int(high.max(initial=0)) + 1) + high
    order = _sorted(key)
    key = key[order]
    starts = np.flatnonzero(np.append(True, key[1:] != key[:-1])[: len(key)])
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


def _sorted(key: Numbers) -> Numbers:
    """The order that sorts keys from 0, equal ones as they stand."""
    count = len(key)
    if int(key.max(initial=0)) >= 2**62 // max(count, 1):
        return np.argsort(key, kind="stable")
    # sorting key and place as one number is several times quicker than sorting places by key
    return np.sort(key * count + np.arange(count)) % max(count, 1)


def _normals(points: Array, rows: Numbers, raw: Array, twins: _Twins) -> Array:
    """Unit normals; a sliver takes that of the face beyond its longest side.

    Its third corner lies on that side, so it is part of that face, and the edge it belongs to is the one
    along its two other sides.
    """
    double_area = np.sqrt(np.einsum("ij,ij->i", raw, raw))
    normals = raw / np.maximum(double_area, 1e-300)[:, None]
    size = float(np.ptp(points, axis=0).max()) if len(points) else 0.0
    lowest = min(SLIVER_MM, 1e-6 * size)
    sliver = double_area <= lowest * 2 * size  # no side is longer than that
    narrow = np.flatnonzero(sliver)
    if not len(narrow):
        return np.asarray(normals)
    sides = np.linalg.norm(points[rows[narrow][:, [1, 2, 0]]] - points[rows[narrow]], axis=2)
    thin = double_area[narrow] <= lowest * sides.max(axis=1)
    sliver[narrow[~thin]] = False
    narrow, longest = narrow[thin], sides.argmax(axis=1)[thin]
    beyond = twins.faces[twins.of_half[narrow * 3 + longest]]
    beyond = np.where(beyond[:, 0] == narrow, beyond[:, 1], beyond[:, 0])
    open_ = sliver.copy()
    for _ in range(8):  # slivers in a row hand the normal on
        ready = open_[narrow] & (beyond >= 0) & ~open_[beyond]
        if not ready.any():
            break
        normals[narrow[ready]] = normals[beyond[ready]]
        open_[narrow[ready]] = False
    return np.asarray(normals)
