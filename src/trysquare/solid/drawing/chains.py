"""Loose lines put together: in the order in which they hang together, straight ones made one, then fewer
points where that cannot be seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.scene import Numbers

STRAIGHT = 1e-6  # sine of the turn at a point that is left out; of a line 100 mm long 1e-4 mm


@dataclass(frozen=True, slots=True, eq=False)
class Chained:
    """Lines in order: `begin`, `end` (n, k); `goes_on` (n,): 1 where the next begins at this one's end;
    `sort` (n,)."""

    begin: Array
    end: Array
    goes_on: Numbers
    sort: Numbers


def chained(begin: Array, end: Array, names: Numbers, sort: Numbers) -> Chained:
    """Puts lines of one sort that meet two by two in a row, turned where need be, and joins straight ones.

    `begin`, `end` (n, k); `names` (n, 2): numbers of the points at their ends; equal numbers are one point.
    """
    rows, turned, goes_on = _order(names, sort)
    flip = turned[:, None].astype(bool)
    a = np.where(flip, end[rows], begin[rows])
    b = np.where(flip, begin[rows], end[rows])
    if len(rows) > 1:
        a, b, goes_on, rows = _straightened(a, b, goes_on, rows)
    return Chained(a, b, goes_on, sort[rows])


def _order(names: Numbers, sort: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """Rows in their chains' order, whether each is turned, and whether it goes on."""
    count = len(names)
    nodes = (names * 2 + sort[:, None]).reshape(-1)  # a point is another one for another sort
    _, node = np.unique(nodes, return_inverse=True)
    node = node.reshape(-1)
    order = np.argsort(node, kind="stable")
    sizes = np.bincount(node)
    firsts = np.cumsum(sizes) - sizes
    pairs = firsts[sizes == 2]
    mate = np.full(2 * count, -1, dtype=np.int64)
    mate[order[pairs]], mate[order[pairs + 1]] = order[pairs + 1], order[pairs]
    partner = mate.tolist()
    done = [False] * count
    rows: list[int] = []
    turned: list[int] = []
    goes_on: list[int] = []
    # Open chains first, from their free ends; what is left then are rings, begun anywhere.
    starts = [half for half in range(2 * count) if partner[half] < 0] + list(range(0, 2 * count, 2))
    for start in starts:
        half = start
        if done[half // 2]:
            continue
        while True:
            line = half // 2
            done[line] = True
            rows.append(line)
            turned.append(half % 2)
            half = partner[half ^ 1]
            if half < 0 or done[half // 2]:
                goes_on.append(0)
                break
            goes_on.append(1)
    as_numbers = [np.array(each, dtype=np.int64) for each in (rows, turned, goes_on)]
    return as_numbers[0], as_numbers[1], as_numbers[2]


def _straightened(
    begin: Array, end: Array, goes_on: Numbers, rows: Numbers
) -> tuple[Array, Array, Numbers, Numbers]:
    way = end - begin
    way = way / np.maximum(np.linalg.norm(way, axis=1), 1e-300)[:, None]
    turn = np.linalg.norm(way[1:] - way[:-1], axis=1)
    joined = np.append((goes_on[:-1] == 1) & (turn < STRAIGHT), False)
    heads = np.append(True, ~joined[:-1])
    tails = ~joined
    return begin[heads], end[tails], goes_on[tails], rows[heads]


def thinned(points: Array, first: Numbers, within: float) -> Array:
    """Which points to keep, array (n,) of flags, so that no chain moves by more than `within`.

    `points` (n, 2): chains one after the other; `first`: where each begins. All chains at once, round by
    round. Source: Douglas, Peucker, "Algorithms for the reduction of the number of points required to
    represent a digitized line or its caricature", Cartographica 10 (1973), 112–122.
    """
    count = len(points)
    keep = np.zeros(count, dtype=bool)
    if not count:
        return keep
    keep[first] = True
    keep[np.append(first[1:], count) - 1] = True
    for _ in range(count):
        marks = np.flatnonzero(keep)
        span = np.cumsum(keep) - 1  # the mark at or before each point
        a = points[marks[span]]
        b = points[marks[np.minimum(span + 1, len(marks) - 1)]]
        way, off = b - a, points - a
        share = np.einsum("ij,ij->i", way, off) / np.maximum(np.einsum("ij,ij->i", way, way), 1e-300)
        away = np.linalg.norm(off - way * np.clip(share, 0.0, 1.0)[:, None], axis=1)
        away[keep] = 0.0
        worst = np.maximum.reduceat(away, marks)
        far = worst > within
        if not far.any():
            break
        place = np.flatnonzero((away == worst[span]) & far[span])
        _, only = np.unique(span[place], return_index=True)
        keep[place[only]] = True
    return keep
