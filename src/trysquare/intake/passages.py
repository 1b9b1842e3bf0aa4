"""Holes that only a mesh shows: what lies round the line of a screw that goes through a part.

Parts that came as triangles have no cylinders. But where a screw's line is known, the walls round it are:
triangles that lie along the line, look at it, and are all as far from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trysquare.catalogue.values import Head, Screw, Washer
from trysquare.ground.placement import Array, cross, unit
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.intake.bodies import Shape
from trysquare.intake.pieces import Piece, Pieces
from trysquare.intake.recognise_holes import Outside
from trysquare.intake.rounding import clean_direction, rounded
from trysquare.intake.surroundings import SAME_LINE, Points
from trysquare.machine.values import Hole

ALONG = 0.02  # a wall's normal may lean by this, as a sine, and still run along the line
LOOKS_AT_IT = -0.85  # cosine between a wall's normal and the way out from the line
WIDEST = 3.2  # no counterbore is wider than this many diameters of its screw
STEP_MM = 0.15  # walls whose distances differ by less are one bore
AT_HEAD_MM = 0.03  # a floor this near to the screw's bearing face is what it bears on
ROUND_ENOUGH = 0.6  # share of the circle that a bore's walls must go round


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Walls:
    """Triangles that stand round a line, an entry each: distance of their corners, lowest and highest
    point along the line, angle and width in radians, distance of their plane."""

    radius_mm: Array
    low_mm: Array
    high_mm: Array
    angle: Array
    width: Array
    flat_mm: Array


def add_passages(found: Pieces, screws: Sequence[Piece]) -> None:
    """Adds to own types the holes on the screws' lines that their faces do not show."""
    solid = [piece for piece in found.pieces if piece.own and not piece.own.profile]
    if not solid:
        return
    washers = Points(
        piece for piece in found.pieces if piece.standard and isinstance(piece.standard.standard, Washer)
    )
    low = np.array([_box(piece)[0] for piece in solid])
    high = np.array([_box(piece)[1] for piece in solid])
    for screw in screws:
        size = screw.standard.standard  # type: ignore[union-attr]
        assert isinstance(size, Screw)
        if size.head is Head.NONE:
            continue
        head, axis = screw.placement.origin_mm, screw.placement.turn[:, 2]
        tip = head - axis * size.length_mm
        near = (np.minimum(head, tip) < high + 0.1).all(axis=1) & (np.maximum(head, tip) > low - 0.1).all(
            axis=1
        )
        for below, washer in washers.on(head, axis):
            thick = washer.standard.standard.thickness_mm  # type: ignore[union-attr]
            if -0.1 < below < thick + 0.1:
                head = head - axis * thick  # what the washer lies on
                break
        for index in np.flatnonzero(near):
            _add_passage(solid[index], head, axis, size)


def _add_passage(piece: Piece, head: Array, axis: Array, size: Screw) -> None:
    own = piece.own
    assert own is not None
    spot, out = piece.placement.back(head), piece.placement.back_direction(axis)
    for hole in own.holes:
        delta = spot - np.asarray(hole.at_mm)
        along = float(delta @ out)
        if (
            abs(float(np.asarray(hole.direction) @ out)) > SAME_LINE
            and np.linalg.norm(delta - along * out) < ON_AXIS_MM
        ):
            return
    frame = own.found.frame
    seen = hole_along(
        own.shape, frame.point(spot), frame.direction(out), size.thread.diameter_mm, size.length_mm
    )
    if seen is None:
        return
    own.holes.append(
        replace(
            seen,
            at_mm=rounded(frame.back(seen.at_mm), 4),
            direction=clean_direction(frame.back_direction(seen.direction)),
        )
    )
    own.rectangle_mm = None


