"""Call-outs beside what they name: no label covers a line of the drawing, no leader crosses another.

The paper is a raster of taken cells. Labels are put one after another where their box is free, as near to
what they point at as they can be; one that finds no place goes first in the next try.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array

CELL_MM = 0.5
STEP_CELLS = 3  # candidates stand so many cells apart
CLEAR_MM = 0.7  # between a label and any line or other label
TRIES = 12
AT_ONCE = 128  # candidates that are tried together
NEAREST_MM = 2.0  # a leader shorter than this is no leader
OVER_NEW = 1.0  # what a millimetre of leader over what is new costs more than over empty paper
NEAR_MM = 1.0  # a leader so near to where another one points reads as if it pointed there, too
NEAR_COSTS_MM = 10.0  # as much as a leader longer by this

Flags = NDArray[np.bool_]
Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """A label that wants a place: its size, and the points (n, 2) it may point at, best first."""

    name: str
    width_mm: float
    height_mm: float
    anchors_mm: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A label in its place: its left top corner; the leader runs from `from_mm` on its edge to `to_mm`."""

    name: str
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float
    from_mm: tuple[float, float]
    to_mm: tuple[float, float]


class Paper:
    """A rectangle of paper with its taken cells; `left`, `top`, `right`, `bottom` in mm."""

    def __init__(self, left: float, top: float, right: float, bottom: float) -> None:
        self.left, self.top = left, top
        self.wide = max(1, int((right - left) / CELL_MM))
        self.tall = max(1, int((bottom - top) / CELL_MM))
        self.taken: Flags = np.zeros((self.tall, self.wide), dtype=bool)
        self.new: Flags = np.zeros((self.tall, self.wide), dtype=bool)

    def take_lines(self, lines: Iterable[Array]) -> None:
        """Takes all cells that lines (n, 2) run through."""
        kept = [points for points in lines if len(points) > 1]
        if kept:
            counts = np.array([len(each) for each in kept])
            self.take_chains(np.concatenate(kept), np.cumsum(counts) - counts)

    def take_chains(self, points: Array, first: Numbers) -> None:
        """As `take_lines`, of lines in one array (n, 2); `first`: where each begins."""
        if not len(points):
            return
        last = np.zeros(len(points), dtype=bool)
        last[np.append(first[1:], len(points)) - 1] = True
        low = np.array([self.left, self.top])
        high = low + np.array([self.wide, self.tall]) * CELL_MM
        start, step = points[:-1], np.diff(points, axis=0)
        stop = points[1:]
        near = (
            (np.maximum(start, stop) >= low).all(axis=1)
            & (np.minimum(start, stop) <= high).all(axis=1)
            & ~last[:-1]
        )
        start, step = start[near], step[near]
        count = np.minimum(
            np.ceil(np.abs(step).max(axis=1, initial=0.0) / (0.8 * CELL_MM)).astype(np.int64) + 1, 4000
        )
        row = np.repeat(np.arange(len(start)), count)
        place_of = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
        share = place_of / np.maximum(count[row] - 1, 1)
        self._mark(self.taken, start[row] + step[row] * share[:, None])

    def covered(self, lines: Iterable[Array]) -> int:
        """How many taken cells lines (n, 2) run through."""
        other = Paper(self.left, self.top, self.left, self.top)
        other.wide, other.tall, other.taken = self.wide, self.tall, np.zeros_like(self.taken)
        other.take_lines(lines)
        return int((other.taken & self.taken).sum())

    def take_box(self, left: float, top: float, right: float, bottom: float) -> None:
        """Takes a rectangle."""
        rows = slice(
            max(0, int((top - self.top) / CELL_MM)), max(0, int(np.ceil((bottom - self.top) / CELL_MM)))
        )
        columns = slice(
            max(0, int((left - self.left) / CELL_MM)), max(0, int(np.ceil((right - self.left) / CELL_MM)))
        )
        self.taken[rows, columns] = True

    def take_area(self, loops: Sequence[Array]) -> None:
        """Takes the inside of closed loops (n, 2), even-odd, and remembers it as new."""
        if not loops:
            return
        starts = np.concatenate(loops)
        stops = np.concatenate([np.roll(loop, -1, axis=0) for loop in loops])
        low = max(0, int((starts[:, 1].min() - self.top) / CELL_MM))
        high = min(self.tall - 1, int((starts[:, 1].max() - self.top) / CELL_MM))
        for row in range(low, high + 1):
            y = self.top + (row + 0.5) * CELL_MM
            crosses = (starts[:, 1] > y) != (stops[:, 1] > y)
            a, b = starts[crosses], stops[crosses]
            at = np.sort(a[:, 0] + (b[:, 0] - a[:, 0]) * (y - a[:, 1]) / (b[:, 1] - a[:, 1]))
            for left, right in zip(at[:-1:2], at[1::2], strict=False):
                first, last = (max(0, int((x - self.left) / CELL_MM)) for x in (left, right))
                self.taken[row, first : last + 1] = True
                self.new[row, first : last + 1] = True

    def _mark(self, cells: Flags, points: Array) -> None:
        columns = ((points[:, 0] - self.left) / CELL_MM).astype(int)
        rows = ((points[:, 1] - self.top) / CELL_MM).astype(int)
        inside = (columns >= 0) & (columns < self.wide) & (rows >= 0) & (rows < self.tall)
        cells[rows[inside], columns[inside]] = True

    def free(self, width_mm: float, height_mm: float) -> Array:
        """Array (n, 2): left top corners at which a box of this size, with room round it, covers nothing."""
        wide = int(np.ceil((width_mm + 2 * CLEAR_MM) / CELL_MM))
        tall = int(np.ceil((height_mm + 2 * CLEAR_MM) / CELL_MM))
        if wide > self.wide or tall > self.tall:
            return np.zeros((0, 2))
        whole = np.zeros((self.tall + 1, self.wide + 1), dtype=np.int64)
        whole[1:, 1:] = self.taken.cumsum(axis=0).cumsum(axis=1)
        inside = whole[tall:, wide:] - whole[:-tall, wide:] - whole[tall:, :-wide] + whole[:-tall, :-wide]
        rows, columns = np.nonzero(inside[::STEP_CELLS, ::STEP_CELLS] == 0)
        corner = np.stack(
            [columns * STEP_CELLS * CELL_MM + self.left, rows * STEP_CELLS * CELL_MM + self.top], axis=1
        )
        return corner + CLEAR_MM

    def over_new(self, begin: Array, end: Array) -> Array:
        """Array (n,): share of each straight way (n, 2) to (n, 2) that runs over what is new."""
        shares = np.linspace(0.05, 0.9, 8)
        points = begin[:, None, :] + (end - begin)[:, None, :] * shares[None, :, None]
        columns = np.clip(((points[..., 0] - self.left) / CELL_MM).astype(int), 0, self.wide - 1)
        rows = np.clip(((points[..., 1] - self.top) / CELL_MM).astype(int), 0, self.tall - 1)
        return np.asarray(self.new[rows, columns].mean(axis=1))


