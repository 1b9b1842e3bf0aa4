"""Faces and lines as they lie on paper, with their depth, and the cells that paper is cut into."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array
from trysquare.solid.drawing.scene import Numbers

Flags = NDArray[np.bool_]

LEAST_HEIGHT = 1e-9  # of the picture's size; a lower triangle is seen edge-on and hides nothing

# Rows of `Faces.table`.
SIDE_A, SIDE_B, SIDE_C, MID_X, MID_Y, HALF_X, HALF_Y, DEPTH_X, DEPTH_Y, DEPTH, NEAR, FAR, AREA = (
    0, 3, 6, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18,
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """Triangles on paper with their depth. `table` (19, n): three sides a·x + b·y + c, positive inside and a
    distance; middle and half size of the box; plane depth g + gx·x + gy·y; least and greatest depth; area.
    `owner` (n,): whose they are."""

    table: Array
    owner: Numbers


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Straight lines on paper with their depth: `begin`, `end` (n, 3). `slack` (n,): how much deeper than a
    face a line must be to be hidden by it. `owner` (n,): whose they are."""

    begin: Array
    end: Array
    slack: Array
    owner: Numbers

    def some(self, chosen: Flags) -> Lines:
        """Those of them."""
        return Lines(self.begin[chosen], self.end[chosen], self.slack[chosen], self.owner[chosen])


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Where the search begins: square cells of one half size with their middles, and which faces and lines
    may lie in which: rows (thing, cell)."""

    x: Array
    y: Array
    half: float
    faces: Numbers
    lines: Numbers


@dataclass(frozen=True, slots=True, eq=False)
class Stretches:
    """Stretches of lines: `line` (n,), from `begin` to `end` (n,) as shares of its length, in order."""

    line: Numbers
    begin: Array
    end: Array


def faces_on_paper(corners: Array, owner: Numbers, size: float) -> Faces:
    """Triangles (n, 3, 3) of x, y, depth, either way round. Those seen edge-on are left out.

    `size`: of the picture they lie in; it says what is too low to hide anything.
    """
    x, y, z = _by_corner(corners)
    ax, ay, bx, by = x[1] - x[0], y[1] - y[0], x[2] - x[0], y[2] - y[0]
    area = ax * by - ay * bx
    longest = np.sqrt(np.maximum(np.maximum(ax**2 + ay**2, bx**2 + by**2), (bx - ax) ** 2 + (by - ay) ** 2))
    keep = np.flatnonzero(np.abs(area) > LEAST_HEIGHT * size * longest)
    if len(keep) < len(area):
        x, y, z, area = x[:, keep], y[:, keep], z[:, keep], area[keep]
        ax, ay, bx, by = ax[keep], ay[keep], bx[keep], by[keep]
    table = np.empty((19, len(area)))
    sign = np.sign(area)
    for k in range(3):
        m = (k + 1) % 3
        a, b = (y[k] - y[m]) * sign, (x[m] - x[k]) * sign
        length = np.sqrt(a * a + b * b)
        a /= length
        b /= length
        table[SIDE_A + k], table[SIDE_B + k], table[SIDE_C + k] = a, b, -(a * x[k] + b * y[k])
    low_x, high_x, low_y, high_y = least_of(x), most_of(x), least_of(y), most_of(y)
    table[MID_X], table[HALF_X] = (low_x + high_x) / 2, (high_x - low_x) / 2
    table[MID_Y], table[HALF_Y] = (low_y + high_y) / 2, (high_y - low_y) / 2
    za, zb = z[1] - z[0], z[2] - z[0]
    table[DEPTH_X], table[DEPTH_Y] = (za * by - zb * ay) / area, (zb * ax - za * bx) / area
    table[DEPTH] = z[0] - table[DEPTH_X] * x[0] - table[DEPTH_Y] * y[0]
    table[NEAR], table[FAR] = least_of(z), most_of(z)
    table[AREA] = np.abs(area) / 2
    return Faces(table, np.asarray(owner)[keep])


def boxes_of(corners: Array) -> tuple[Array, Array]:
    """Least and greatest x, y and depth, arrays (n, 3), of triangles (n, 3, 3)."""
    # many times quicker than a minimum along so short an axis
    one, two, three = corners[:, 0], corners[:, 1], corners[:, 2]
    return np.minimum(np.minimum(one, two), three), np.maximum(np.maximum(one, two), three)


def _by_corner(corners: Array) -> tuple[Array, Array, Array]:
    """x, y and depth, each (3, n), of the corners of triangles (n, 3, 3)."""
    every = np.ascontiguousarray(corners.reshape(len(corners), 9).T)
    return every[0::3], every[1::3], every[2::3]


def least_of(values: Array) -> Array:
    """The least of each three, (3, n)."""
    return np.asarray(np.minimum(np.minimum(values[0], values[1]), values[2]))


def most_of(values: Array) -> Array:
    """The greatest of each three, (3, n)."""
    return np.asarray(np.maximum(np.maximum(values[0], values[1]), values[2]))


def grid_of(faces: Faces, lines: Lines, across: int) -> Cells:
    """Cells over all lines, `across` of them along the longer side."""
    none = np.zeros((0, 2), dtype=np.int64)
    if not len(lines.begin):
        return Cells(np.zeros(0), np.zeros(0), 1.0, none, none)
    low = np.minimum(lines.begin, lines.end)[:, :2].min(axis=0)
    high = np.maximum(lines.begin, lines.end)[:, :2].max(axis=0)
    step = max(float((high - low).max()) / across, 1e-9) * (1 + 1e-9)
    wide, tall = (np.floor((high - low) / step).astype(int) + 1).tolist()
    table = faces.table
    of_faces = _spread(
        table[MID_X] - table[HALF_X] - low[0], table[MID_X] + table[HALF_X] - low[0],
        table[MID_Y] - table[HALF_Y] - low[1], table[MID_Y] + table[HALF_Y] - low[1], step, wide, tall,
    )  # fmt: skip
    least, most = np.minimum(lines.begin, lines.end), np.maximum(lines.begin, lines.end)
    of_lines = _spread(
        least[:, 0] - low[0], most[:, 0] - low[0], least[:, 1] - low[1], most[:, 1] - low[1], step, wide, tall
    )
    column, row = np.meshgrid(np.arange(wide), np.arange(tall))
    return Cells(
        x=low[0] + step * (column.reshape(-1) + 0.5),
        y=low[1] + step * (row.reshape(-1) + 0.5),
        half=step / 2,
        faces=of_faces,
        lines=of_lines,
    )


def grids_of(faces: Faces, lines: Lines, count: int, across: int) -> Cells:
    """Cells over many pictures at once, each in the middle of a unit square and with its number as owner of
    its faces and lines."""
    low, step = -0.5 - 1e-6, (1 + 2e-6) / across
    table = faces.table
    of_faces = _spread(
        table[MID_X] - table[HALF_X] - low, table[MID_X] + table[HALF_X] - low,
        table[MID_Y] - table[HALF_Y] - low, table[MID_Y] + table[HALF_Y] - low, step, across, across,
    )  # fmt: skip
    least, most = np.minimum(lines.begin, lines.end) - low, np.maximum(lines.begin, lines.end) - low
    of_lines = _spread(least[:, 0], most[:, 0], least[:, 1], most[:, 1], step, across, across)
    of_faces[:, 1] += faces.owner[of_faces[:, 0]] * across**2
    of_lines[:, 1] += lines.owner[of_lines[:, 0]] * across**2
    column, row = np.meshgrid(np.arange(across), np.arange(across))
    return Cells(
        x=np.tile(low + step * (column.reshape(-1) + 0.5), count),
        y=np.tile(low + step * (row.reshape(-1) + 0.5), count),
        half=step / 2,
        faces=of_faces,
        lines=of_lines,
    )


def near_lines(corners: Array, lines: Lines, across: int = 64) -> Flags:
    """Array (n,): which triangles (n, 3, 3) may hide any of a few lines: a cheap look before all others.

    A triangle may where its box touches a cell with a line in it and begins nearer than the deepest line.
    """
    if not len(lines.begin) or not len(corners):
        return np.zeros(len(corners), dtype=bool)
    least, most = np.minimum(lines.begin, lines.end), np.maximum(lines.begin, lines.end)
    low = least[:, :2].min(axis=0)
    step = max(float((most[:, :2].max(axis=0) - low).max()) / across, 1e-9)
    first = np.floor((least[:, :2] - low) / step).astype(np.int64)
    last = np.floor((most[:, :2] - low) / step).astype(np.int64)
    # sums over the rows and columns before a cell: how many lines' boxes begin or end there
    count = np.zeros((across + 2, across + 2))
    for x, y, sign in (
        (first[:, 0], first[:, 1], 1), (last[:, 0] + 1, last[:, 1] + 1, 1),
        (last[:, 0] + 1, first[:, 1], -1), (first[:, 0], last[:, 1] + 1, -1),
    ):  # fmt: skip
        np.add.at(count, (np.minimum(y, across + 1), np.minimum(x, across + 1)), sign)
    busy = count.cumsum(axis=0).cumsum(axis=1)[: across + 1, : across + 1] > 0
    until = np.zeros((across + 2, across + 2), dtype=np.int64)
    until[1:, 1:] = busy.cumsum(axis=0).cumsum(axis=1)
    x, y, z = _by_corner(corners)
    left, right = _cell_range(x, low[0], step, across)
    top, bottom = _cell_range(y, low[1], step, across)
    inside = until[bottom, right] - until[top, right] - until[bottom, left] + until[top, left]
    flags: Flags = (inside > 0) & (least_of(z) < most[:, 2].max())
    return flags


def _cell_range(values: Array, low: float, step: float, across: int) -> tuple[Numbers, Numbers]:
    """First cell of the range of three values (3, n), and the one after the last."""
    first = np.floor((least_of(values) - low) / step - 1e-6).astype(np.int64)
    last = np.floor((most_of(values) - low) / step + 1e-6).astype(np.int64) + 1
    return np.clip(first, 0, across + 1), np.clip(last, 0, across + 1)


def _spread(
    low_x: Array, high_x: Array, low_y: Array, high_y: Array, step: float, wide: int, tall: int
) -> Numbers:
    """Rows (thing, cell) for each cell that a thing's box touches."""
    left = np.maximum(np.floor(low_x / step - 1e-6).astype(np.int64), 0)
    right = np.minimum(np.floor(high_x / step + 1e-6).astype(np.int64), wide - 1)
    top = np.maximum(np.floor(low_y / step - 1e-6).astype(np.int64), 0)
    bottom = np.minimum(np.floor(high_y / step + 1e-6).astype(np.int64), tall - 1)
    columns, rows = np.maximum(right - left + 1, 0), np.maximum(bottom - top + 1, 0)
    count = columns * rows
    thing = np.repeat(np.arange(len(count)), count)
    place = np.arange(len(thing)) - np.repeat(np.cumsum(count) - count, count)
    across = columns[thing]
    return np.stack([thing, (top[thing] + place // across) * wide + left[thing] + place % across], axis=1)
