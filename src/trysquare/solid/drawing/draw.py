"""A scene as ink on paper: visible outlines and creases as few long lines, and what is seen of each part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.chains import thinned
from trysquare.solid.drawing.duplicates import drawn_once
from trysquare.solid.drawing.edges import edges_of, welded_of
from trysquare.solid.drawing.eye import Crowd, crowd_of, sound
from trysquare.solid.drawing.ink import Ink, Line, no_ink
from trysquare.solid.drawing.looks import OUTLINE, SORTS, looks_of, slack_mm
from trysquare.solid.drawing.paper import (
    Lines,
    Stretches,
    faces_on_paper,
    grid_of,
    near_lines,
)
from trysquare.solid.drawing.points import anchor
from trysquare.solid.drawing.regions import Standing, visible_region
from trysquare.solid.drawing.scene import GHOST, NEW, OLD, Body, Scene, View
from trysquare.solid.drawing.stage import Stage, staged
from trysquare.solid.drawing.visibility import visible

THINNED_MM = 0.02  # paper: a line may run this far beside its true place
FAINT_MM = 0.25  # paper: a line that stays within this is a blot, left out where its part has others
NO_GAP_MM = 0.02  # paper: a shorter gap in a line, or a shorter loose line, is rounding
_RANK = {NEW: 0, OLD: 2, GHOST: 4}


@dataclass(frozen=True, kw_only=True, eq=False)  # no slots: cached_property keeps its answers in the instance
class DrawnPart:
    """What is seen of one piece. Lengths and places in paper mm.

    `number`: its place in the scene, and in the drawing's `ink`. `visible_mm`: what is seen here of its
    outline, even where another part's line is drawn in its stead. `region`: loops (n, 2), even-odd, of the
    area it is seen to fill; only of new parts. `box_mm` (2, 2): of all that is seen, None when nothing is.
    `body`, `frame`, `at_mm`: how it stands before the eye, machine mm; `scale`: paper mm for each of those.
    """

    id: str
    role: str
    says: str
    number: int
    ink: Ink
    region: tuple[Array, ...]
    visible_mm: float
    box_mm: Array | None
    body: Body
    frame: Array
    at_mm: Array
    scale: float

    @property
    def rows(self) -> slice:
        """Which lines of the ink are its own."""
        return self.ink.of_part(self.number)

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """Its lines."""
        ink = self.ink
        found = []
        for row in range(self.rows.start, self.rows.stop):
            at = slice(int(ink.first[row]), int(ink.first[row] + ink.counts[row]))
            found.append(Line(SORTS[int(ink.sort[row])], ink.points_mm[at], ink.depth_mm[at]))
        return tuple(found)

    @cached_property
    def outline_mm(self) -> float:
        """Outline it shows where nothing else is in front."""
        return self._standing.look.outline_mm * self.scale

    @cached_property
    def anchor_mm(self) -> Array | None:
        """Array (3,): a good point of it for a label to lead to: paper x, y, and depth in machine mm.

        Well inside what is seen of it; where no area is known on its longest line; None when nothing is seen.
        """
        if self.box_mm is None:
            return None
        return anchor(self.lines, self.region, self._standing, self.scale)

    @property
    def visible_share(self) -> float:
        """From 0, hidden, to 1, nothing in front of it. A part without any outline has 0."""
        return min(self.visible_mm / self.outline_mm, 1.0) if self.visible_mm > 0 else 0.0

    @cached_property
    def _standing(self) -> Standing:
        edges = edges_of(self.body)
        (look,) = looks_of([self.body], self.frame[None])
        return Standing(look, self.at_mm, self.frame, edges.low_mm, edges.high_mm)


@dataclass(frozen=True, kw_only=True, eq=False)
class Drawing:
    """A picture. `parts` in the scene's order; `ink`: all their lines; `box_mm` (2, 2): lowest and highest
    paper x, y of all that is drawn, zeros for an empty picture. `told`: what could not be drawn as given, for
    a person to read."""

    view: View
    parts: tuple[DrawnPart, ...]
    ink: Ink
    box_mm: Array
    told: tuple[str, ...] = ()

    @cached_property
    def part(self) -> dict[str, DrawnPart]:
        """Parts by id."""
        return {part.id: part for part in self.parts}

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height on paper."""
        wide, tall = (self.box_mm[1] - self.box_mm[0]).tolist()
        return wide, tall


