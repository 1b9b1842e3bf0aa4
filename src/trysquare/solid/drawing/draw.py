"""A scene as ink on paper: visible outlines and creases as few long lines, and what is seen of each part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trysquare.ground.placement import Array
from trysquare.solid.drawing.chains import thinned
from trysquare.solid.drawing.duplicates import drawn_once
from trysquare.solid.drawing.edges import edges_of
from trysquare.solid.drawing.looks import OUTLINE, SORTS, Look, fronts_of, looks_of, slack_mm
from trysquare.solid.drawing.paper import Faces, Lines, Stretches, faces_on_paper, grid_of, near_lines
from trysquare.solid.drawing.regions import Standing, visible_region
from trysquare.solid.drawing.scene import GHOST, NEW, OLD, Numbers, Piece, Scene, View
from trysquare.solid.drawing.visibility import visible

THINNED_MM = 0.02  # paper: a line may run this far beside its true place
LEVELS = 9  # level lines on which a place for a label is looked for
FAINT_MM = 0.25  # paper: a line that stays within this is a blot, left out where its part has others
NO_GAP_MM = 0.02  # paper: a shorter gap in a line, or a shorter loose line, is rounding
_RANK = {NEW: 0, OLD: 2, GHOST: 4}


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One unbroken line. `points_mm` (n, 2) on paper; `depth_mm` (n,), machine mm away from the eye.

    `sort`: "outline" where the part ends on paper, "crease" between two of its faces that are both seen.
    """

    sort: str
    points_mm: Array
    depth_mm: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class DrawnPart:
    """What is seen of one piece. Lengths and places in paper mm.

    `outline_mm`: outline it shows where nothing else is in front; `visible_mm`: what is left of that here,
    even where another part's line is drawn in its stead. `region`: loops (n, 2), even-odd, of the area it is
    seen to fill; only of new parts. `box_mm` (2, 2): of all that is seen, None when nothing is. `standing`,
    `scale`: how it stands before the eye, in machine mm, and paper mm for each of those.
    """

    id: str
    role: str
    says: str
    lines: tuple[Line, ...]
    region: tuple[Array, ...]
    outline_mm: float
    visible_mm: float
    box_mm: Array | None
    standing: Standing
    scale: float

    @cached_property
    def anchor_mm(self) -> Array | None:
        """Array (3,): a good point of it for a label to lead to: paper x, y, and depth in machine mm.

        Well inside what is seen of it; where no area is known on its longest line; None when nothing is seen.
        """
        return _anchor(self.lines, self.region, self.standing, self.scale)

    @property
    def visible_share(self) -> float:
        """From 0, hidden, to 1, nothing in front of it. A part without any outline has 0."""
        return min(self.visible_mm / self.outline_mm, 1.0) if self.outline_mm > 0 else 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Drawing:
    """A picture. `parts` in the scene's order; `box_mm` (2, 2): lowest and highest paper x, y of all that is
    drawn, zeros for an empty picture. `told`: what could not be drawn as given, for a person to read."""

    view: View
    parts: tuple[DrawnPart, ...]
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


def draw(scene: Scene, view: View) -> Drawing:
    """The scene with hidden lines removed.

    Nothing is raised for bodies that are odd: an empty scene gives an empty picture, triangles without area
    are left out, a part without any is told of.
    """
    pieces, told = _sound(scene)
    stage = staged(pieces, view)
    lines = stage.lines
    free = visible(stage.faces, lines, grid_of, stage.size_mm, own_too=False)
    length = np.linalg.norm((lines.end - lines.begin)[:, :2], axis=1) * view.scale
    free = _closed_gaps(free, length)
    sort = _numbers([look.sort for look in stage.looks])
    shown = np.where(sort[free.line] == OUTLINE, (free.end - free.begin) * length[free.line], 0.0)
    visible_mm = np.bincount(lines.owner[free.line], shown, len(pieces))
    rank = np.array([_RANK[piece.role] for piece in pieces], dtype=np.int64)[lines.owner] + sort
    begin, end = lines.begin.copy(), lines.end.copy()
    begin[:, :2] *= view.scale
    end[:, :2] *= view.scale
    free = drawn_once(free, begin[:, :2], end[:, :2], rank)
    goes_on = _numbers([look.goes_on for look in stage.looks])
    drawn = _polylines(free, begin, end, goes_on, lines.owner, sort, length)
    regions = _regions(pieces, stage, view.scale, drawn)
    parts = tuple(
        _part(piece, stage.looks[n].outline_mm * view.scale, float(visible_mm[n]), drawn.get(n, ()),
              regions.get(n, ()), stage.standing[n], view.scale)
        for n, piece in enumerate(pieces)
    )  # fmt: skip
    boxes = [part.box_mm for part in parts if part.box_mm is not None]
    box = (
        np.stack([np.min([b[0] for b in boxes], axis=0), np.max([b[1] for b in boxes], axis=0)])
        if boxes
        else None
    )
    return Drawing(view=view, parts=parts, box_mm=np.zeros((2, 2)) if box is None else box, told=told)