def place(
    wanted: Sequence[Wanted], paper: Paper, beside: Sequence[Placed] = ()
) -> tuple[tuple[Placed, ...], tuple[str, ...]]:
    """Labels in their places, and the names of those that found none. `beside`: labels that stand already."""
    order = list(range(len(wanted)))
    best: tuple[list[Placed], list[str]] | None = None
    for _ in range(TRIES):
        placed: list[Placed] = list(beside)
        left: list[int] = []
        for number in order:
            one = _place_one(wanted[number], paper, placed)
            if one is None:
                left.append(number)
            else:
                placed.append(one)
        if best is None or len(left) < len(best[1]):
            best = placed, [wanted[number].name for number in left]
        if not left:
            break
        order = [*left, *(number for number in order if number not in left)]
    assert best is not None or not wanted
    return (tuple(best[0][len(beside) :]), tuple(best[1])) if best is not None else ((), ())


def _place_one(one: Wanted, paper: Paper, placed: Sequence[Placed]) -> Placed | None:
    corners = paper.free(one.width_mm, one.height_mm)
    if not len(corners) or not len(one.anchors_mm):
        return None
    size = np.array([one.width_mm, one.height_mm])
    for other in placed:
        low = np.array([other.left_mm, other.top_mm]) - CLEAR_MM
        high = np.array([other.left_mm + other.width_mm, other.top_mm + other.height_mm]) + CLEAR_MM
        corners = corners[((corners >= high) | (corners + size <= low)).any(axis=1)]
    found: tuple[float, Placed] | None = None
    for rank, anchor in enumerate(one.anchors_mm):
        if not len(corners):
            break
        begin = _edge(corners, size, anchor)
        length = np.linalg.norm(begin - anchor, axis=1)
        best = _nearest(
            begin, anchor, length, corners, size, paper, placed, found[0] - 2.0 * rank if found else np.inf
        )
        if best is not None:
            cost, n = best
            found = cost + 2.0 * rank, Placed(
                name=one.name, left_mm=float(corners[n, 0]), top_mm=float(corners[n, 1]),
                width_mm=one.width_mm, height_mm=one.height_mm,
                from_mm=(float(begin[n, 0]), float(begin[n, 1])), to_mm=(float(anchor[0]), float(anchor[1])),
            )  # fmt: skip
    return found[1] if found is not None else None


