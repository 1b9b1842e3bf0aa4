"""Figures of a file without the noise in their last places."""

from __future__ import annotations

import numpy as np

from trysquare.ground.placement import Array, Triple


def rounded(point_mm: Array | Triple, digits: int = 5) -> Triple:
    """A point to a hundredth of a micrometre, without minus before zero."""
    x, y, z = (round(float(each), digits) + 0.0 for each in point_mm)
    return x, y, z


def clean_direction(direction: Array | Triple) -> Triple:
    """A unit vector; one that is along an axis but for rounding is exactly that."""
    vector = np.asarray(direction, dtype=float)
    nearest = np.round(vector)
    if float(np.abs(vector - nearest).max()) < 1e-7:
        vector = nearest
    return rounded(vector, 12)
