"""A mesh's triangles put together into flats, each the part of a plane; with what lies beside what."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.intake.bodies import Triangles

Numbers = NDArray[np.int64]

FLAT_COSINE = math.cos(math.radians(0.3))  # neighbours turned by less are one flat
OFF_PLANE_MM = 2e-3  # text with six digits, at half a metre
SLIVER_MM2 = 0.02  # twice the area; the normal of less says little
SLIVER_MM = 0.01  # and so narrow: the first band of a fillet of a tenth is wider
SAME_POINT_MM = 1e-5
MOST_FLATS = 6000  # more is a free form


@dataclass(slots=True, eq=False)
class Mesh:
    """Flats of a mesh. `flat_of`: of each triangle; `normal` (k, 3), `area` (k,), `centre` (k, 3);
    `points`: numbers of each flat's points; `beside`: of each flat, those that share an edge with it."""

    points_mm: Array
    triangles: Triangles
    flat_of: Numbers
    normal: Array
    area: Array
    centre: Array
    points: list[Numbers]
    beside: dict[int, set[int]]


def flats_of(points: Array, triangles: Triangles) -> Mesh | None:
    """The flats of a mesh: points (n, 3), triangles (m, 3); None when they are too many to be a made part."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    rounded = np.round(points / SAME_POINT_MM).astype(np.int64)
    _, first, inverse = np.unique(rounded, axis=0, return_index=True, return_inverse=True)
    points, triangles = points[first], inverse.reshape(-1)[triangles]
    a, b, c = (points[triangles[:, number]] for number in range(3))
    doubled = np.cross(b - a, c - a)
    size = np.linalg.norm(doubled, axis=1)
    keep = size > 1e-12
    triangles, doubled, size, a, b = triangles[keep], doubled[keep], size[keep], a[keep], b[keep]
    normals = doubled / size[:, None]
    one, two = _pairs(triangles)
    alike = np.einsum("ij,ij->i", normals[one], normals[two])
    # a sliver's normal says little: its points tell whether it lies in its neighbour's plane
    large, small = np.where(size[one] >= size[two], one, two), np.where(size[one] >= size[two], two, one)
    off = np.abs(np.einsum("ikj,ij->ik", points[triangles[small]] - a[large][:, None], normals[large])).max(
        axis=1
    )
    longest = np.linalg.norm(
        np.stack([b - a, points[triangles[:, 2]] - b, a - points[triangles[:, 2]]]), axis=2
    )
    sliver = (size < SLIVER_MM2) & (size < SLIVER_MM * longest.max(axis=0))
    joined = (alike > FLAT_COSINE) | ((off < OFF_PLANE_MM) & (alike > 0.9) & sliver[small])
    count = len(triangles)
    graph = coo_array((np.ones(int(joined.sum())), (one[joined], two[joined])), shape=(count, count))
    flats, flat_of = connected_components(graph, directed=False)
    if flats > MOST_FLATS or not flats:
        return None
    area: Array = np.bincount(flat_of, size / 2, flats).astype(float)
    normal: Array = np.stack([np.bincount(flat_of, doubled[:, k], flats) for k in range(3)], axis=1)
    normal = normal / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    middle = points[triangles].mean(axis=1)
    centre: Array = np.stack([np.bincount(flat_of, middle[:, k] * size / 2, flats) for k in range(3)], axis=1)
    centre = centre / np.maximum(area, 1e-12)[:, None]
    order = np.argsort(flat_of, kind="stable")
    cuts = np.searchsorted(flat_of[order], np.arange(1, flats))
    beside: dict[int, set[int]] = defaultdict(set)
    for first_flat, second_flat in zip(flat_of[one].tolist(), flat_of[two].tolist(), strict=True):
        if first_flat != second_flat:
            beside[first_flat].add(second_flat)
            beside[second_flat].add(first_flat)
    own = [np.unique(triangles[rows]) for rows in np.split(order, cuts)]
    return Mesh(points, triangles, flat_of.astype(np.int64), normal, area, centre, own, beside)


def _pairs(triangles: Triangles) -> tuple[Numbers, Numbers]:
    """Triangles that share an edge."""
    edges = np.sort(
        np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1
    )
    number = np.tile(np.arange(len(triangles)), 3)
    order = np.lexsort((edges[:, 1], edges[:, 0]))
    edges, number = edges[order], number[order]
    same = (edges[1:] == edges[:-1]).all(axis=1)
    return number[:-1][same], number[1:][same]
