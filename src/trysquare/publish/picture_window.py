"""A window onto a drawing: a rectangle of it, enlarged or made smaller, in its place on the picture."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.publish.picture_svg import escaped, group, path, rect
from trysquare.solid.drawing import NEW, OLD, Drawing, DrawnPart
from trysquare.solid.drawing.chains import thinned

THIN_BELOW = 0.6  # the drawing's own lines are fine enough down to this scale
FINE_MM = 0.035  # on the picture: a line may run this far beside its true place
SPECK_MM = 0.3  # on the picture: shorter lines of what is there already are left out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """`low`, `high` (2,): what is shown, in the drawing's mm. `left`, `top`, `scale`: where its low corner
    lies on the picture, and picture mm for each of the drawing's."""

    low: Array
    high: Array
    left: float
    top: float
    scale: float

    @property
    def right(self) -> float:
        return self.left + float(self.high[0] - self.low[0]) * self.scale

    @property
    def bottom(self) -> float:
        return self.top + float(self.high[1] - self.low[1]) * self.scale

    def at(self, points: Array) -> Array:
        """Points (n, 2) of the drawing on the picture."""
        return np.asarray((points[..., :2] - self.low) * self.scale + np.array([self.left, self.top]))

    def holds(self, points: Array) -> NDArray[np.bool_]:
        """Flags (n,): whether points of the drawing lie in the window."""
        return np.asarray(((points[..., :2] >= self.low) & (points[..., :2] <= self.high)).all(axis=-1))


def fitted_window(
    low: Array, high: Array, left: float, top: float, width: float, height: float, most: float
) -> Window:
    """A window that fills a rectangle of the picture as far as its scale may be `most`; what is shown grows
    beyond low and high where the rectangle has room for more."""
    size = np.maximum(high - low, 1e-6)
    scale = min(width / float(size[0]), height / float(size[1]), most)
    room = np.array([width, height]) / scale
    middle = (low + high) / 2
    return Window(low=middle - room / 2, high=middle + room / 2, left=left, top=top, scale=scale)


def lines_in(part: DrawnPart, window: Window, sort: str, least_mm: float = 0.0) -> Iterator[Array]:
    """A part's lines of one sort as they lie on the picture; those wholly outside are left out."""
    for one in part.lines:
        if one.sort != sort:
            continue
        points = one.points_mm
        if (points.max(axis=0) < window.low).any() or (points.min(axis=0) > window.high).any():
            continue
        on = window.at(points)
        if least_mm and float(np.ptp(on, axis=0).max()) < least_mm:
            continue
        if len(on) > 2 and window.scale < THIN_BELOW:
            on = on[thinned(on, np.array([0]), FINE_MM)]
        yield on


def drawn(
    drawing: Drawing,
    window: Window,
    clip: str,
    *,
    only_outlines: bool = False,
    strong: Collection[str] | None = None,
) -> list[str]:
    """The drawing in the window: areas of new parts, what is there in one path each, each new part named.

    `strong`: only these new parts are drawn strong, the others as if they were there already; None: all.
    """

    def is_new(part: DrawnPart) -> bool:
        return part.role == NEW and (strong is None or part.id in strong)

    x, y = window.left, window.top
    wide, tall = window.right - window.left, window.bottom - window.top
    areas = [
        path([window.at(loop) for loop in part.region], closed=True)
        for part in drawing.parts
        if is_new(part) and part.region and _touches(part, window)
    ]
    old = [part for part in drawing.parts if not is_new(part) and _touches(part, window)]
    rows = [
        f'<clipPath id="{clip}">{rect(x, y, wide, tall)}</clipPath>',
        f'<g clip-path="url(#{clip})">',
        group("tint", areas),
        group(
            OLD,
            (
                path([line for part in old for line in lines_in(part, window, sort, SPECK_MM)], name=sort)
                for sort in (("outline",) if only_outlines else ("crease", "outline"))
            ),
        ),
    ]
    for part in drawing.parts:
        if is_new(part) and part.lines and _touches(part, window):
            paths = [
                path(list(lines_in(part, window, sort)), name=sort)
                for sort in (("outline",) if only_outlines else ("crease", "outline"))
            ]
            rows.append(group(NEW, [f"<title>{escaped(part.says)}</title>", *paths]) if any(paths) else "")
    return [*rows, "</g>"]


def _touches(part: DrawnPart, window: Window) -> bool:
    box = part.box_mm
    return box is not None and bool((box[1] >= window.low).all() and (box[0] <= window.high).all())
