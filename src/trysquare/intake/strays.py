"""Bodies that stand far from all others: something that was left behind or moved by mistake."""

from __future__ import annotations

import numpy as np

from trysquare.ground.placement import Array
from trysquare.intake.limits import FAR_FROM_ORIGIN_MM

LEAST_TO_STRAY = 3  # of two bodies neither is the rest


def strays(places_mm: Array) -> list[tuple[int, float]]:
    """The few places, rows of an array (n, 3), far from the many: number and distance, farthest first.

    The distance is from the middle one of all, coordinate by coordinate. Empty where half of them lie far.
    """
    if len(places_mm) < LEAST_TO_STRAY:
        return []
    away = np.linalg.norm(places_mm - np.median(places_mm, axis=0), axis=1)
    far = [(int(number), float(away[number])) for number in np.argsort(-away)]
    far = [one for one in far if one[1] > FAR_FROM_ORIGIN_MM]
    return far if 2 * len(far) < len(places_mm) else []