def _nearest(
    begin: Array, anchor: Array, length: Array, corners: Array, size: Array, paper: Paper,
    placed: Sequence[Placed], most: float,
) -> tuple[float, int] | None:  # fmt: skip
    """Cost and number of the box with the cheapest leader from `begin` (n, 2) to the anchor that meets no
    other label or leader; None when there is none below `most`. `length` (n,): of the leaders."""
    # A leader costs at least its length: the short ones first, until no longer one can be cheaper.
    order = np.argsort(length, kind="stable")
    best: tuple[float, int] | None = None
    for start in range(0, len(order), AT_ONCE):
        rows = order[start : start + AT_ONCE]
        if length[rows[0]] > (most if best is None else best[0]):
            break
        some = begin[rows]
        to = np.broadcast_to(anchor, some.shape)
        cost = length[rows] * (1 + OVER_NEW * paper.over_new(some, to))
        ok = (length[rows] >= NEAREST_MM) & (cost < most)
        for other in placed:
            if not ok.any():
                break
            one, two = np.array(other.from_mm), np.array(other.to_mm)
            low = np.array([other.left_mm, other.top_mm])
            high = low + np.array([other.width_mm, other.height_mm])
            ok &= ~_cross(some, anchor, one, two) & ~_through(some, to, low - 0.3, high + 0.3)
            ok &= ~_through_boxes(one, two, corners[rows] - 0.3, corners[rows] + size + 0.3)
            cost = cost + NEAR_COSTS_MM * (_apart(two, some, anchor) < NEAR_MM)
        ok &= cost < most
        if ok.any():
            cheapest = min(zip(cost[ok].tolist(), rows[ok].tolist(), strict=True))
            best = cheapest if best is None else min(best, cheapest)
    return best


def _edge(corners: Array, size: Array, anchor: Array) -> Array:
    """Where the way from each box's middle to the anchor leaves the box."""
    middle = corners + size / 2
    way = anchor - middle
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.min(np.where(way != 0, (size / 2) / np.abs(way), np.inf), axis=1)
    return np.asarray(middle + way * np.minimum(share, 1.0)[:, None])


def _apart(point: Array, begin: Array, end: Array) -> Array:
    """Array (n,): how far a point lies from segments from each begin (n, 2) to one end."""
    way = end - begin
    share = ((point - begin) * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-12)
    return np.asarray(np.linalg.norm(begin + np.clip(share, 0.0, 1.0)[:, None] * way - point, axis=1))


def _cross(begin: Array, end: Array, one: Array, other: Array) -> Flags:
    """Whether segments from each begin (n, 2) to one end meet the segment one-other."""

    def turn(a: Array, b: Array, c: Array) -> Array:
        return np.asarray(
            (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1])
            - (b[..., 1] - a[..., 1]) * (c[..., 0] - a[..., 0])
        )

    first, second = turn(begin, end, one), turn(begin, end, other)
    third, fourth = turn(one, other, begin), turn(one, other, end)
    return np.asarray((first * second <= 0) & (third * fourth <= 0))


def _through(begin: Array, end: Array, low: Array, high: Array) -> Flags:
    """Whether segments (n, 2) to (n, 2) run through one box."""
    way = end - begin
    with np.errstate(divide="ignore", invalid="ignore"):
        one, two = (low - begin) / way, (high - begin) / way
    still = way == 0
    inside = (begin >= low) & (begin <= high)
    near = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(one, two))
    far = np.where(still, np.where(inside, np.inf, -np.inf), np.maximum(one, two))
    first, last = np.maximum(near[:, 0], near[:, 1]), np.minimum(far[:, 0], far[:, 1])
    return np.asarray((first <= last) & (last >= 0) & (first <= 1))


def _through_boxes(begin: Array, end: Array, low: Array, high: Array) -> Flags:
    """Whether one segment runs through each of some boxes (n, 2) to (n, 2)."""
    count = len(low)
    return _through(np.broadcast_to(begin, (count, 2)), np.broadcast_to(end, (count, 2)), low, high)
