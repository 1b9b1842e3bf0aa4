"""The boxes that a group of pieces sweeps: a quick look at what could stand in its way at all."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.ground.tolerances import CONTACT_MM
from trysquare.sequence.reach import Reach

Mask = NDArray[np.bool_]


class SweptBoxes:
    """Boxes of one machine's pieces along its axes. A swept box is never too small, so what meets none
    needs no closer look; by contact alone nothing meets, as everywhere."""

    def __init__(self, reach: Reach) -> None:
        self.row, self.far_mm = reach.row, reach.far_mm
        box = reach.standing.crowd.box_mm
        self.low, self.high = box[:, :3], box[:, 3:]

    def rows(self, pieces: Iterable[str]) -> NDArray[np.int64]:
        """The rows of those pieces that have a solid."""
        return np.array([self.row[name] for name in pieces if name in self.row], dtype=np.int64)

    def clearest_first(
        self, moving: Collection[str], standing: Collection[str], ways: Sequence[Array]
    ) -> list[Array]:
        """Ways out sorted by how many standing pieces meet the box that the whole group sweeps; as they
        stood where that is the same."""
        mine, there = self.rows(moving), self.rows(standing)
        if not len(mine) or not len(there):
            return list(ways)
        low, high = self.low[mine].min(axis=0), self.high[mine].max(axis=0)
        counts = [
            int(self._meet(*_drawn(low[None], high[None], way * self.far_mm), there).sum()) for way in ways
        ]
        return [ways[at] for at in sorted(range(len(ways)), key=lambda at: counts[at])]

    def in_doubt(self, moving: Sequence[str], standing: Collection[str], way: Array) -> list[str]:
        """Those moving pieces whose swept boxes meet a standing piece, in the order given."""
        named = [name for name in moving if name in self.row]
        mine, there = self.rows(named), self.rows(standing)
        if not len(mine) or not len(there):
            return []
        low, high = _drawn(self.low[mine], self.high[mine], way * self.far_mm)
        near = there[self._meet(low.min(axis=0)[None], high.max(axis=0)[None], there)[0]]
        meets = np.flatnonzero(self._meet(low, high, near).any(axis=1))
        return [named[at] for at in meets]

    def hit(self, moving: Iterable[str], others: Sequence[str], way: Array) -> list[str]:
        """Those of the other pieces that meet a moving piece's swept box, in the order given."""
        named = [name for name in others if name in self.row]
        mine, there = self.rows(moving), self.rows(named)
        if not len(mine) or not len(there):
            return []
        low, high = _drawn(self.low[mine], self.high[mine], way * self.far_mm)
        return [named[at] for at in np.flatnonzero(self._meet(low, high, there).any(axis=0))]

    def _meet(self, low: Array, high: Array, there: NDArray[np.int64]) -> Mask:
        """Whether boxes (m, 3) and (m, 3) meet pieces: array (m, n)."""
        meet = np.ones((len(low), len(there)), dtype=bool)
        for axis in range(3):
            meet &= self.low[there, axis][None, :] < high[:, axis, None] - CONTACT_MM
            meet &= self.high[there, axis][None, :] > low[:, axis, None] + CONTACT_MM
        return meet


def _drawn(low: Array, high: Array, far: Array) -> tuple[Array, Array]:
    """Boxes drawn out along a way."""
    return np.minimum(low, low + far), np.maximum(high, high + far)
