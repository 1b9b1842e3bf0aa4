"""Straightness and flatness from heights along a line or over a face: least squares and minimum zone."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import optimize

from trysquare.ground.placement import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Straightness:
    """How far a line is from straight, mm: between the farthest points on either side of the reference line.

    `least_squares`, `ends`: about the least-squares line and that through the end points; `minimum_zone`:
    between the nearest two parallel lines that hold all points, never more than the others.
    Source: ISO 12780; ISO 1101 for the minimum zone.
    """

    least_squares: float
    minimum_zone: float
    ends: float


def straightness(at_mm: Sequence[float] | Array, height_mm: Sequence[float] | Array) -> Straightness:
    """Straightness of at least three heights at different stations; of fewer it is 0."""
    x, z = np.asarray(at_mm, dtype=float), np.asarray(height_mm, dtype=float)
    if len(x) < 3 or np.ptp(x) == 0:
        return Straightness(least_squares=0.0, minimum_zone=0.0, ends=0.0)
    slope = float(np.polyfit(x - x.mean(), z, 1)[0])
    first, last = int(np.argmin(x)), int(np.argmax(x))
    chord = float((z[last] - z[first]) / (x[last] - x[first]))
    pairs = itertools.combinations(range(len(x)), 2)
    slopes = [(z[b] - z[a]) / (x[b] - x[a]) for a, b in pairs if x[a] != x[b]]
    # the narrowest zone lies along a side of the points' hull, so along a line through two of them
    zone = min(float(np.ptp(z - one * x)) for one in slopes)
    ends = z - chord * x - (z[first] - chord * x[first])
    return Straightness(
        least_squares=float(np.ptp(z - slope * x)), minimum_zone=zone, ends=float(np.ptp(ends))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Flatness:
    """How far a face is from flat. `least_squares`: peak to valley, square to the least-squares plane;
    `minimum_zone`: between the nearest two parallel planes. `plane`: z = a + b·x + c·y, fitted vertically.
    Source: ISO 12781; ISO 1101 for the minimum zone.
    """

    least_squares: float
    minimum_zone: float
    plane: tuple[float, float, float]


def flatness(points: Array) -> Flatness:
    """Flatness of points (n, 3), n ≥ 4 and not on one line; of three it is 0."""
    centre = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points - centre)
    beside = (points - centre) @ axes[2]
    table = np.column_stack([np.ones(len(points)), points[:, :2]])
    a, b, c = np.linalg.lstsq(table, points[:, 2], rcond=None)[0]
    # minimum zone: least w with |z − p − q·x − r·y| ≤ w/2; then square to the plane
    rows = np.vstack([np.column_stack([table, np.full(len(points), 0.5)]) * [-1, -1, -1, -1],
                      np.column_stack([table, np.full(len(points), -0.5)])])  # fmt: skip
    right = np.concatenate([-points[:, 2], points[:, 2]])
    found = optimize.linprog([0, 0, 0, 1], A_ub=rows, b_ub=right, bounds=[(None, None)] * 4)
    zone = float(found.x[3]) / math.sqrt(1 + float(found.x[1]) ** 2 + float(found.x[2]) ** 2)
    return Flatness(
        least_squares=float(np.ptp(beside)), minimum_zone=zone, plane=(float(a), float(b), float(c))
    )