def seen(scene: Scene, view: View, points_mm: Array, *, slack: float | None = None) -> Array:
    """Array (n,) of flags: whether points (n, 3) of the machine can be seen, none of the pieces before them.

    `slack`: by how many mm a point may lie behind a face and still count as on it.
    """
    pieces, _ = _sound(scene)
    frames, at = _before_the_eye(pieces, view)
    points = np.asarray(points_mm, dtype=float).reshape(-1, 3) @ view.frame().T
    corners, owner = covering(pieces, frames, at)
    size = max(float(np.linalg.norm(np.ptp(corners.reshape(-1, 3), axis=0))), 1e-6) if len(corners) else 1.0
    by = slack_mm(size) if slack is None else slack
    lines = Lines(points, points, np.full(len(points), by), np.full(len(points), -1))
    some = near_lines(corners, lines)
    free = visible(faces_on_paper(corners[some], owner[some], size), lines, grid_of, size)
    flags = np.zeros(len(points), dtype=bool)
    flags[free.line] = True
    return flags


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """All pieces before the eye, in machine mm. `size_mm`: of the whole picture."""

    looks: list[Look]
    standing: list[Standing]
    faces: Faces
    lines: Lines
    size_mm: float


def staged(pieces: Sequence[Piece], view: View) -> Stage:
    """Lines of all pieces, and faces of all but ghosts."""
    frames, at = _before_the_eye(pieces, view)
    looks = looks_of([piece.body for piece in pieces], frames)
    low = at + np.array([look.low_mm for look in looks]).reshape(-1, 3)
    high = at + np.array([look.high_mm for look in looks]).reshape(-1, 3)
    size = max(float(np.linalg.norm(high.max(axis=0) - low.min(axis=0))), 1e-6) if len(pieces) else 1.0
    edges = [edges_of(piece.body) for piece in pieces]
    return Stage(
        looks=looks,
        standing=[
            Standing(look, at[n], frames[n], edges[n].low_mm, edges[n].high_mm)
            for n, look in enumerate(looks)
        ],
        faces=faces_on_paper(*covering(pieces, frames, at), size),
        lines=lines_of(looks, at, np.arange(len(pieces)), slack_mm(size)),
        size_mm=size,
    )


def lines_of(looks: Sequence[Look], at: Array, owner: Numbers, slack: float) -> Lines:
    """Lines of looks, each moved to its place `at` (n, 3); `owner` (n,): whose they are."""
    count = np.array([len(look.begin) for look in looks], dtype=np.int64)
    shift = np.repeat(at, count, axis=0)
    return Lines(
        begin=_joined([look.begin for look in looks], (0, 3)) + shift,
        end=_joined([look.end for look in looks], (0, 3)) + shift,
        slack=np.full(len(shift), slack),
        owner=np.repeat(owner, count),
    )


def covering(pieces: Sequence[Piece], frames: Array, at: Array) -> tuple[Array, Numbers]:
    """Triangles (m, 3, 3) before the eye of all pieces but ghosts, in machine mm, and whose each is (m,)."""
    solid = np.array([n for n, piece in enumerate(pieces) if piece.role != GHOST], dtype=np.int64)
    fronts = fronts_of([pieces[n].body for n in solid.tolist()], frames[solid])
    many = np.array([len(front) for front in fronts], dtype=np.int64)
    corners = _joined(fronts, (0, 3, 3)) + np.repeat(at[solid], many, axis=0)[:, None, :]
    return corners, np.repeat(solid, many)


