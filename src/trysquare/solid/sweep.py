"""The space a part passes through when it is moved straight, and what stands in its way.

Equation: sweep = start ∪ ⋃ (faces that look forward, each drawn out along the way). It is exact for
flat-faced solids: whatever leaves the start goes out through a face that looks forward.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Collection, Sequence
from pathlib import Path

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold, OpType
from numpy.typing import NDArray

from trysquare.ground.placement import Array, Triple, facing, unit
from trysquare.machine.values import PlacedPart
from trysquare.solid.meshes import manifold_of, normals_of
from trysquare.solid.overlap import Overlap, Standing, crosses_any, crossings, standing
from trysquare.solid.shapes import Solid, makes_solid, solid_from, solid_of, solid_of_mesh

Numbers = NDArray[np.int64]

KEPT_SWEEPS = 4000
ALONG = 1e-6  # a face this near to parallel with the way sweeps nothing: 1e-3 mm over 1 m
SAME_PLANE = 1e-6  # of unit normals
SAME_AREA = 1e-6  # relative; a front whose shadow is smaller than its faces' shadows folds over itself

_sweeps: OrderedDict[tuple[bytes, bytes], Solid] = OrderedDict()
_pieces: OrderedDict[tuple[bytes, bytes], tuple[Solid, ...]] = OrderedDict()


def swept(solid: Solid, direction: Triple | Array, distance_mm: float) -> Solid:
    """All that the solid passes through, in its own coordinates, its start included.

    A distance of 0 gives the solid itself; a negative or non-finite one raises ValueError.
    """
    if not 0 <= distance_mm < float("inf"):
        raise ValueError("a distance must be finite and not below 0")
    if distance_mm == 0:
        return solid
    way = unit(direction)
    # + 0.0 makes -0.0 into 0.0: the same way
    key = (solid.digest, (np.round(np.append(way, distance_mm), 9) + 0.0).tobytes())
    known = _sweeps.get(key)
    if known is None:
        prisms = [prism.manifold for prism in _prisms(solid, way, distance_mm)]
        known = solid_from(Manifold.batch_boolean([solid.manifold, *prisms], OpType.Add))
        _sweeps[key] = known
        if len(_sweeps) > KEPT_SWEEPS:
            _sweeps.popitem(last=False)
    return known


def forget_sweeps() -> None:
    """Drops all swept bodies kept in memory, for measuring a cold start."""
    _sweeps.clear()
    _pieces.clear()


def swept_pieces(solid: Solid, direction: Triple | Array, distance_mm: float) -> tuple[Solid, ...]:
    """What the solid passes through beyond its start, as bodies that need not be made one.

    Enough to ask what stands in the way of a part whose own place is free, and several times quicker
    than `swept`, which unites them.
    """
    way = unit(direction)
    key = (solid.digest, np.round(np.append(way, distance_mm), 9).tobytes())
    known = _pieces.get(key)
    if known is None:
        known = tuple(_prisms(solid, way, distance_mm))
        _pieces[key] = known
        if len(_pieces) > KEPT_SWEEPS:
            _pieces.popitem(last=False)
    return known


def path_blockers(
    moving: PlacedPart,
    direction: Triple | Array,
    distance_mm: float,
    obstacles: Sequence[PlacedPart] | Standing,
    folder: str | Path = "",
    *,
    present: Collection[str] | None = None,
    ignoring: Collection[str] = (),
) -> tuple[Overlap, ...]:
    """What the part would run into on a straight way, in the obstacles' order; empty when free.

    `moving` stands at one end of the way and `direction` (machine frame) points along it: for coming
    in, give the finished place and the direction it comes from. Sliding along something, and touching
    at either end, is no collision. The part itself is never in its own way. A part without a solid
    meets nothing. Ask many times with `standing(obstacles)`; `present` then says which of them are
    there yet.
    """
    if not makes_solid(moving.type):
        return ()
    ready = obstacles if isinstance(obstacles, Standing) else standing(obstacles, folder)
    solid = _swept_part(moving, direction, distance_mm, folder)
    return crossings(moving.id, solid, moving.placement, ready, present, {moving.id, *ignoring})


def path_free(
    moving: PlacedPart,
    direction: Triple | Array,
    distance_mm: float,
    obstacles: Sequence[PlacedPart] | Standing,
    folder: str | Path = "",
    *,
    present: Collection[str] | None = None,
    ignoring: Collection[str] = (),
) -> bool:
    """Whether `path_blockers` would find nothing; several times quicker where something blocks."""
    if not makes_solid(moving.type):
        return True
    ready = obstacles if isinstance(obstacles, Standing) else standing(obstacles, folder)
    solid = _swept_part(moving, direction, distance_mm, folder)
    return not crosses_any(solid, moving.placement, ready, present, {moving.id, *ignoring})


def _swept_part(
    moving: PlacedPart, direction: Triple | Array, distance_mm: float, folder: str | Path
) -> Solid:
    way = moving.placement.back_direction(unit(direction))
    return swept(solid_of(moving.type, folder), way, distance_mm)


def _prisms(solid: Solid, way: Array, distance_mm: float) -> list[Solid]:
    """The faces that look forward, drawn out; as few bodies as can be, each free of self-crossing."""
    normals = normals_of(solid.points_mm, solid.triangles)
    length = np.linalg.norm(normals, axis=1)
    forward = (normals @ way) > ALONG * np.maximum(length, 1e-30)
    front, front_normals = solid.triangles[forward], normals[forward]
    if len(front) == 0:
        return []
    shadow = solid.points_mm @ facing(way)[:, :2]
    prisms = []
    for group in _connected(front):
        part = front[group]
        whole = None
        if _single_shadow(shadow, part):
            whole = _drawn_out(solid.points_mm, part, way * distance_mm)
        if whole is not None:
            prisms.append(whole)
            continue
        for flat in _connected(part, _planes(solid.points_mm, part, front_normals[group])):
            body = _drawn_out(solid.points_mm, part[flat], way * distance_mm)
            if body is not None:
                prisms.append(body)
                continue
            for row in part[flat]:
                one = _drawn_out(solid.points_mm, row[None], way * distance_mm)
                if one is not None:  # a needle without width sweeps nothing
                    prisms.append(one)
    return prisms


def _single_shadow(shadow_mm: Array, triangles: Numbers) -> bool:
    """Whether the triangles' shadows along the way lie side by side, none over another."""
    if len(triangles) == 1:
        return True
    corner = shadow_mm[triangles]
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = float((first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]).sum()) / 2
    union = CrossSection(list(corner), FillRule.NonZero)
    return abs(float(union.area()) - area) <= SAME_AREA * area


