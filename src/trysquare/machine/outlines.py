"""Whether an outline goes round once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.tolerances import SAME_POINT_MM

Flat: TypeAlias = NDArray[np.float64]


def crosses_itself(points_mm: Sequence[tuple[float, float]]) -> bool:
    """Whether two edges of a closed outline cross or touch anywhere but at the corner they share.

    Edges cross when each has its ends on different sides of the other's line, or an end on it.
    """
    points = np.array(points_mm, dtype=float)
    ahead = np.roll(points, -1, axis=0)
    edges = ahead - points
    if float(np.min(np.hypot(edges[:, 0], edges[:, 1]))) < SAME_POINT_MM:
        return True  # a corner listed twice
    folded = edges[:, 0] * np.roll(edges[:, 1], -1) - edges[:, 1] * np.roll(edges[:, 0], -1)
    back = np.einsum("ij,ij->i", edges, np.roll(edges, -1, axis=0)) < 0
    if bool(np.any(back & (np.abs(folded) < SAME_POINT_MM))):
        return True  # an edge that runs back on the one before it
    count = len(points)
    for index in range(count - 2):
        # Edges that share no corner with this one: the last shares one with the first.
        others = np.arange(index + 2, count if index else count - 1)
        if len(others) and bool(np.any(_meet(points[index], ahead[index], points[others], ahead[others]))):
            return True
    return False


def _meet(a: Flat, b: Flat, c: Flat, d: Flat) -> NDArray[np.bool_]:
    """Array (n,) of whether segment a-b, (2,) each, meets the segments c-d, (n, 2) each."""
    boxes = np.all(np.minimum(a, b) <= np.maximum(c, d) + SAME_POINT_MM, axis=1)
    boxes &= np.all(np.minimum(c, d) <= np.maximum(a, b) + SAME_POINT_MM, axis=1)

    def side(p: Flat, q: Flat, r: Flat) -> Flat:
        cross = (q - p)[..., 0] * (r - p)[..., 1] - (q - p)[..., 1] * (r - p)[..., 0]
        length = np.hypot((q - p)[..., 0], (q - p)[..., 1])
        return np.where(np.abs(cross) <= SAME_POINT_MM * length, 0.0, np.sign(cross))

    crossed = (side(a, b, c) * side(a, b, d) <= 0) & (side(c, d, a) * side(c, d, b) <= 0)
    both: NDArray[np.bool_] = boxes & crossed
    return both