def _before_the_eye(pieces: Sequence[Piece], view: View) -> tuple[Array, Array]:
    """Frames (n, 3, 3) of pieces, right, down and away in their own coordinates, and places (n, 3)."""
    frame = view.frame()
    turns = np.array([piece.placement.turn for piece in pieces]).reshape(-1, 3, 3)
    return frame @ turns, np.array([piece.placement.origin_mm for piece in pieces]).reshape(-1, 3) @ frame.T


def _sound(scene: Scene) -> tuple[list[Piece], tuple[str, ...]]:
    """The pieces that stand somewhere, and what is to be told of the others and of bad triangles."""
    pieces, told = [], []
    for piece in scene.pieces:
        edges = edges_of(piece.body)
        placed = np.isfinite(piece.placement.origin_mm).all() and np.isfinite(piece.placement.turn).all()
        if not placed:
            told.append(f"{piece.id}: not drawn, its place is no number")
            continue
        pieces.append(piece)
        if not len(edges.triangles):
            told.append(f"{piece.id}: not drawn, it has no faces")
        elif edges.dropped:
            told.append(f"{piece.id}: {edges.dropped} triangles without area left out")
    return pieces, tuple(told)


def _joined(arrays: Sequence[Array], shape: tuple[int, ...]) -> Array:
    return np.concatenate(arrays) if len(arrays) else np.zeros(shape)


def _numbers(arrays: Sequence[Numbers]) -> Numbers:
    return np.concatenate(arrays) if len(arrays) else np.zeros(0, dtype=np.int64)


def _closed_gaps(free: Stretches, length: Array) -> Stretches:
    """Stretches of one line with next to nothing between them made one."""
    if len(free.line) < 2:
        return free
    same = free.line[1:] == free.line[:-1]
    gap = (free.begin[1:] - free.end[:-1]) * length[free.line[1:]]
    joined = same & (gap < NO_GAP_MM)
    heads, tails = np.append(True, ~joined), np.append(~joined, True)
    return Stretches(free.line[heads], free.begin[heads], free.end[tails])


def _polylines(
    free: Stretches, begin: Array, end: Array, goes_on: Numbers, owner: Numbers, sort: Numbers, length: Array
) -> dict[int, list[Line]]:
    """Stretches put together and thinned: lines by number of their piece."""
    line = free.line
    if not len(line):
        return {}
    way = (end - begin)[line]
    start, stop = begin[line] + way * free.begin[:, None], begin[line] + way * free.end[:, None]
    joined = (
        (line[1:] == line[:-1] + 1) & (goes_on[line[:-1]] == 1) & (free.end[:-1] >= 1) & (free.begin[1:] <= 0)
    )
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
    cuts = np.flatnonzero(np.diff(name)) + 1
    first = np.append(0, cuts)
    reach = np.maximum.reduceat(points[:, :2], first) - np.minimum.reduceat(points[:, :2], first)
    clear = reach.max(axis=1) >= FAINT_MM
    whose = owner[line[heads]]
    clear |= (np.bincount(whose, clear) == 0)[whose]
    found: dict[int, list[Line]] = {}
    bounds = [*first.tolist(), len(points)]
    for n, (piece, of_sort, shown) in enumerate(
        zip(whose.tolist(), sort[line[heads]].tolist(), clear.tolist(), strict=True)
    ):
        if shown:
            part = points[bounds[n] : bounds[n + 1]]
            found.setdefault(piece, []).append(Line(SORTS[int(of_sort)], part[:, :2], part[:, 2]))
    return found


def _regions(
    pieces: Sequence[Piece], stage: Stage, scale: float, drawn: Mapping[int, list[Line]]
) -> dict[int, list[Array]]:
    """What is seen of each new piece that has any line."""
    low = np.array([s.at_mm + s.look.low_mm for s in stage.standing]).reshape(-1, 3)
    high = np.array([s.at_mm + s.look.high_mm for s in stage.standing]).reshape(-1, 3)
    solid = np.array([piece.role != GHOST for piece in pieces], dtype=bool)
    found = {}
    for n, piece in enumerate(pieces):
        if piece.role != NEW or n not in drawn:
            continue
        meets = solid & (low[:, :2] < high[n, :2]).all(axis=1) & (high[:, :2] > low[n, :2]).all(axis=1)
        meets &= low[:, 2] < high[n, 2]
        meets[n] = False
        found[n] = visible_region(n, stage.standing, np.flatnonzero(meets).tolist(), scale)
    return found


