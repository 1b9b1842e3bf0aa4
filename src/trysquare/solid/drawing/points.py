"""A good point of a drawn part for a label to lead to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.regions import Standing

LEVELS = 9  # level lines on which a place is looked for


class Drawn(Protocol):
    """A line as `draw` gives it."""

    @property
    def points_mm(self) -> Array: ...
    @property
    def depth_mm(self) -> Array: ...


def anchor(lines: Sequence[Drawn], region: Sequence[Array], standing: Standing, scale: float) -> Array:
    """Array (3,): paper x, y and depth in machine mm; well inside the region, else on the longest line."""
    if region:
        x, y = _well_inside(region)
        return np.array([x, y, _depth_at(standing, x / scale, y / scale)])
    longest = max(
        lines, key=lambda line: float(np.linalg.norm(np.diff(line.points_mm, axis=0), axis=1).sum())
    )
    steps = np.linalg.norm(np.diff(longest.points_mm, axis=0), axis=1)
    n = int(steps.argmax())
    middle = (longest.points_mm[n] + longest.points_mm[n + 1]) / 2
    return np.append(middle, (longest.depth_mm[n] + longest.depth_mm[n + 1]) / 2)


def _well_inside(region: Sequence[Array]) -> tuple[float, float]:
    """The point, of some on a few level lines, that is farthest from the area's edge."""
    low = np.min([loop.min(axis=0) for loop in region], axis=0)
    high = np.max([loop.max(axis=0) for loop in region], axis=0)
    starts = np.concatenate(region)
    stops = np.concatenate([np.roll(loop, -1, axis=0) for loop in region])
    best, found = -1.0, (float(starts[0, 0]), float(starts[0, 1]))
    way = stops - starts
    long = np.maximum(np.einsum("ij,ij->i", way, way), 1e-300)
    for share in np.linspace(0.0, 1.0, LEVELS + 2)[1:-1] + 1e-3:
        y = float(low[1] + (high[1] - low[1]) * share)
        crosses = (starts[:, 1] > y) != (stops[:, 1] > y)
        at = np.sort(starts[crosses, 0] + way[crosses, 0] * (y - starts[crosses, 1]) / way[crosses, 1])
        for left, right in zip(at[:-1:2].tolist(), at[1::2].tolist(), strict=True):
            for x in (left + (right - left) * part for part in (0.5, 0.25, 0.75)):
                off = np.array([x, y]) - starts
                along = np.clip(np.einsum("ij,ij->i", off, way) / long, 0.0, 1.0)
                away = float(np.linalg.norm(off - way * along[:, None], axis=1).min())
                if away > best * 1.001:  # of two as good the upper, whatever the last digits are
                    best, found = away, (x, y)
    return found


def _depth_at(standing: Standing, x: float, y: float) -> float:
    """How deep the nearest face of a body lies at a point of paper that is still in machine mm."""
    corners = standing.look.corners + standing.at_mm
    off = corners[:, :, :2] - np.array([x, y])
    after = np.roll(off, -1, axis=1)
    turn = off[:, :, 0] * after[:, :, 1] - off[:, :, 1] * after[:, :, 0]
    over = (turn >= 0).all(axis=1) | (turn <= 0).all(axis=1)
    whole = turn.sum(axis=1)
    over &= np.abs(whole) > 0
    if not over.any():
        return float(corners[:, :, 2].mean())
    weights = np.roll(turn[over], -1, axis=1) / whole[over, None]
    return float(np.einsum("ij,ij->i", weights, corners[over, :, 2]).min())
