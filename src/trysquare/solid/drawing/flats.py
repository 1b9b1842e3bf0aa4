"""The large flat faces of a body, each as its plane and its border: what a body covers for certain."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.edges import Edges, edges_of, raw_normals
from trysquare.solid.drawing.scene import Body, Numbers

LEAST_SHARE = 0.004  # of the square over the body's longest side; a smaller face covers next to nothing
MOST_DEEP_MM = 0.02  # a face that bends by more counts as none
KEPT_FLATS = 4000


@dataclass(frozen=True, slots=True, eq=False)
class Flats:
    """Flat faces. `normals` (f, 3), outwards; `off_mm` (f,): a point of the plane along its normal, the
    outermost of the face, and `deep_mm` (f,) how far its innermost lies below. `begin`, `end` (s, 3): pieces
    of borders in mm, the face to their left seen from outside; `face` (s,): whose each is, in order."""

    normals: Array
    off_mm: Array
    deep_mm: Array
    begin: Array
    end: Array
    face: Numbers
    both_sides: bool


_flats: OrderedDict[bytes, Flats] = OrderedDict()


def forget_flats() -> None:
    """Drops all kept in memory, for measuring a cold start."""
    _flats.clear()


def flats_of(body: Body) -> Flats:
    """The flat faces of a body, found once for each different one."""
    known = _flats.get(body.digest)
    if known is None:
        known = find_flats(edges_of(body))
        _flats[body.digest] = known
        if len(_flats) > KEPT_FLATS:
            _flats.popitem(last=False)
    return known


def find_flats(edges: Edges) -> Flats:
    """The large flat faces: triangles of one plane, in one piece or several. A mesh with an edge of three
    faces has none: its borders need not close."""
    if not edges.tidy or not len(edges.triangles):
        none = np.zeros((0, 3))
        return Flats(none, np.zeros(0), np.zeros(0), none, none, np.zeros(0, dtype=np.int64), False)
    corners = edges.points_mm[edges.triangles]
    along = np.einsum("nkj,nj->nk", corners, edges.normals)
    name = _planes(edges.normals, along[:, 0])
    area = np.einsum("ij,ij->i", raw_normals(edges.points_mm, edges.triangles), edges.normals)
    double_area = np.bincount(name, area)
    size = float((edges.high_mm - edges.low_mm).max())
    number = np.where(double_area > 2 * LEAST_SHARE * size * size, 0, -1)
    number[number == 0] = np.arange(int((number == 0).sum()))
    some = number[name] >= 0
    of, along = number[name[some]], along[some]
    first = np.unique(of, return_index=True)[1]
    normals = edges.normals[some][first]
    along = np.einsum("nkj,nj->nk", corners[some], normals[of])
    most, least = np.full(len(normals), -np.inf), np.full(len(normals), np.inf)
    np.maximum.at(most, of, along.max(axis=1))
    np.minimum.at(least, of, along.min(axis=1))
    even = most - least <= MOST_DEEP_MM
    number[number >= 0] = np.where(even, np.cumsum(even) - 1, -1)
    # a plane's border: where a triangle of another one follows, be it as good as the same
    apart = name[edges.level[:, 0]] != name[edges.level[:, 1]]
    ends = np.concatenate([edges.ends, edges.level_ends[apart]])
    beside = np.concatenate([edges.faces, edges.level[apart]])
    within = (beside[:, 1] >= 0) & (name[beside[:, 0]] == name[beside[:, 1]])
    ends, beside = ends[~within], beside[~within]
    begins, stops, faces = [], [], []
    for side in (0, 1):
        face = np.where(beside[:, side] >= 0, number[name[beside[:, side]]], -1)
        row = ends[face >= 0]
        begins.append(row[:, side])
        stops.append(row[:, 1 - side])
        faces.append(face[face >= 0])
    face = np.concatenate(faces)
    order = np.argsort(face, kind="stable")
    return Flats(
        normals=normals[even],
        off_mm=most[even],
        deep_mm=(most - least)[even],
        begin=edges.points_mm[np.concatenate(begins)[order]],
        end=edges.points_mm[np.concatenate(stops)[order]],
        face=face[order],
        both_sides=not edges.closed,
    )


def _planes(normals: Array, off_mm: Array) -> Numbers:
    """Array (m,): a number for the plane of each triangle, from 0.

    Two planes that by rare chance share one are told by what lies off the plane, and two numbers for one
    plane only cost a border.
    """
    whole = np.rint(normals * 1e4).astype(np.int64)
    key = np.rint(off_mm * 1e3).astype(np.int64)
    for k, factor in enumerate((1_000_003, 998_244_353, 1_000_000_007)):
        key = key * factor + whole[:, k]
    _, name = np.unique(key, return_inverse=True)
    return name.reshape(-1)