def _box(piece: Piece) -> tuple[Array, Array]:
    """Lowest and highest corner of a box round an own piece, in the machine's frame."""
    own = piece.own
    assert own is not None
    box = own.shape.box_mm
    corners = np.array([[box[i, 0], box[j, 1], box[k, 2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)])
    placed = piece.placement.point(own.found.frame.back(corners))
    return placed.min(axis=0), placed.max(axis=0)


def hole_along(shape: Shape, point_mm: Array, out: Array, diameter_mm: float, reach_mm: float) -> Hole | None:
    """The hole of a shape on the line of a screw, in the shape's coordinates.

    `point_mm`: under the screw's head; `out`: unit, out of the head; `diameter_mm`: the screw's;
    `reach_mm`: how far below the head the screw goes. None when no walls stand round the line there.
    """
    walls = _walls(shape, point_mm, out, WIDEST * diameter_mm / 2)
    if walls is None:
        return None
    radius, low, high = walls.radius_mm, walls.low_mm, walls.high_mm
    bores: list[tuple[float, float, float]] = []  # radius, from, to along `out`
    for index in np.argsort(radius):
        near = np.abs(radius - radius[index]) < STEP_MM
        if any(abs(bore[0] - radius[index]) < STEP_MM for bore in bores) or not _goes_round(
            walls.angle[near], walls.width[near]
        ):
            continue
        bores.append((float(np.max(radius[near])), float(low[near].min()), float(high[near].max())))
    bores = [bore for bore in bores if bore[2] > -reach_mm and bore[1] < 0.6 * diameter_mm + 6.0]
    if not bores or 2 * bores[0][0] < 0.7 * diameter_mm or 2 * bores[0][0] > 1.6 * diameter_mm + 0.6:
        return None
    narrow = bores[0]
    top = narrow[2]
    for bore in bores[1:]:  # a counterbore begins where what lies in it ends
        if bore[1] < top + 0.1:
            top = max(top, bore[2])
    wide = [bore for bore in bores[1:] if bore[2] > top - 0.05 and bore[2] > narrow[2] + 0.05]
    below = [bore for bore in bores[1:] if bore[1] < narrow[1] - 0.05]
    bottom = narrow[1]
    floor = max(narrow[2], wide[0][1]) if wide else top
    if abs(floor) < AT_HEAD_MM:
        floor = 0.0  # the head lies on it
    return Hole(
        name="",
        at_mm=rounded(point_mm + out * top, 4),
        direction=clean_direction(out),
        diameter_mm=_drawn(2 * _clear(walls, narrow[0]), 2 * narrow[0]),
        depth_mm=round(top - bottom, 4),
        through=bool(below) or not _is_closed(shape, point_mm + out * (bottom + 0.05), -out, narrow[0]),
        counterbore_mm=_drawn(2 * _clear(walls, wide[0][0]), 2 * wide[0][0]) if wide else 0.0,
        counterbore_depth_mm=round(top - floor, 4),
    )


def _walls(shape: Shape, point_mm: Array, out: Array, most_mm: float) -> _Walls | None:
    """The triangles of a shape that stand round a line within a distance of it."""
    corners = shape.points_mm[shape.triangles]
    if not len(corners):
        return None
    delta = corners - point_mm
    along = delta @ out
    beside = delta - along[..., None] * out
    distance = np.linalg.norm(beside, axis=2)
    near = distance.max(axis=1) < most_mm + 0.5
    if not near.any():
        return None
    corners, along, beside, distance = corners[near], along[near], beside[near], distance[near]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normal, axis=1)
    good = size > 1e-9
    normal = normal / np.where(good, size, 1.0)[:, None]
    middle = beside.mean(axis=1)
    away = middle / np.maximum(np.linalg.norm(middle, axis=1), 1e-9)[:, None]
    good &= np.abs(normal @ out) < ALONG
    good &= (normal * away).sum(axis=1) < LOOKS_AT_IT
    good &= np.ptp(distance, axis=1) < STEP_MM
    if not good.any():
        return None
    one = unit(np.array([1.0, 0.0, 0.0]) if abs(out[0]) < 0.9 else np.array([0.0, 1.0, 0.0]))
    x = unit(one - out * float(one @ out))
    y = cross(out, x)
    angles = np.arctan2(beside[good] @ y, beside[good] @ x)
    middles = np.arctan2(middle[good] @ y, middle[good] @ x)
    turn = np.abs((angles - middles[:, None] + np.pi) % (2 * np.pi) - np.pi)
    return _Walls(
        radius_mm=distance[good].max(axis=1),
        low_mm=along[good].min(axis=1),
        high_mm=along[good].max(axis=1),
        angle=middles,
        width=2 * turn.max(axis=1),
        flat_mm=np.abs((beside[good][:, 0] * normal[good]).sum(axis=1)),
    )


def _clear(walls: _Walls, radius_mm: float) -> float:
    """Distance of the flats of the bore with corners at this radius: what is free between them."""
    return float(np.median(walls.flat_mm[np.abs(walls.radius_mm - radius_mm) < STEP_MM]))


def _drawn(flats_mm: float, corners_mm: float) -> float:
    """The diameter a bore of flats was meant to have: some programs put the corners on the circle, some the
    flats. A figure with one decimal between the two is taken, else what is free."""
    tenth = np.ceil(round(flats_mm, 3) * 10 - 1e-6) / 10
    return round(float(tenth if tenth <= corners_mm + 0.006 else flats_mm), 2)


def _goes_round(angle: Array, width: Array) -> bool:
    """Whether walls at these angles cover most of a circle."""
    cells = np.zeros(72, dtype=bool)
    for middle, wide in zip(angle, width, strict=True):
        here = np.arange(
            np.floor((middle - wide / 2) / (2 * np.pi) * 72), np.ceil((middle + wide / 2) / (2 * np.pi) * 72)
        )
        cells[here.astype(int) % 72] = True
    return bool(cells.mean() > ROUND_ENOUGH)


def _is_closed(shape: Shape, start_mm: Array, direction: Array, radius_mm: float) -> bool:
    """Whether something of the shape lies in the way along the line."""
    side = unit(np.cross(direction, [0.0, 0.0, 1.0] if abs(direction[2]) < 0.9 else [1.0, 0.0, 0.0]))
    return Outside(shape).is_blocked(start_mm + side * radius_mm * 0.31, direction)
