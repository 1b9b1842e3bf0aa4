"""A window onto a drawing: a rectangle of it, enlarged or made smaller, in its place on the picture."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.publish.picture_svg import escaped, group, path, rect
from trysquare.solid.drawing import NEW, OLD, Drawing, DrawnPart, Ink
from trysquare.solid.drawing.chains import thinned
from trysquare.solid.drawing.looks import CREASE, OUTLINE, SORTS
from trysquare.solid.drawing.scene import Numbers

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


def lines_in(
    ink: Ink, window: Window, least_mm: float = 0.0, rows: Numbers | None = None
) -> dict[tuple[int, int], list[Array]]:
    """Lines of a drawing as they lie on the picture, in order, by number of their part and sort.

    Those wholly outside are left out, and those nowhere as long as `least_mm`. `rows` (n,): of these lines
    alone.
    """
    inside = np.asarray(((ink.high_mm >= window.low) & (ink.low_mm <= window.high)).all(axis=1))
    if least_mm:
        inside &= (ink.high_mm - ink.low_mm).max(axis=1, initial=0.0) * window.scale >= least_mm
    chosen = np.flatnonzero(inside) if rows is None else rows[inside[rows]]
    points, first = ink.chosen(chosen)
    on = window.at(points)
    if window.scale < THIN_BELOW and len(first):
        keep = thinned(on, first, FINE_MM)
        counts = np.add.reduceat(keep.astype(np.int64), first)
        on, first = on[keep], np.cumsum(counts) - counts
    found: dict[tuple[int, int], list[Array]] = {}
    bounds = [*first.tolist(), len(on)]
    for n, key in enumerate(zip(ink.part[chosen].tolist(), ink.sort[chosen].tolist(), strict=True)):
        found.setdefault(key, []).append(on[bounds[n] : bounds[n + 1]])
    return found


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
    x, y = window.left, window.top
    wide, tall = window.right - window.left, window.bottom - window.top
    new = [
        part for part in drawing.parts
        if part.role == NEW and (strong is None or part.id in strong) and _touches(part, window)
    ]  # fmt: skip
    sorts = (OUTLINE,) if only_outlines else (CREASE, OUTLINE)
    ink = drawing.ink
    is_new = np.isin(ink.part, [part.number for part in new])
    there = lines_in(ink, window, SPECK_MM, np.flatnonzero(~is_new))
    coming = lines_in(ink, window, 0.0, np.flatnonzero(is_new))
    rows = [
        f'<clipPath id="{clip}">{rect(x, y, wide, tall)}</clipPath>',
        f'<g clip-path="url(#{clip})">',
        group(
            "tint",
            [path([window.at(loop) for loop in part.region], closed=True) for part in new if part.region],
        ),
        group(
            OLD,
            (
                path(
                    [line for (_, of), lines in there.items() if of == sort for line in lines],
                    name=SORTS[sort],
                )
                for sort in sorts
            ),
        ),
    ]
    for part in new:
        paths = [path(coming.get((part.number, sort), ()), name=SORTS[sort]) for sort in sorts]
        if any(paths):
            rows.append(group(NEW, [f"<title>{escaped(part.says)}</title>", *paths]))
    return [*rows, "</g>"]


def _touches(part: DrawnPart, window: Window) -> bool:
    box = part.box_mm
    return box is not None and bool((box[1] >= window.low).all() and (box[0] <= window.high).all())
