"""Solids of miniature rails and their blocks, simplified to what others can meet."""

from __future__ import annotations

import numpy as np
from manifold3d import Manifold, OpType

from trysquare.catalogue.rows import rows
from trysquare.catalogue.values import BlockSize, RailSize
from trysquare.solid.bodies import ABOVE_MM, bore, box
from trysquare.solid.drilled import Bore, Piece, clear_bores, drilled

RUNNING_GAP_MM = 0.2  # air between the drawn block and the drawn rail, so that sliding is free


def rail_body(rail: RailSize) -> Manifold:
    """A rail as a bar with its counterbored holes; the waist and the ball tracks are left out."""
    half_mm, height_mm, long_mm = rail.width_mm / 2, rail.height_mm, rail.length_mm
    shelf_mm = height_mm - rail.counterbore_depth_mm
    section = [np.array([(0.0, -half_mm), (long_mm, -half_mm), (long_mm, half_mm), (0.0, half_mm)])]
    pieces = (Piece(rail.counterbore_mm, height_mm, shelf_mm), Piece(rail.hole_mm, shelf_mm, 0.0))
    bores = [Bore(x, 0.0, pieces) for x in rail.holes_mm]
    body = drilled(section, 0.0, height_mm, bores) if clear_bores(section, bores).all() else None
    if body is not None:
        return body
    bar = box((0.0, -half_mm, 0.0), (long_mm, half_mm, height_mm))
    through = bore(rail.hole_mm, -ABOVE_MM, height_mm + ABOVE_MM)
    wide = bore(rail.counterbore_mm, shelf_mm, height_mm + ABOVE_MM)
    cutter = through + wide
    return bar - Manifold.compose([cutter.translate((x, 0.0, 0.0)) for x in rail.holes_mm])


def rail_height_mm(rail_width_mm: float) -> float:
    """Height of the rail for a block of this rail width; two thirds of the width when unknown."""
    heights = {float(row["width_mm"]): float(row["height_mm"]) for row in rows("rails")}
    return heights.get(rail_width_mm, rail_width_mm * 2 / 3)


def block_body(block: BlockSize) -> Manifold:
    """A block as a saddle: a top over the rail and two legs beside it, with the threaded holes of
    its pattern in the top. Balls, end caps and seals are left out."""
    half_x, half_y = block.length_mm / 2, block.width_mm / 2
    inner_mm = block.rail_width_mm / 2 + RUNNING_GAP_MM
    under_mm = min(
        rail_height_mm(block.rail_width_mm) + RUNNING_GAP_MM, block.height_mm - block.thread_depth_mm
    )
    body = box((-half_x, -half_y, block.gap_mm), (half_x, half_y, block.height_mm))
    if under_mm > block.gap_mm:
        body -= box((-half_x - 1.0, -inner_mm, block.gap_mm - 1.0), (half_x + 1.0, inner_mm, under_mm))
    diameter_mm = float(block.thread.removeprefix("M"))
    hole = bore(diameter_mm, block.height_mm - block.thread_depth_mm, block.height_mm + ABOVE_MM)
    along = [-block.pattern_along_mm / 2, block.pattern_along_mm / 2] if block.pattern_along_mm else [0.0]
    holes = [
        hole.translate((x, y, 0.0))
        for x in along
        for y in (-block.pattern_across_mm / 2, block.pattern_across_mm / 2)
    ]
    return body - Manifold.batch_boolean(holes, OpType.Add)