def draw(scene: Scene, view: View, within: Array | None = None) -> Drawing:
    """The scene with hidden lines removed. `within` (2, 2): only pieces that meet this box on paper count.

    Nothing is raised for bodies that are odd: an empty scene gives an empty picture, triangles without area
    are left out, a part without any is told of.
    """
    pieces, told = sound(scene)
    crowd = crowd_of(pieces, view)
    stage = staged(crowd, within / view.scale if within is not None else None)
    lines = stage.lines
    free = visible(stage.faces, lines, grid_of, crowd.size_mm, own_too=False)
    length = np.linalg.norm((lines.end - lines.begin)[:, :2], axis=1) * view.scale
    free = _closed_gaps(free, length)
    shown = np.where(stage.sort[free.line] == OUTLINE, (free.end - free.begin) * length[free.line], 0.0)
    visible_mm = np.bincount(lines.owner[free.line], shown, len(pieces)).tolist()
    role = np.array([_RANK[piece.role] for piece in pieces], dtype=np.int64)
    begin, end = lines.begin.copy(), lines.end.copy()
    begin[:, :2] *= view.scale
    end[:, :2] *= view.scale
    free = drawn_once(free, begin[:, :2], end[:, :2], role[lines.owner] + stage.sort)
    ink = _inked(free, begin, end, stage, length)
    regions = _regions(crowd, stage, view.scale, ink)
    boxes = _boxes(ink, regions)
    parts = tuple(
        DrawnPart(
            id=piece.id,
            role=piece.role,
            says=piece.says or piece.id,
            number=n,
            ink=ink,
            region=tuple(regions.get(n, ())),
            visible_mm=visible_mm[n],
            box_mm=boxes.get(n),
            body=piece.body,
            frame=crowd.frames[n],
            at_mm=crowd.at[n],
            scale=view.scale,
        )
        for n, piece in enumerate(pieces)
    )
    every = np.array(list(boxes.values())) if boxes else np.zeros((1, 2, 2))
    box = np.stack([every[:, 0].min(axis=0), every[:, 1].max(axis=0)])
    return Drawing(view=view, parts=parts, ink=ink, box_mm=box, told=told)


def seen(scene: Scene, view: View, points_mm: Array, *, slack: float | None = None) -> Array:
    """Array (n,) of flags: whether points (n, 3) of the machine can be seen, none of the pieces before them.

    `slack`: by how many mm a point may lie behind a face and still count as on it.
    """
    pieces, _ = sound(scene)
    crowd = crowd_of(pieces, view)
    points = np.asarray(points_mm, dtype=float).reshape(-1, 3) @ view.frame().T
    corners, owner = crowd.fronts(np.flatnonzero(crowd.solid))
    size = max(float(np.linalg.norm(np.ptp(corners.reshape(-1, 3), axis=0))), 1e-6) if len(corners) else 1.0
    by = slack_mm(size) if slack is None else slack
    lines = Lines(points, points, np.full(len(points), by), np.full(len(points), -1))
    some = near_lines(corners, lines)
    free = visible(faces_on_paper(corners[some], owner[some], size), lines, grid_of, size)
    flags = np.zeros(len(points), dtype=bool)
    flags[free.line] = True
    return flags


def _closed_gaps(free: Stretches, length: Array) -> Stretches:
    """Stretches of one line with next to nothing between them made one."""
    if len(free.line) < 2:
        return free
    same = free.line[1:] == free.line[:-1]
    gap = (free.begin[1:] - free.end[:-1]) * length[free.line[1:]]
    joined = same & (gap < NO_GAP_MM)
    heads, tails = np.append(True, ~joined), np.append(~joined, True)
    return Stretches(free.line[heads], free.begin[heads], free.end[tails])


