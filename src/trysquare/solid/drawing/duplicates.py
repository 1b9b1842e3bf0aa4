"""Lines of touching parts that fall on each other on paper: the one that matters more is kept."""

from __future__ import annotations

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.paper import Stretches
from trysquare.solid.drawing.scene import Numbers

SAME_TURN_RAD = 1e-4
SAME_LINE_MM = 0.01  # paper; a fine pen draws 0.13
LEAST_MM = 1e-4  # paper; a shorter remainder is rounding


def drawn_once(free: Stretches, begin: Array, end: Array, rank: Numbers) -> Stretches:
    """The stretches without what a more important one draws already.

    `begin`, `end` (n, 2): the lines on paper, mm. `rank` (n,) of each line: lower goes first.
    """
    way = (end - begin)[free.line]
    at = begin[free.line] + way * free.begin[:, None]
    # No drawn direction lies where the angles begin, so that none is torn apart by rounding there.
    angle = np.mod(np.arctan2(way[:, 1], way[:, 0]) + 0.12345, np.pi)
    along = np.stack([np.cos(angle - 0.12345), np.sin(angle - 0.12345)], axis=1)
    across = at[:, 1] * along[:, 0] - at[:, 0] * along[:, 1]
    one = np.einsum("ij,ij->i", at, along)
    two = one + np.einsum("ij,ij->i", way, along) * (free.end - free.begin)
    low, high = np.minimum(one, two), np.maximum(one, two)
    key = np.rint(angle / SAME_TURN_RAD + 0.31).astype(np.int64) * (1 << 32) + np.rint(
        across / SAME_LINE_MM + 0.27
    ).astype(np.int64)
    _, group = np.unique(key, return_inverse=True)
    group = group.reshape(-1)
    order = np.lexsort((low, group))
    # groups are set apart by more than the paper's size, so that one running maximum serves them all
    apart = group[order] * (2 * float(np.abs(np.append(low, high)).max(initial=0.0)) + 1.0)
    reach = np.maximum.accumulate(high[order] + apart) - apart
    meets = (group[order][1:] == group[order][:-1]) & (low[order][1:] < reach[:-1] - LEAST_MM)
    crowded = np.unique(group[order][1:][meets])
    if not len(crowded):
        return free
    touched = np.isin(group, crowded)
    members = order[touched[order]]
    rows: list[tuple[int, float, float]] = []
    bounds = np.flatnonzero(np.diff(group[members])) + 1
    importance = rank[free.line]
    for rows_of in np.split(members, bounds):
        rows += _once(rows_of.tolist(), low, high, importance)
    row = np.array([each[0] for each in rows], dtype=np.int64)
    shares = np.array([each[1:] for each in rows]).reshape(-1, 2)
    back = one[row] > two[row]
    shares = np.where(back[:, None], 1.0 - shares[:, ::-1], shares)
    long = (free.end - free.begin)[row]
    line = np.concatenate([free.line[~touched], free.line[row]])
    first = np.where(shares[:, 0] <= 0, free.begin[row], free.begin[row] + long * shares[:, 0])
    last = np.where(shares[:, 1] >= 1, free.end[row], free.begin[row] + long * shares[:, 1])
    first, last = np.append(free.begin[~touched], first), np.append(free.end[~touched], last)
    order = np.lexsort((first, line))
    return Stretches(line[order], first[order], last[order])


def _once(rows: list[int], low: Array, high: Array, rank: Numbers) -> list[tuple[int, float, float]]:
    """(row, from, to) as shares of its stretch, for what is left of each on one straight line."""
    taken: list[tuple[float, float]] = []
    left: list[tuple[int, float, float]] = []
    for row in sorted(rows, key=lambda row: (rank[row], low[row] - high[row], row)):
        a, b = float(low[row]), float(high[row])
        parts = [(a, b)]
        for c, d in taken:
            parts = [
                piece
                for u, v in parts
                for piece in ((u, min(v, c)), (max(u, d), v))
                if piece[1] - piece[0] > LEAST_MM
            ]
        long = max(b - a, 1e-300)
        left += [
            (row, 0.0 if u <= a else (u - a) / long, 1.0 if v >= b else (v - a) / long) for u, v in parts
        ]
        taken.append((a, b))
    return left
