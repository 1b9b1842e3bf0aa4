"""Which parts touch: flat on flat, or a round in a hole of its own size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.findings import Finding
from trysquare.ground.placement import Array, cross, facing, unit
from trysquare.intake.bodies import Face, FaceKind
from trysquare.intake.joints import Draft
from trysquare.intake.pieces import Piece, Pieces
from trysquare.intake.rounding import rounded
from trysquare.intake.surroundings import SAME_LINE

APART_MM = 0.05  # CAD draws touching faces in one plane; sheets of paper are thicker
LEAST_MM = 0.5  # faces that overlap by less along an edge meet at that edge only
FIT_MM = 0.1  # a shaft may be drawn this much smaller than its hole
MOST_NAMED = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Skin:
    """A piece's faces in the machine's frame.

    Flats: `normal`, array (n, 3); `level_mm`: distance of their planes from the origin along it;
    `corners_mm`: their corners. Rounds: `axis`, `origin_mm`, `radius_mm`, `hollow` and the extent along the
    axis from the origin, `span_mm`.
    """

    low_mm: Array
    high_mm: Array
    normal: Array
    level_mm: Array
    corners_mm: tuple[Array, ...]
    axis: Array
    origin_mm: Array
    radius_mm: Array
    hollow: Array
    span_mm: Array


def boxes_of(found: Pieces) -> tuple[Array, Array]:
    """Lowest and highest corners of all pieces, arrays (n, 3), in the machine's frame."""
    shapes = {shape.number: shape for shape in found.shapes}
    boxes = [_box(piece, shapes[piece.body.shape].box_mm) for piece in found.pieces]
    return np.array([low for low, _high in boxes]), np.array([high for _low, high in boxes])


def touching(one: Piece, found: Pieces, boxes: tuple[Array, Array] | None = None) -> list[Piece]:
    """Those of all pieces that a piece touches, in file order. `boxes`: what `boxes_of` says."""
    low, high = boxes or boxes_of(found)
    skins = {shape.number: shape for shape in found.shapes}
    mine = _skin(one, skins[one.body.shape].faces, skins[one.body.shape].box_mm)
    near = (low < mine.high_mm + APART_MM).all(axis=1) & (high > mine.low_mm - APART_MM).all(axis=1)
    touched = []
    for index in np.flatnonzero(near):
        other = found.pieces[index]
        shape = skins[other.body.shape]
        if other is one:
            continue
        theirs = _skin(other, shape.faces, shape.box_mm)
        if _flats_meet(mine, theirs) or _rounds_meet(mine, theirs):
            touched.append(other)
    return touched


def held_by_nothing(found: Pieces, drafts: Sequence[Draft]) -> list[Finding]:
    """Parts that no joint names, each with what it touches."""
    held: set[str] = set()
    for draft in drafts:
        if draft.recipe:
            held |= {draft.first.id, *(piece.id for piece in (*draft.blocks, *draft.carriers))}
            held |= {draft.rail.id} if draft.rail else set()
            held |= {draft.shaft[0].id} if draft.shaft else set()
        for stack in draft.stacks:
            held |= {layer.piece.id for layer in stack.passed} | {piece.id for piece in stack.fasteners}
            held |= {stack.bitten.piece.id} if stack.bitten else set()
            held |= {stack.member.id} if stack.member else set()
            held |= {stack.hit.channel.member} if stack.hit else set()
    if len(found.pieces) < 2:
        return []
    boxes = boxes_of(found)
    return [
        Finding(
            code="in-no-joint",
            says=f"{piece.id} is in no joint; {_touches(piece, found, boxes)}.",
            parts=(piece.id,),
            at_mm=rounded(piece.placement.origin_mm, 3),
        )
        for piece in found.pieces
        if piece.id not in held and not piece.is_fastener
    ]


def _touches(piece: Piece, found: Pieces, boxes: tuple[Array, Array]) -> str:
    names = [other.id for other in touching(piece, found, boxes)]
    if not names:
        return "nothing was found that it touches"
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return f"it touches {', '.join(names[:MOST_NAMED])}{more}"


