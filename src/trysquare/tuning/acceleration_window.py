"""Of a recording of any length, the stretch that shook most: kept while the rows go by, in bounded memory."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

# Rows that are kept: five minutes at 3200 a second, forty at 400. A minute tells a machine's swings; ours.
MOST_ROWS = 1_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Rows that follow each other: values (n, columns), their lines in the file (n,), and how they shook."""

    values: Numbers
    lines: NDArray[np.int64]
    shook: float


@dataclass(slots=True)
class Window:
    """Takes blocks of rows as they come; holds at most the last `most` rows and the liveliest so many.

    `columns` are those of the axes. A block counts by its rows and by the root of its mean square about its
    own mean, so that gravity counts nothing and one hard bump does not outweigh minutes.
    """

    columns: list[int]
    most: int = MOST_ROWS
    rows: int = 0
    _last: deque[Block] = field(default_factory=deque)
    _best: tuple[Block, ...] = ()
    _shook: float = -math.inf

    def take(self, values: Numbers, lines: NDArray[np.int64]) -> None:
        """The next rows of the file, (n, columns) and (n,)."""
        if not len(values):
            return
        self.rows += len(values)
        with np.errstate(over="ignore", invalid="ignore"):  # absurd numbers are told later, by the line
            spread = float(np.sqrt(np.square(values[:, self.columns].std(axis=0)).sum()))
        self._last.append(Block(values, lines, len(values) * (spread if math.isfinite(spread) else 0.0)))
        while len(self._last) > 1 and sum(len(one.values) for one in self._last) > self.most:
            self._last.popleft()
        shook = sum(one.shook for one in self._last)
        grown = not self._best or self._last[0] is self._best[0]
        if grown or shook > self._shook:
            self._best, self._shook = tuple(self._last), shook

    def kept(self) -> tuple[Numbers, NDArray[np.int64]]:
        """The rows (n, columns) of the stretch that shook most, and their lines: `most` or one block."""
        if len(self._best) == 1:
            return self._best[0].values, self._best[0].lines
        return (
            np.concatenate([one.values for one in self._best]),
            np.concatenate([one.lines for one in self._best]),
        )
