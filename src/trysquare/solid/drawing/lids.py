"""What is hidden for certain, found before anything is cut: a coarse grid with the depth of what covers it.

A cell that a flat face covers as a whole hides all that lies deeper there. Only cells that no border of the
face touches count, so that what is called hidden is hidden; what is not may be hidden all the same.

Source of the pyramid: Greene, Kass, Miller, "Hierarchical Z-buffer visibility", SIGGRAPH 1993, 231–238.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.flats import flats_of
from trysquare.solid.drawing.looks import Key
from trysquare.solid.drawing.paper import Flags
from trysquare.solid.drawing.scene import Body, Numbers

ACROSS = 128  # cells along the picture's longer side
LEAST_CELLS = 2.0  # a smaller face covers no cell, or hardly ever one
FACING = 0.05  # of unit normals: a face nearer to edge-on covers little, and its depth is worth little
CLEAR = 1e-6  # of a cell: so near to a border a cell counts as touched
KEPT_COVERS = 5000


@dataclass(frozen=True, slots=True, eq=False)
class _Cover:
    """The flat faces of a body that face the eye. `plane` (f, 3): depth is g + gx·x + gy·y, rows gx, gy, g.
    `low`, `high` (f, 2): boxes on paper; `begin`, `end` (s, 2), `count` (f,): their borders in order."""

    plane: Array
    low: Array
    high: Array
    begin: Array
    end: Array
    count: Numbers


_covers: OrderedDict[Key, _Cover] = OrderedDict()


def forget_covers() -> None:
    """Drops all kept in memory, for measuring a cold start."""
    _covers.clear()


@dataclass(frozen=True, slots=True, eq=False)
class Lids:
    """A grid over the picture. `low` (2,): its corner; `step`: of a cell; `levels`: depth beyond which a cell
    is hidden, then of each four the deepest, and so on."""

    low: Array
    step: float
    levels: tuple[Array, ...]

    def hide(self, low: Array, high: Array, by: float) -> Flags:
        """Flags (n,): which boxes (n, ≥ 2) on paper that begin at depth `low[:, 2]` are wholly hidden, lying
        deeper than what covers them by more than `by`."""
        if len(self.levels) < 2 or not len(low):
            return np.zeros(len(low), dtype=bool)
        tall, wide = self.levels[0].shape
        left, top = _cells(low[:, 0] - self.low[0], self.step), _cells(low[:, 1] - self.low[1], self.step)
        right, bottom = (
            _cells(high[:, 0] - self.low[0], self.step),
            _cells(high[:, 1] - self.low[1], self.step),
        )
        inside = (left >= 0) & (top >= 0) & (right < wide) & (bottom < tall)
        flags = np.zeros(len(low), dtype=bool)
        span = np.maximum(right - left, bottom - top)
        level = np.minimum(_LEVEL_OF[np.minimum(span, len(_LEVEL_OF) - 1)], len(self.levels) - 1)
        for number in np.unique(level[inside]).tolist():
            rows = np.flatnonzero(inside & (level == number))
            lid = self.levels[number]
            a, b, c, d = (each[rows] >> number for each in (left, right, top, bottom))
            deepest = np.maximum(np.maximum(lid[c, a], lid[c, b]), np.maximum(lid[d, a], lid[d, b]))
            flags[rows] = low[rows, 2] > deepest + by
        return flags


_LEVEL_OF = np.array([0, *(n.bit_length() for n in range(4096))], dtype=np.int64)
"""By how many cells two lie apart: the level on which they are one cell or neighbours."""


def lids_of(
    bodies: Sequence[Body], keys: Sequence[Key], frames: Array, at: Array, low: Array, high: Array
) -> Lids:
    """What bodies cover. `frames` (n, 3, 3): right, down and away in their own coordinates, and `keys` what
    names each body turned so; `at` (n, 3): where they stand before the eye; `low`, `high` (n, 3): their boxes
    there."""
    if not len(bodies):
        return Lids(np.zeros(2), 1.0, ())
    corner, far = low[:, :2].min(axis=0), high[:, :2].max(axis=0)
    step = max(float((far - corner).max()) / ACROSS, 1e-9)
    corner = corner - step / 2
    wide, tall = (np.floor((far - corner) / step).astype(int) + 2).tolist()
    some = np.flatnonzero(((high - low)[:, :2] >= LEAST_CELLS * step).all(axis=1))
    covers = [_cover_of(bodies[n], frames[n], keys[n]) for n in some.tolist()]
    lid = np.full((tall, wide), np.inf)
    if covers:
        _lay(lid, covers, at[some], corner, step)
    return Lids(corner, step, tuple(_levels(lid)))


def _levels(lid: Array) -> list[Array]:
    found = [lid]
    while min(lid.shape) > 1:
        tall, wide = lid.shape
        lid = np.pad(lid, ((0, tall % 2), (0, wide % 2)), constant_values=-np.inf)
        lid = np.maximum(
            np.maximum(lid[::2, ::2], lid[1::2, ::2]), np.maximum(lid[::2, 1::2], lid[1::2, 1::2])
        )
        found.append(lid)
    return found


def _cover_of(body: Body, frame: Array, key: Key) -> _Cover:
    known = _covers.get(key)
    if known is None:
        known = _cover(body, frame)
        _covers[key] = known
        if len(_covers) > KEPT_COVERS:
            _covers.popitem(last=False)
    return known


def _cover(body: Body, frame: Array) -> _Cover:
    flats = flats_of(body)
    normals = flats.normals @ frame.T
    shown = np.abs(normals[:, 2]) > FACING if flats.both_sides else normals[:, 2] < -FACING
    normals, off, deep = normals[shown], flats.off_mm[shown], flats.deep_mm[shown]
    mine = shown[flats.face]
    count = np.bincount(flats.face, minlength=len(shown))[shown]
    begin, end = flats.begin[mine] @ frame[:2].T, flats.end[mine] @ frame[:2].T
    # The deepest that any of the face can be: a face not wholly flat counts as its innermost plane.
    inner = off - deep if not flats.both_sides else np.where(normals[:, 2] < 0, off - deep, off)
    with np.errstate(divide="ignore", invalid="ignore"):
        plane = np.stack([-normals[:, 0], -normals[:, 1], inner], axis=1) / normals[:, 2:]
    start = np.cumsum(count) - count
    none = np.zeros((0, 2))
    return _Cover(
        plane=plane,
        low=np.minimum.reduceat(begin, start) if len(count) else none,
        high=np.maximum.reduceat(begin, start) if len(count) else none,
        begin=begin,
        end=end,
        count=count,
    )


def _lay(lid: Array, covers: Sequence[_Cover], at: Array, corner: Array, step: float) -> None:
    """Lowers the lids to what the covers leave no light in."""
    faces = np.array([len(cover.count) for cover in covers])
    shift = np.repeat(at, faces, axis=0)
    low = (np.concatenate([cover.low for cover in covers]) + shift[:, :2] - corner) / step
    high = (np.concatenate([cover.high for cover in covers]) + shift[:, :2] - corner) / step
    plane = np.concatenate([cover.plane for cover in covers])
    count = np.concatenate([cover.count for cover in covers])
    large = ((high - low) >= LEAST_CELLS).all(axis=1)
    if not large.any():
        return
    lines = np.repeat(large, count)
    moved = np.repeat(shift[:, :2] - corner, count, axis=0)[lines]
    begin = (np.concatenate([cover.begin for cover in covers])[lines] + moved) / step
    end = (np.concatenate([cover.end for cover in covers])[lines] + moved) / step
    plane, shift = plane[large], shift[large]
    face, row, column = _full_cells(begin, end, np.repeat(np.arange(len(plane)), count[large]), len(lid))
    gx, gy = plane[face, 0], plane[face, 1]
    x = corner[0] + (column + 0.5) * step - shift[face, 0]
    y = corner[1] + (row + 0.5) * step - shift[face, 1]
    depth = plane[face, 2] + gx * x + gy * y + shift[face, 2] + (np.abs(gx) + np.abs(gy)) * step / 2
    np.minimum.at(lid.reshape(-1), row * lid.shape[1] + column, depth)


def _full_cells(begin: Array, end: Array, face: Numbers, tall: int) -> tuple[Numbers, Numbers, Numbers]:
    """Face, row and column of the cells inside a face's border that the border touches nowhere.

    `begin`, `end` (s, 2): pieces of borders in cells, closed round each `face` (s,). Each row of a face, from
    its first touched cell to its last, has a place in one long array, in which crossings are summed up from
    the left.
    """
    (x0, y0), (x1, y1) = begin.T, end.T
    top, bottom = np.minimum(y0, y1), np.maximum(y0, y1)
    first = np.floor(top - CLEAR).astype(np.int64)
    rows = np.floor(bottom + CLEAR).astype(np.int64) + 1 - first
    line = np.repeat(np.arange(len(rows)), rows)
    row = first[line] + np.arange(len(line)) - np.repeat(np.cumsum(rows) - rows, rows)
    high = (y1 - y0)[line]
    slope = (x1 - x0)[line] / np.where(high == 0, 1.0, high)
    # cells that the border touches: in each row those between where it enters and leaves the row
    enters = np.clip(row - CLEAR, top[line], bottom[line])
    leaves = np.clip(row + 1 + CLEAR, top[line], bottom[line])
    one = np.where(high == 0, x0[line], x0[line] + (enters - y0[line]) * slope)
    two = np.where(high == 0, x1[line], x0[line] + (leaves - y0[line]) * slope)
    left = np.floor(np.minimum(one, two) - CLEAR).astype(np.int64)
    right = np.floor(np.maximum(one, two) + CLEAR).astype(np.int64)
    strip = face[line] * (tall + 2) + row + 1
    strips = int(strip.max()) + 1
    begins = np.full(strips, np.iinfo(np.int64).max)
    stops = np.full(strips, -1)
    np.minimum.at(begins, strip, left)
    np.maximum.at(stops, strip, right + 1)
    long = np.where(stops < 0, 0, stops - begins + 1)  # one more for the end of a run at the right border
    place = np.cumsum(long) - long
    length = int(long.sum())
    start = place[strip] - begins[strip]
    touched = np.bincount(start + left, minlength=length) - np.bincount(start + right + 1, minlength=length)
    # cells whose middle lies inside: where the border has gone round it
    middle = row + 0.5
    crosses = (top[line] <= middle) & (middle < bottom[line])
    line, start = line[crosses], start[crosses]
    x = x0[line] + (middle[crosses] - y0[line]) * slope[crosses]
    column = np.ceil(x - 0.5).astype(np.int64)
    round_it = np.bincount(start + column, np.sign(y1 - y0)[line], minlength=length)
    full = np.flatnonzero((np.cumsum(touched) == 0) & (np.rint(np.cumsum(round_it)) != 0))
    strip = (
        np.searchsorted(place, full, side="right") - 1
    )  # the last of those that begin there: empty ones come first
    return strip // (tall + 2), strip % (tall + 2) - 1, full - place[strip] + begins[strip]


def _cells(off: Array, step: float) -> Numbers:
    return np.floor(off / step).astype(np.int64)