def _box(piece: Piece, box_mm: Array) -> tuple[Array, Array]:
    corners = np.array(
        [[box_mm[i, 0], box_mm[j, 1], box_mm[k, 2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)]
    )
    placed = piece.placement.point(piece.frame.back(corners))
    return placed.min(axis=0), placed.max(axis=0)


def _skin(piece: Piece, faces: Sequence[Face], box_mm: Array) -> _Skin:
    place = piece.placement.then(piece.frame.inverse())
    flats = [face for face in faces if face.kind is FaceKind.PLANE]
    rounds = [face for face in faces if face.kind is FaceKind.CYLINDER]
    low, high = _box(piece, box_mm)
    normal = place.direction(np.array([face.direction for face in flats]).reshape(-1, 3))
    at = place.point(np.array([face.origin_mm for face in flats]).reshape(-1, 3))
    return _Skin(
        low_mm=low,
        high_mm=high,
        normal=normal,
        level_mm=(normal * at).sum(axis=1),
        corners_mm=tuple(place.point(_corners(face)) for face in flats),
        axis=place.direction(np.array([face.direction for face in rounds]).reshape(-1, 3)),
        origin_mm=place.point(np.array([face.origin_mm for face in rounds]).reshape(-1, 3)),
        radius_mm=np.array([face.radius_mm for face in rounds]),
        hollow=np.array([face.hollow for face in rounds], dtype=bool),
        span_mm=np.array([[face.low_mm, face.high_mm] for face in rounds]).reshape(-1, 2),
    )


def _corners(face: Face) -> Array:
    """Corners of a flat face; of a disc, which has none, those of a square about as large."""
    if len(face.corners_mm) > 2:
        return face.corners_mm
    turn = facing(face.direction)
    half = float(np.sqrt(face.area_mm2 / np.pi))
    corners: Array = (
        face.centre_mm + half * np.array([[1, 1, 0], [-1, 1, 0], [-1, -1, 0], [1, -1, 0]]) @ turn.T
    )
    return corners


def _flats_meet(mine: _Skin, theirs: _Skin) -> bool:
    if not len(mine.normal) or not len(theirs.normal):
        return False
    facing = mine.normal @ theirs.normal.T < -SAME_LINE
    level = np.abs(mine.level_mm[:, None] + theirs.level_mm[None, :]) < APART_MM
    return any(
        _overlap(mine.corners_mm[i], theirs.corners_mm[j], mine.normal[i])
        for i, j in zip(*np.nonzero(facing & level), strict=True)
    )


def _overlap(one: Array, other: Array, normal: Array) -> bool:
    """Whether two outlines in a plane overlap, by the boxes round them along the first one's longest edge."""
    edges = np.diff(one, axis=0)
    edges -= (edges @ normal)[:, None] * normal
    longest = edges[int(np.argmax(np.linalg.norm(edges, axis=1)))]
    if np.linalg.norm(longest) < LEAST_MM:
        return False
    x = unit(longest)
    y = cross(normal, x)
    for along in (x, y):
        a, b = one @ along, other @ along
        if min(a.max(), b.max()) - max(a.min(), b.min()) < LEAST_MM:
            return False
    return True


def _rounds_meet(mine: _Skin, theirs: _Skin) -> bool:
    """A round of one in a hole of the other, on one axis and of one size."""
    if not len(mine.axis) or not len(theirs.axis):
        return False
    way = mine.axis @ theirs.axis.T
    good = (np.abs(way) > SAME_LINE) & (mine.hollow[:, None] != theirs.hollow[None, :])
    good &= np.abs(mine.radius_mm[:, None] - theirs.radius_mm[None, :]) < FIT_MM / 2
    for i, j in zip(*np.nonzero(good), strict=True):
        delta = theirs.origin_mm[j] - mine.origin_mm[i]
        along = float(delta @ mine.axis[i])
        if np.linalg.norm(delta - along * mine.axis[i]) > APART_MM:
            continue
        low, high = sorted(along + float(way[i, j]) * theirs.span_mm[j])
        if min(high, mine.span_mm[i, 1]) - max(low, mine.span_mm[i, 0]) > LEAST_MM:
            return True
    return False
