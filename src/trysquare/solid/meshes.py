"""Triangle meshes as arrays: their volume, and the solid kernel's body of one."""

from __future__ import annotations

import numpy as np
from manifold3d import Error, Manifold, Mesh64
from numpy.typing import NDArray

from trysquare.ground.placement import Array

Triangles = NDArray[np.int64]

SAME_VOLUME = 1e-6  # relative


def signed_volume_mm3(points_mm: Array, triangles: Triangles) -> float:
    """Volume inside a closed mesh: positive when its faces look outwards.

    Equation: a sixth of the sum of the corners' triple products, taken from a point of the mesh
    so that a part far from the origin loses no digits.
    """
    corner = points_mm[triangles] - points_mm[0]
    return float(np.einsum("ij,ij->", corner[:, 0], cross_rows(corner[:, 1], corner[:, 2]))) / 6.0


def manifold_of(points_mm: Array, triangles: Triangles) -> Manifold | None:
    """The kernel's body of a closed mesh; None when the kernel does not take it just as it is.

    On reading a mesh the kernel merges faces that lie in one plane, and now and then it takes a
    corner away that it should keep. The volume before and after tells.
    """
    body = Manifold(
        Mesh64(
            vert_properties=np.ascontiguousarray(points_mm),
            tri_verts=np.ascontiguousarray(triangles.astype(np.uint64)),
        )
    )
    if body.status() != Error.NoError or body.is_empty():
        return None
    expected = signed_volume_mm3(points_mm, triangles)
    if abs(float(body.volume()) - expected) > SAME_VOLUME * abs(expected):
        return None
    return body


def normals_of(points_mm: Array, triangles: Triangles) -> Array:
    """Array (m, 3): normals of triangles, as long as twice their area."""
    corner = points_mm[triangles]
    return cross_rows(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])


def cross_rows(a: Array, b: Array) -> Array:
    """Array (m, 3): cross products of the rows of two; several times quicker than numpy's for few rows."""
    product = np.empty_like(a)
    for k, (m, n) in enumerate(((1, 2), (2, 0), (0, 1))):
        product[:, k] = a[:, m] * b[:, n] - a[:, n] * b[:, m]
    return product


def thinned_points(points_mm: Array, triangles: Triangles, by_mm: float, most_mm: float) -> Array:
    """Array (n, 3): the points moved inwards so that every face moves by `by_mm`.

    Equation: each point moves by δ with normal · δ = −by_mm for all faces round it, the shortest such
    δ, in least squares where more than three planes meet; never by more than `most_mm`.
    """
    normals = normals_of(points_mm, triangles)
    normals = normals / np.maximum(np.linalg.norm(normals, axis=1), 1e-30)[:, None]
    count = len(points_mm)
    corners = triangles.ravel()
    around = np.repeat(normals, 3, axis=0)
    total = np.column_stack([np.bincount(corners, around[:, k], count) for k in range(3)])
    square = np.empty((count, 3, 3))
    for k in range(3):
        for m in range(k + 1):
            square[:, k, m] = square[:, m, k] = np.bincount(corners, around[:, k] * around[:, m], count)
    # 1e-6: normals of one plane differ by rounding only, which must not count as another plane
    shift = -by_mm * np.einsum("nij,nj->ni", np.linalg.pinv(square, rcond=1e-6, hermitian=True), total)
    length = np.linalg.norm(shift, axis=1)
    shift *= np.minimum(1.0, most_mm / np.maximum(length, 1e-30))[:, None]
    return np.asarray(points_mm + shift)
