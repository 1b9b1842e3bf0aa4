"""The large flat faces of a body, each as its plane and its border: what a body covers for certain."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.edges import Edges, edges_of
from trysquare.solid.drawing.scene import Body, Numbers
from trysquare.solid.meshes import normals_of

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
    """The large flat faces. A mesh with an edge of three faces has none: its borders need not close."""
    name = _joined(len(edges.triangles), edges.level) if edges.tidy else np.zeros(0, dtype=np.int64)
    if not len(name):
        none = np.zeros((0, 3))
        return Flats(none, np.zeros(0), np.zeros(0), none, none, np.zeros(0, dtype=np.int64), False)
    whole = np.zeros((int(name.max()) + 1, 3))
    np.add.at(whole, name, normals_of(edges.points_mm, edges.triangles))
    double_area = np.linalg.norm(whole, axis=1)
    size = float((edges.high_mm - edges.low_mm).max())
    along = np.einsum("nkj,nj->nk", edges.points_mm[edges.triangles], whole[name])
    along /= np.maximum(double_area, 1e-300)[name, None]
    most, least = np.full(len(whole), -np.inf), np.full(len(whole), np.inf)
    np.maximum.at(most, name, along.max(axis=1))
    np.minimum.at(least, name, along.min(axis=1))
    kept = (double_area > 2 * LEAST_SHARE * size * size) & (most - least <= MOST_DEEP_MM)
    number = np.where(kept, np.cumsum(kept) - 1, -1)
    begins, ends, faces = [], [], []
    for side in (0, 1):
        there = edges.faces[:, side] >= 0
        face = number[name[edges.faces[there, side]]]
        row = edges.ends[there][face >= 0]
        begins.append(row[:, side])
        ends.append(row[:, 1 - side])
        faces.append(face[face >= 0])
    face = np.concatenate(faces)
    order = np.argsort(face, kind="stable")
    return Flats(
        normals=whole[kept] / double_area[kept, None],
        off_mm=most[kept],
        deep_mm=(most - least)[kept],
        begin=edges.points_mm[np.concatenate(begins)[order]],
        end=edges.points_mm[np.concatenate(ends)[order]],
        face=face[order],
        both_sides=not edges.closed,
    )


def _joined(count: int, pairs: Numbers) -> Numbers:
    """Array (count,): a number for each set of things that pairs (k, 2) join, from 0."""
    label = np.arange(count)
    one, two = pairs[:, 0], pairs[:, 1]
    while len(pairs):
        least = np.minimum(label[one], label[two])
        before = label.copy()
        np.minimum.at(label, label[one], least)
        np.minimum.at(label, label[two], least)
        label = label[label]
        if np.array_equal(label, before):
            break
    _, name = np.unique(label, return_inverse=True)
    return name.reshape(-1)
