"""Which stretches of lines are hidden by which faces: exact, by intervals, with no picture elements.

A stretch of a line lies behind a triangle where four linear functions of its parameter are positive: inside
each of the three sides, and deeper than the triangle's plane. That is one interval a pair. So that few pairs
need to be asked, the paper is cut into cells which are quartered as long as much meets in them. A triangle
that covers a whole cell hides everything deeper in it at once, lines and other triangles alike.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.paper import (
    AREA,
    DEPTH,
    DEPTH_X,
    DEPTH_Y,
    FAR,
    HALF_X,
    HALF_Y,
    MID_X,
    MID_Y,
    NEAR,
    SIDE_A,
    SIDE_B,
    SIDE_C,
    Cells,
    Faces,
    Flags,
    Lines,
    Stretches,
)  # fmt: skip
from trysquare.solid.drawing.scene import Numbers

MOST_PAIRS = 1600  # lines × faces in a cell that are asked one by one rather than quartered
MOST_LEVELS = 12  # cells this often quartered are below a micrometre of any picture
PAIRS_AT_ONCE = 25_000  # some 5 MB; more at once is hardly quicker
LARGE = 0.015  # of the picture's size: a face with the area of such a square is tried first
LONG = 0.01  # of the picture's size: a face reaching so far to either side of its middle is tried second
OVER_EDGE = 1e-8  # of the picture's size: so far a face reaches over its sides, lest light falls between two
SAME_PLACE = 1e-9  # of a line's own length


def visible(
    faces: Faces,
    lines: Lines,
    cells_of: Callable[[Faces, Lines, int], Cells],
    size: float,
    *,
    own_too: bool = True,
) -> Stretches:
    """The stretches of the lines that no face hides, in order of line and place.

    `cells_of` says where to begin, given some faces, lines and how many cells across would suit them;
    `size`: of the picture. `own_too` False: an owner's faces need not be tried on its own lines, which are
    known to be free of them. A line of no length is a point: it is there whole or not at all. Touching is
    not hiding: a line is hidden where it is deeper than a face by more than its slack.

    The few large faces go first, then the long and narrow ones: behind the panels of a machine nothing is
    left to ask the many small ones, and those can begin in small cells.
    """
    long = np.maximum(faces.table[HALF_X], faces.table[HALF_Y]) > LONG * size
    large = faces.table[AREA] > (LARGE * size) ** 2
    free = _whole(len(lines.begin))
    for some, most_across in ((large, 24), (long & ~large, 24), (~long & ~large, 96)):
        if not some.any() or not len(free.line):
            continue
        rest = _cut(lines, free)
        rows = np.flatnonzero(some)
        part = Faces(faces.table.take(rows, axis=1), faces.owner[rows])
        across = min(most_across, max(4, int(0.75 * max(len(part.owner), len(rest.owner)) ** 0.5)))
        hidden = _Search(part, rest, cells_of(part, rest, across), own_too).hidden()
        left = _rest(hidden, len(rest.begin))
        begin, way = free.begin[left.line], (free.end - free.begin)[left.line]
        end = np.where(left.end >= 1, free.end[left.line], begin + way * left.end)
        free = Stretches(
            free.line[left.line], np.where(left.begin <= 0, begin, begin + way * left.begin), end
        )
    return free


def _whole(count: int) -> Stretches:
    return Stretches(np.arange(count), np.zeros(count), np.ones(count))


def _cut(lines: Lines, free: Stretches) -> Lines:
    """The stretches as lines of their own."""
    start, way = lines.begin[free.line], (lines.end - lines.begin)[free.line]
    return Lines(
        begin=start + way * free.begin[:, None],
        end=start + way * free.end[:, None],
        slack=lines.slack[free.line],
        owner=lines.owner[free.line],
    )


def _rest(hidden: list[tuple[Numbers, Array, Array]], count: int) -> Stretches:
    """What is left of each line when the hidden stretches are taken away."""
    line = np.concatenate([np.arange(count), *(row[0] for row in hidden)])
    # a hidden stretch of no length stands at 0 for every line, so that each has a first one
    begin = np.concatenate([np.zeros(count), *(row[1] for row in hidden)])
    end = np.concatenate([np.zeros(count), *(row[2] for row in hidden)])
    # by line and begin; two that begin within 1e-10 may change places, which leaves no gap that counts
    order = np.argsort(2.0 * line + begin, kind="stable")
    line, begin, end = line[order], begin[order], end[order]
    # lines are set apart by 2, so that one running maximum serves them all
    reach = np.maximum.accumulate(2.0 * line + end) - 2.0 * line
    last = np.append(line[1:] != line[:-1], True) if len(line) else np.zeros(0, dtype=bool)
    until = np.where(last, 1.0, np.append(begin[1:], 1.0)[: len(line)])
    free = until - reach > SAME_PLACE
    return Stretches(line[free], reach[free], until[free])


class _Search:
    """The cells, level by level."""

    def __init__(self, faces: Faces, lines: Lines, cells: Cells, own_too: bool) -> None:
        self.faces, self.lines, self.own_too = faces, lines, own_too
        self.way = lines.end - lines.begin
        spread = np.abs(faces.table[[MID_X, MID_Y]]).max(initial=0.0) if faces.table.size else 0.0
        self.over = OVER_EDGE * max(float(spread), cells.half)
        self.x, self.y, self.half = cells.x, cells.y, cells.half
        self.face, self.face_cell = cells.faces[:, 0], cells.faces[:, 1]
        self.line, self.line_cell = cells.lines[:, 0], cells.lines[:, 1]
        self.begin, self.end = np.zeros(len(self.line)), np.ones(len(self.line))
        self.found: list[tuple[Numbers, Array, Array]] = []

    def hidden(self) -> list[tuple[Numbers, Array, Array]]:
        for level in range(MOST_LEVELS):
            self._clip_lines()
            self._place_faces()
            if not len(self.line) or not len(self.face):
                break
            self._leaves(last=level == MOST_LEVELS - 1)
            self._quarter()
        return self.found

    def _clip_lines(self) -> None:
        """Each line to the stretch that lies in its cell."""
        start, way = self.lines.begin[self.line], self.way[self.line]
        begin, end = self.begin, self.end
        # A line along the border of two cells lies in both, whatever rounding makes of its direction.
        half = self.half + self.over
        for axis, middle in ((0, self.x), (1, self.y)):
            run = way[:, axis]
            away = middle[self.line_cell] - start[:, axis]
            still = np.abs(run) < 1e-300
            run = np.where(still, 1.0, run)
            near, far = (away - half) / run, (away + half) / run
            swap = run < 0
            near, far = np.where(swap, far, near), np.where(swap, near, far)
            inside = np.abs(away) <= half
            begin = np.maximum(begin, np.where(still, np.where(inside, 0.0, 2.0), near))
            end = np.minimum(end, np.where(still, 1.0, far))
        keep = begin <= end
        self.line, self.line_cell = self.line[keep], self.line_cell[keep]
        self.begin, self.end = begin[keep], end[keep]
        deep = start[keep, 2]
        run = way[keep, 2]
        one, two = deep + run * self.begin, deep + run * self.end
        self.line_near, self.line_far = np.minimum(one, two), np.maximum(one, two)

    def _place_faces(self) -> None:
        """Drops faces that miss their cell or cannot hide a line there; takes away lines wholly hidden."""
        table, cells = self.faces.table, len(self.x)
        deepest = np.full(cells, -np.inf)
        np.maximum.at(deepest, self.line_cell, self.line_far)
        near = table[NEAR, self.face]
        keep = near < deepest[self.face_cell]
        self.face, self.face_cell, near = self.face[keep], self.face_cell[keep], near[keep]
        # A face smaller than a cell covers none, and that its box meets the cell is known already.
        large = np.flatnonzero(np.minimum(table[HALF_X, self.face], table[HALF_Y, self.face]) > self.half / 2)
        face, cell = self.face[large], self.face_cell[large]
        x, y = self.x[cell], self.y[cell]
        inside = np.full(len(x), np.inf)
        meets = np.full(len(x), np.inf)
        for k in range(3):
            a, b = table[SIDE_A + k, face], table[SIDE_B + k, face]
            middle = a * x + b * y + table[SIDE_C + k, face]
            reach = self.half * (np.abs(a) + np.abs(b))
            np.minimum(meets, middle + reach, out=meets)
            np.minimum(inside, middle - reach, out=inside)
        gx, gy = table[DEPTH_X, face], table[DEPTH_Y, face]
        middle = table[DEPTH, face] + gx * x + gy * y
        reach = self.half * (np.abs(gx) + np.abs(gy))
        near[large] = np.maximum(middle - reach, near[large])
        cover = np.flatnonzero(inside >= 0)
        lid = np.full(cells, np.inf)
        np.minimum.at(lid, cell[cover], np.minimum(middle + reach, table[FAR, face])[cover])
        gone = self.line_near > lid[self.line_cell] + self.lines.slack[self.line]
        if gone.any():
            self.found.append((self.line[gone], self.begin[gone], self.end[gone]))
            self._keep_lines(~gone)
        keep = near <= np.minimum(lid, deepest)[self.face_cell]
        keep[large] &= meets >= -self.over
        self.face, self.face_cell = self.face[keep], self.face_cell[keep]
        self._drop_settled()

    def _keep_lines(self, keep: Flags) -> None:
        self.line, self.line_cell = self.line[keep], self.line_cell[keep]
        self.begin, self.end = self.begin[keep], self.end[keep]
        self.line_near, self.line_far = self.line_near[keep], self.line_far[keep]

    def _drop_settled(self) -> None:
        """Drops lines with no face in their cell."""
        cells = len(self.x)
        some = np.zeros(cells, dtype=bool)
        some[self.face_cell] = True
        self._keep_lines(some[self.line_cell])

    def _leaves(self, last: bool) -> None:
        """Asks the pairs of all cells with few, and leaves only the others."""
        cells = len(self.x)
        faces = np.bincount(self.face_cell, minlength=cells)
        lines = np.bincount(self.line_cell, minlength=cells)
        leaf = np.full(cells, last) | (faces * lines <= MOST_PAIRS)
        here = leaf[self.face_cell]
        face, cell = self.face[here], self.face_cell[here]
        owners = 1 if self.own_too else int(self.faces.owner.max(initial=0)) + 1
        key = cell if self.own_too else cell * owners + self.faces.owner[face]
        order = np.argsort(key, kind="stable")
        face, key = face[order], key[order]
        rows = np.flatnonzero(leaf[self.line_cell])
        cell = self.line_cell[rows]
        count = np.where(leaf, faces, 0)
        first, stop = (np.cumsum(count) - count)[cell], np.cumsum(count)[cell]
        own, after = first, first  # where a line's own faces lie among those of its cell
        if not self.own_too:
            mine = self.lines.owner[self.line[rows]]
            there = (mine >= 0) & (mine < owners)
            own = np.where(there, np.searchsorted(key, cell * owners + mine), first)
            after = np.where(there, np.searchsorted(key, cell * owners + mine + 1), first)
        many = (stop - first) - (after - own)
        some = many > 0
        rows, first, own, after, many = rows[some], first[some], own[some], after[some], many[some]
        begin, way = self.lines.begin[self.line[rows]], self.way[self.line[rows]]
        self.at0 = np.ascontiguousarray((begin + way * self.begin[rows, None]).T)
        self.at1 = np.ascontiguousarray((begin + way * self.end[rows, None]).T)
        self.asked = self.faces.table[:, face]
        ends = np.cumsum(many)
        start = 0
        while start < len(rows):
            done = int(ends[start - 1]) if start else 0
            until = int(np.searchsorted(ends, done + PAIRS_AT_ONCE, side="right"))
            stop_at = until if until > start else start + 1
            times = many[start:stop_at]
            row = np.repeat(np.arange(start, stop_at), times)
            place = np.arange(len(row)) + np.repeat(first[start:stop_at] - np.cumsum(times) + times, times)
            if not self.own_too:
                place += np.where(place >= own[row], (after - own)[row], 0)
            self._ask(rows, row, place)
            start = stop_at
        self._keep_lines(~leaf[self.line_cell])
        self.face, self.face_cell = self.face[~here], self.face_cell[~here]

    def _ask(self, rows: Numbers, row: Numbers, face: Numbers) -> None:
        """The hidden interval of each pair of a line's stretch, as a row of `rows`, and a face of `asked`."""
        table = self.asked
        keep = np.flatnonzero(self.line_far[rows].take(row) > table[NEAR].take(face))
        row, face = row.take(keep), face.take(keep)
        slack = self.lines.slack[self.line[rows]]
        at0, at1 = self.at0, self.at1
        low, high = np.zeros(len(row)), np.ones(len(row))
        sides = [(table[DEPTH_X], table[DEPTH_Y], table[DEPTH], True)]
        sides += [(table[SIDE_A + k], table[SIDE_B + k], table[SIDE_C + k], False) for k in range(3)]
        for a, b, c, is_plane in sides:
            fa, fb, fc = a.take(face), b.take(face), c.take(face)
            f0 = fa * at0[0].take(row) + fb * at0[1].take(row) + fc
            f1 = fa * at1[0].take(row) + fb * at1[1].take(row) + fc
            if is_plane:
                by = slack.take(row)
                f0, f1 = at0[2].take(row) - f0 - by, at1[2].take(row) - f1 - by
            else:
                f0, f1 = f0 + self.over, f1 + self.over
            step = f0 - f1
            with np.errstate(divide="ignore", invalid="ignore"):
                cross = f0 / step
            np.maximum(low, np.where(f0 < 0, cross, 0.0), out=low)
            np.minimum(high, np.where(f1 < 0, cross, 1.0), out=high)
            keep = np.flatnonzero(((f0 > 0) | (f1 > 0)) & (low <= high))
            if len(keep) < len(row):
                row, face, low, high = row.take(keep), face.take(keep), low.take(keep), high.take(keep)
        line = rows.take(row)
        begin, end = self.begin.take(line), self.end.take(line)
        long = end - begin
        whole = (low <= 0) & (high >= 1)  # exactly the ends, so that neighbouring stretches leave no gap
        self.found.append(
            (self.line.take(line), begin + long * low, np.where(whole, end, begin + long * high))
        )

    def _quarter(self) -> None:
        """Each cell that is left in four."""
        cells = len(self.x)
        busy = np.zeros(cells, dtype=bool)
        busy[self.line_cell] = True
        name = np.cumsum(busy) - 1
        x, y, quarter = self.x[busy], self.y[busy], self.half / 2
        keep = busy[self.face_cell]
        face, cell = self.face[keep], name[self.face_cell[keep]]
        table = self.faces.table
        mid_x, half_x = table[MID_X, face] - x[cell], table[HALF_X, face] + self.over
        mid_y, half_y = table[MID_Y, face] - y[cell], table[HALF_Y, face] + self.over
        beside = (mid_x - half_x <= 0, mid_x + half_x >= 0)
        above = (mid_y - half_y <= 0, mid_y + half_y >= 0)
        line = name[self.line_cell]
        start, way = self.lines.begin[self.line], self.way[self.line]
        at0, at1 = start + way * self.begin[:, None], start + way * self.end[:, None]
        left = np.minimum(at0[:, 0], at1[:, 0]) <= x[line] + self.over
        right = np.maximum(at0[:, 0], at1[:, 0]) >= x[line] - self.over
        top = np.minimum(at0[:, 1], at1[:, 1]) <= y[line] + self.over
        bottom = np.maximum(at0[:, 1], at1[:, 1]) >= y[line] - self.over
        face_rows, line_rows, face_cells, line_cells = [], [], [], []
        for q in range(4):
            rows = np.flatnonzero(beside[q % 2] & above[q // 2])
            face_rows.append(face[rows])
            face_cells.append(cell[rows] * 4 + q)
            rows = np.flatnonzero((left, right)[q % 2] & (top, bottom)[q // 2])
            line_rows.append(rows)
            line_cells.append(line[rows] * 4 + q)
        rows = np.concatenate(line_rows)
        self.line, self.begin, self.end = self.line[rows], self.begin[rows], self.end[rows]
        self.line_cell = np.concatenate(line_cells)
        self.face, self.face_cell = np.concatenate(face_rows), np.concatenate(face_cells)
        self.x = (x[:, None] + quarter * np.array([-1.0, 1.0, -1.0, 1.0])).reshape(-1)
        self.y = (y[:, None] + quarter * np.array([-1.0, -1.0, 1.0, 1.0])).reshape(-1)
        self.half = quarter
