"""The shadow of a solid as a small outline: enough to tell one printed part from another."""

from __future__ import annotations

import math
from pathlib import Path

from trysquare.ground.errors import ReadingError
from trysquare.machine.values import PartType
from trysquare.publish.drawing import EDGE, Drawing, outline
from trysquare.publish.fitting import fitted
from trysquare.solid.shapes import Solid, makes_solid, solid_of

FINE_MM = 0.12  # on paper; a corner nearer than this to the line of its neighbours is not drawn
MOST_POINTS = 1500

# Turns in degrees about x, y and z that bring each axis of the part up to the eye.
_VIEWS = {0: (0.0, -90.0, 0.0), 1: (90.0, 0.0, 0.0), 2: (0.0, 0.0, 0.0)}


def sides_mm(part_type: PartType, folder: str | Path) -> tuple[int, ...]:
    """The sides of the part's box in whole millimetres, the longest first; empty without a usable solid."""
    solid = _solid(part_type, folder)
    if solid is None:
        return ()
    return tuple(math.ceil(float(side) - 0.5) for side in sorted(solid.high_mm - solid.low_mm, reverse=True))


def shadow_drawing(
    part_type: PartType, folder: str | Path, width_mm: float, height_mm: float
) -> Drawing | None:
    """The outline along the part's thinnest direction, as large as fits; None without a usable solid."""
    solid = _solid(part_type, folder)
    if solid is None:
        return None
    size = solid.high_mm - solid.low_mm
    thin = min(range(3), key=lambda axis: float(size[axis]))
    shadow = solid.manifold.rotate(_VIEWS[thin]).project()
    low_x, low_y, high_x, high_y = shadow.bounds()
    laid = fitted((low_x, low_y), (high_x, high_y), width_mm, height_mm)
    if laid is None:
        return None
    loops = [
        [laid.at(float(x), float(y)) for x, y in loop]
        for loop in shadow.simplify(FINE_MM / laid.scale).to_polygons()
        if len(loop) > 2
    ]
    if not loops or sum(map(len, loops)) > MOST_POINTS:
        return None
    return Drawing(
        width_mm=laid.size_mm[0],
        height_mm=laid.size_mm[1],
        shapes=(outline(EDGE, loops),),
        says=f"Outline of the part, about {' by '.join(map(str, sides_mm(part_type, folder)))} mm.",
    )


def _solid(part_type: PartType, folder: str | Path) -> Solid | None:
    """The part's solid; None where there is none or where its shape cannot be used: `check` says why."""
    if not makes_solid(part_type):
        return None
    try:
        solid = solid_of(part_type, folder)
    except ReadingError:
        return None
    return solid if (solid.high_mm > solid.low_mm).all() else None