def _inked(free: Stretches, begin: Array, end: Array, stage: Stage, length: Array) -> Ink:
    """Stretches put together and thinned."""
    line = free.line
    if not len(line):
        return no_ink()
    way = (end - begin)[line]
    start, stop = begin[line] + way * free.begin[:, None], begin[line] + way * free.end[:, None]
    joined = (line[1:] == line[:-1] + 1) & (stage.goes_on[line[:-1]] == 1)
    joined &= (free.end[:-1] >= 1) & (free.begin[1:] <= 0)
    heads, tails = np.append(True, ~joined), np.append(~joined, True)
    loose = heads & tails & ((free.end - free.begin) * length[line] < NO_GAP_MM)
    start, stop, heads, tails, line = start[~loose], stop[~loose], heads[~loose], tails[~loose], line[~loose]
    # each stretch gives its first point, and the last of a chain its end as well
    many = 1 + tails.astype(np.int64)
    place = np.cumsum(many) - many
    points = np.empty((int(many.sum()), 3))
    points[place] = start
    points[(place + 1)[tails]] = stop[tails]
    first = place[heads]
    keep = thinned(points[:, :2], first, THINNED_MM)
    name = (np.cumsum(np.bincount(first, minlength=len(points))) - 1)[keep]
    points = points[keep]
    count = np.bincount(name)
    first = np.cumsum(count) - count
    if not len(first):
        return no_ink()
    reach = np.maximum.reduceat(points[:, :2], first) - np.minimum.reduceat(points[:, :2], first)
    clear = reach.max(axis=1) >= FAINT_MM
    whose = stage.lines.owner[line[heads]]
    clear |= (np.bincount(whose, clear) == 0)[whose]
    points, count = points[np.repeat(clear, count)], count[clear]
    return Ink(
        points_mm=np.ascontiguousarray(points[:, :2]),
        depth_mm=points[:, 2],
        first=np.cumsum(count) - count,
        part=whose[clear],
        sort=stage.sort[line[heads]][clear],
    )


def _boxes(ink: Ink, regions: Mapping[int, list[Array]]) -> dict[int, Array]:
    """The box (2, 2) of all that is seen of each part of which anything is."""
    parts, first = np.unique(ink.part, return_index=True)
    low = np.minimum.reduceat(ink.low_mm, first) if len(first) else ink.low_mm
    high = np.maximum.reduceat(ink.high_mm, first) if len(first) else ink.high_mm
    found = dict(zip(parts.tolist(), np.stack([low, high], axis=1), strict=True))
    for n, region in regions.items():
        if region:
            points = np.concatenate([found[n], *region])
            found[n] = np.stack([points.min(axis=0), points.max(axis=0)])
    return found


def _regions(crowd: Crowd, stage: Stage, scale: float, ink: Ink) -> dict[int, list[Array]]:
    """What is seen of each new piece that has any line."""
    there = np.zeros(len(crowd.pieces), dtype=bool)
    there[stage.covers] = True
    standing: dict[int, Standing] = {}

    def stands(n: int) -> Standing:
        if n not in standing:
            body, frame = crowd.bodies[n], crowd.frames[n]
            look = stage.looks[n] if n in stage.looks else looks_of([body], frame[None], [crowd.keys[n]])[0]
            welded = welded_of(body)
            standing[n] = Standing(look, crowd.at[n], frame, welded.low_mm, welded.high_mm)
        return standing[n]

    low, high = crowd.low, crowd.high
    found = {}
    for n in np.unique(ink.part).tolist():
        if crowd.pieces[n].role != NEW:
            continue
        meets = there & (low[:, :2] < high[n, :2]).all(axis=1) & (high[:, :2] > low[n, :2]).all(axis=1)
        meets &= low[:, 2] < high[n, 2]
        meets[n] = False
        found[n] = visible_region(stands(n), [stands(m) for m in np.flatnonzero(meets).tolist()], scale)
    return found