def _part(
    piece: Piece, outline_mm: float, visible_mm: float, lines: Sequence[Line], region: Sequence[Array],
    standing: Standing, scale: float,
) -> DrawnPart:  # fmt: skip
    every = [line.points_mm for line in lines] + list(region)
    box = None
    if every:
        points = np.concatenate(every)
        box = np.stack([points.min(axis=0), points.max(axis=0)])
    return DrawnPart(
        id=piece.id,
        role=piece.role,
        says=piece.says or piece.id,
        lines=tuple(lines),
        region=tuple(region),
        outline_mm=outline_mm,
        visible_mm=visible_mm,
        box_mm=box,
        standing=standing,
        scale=scale,
    )


def _anchor(lines: Sequence[Line], region: Sequence[Array], standing: Standing, scale: float) -> Array | None:
    if region:
        x, y = _well_inside(region)
        return np.array([x, y, _depth_at(standing, x / scale, y / scale)])
    if not lines:
        return None
    longest = max(
        lines, key=lambda line: float(np.linalg.norm(np.diff(line.points_mm, axis=0), axis=1).sum())
    )
    steps = np.linalg.norm(np.diff(longest.points_mm, axis=0), axis=1)
    n = int(steps.argmax())
    middle = (longest.points_mm[n] + longest.points_mm[n + 1]) / 2
    return np.append(middle, (longest.depth_mm[n] + longest.depth_mm[n + 1]) / 2)


def _well_inside(region: Sequence[Array]) -> tuple[float, float]:
    """The point, of some on a few level lines, that is farthest from the area's edge."""
    low = np.min([loop.min(axis=0) for loop in region], axis=0)
    high = np.max([loop.max(axis=0) for loop in region], axis=0)
    starts = np.concatenate(region)
    stops = np.concatenate([np.roll(loop, -1, axis=0) for loop in region])
    best, found = -1.0, (float(starts[0, 0]), float(starts[0, 1]))
    way = stops - starts
    long = np.maximum(np.einsum("ij,ij->i", way, way), 1e-300)
    for share in np.linspace(0.0, 1.0, LEVELS + 2)[1:-1] + 1e-3:
        y = float(low[1] + (high[1] - low[1]) * share)
        crosses = (starts[:, 1] > y) != (stops[:, 1] > y)
        at = np.sort(starts[crosses, 0] + way[crosses, 0] * (y - starts[crosses, 1]) / way[crosses, 1])
        for left, right in zip(at[:-1:2].tolist(), at[1::2].tolist(), strict=True):
            for x in (left + (right - left) * part for part in (0.5, 0.25, 0.75)):
                off = np.array([x, y]) - starts
                along = np.clip(np.einsum("ij,ij->i", off, way) / long, 0.0, 1.0)
                away = float(np.linalg.norm(off - way * along[:, None], axis=1).min())
                if away > best * 1.001:  # of two as good the upper, whatever the last digits are
                    best, found = away, (x, y)
    return found


def _depth_at(standing: Standing, x: float, y: float) -> float:
    """How deep the nearest face of a body lies at a point of paper that is still in machine mm."""
    corners = standing.look.corners + standing.at_mm
    off = corners[:, :, :2] - np.array([x, y])
    after = np.roll(off, -1, axis=1)
    turn = off[:, :, 0] * after[:, :, 1] - off[:, :, 1] * after[:, :, 0]
    over = (turn >= 0).all(axis=1) | (turn <= 0).all(axis=1)
    whole = turn.sum(axis=1)
    over &= np.abs(whole) > 0
    if not over.any():
        return float(corners[:, :, 2].mean())
    weights = np.roll(turn[over], -1, axis=1) / whole[over, None]
    return float(np.einsum("ij,ij->i", weights, corners[over, :, 2]).min())
