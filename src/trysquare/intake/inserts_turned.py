"""Which end of a heat-set insert is its open face: by itself both look alike, its screw tells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trysquare.catalogue.values import Insert, Screw
from trysquare.ground.placement import Placement
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.intake.pieces import Piece, Pieces
from trysquare.intake.surroundings import SAME_LINE, TOUCH_MM

_OVER = np.diag([1.0, -1.0, -1.0])  # half a turn about x


def inserts_turned(found: Pieces) -> Pieces:
    """The pieces, with every insert's open face to the head of the screw that goes into it."""
    screws = [one for one in found.pieces if one.standard and isinstance(one.standard.standard, Screw)]
    pieces = tuple(
        _turned(one, screws) if one.standard and isinstance(one.standard.standard, Insert) else one
        for one in found.pieces
    )
    return replace(found, pieces=pieces)


def _turned(piece: Piece, screws: Sequence[Piece]) -> Piece:
    """The insert with its other end up, when the screw that reaches into it comes from below."""
    insert = piece.standard.standard if piece.standard else None
    assert isinstance(insert, Insert)
    out = piece.placement.turn[:, 2]
    middle = piece.placement.point((0.0, 0.0, -insert.length_mm / 2))
    for screw in screws:
        size = screw.standard.standard if screw.standard else None
        assert isinstance(size, Screw)
        axis = screw.placement.turn[:, 2]
        delta = screw.placement.origin_mm - middle
        below = float(delta @ axis)
        beside = float(np.linalg.norm(delta - below * axis))
        reaches = -TOUCH_MM < below - insert.length_mm / 2 < size.length_mm + TOUCH_MM
        if reaches and beside < ON_AXIS_MM and abs(float(out @ axis)) > SAME_LINE:
            if float(out @ axis) > 0:
                return piece
            over = Placement(_OVER, np.array([0.0, 0.0, -insert.length_mm]))
            return replace(piece, placement=piece.placement.then(over), frame=piece.frame.then(over))
    return piece