def _planes(points_mm: Array, triangles: Numbers, normals: Array) -> Numbers:
    """A number for each triangle; triangles in one plane have the same."""
    away = normals / np.maximum(np.linalg.norm(normals, axis=1), 1e-30)[:, None]
    offset = np.einsum("ij,ij->i", away, points_mm[triangles[:, 0]])
    rows = np.column_stack([np.rint(away / SAME_PLANE), np.rint(offset / 1e-5)])
    _, number = np.unique(rows, axis=0, return_inverse=True)
    return np.asarray(number).reshape(-1)


def _connected(triangles: Numbers, colour: Numbers | None = None) -> list[Numbers]:
    """Groups of triangles (row numbers) that hang together by edges; with `colour`, only those of
    the same colour hang together."""
    count = len(triangles)
    begins = triangles.ravel()
    ends = triangles[:, [1, 2, 0]].ravel()
    top = int(triangles.max()) + 1
    owner = np.repeat(np.arange(count), 3)
    there = begins * top + ends
    order = np.argsort(there)
    place = np.searchsorted(there[order], ends * top + begins)
    place = np.minimum(place, len(there) - 1)
    match = there[order][place] == ends * top + begins
    left, right = owner[match], owner[order][place][match]
    if colour is not None:
        same = colour[left] == colour[right]
        left, right = left[same], right[same]
    label = np.arange(count)
    while True:  # each pass takes over the least label of a neighbour, then follows the chain
        least = label.copy()
        np.minimum.at(least, left, label[right])
        least = least[least]
        if np.array_equal(least, label):
            break
        label = least
    order = np.argsort(label, kind="stable")
    breaks = np.flatnonzero(np.diff(label[order])) + 1
    return list(np.split(order, breaks))


def _drawn_out(points_mm: Array, triangles: Numbers, shift_mm: Array) -> Solid | None:
    """The body between triangles and themselves shifted; None when the kernel does not take it as it
    is, as happens where triangles meet at a single corner."""
    used, local = np.unique(triangles, return_inverse=True)
    base = local.reshape(-1, 3)
    count = len(used)
    there = base.ravel() * count + base[:, [1, 2, 0]].ravel()
    back = base[:, [1, 2, 0]].ravel() * count + base.ravel()
    rim = there[~np.isin(there, back)]
    u, v = rim // count, rim % count
    sides = np.concatenate([np.column_stack([u, v, v + count]), np.column_stack([u, v + count, u + count])])
    points = np.concatenate([points_mm[used], points_mm[used] + shift_mm])
    faces = np.concatenate([base[:, ::-1], base + count, sides])
    body = manifold_of(points, faces)
    return None if body is None else solid_of_mesh(body, points, faces)
