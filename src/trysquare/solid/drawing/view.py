"""The direction to look from: where most of what matters in a step is seen, and as before if it can be."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

import numpy as np

from trysquare.ground.placement import Array, Triple
from trysquare.solid.drawing.draw import covering, lines_of
from trysquare.solid.drawing.edges import edges_of
from trysquare.solid.drawing.looks import OUTLINE, looks_of, slack_mm
from trysquare.solid.drawing.paper import faces_on_paper, grid_of, near_lines
from trysquare.solid.drawing.scene import Numbers, Piece, Scene, View
from trysquare.solid.drawing.visibility import visible

# A view that shows this much of the wanted parts, and this much of the worst of them, is kept without trying
# others: a reader who need not turn the machine in mind is better off than with some more per cent.
GOOD_MEAN, GOOD_LEAST = 0.85, 0.5
WORST_WEIGHT = 0.3  # of the least seen wanted part, beside the mean of all
CHANGE_COST = 0.10  # in visible share; what a wholly new view must show more than the last
TURN_COST = 0.06  # and for half a turn
BELOW_COST, BEHIND_COST = 0.10, 0.03  # a builder stands before the bench and looks down
UNUSUAL_COST = 0.06  # heights are read best in an isometric view


def _directions() -> tuple[Triple, ...]:
    """The way the eye looks: the eight isometric ones, then some from the sides and from steeper above."""
    isometric = [(x, y, z) for z in (-1.0, 1.0) for y in (1.0, -1.0) for x in (1.0, -1.0)]
    others = []
    for elevation_deg, azimuths_deg in (
        (30.0, (60.0, 120.0, -60.0, -120.0)),
        (60.0, (45.0, 135.0, -45.0, -135.0)),
    ):
        down = math.radians(elevation_deg)
        for azimuth_deg in azimuths_deg:
            turn = math.radians(azimuth_deg)
            level = math.cos(down)
            others.append((level * math.cos(turn), level * math.sin(turn), -math.sin(down)))
    return (*isometric, *others)


DIRECTIONS: tuple[Triple, ...] = _directions()
ISOMETRIC = View((1.0, 1.0, -1.0))
"""From the front left corner above: +x runs up to the right, +y up to the left, +z up."""


def visible_shares(scene: Scene, view: View, wanted: Collection[str]) -> dict[str, float]:
    """For each wanted id the share of its outline that is seen, 0 to 1; ids that have no outline have 0."""
    return _shares(
        [piece for piece in scene.pieces if len(edges_of(piece.body).triangles)], view, set(wanted)
    )


def choose_view(
    scene: Scene,
    wanted: Iterable[str],
    previous: View | None = None,
    *,
    directions: Sequence[Triple] = DIRECTIONS,
) -> View:
    """The view in which most of the outlines of the wanted pieces is seen.

    Other things equal: as `previous`, from above, from the front. A previous view that shows the wanted parts
    well is kept untried. The answer has the previous view's scale, else 1. With nothing wanted that has an
    outline the answer is the previous view, else the isometric one.
    """
    names = set(wanted)
    scale = previous.scale if previous is not None else 1.0
    pieces = _with_faces(scene)
    if not any(piece.id in names for piece in pieces):
        return previous if previous is not None else replace(ISOMETRIC, scale=scale)
    if previous is not None:
        shares = list(_shares(pieces, previous, names).values())
        if float(np.mean(shares)) >= GOOD_MEAN and min(shares) >= GOOD_LEAST:
            return previous
    views = [View(direction, scale=scale) for direction in directions]
    if previous is not None:
        views.insert(0, previous)
    return max(views, key=lambda view: _worth(pieces, view, names, previous))


def fitted(scene: Scene, view: View, width_mm: float, height_mm: float) -> View:
    """The view at the scale at which the whole scene just fits on so much paper.

    A scene without any extent keeps its scale.
    """
    frame = view.frame()
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    for piece in scene.pieces:
        points = edges_of(piece.body).points_mm
        if len(points):
            seen = piece.placement.point(points) @ frame[:2].T
            low, high = np.minimum(low, seen.min(axis=0)), np.maximum(high, seen.max(axis=0))
    size = high - low
    if not (np.isfinite(size).all() and size.max() > 0):
        return view
    return replace(view, scale=float(min(width_mm / max(size[0], 1e-9), height_mm / max(size[1], 1e-9))))


def _with_faces(scene: Scene) -> list[Piece]:
    return [piece for piece in scene.pieces if len(edges_of(piece.body).triangles)]


def _worth(pieces: Sequence[Piece], view: View, names: set[str], previous: View | None) -> float:
    shares = list(_shares(pieces, view, names).values())
    worth = (1 - WORST_WEIGHT) * float(np.mean(shares)) + WORST_WEIGHT * min(shares)
    away = view.frame()[2]
    worth -= BELOW_COST * (away[2] > 1e-9) + BEHIND_COST * (away[1] < -1e-9)
    worth -= UNUSUAL_COST * float(np.ptp(np.abs(away)) > 1e-9)
    if previous is not None and previous.direction != view.direction:
        turn = math.acos(float(np.clip(np.dot(away, previous.frame()[2]), -1.0, 1.0)))
        worth -= CHANGE_COST + TURN_COST * turn / math.pi
    return float(worth)


def _shares(pieces: Sequence[Piece], view: View, names: set[str]) -> dict[str, float]:
    frame = view.frame()
    frames = frame @ np.array([piece.placement.turn for piece in pieces])
    at = np.array([piece.placement.origin_mm for piece in pieces]) @ frame.T
    mine = np.array([n for n, piece in enumerate(pieces) if piece.id in names])
    looks = looks_of([pieces[n].body for n in mine.tolist()], frames[mine])
    matter = _that_matter(pieces, frames, at, mine)
    size = float(np.linalg.norm(np.ptp(at, axis=0))) + max(
        float(np.linalg.norm(look.high_mm - look.low_mm)) for look in looks
    )
    lines = lines_of(looks, at[mine], mine, slack_mm(size))
    corners, owner = covering([pieces[n] for n in matter.tolist()], frames[matter], at[matter])
    some = near_lines(corners, lines)
    faces = faces_on_paper(corners[some], matter[owner[some]], size)
    free = visible(faces, lines, grid_of, size, own_too=False)
    sort = np.concatenate([look.sort for look in looks])
    length = np.linalg.norm((lines.end - lines.begin)[:, :2], axis=1) * (sort == OUTLINE)
    shown = np.bincount(lines.owner[free.line], (free.end - free.begin) * length[free.line], len(pieces))
    answer = {}
    for n, look in zip(mine.tolist(), looks, strict=True):
        whole = look.outline_mm
        answer[pieces[n].id] = min(float(shown[n]) / whole, 1.0) if whole > 0 else 0.0
    return answer


def _that_matter(pieces: Sequence[Piece], frames: Array, at: Array, mine: Numbers) -> Numbers:
    """Numbers of the pieces whose box may stand before that of one of `mine`."""
    edges = [edges_of(piece.body) for piece in pieces]
    low, high = np.array([e.low_mm for e in edges]), np.array([e.high_mm for e in edges])
    middle = np.einsum("nij,nj->ni", frames, (low + high) / 2) + at
    half = np.einsum("nij,nj->ni", np.abs(frames), (high - low) / 2)
    least, most = middle - half, middle + half
    keep = np.zeros(len(pieces), dtype=bool)
    for n in mine:
        meets = (least[:, :2] < most[n, :2]).all(axis=1) & (most[:, :2] > least[n, :2]).all(axis=1)
        keep = keep | (meets & (least[:, 2] < most[n, 2]))
    return np.flatnonzero(keep)
