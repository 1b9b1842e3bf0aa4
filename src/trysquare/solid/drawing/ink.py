"""All lines of a drawing in few arrays, so that many are moved, left out or thinned at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.scene import Numbers


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One unbroken line. `points_mm` (n, 2) on paper; `depth_mm` (n,), machine mm away from the eye.

    `sort`: "outline" where the part ends on paper, "crease" between two of its faces that are both seen.
    """

    sort: str
    points_mm: Array
    depth_mm: Array


@dataclass(frozen=True, kw_only=True, eq=False)  # no slots: cached_property keeps its answers in the instance
class Ink:
    """Lines one after the other. `points_mm` (n, 2) on paper, `depth_mm` (n,); of each line (k,): `first`,
    where it begins; `part`, the number of its part, in order; `sort`, as in `looks.SORTS`."""

    points_mm: Array
    depth_mm: Array
    first: Numbers
    part: Numbers
    sort: Numbers

    @cached_property
    def counts(self) -> Numbers:
        """Array (k,): how many points each line has."""
        return np.diff(np.append(self.first, len(self.points_mm)))

    @cached_property
    def low_mm(self) -> Array:
        """Array (k, 2): lowest x and y of each line."""
        return np.minimum.reduceat(self.points_mm, self.first) if len(self.first) else np.zeros((0, 2))

    @cached_property
    def high_mm(self) -> Array:
        """Array (k, 2): greatest x and y of each line."""
        return np.maximum.reduceat(self.points_mm, self.first) if len(self.first) else np.zeros((0, 2))

    def of_part(self, number: int) -> slice:
        """Which lines a part has."""
        begin, end = np.searchsorted(self.part, [number, number + 1]).tolist()
        return slice(begin, end)

    def chosen(self, rows: Numbers) -> tuple[Array, Numbers]:
        """Points (m, 2) of some lines in order, and where each begins."""
        counts = self.counts[rows]
        first = np.cumsum(counts) - counts
        at = np.repeat(self.first[rows] - first, counts) + np.arange(int(counts.sum()))
        return self.points_mm[at], first


def no_ink() -> Ink:
    """No line at all."""
    none = np.zeros(0, dtype=np.int64)
    return Ink(points_mm=np.zeros((0, 2)), depth_mm=np.zeros(0), first=none, part=none, sort=none)
