"""The direction to look from: where most of what matters in a step is seen, and as before if it can be."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

import numpy as np

from trysquare.ground.placement import Array, Triple
from trysquare.solid.drawing.edges import welded_of
from trysquare.solid.drawing.eye import Crowd, before_any, crowd_of, sound
from trysquare.solid.drawing.looks import OUTLINE, looks_of, slack_mm
from trysquare.solid.drawing.paper import faces_on_paper, grid_of, near_lines
from trysquare.solid.drawing.scene import Numbers, Scene, View
from trysquare.solid.drawing.stage import lines_of
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
    return Choice(scene, wanted).shares(view)


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
    return Choice(scene, wanted).best(previous, directions)


class Choice:
    """A choice among views of one scene: no view is measured twice, and none that cannot win."""

    def __init__(self, scene: Scene, wanted: Iterable[str]) -> None:
        names = set(wanted)
        self.pieces, _ = sound(scene)
        self.mine = np.array(
            [n for n, piece in enumerate(self.pieces)
             if piece.id in names and len(welded_of(piece.body).triangles)],
            dtype=np.int64,
        )  # fmt: skip
        self._measured: dict[tuple[Triple, Triple], list[float]] = {}

    def best(self, previous: View | None = None, directions: Sequence[Triple] = DIRECTIONS) -> View:
        """As `choose_view`."""
        scale = previous.scale if previous is not None else 1.0
        if not len(self.mine):
            return previous if previous is not None else replace(ISOMETRIC, scale=scale)
        if previous is not None:
            shares = list(self.shares(previous).values())
            if float(np.mean(shares)) >= GOOD_MEAN and min(shares) >= GOOD_LEAST:
                return previous
        views = [View(direction, scale=scale) for direction in directions]
        if previous is not None:
            views.insert(0, previous)
        # A view is worth 1 less its cost at most: that says in which order they are tried, and when to stop.
        costs = [_cost(view, previous) for view in views]
        chosen, most = 0, -math.inf
        for number in sorted(range(len(views)), key=lambda n: (costs[n], n)):
            if 1 - costs[number] < most:
                break
            worth = self._worth(self._shares(views[number]), costs[number])
            if worth > most or (worth == most and number < chosen):
                chosen, most = number, worth
        return views[chosen]

    def shares(self, view: View) -> dict[str, float]:
        """As `visible_shares`."""
        if not len(self.mine):
            return {}
        shares = self._shares(view)
        return {self.pieces[n].id: share for n, share in zip(self.mine.tolist(), shares, strict=True)}

    def _shares(self, view: View) -> list[float]:
        key = (view.direction, view.up)
        if key not in self._measured:
            self._measured[key] = _shares(crowd_of(self.pieces, view), self.mine)
        return self._measured[key]

    def _worth(self, shares: Sequence[float], cost: float) -> float:
        of = dict(zip((self.pieces[n].id for n in self.mine.tolist()), shares, strict=True))
        each = list(of.values())
        worth = (1 - WORST_WEIGHT) * float(np.mean(each)) + WORST_WEIGHT * min(each) - cost
        return round(
            float(worth), 9
        )  # of views worth the same the first is taken, whatever the last digits are


def boxes_on_paper(scene: Scene, view: View) -> dict[str, Array]:
    """The box (2, 2) on paper, least and greatest x and y, of every piece with faces, hidden or not."""
    pieces, _ = sound(scene)
    crowd = crowd_of(pieces, view)
    boxes = np.stack([crowd.low[:, :2], crowd.high[:, :2]], axis=1) * view.scale
    return {
        piece.id: box
        for piece, box in zip(pieces, boxes, strict=True)
        if len(welded_of(piece.body).triangles)
    }


def fitted(scene: Scene, view: View, width_mm: float, height_mm: float) -> View:
    """The view at the scale at which the whole scene just fits on so much paper.

    A scene without any extent keeps its scale.
    """
    boxes = np.array(list(boxes_on_paper(scene, replace(view, scale=1.0)).values())).reshape(-1, 2, 2)
    if not len(boxes):
        return view
    size = boxes[:, 1].max(axis=0) - boxes[:, 0].min(axis=0)
    if not size.max() > 0:
        return view
    return replace(view, scale=float(min(width_mm / max(size[0], 1e-9), height_mm / max(size[1], 1e-9))))


def _cost(view: View, previous: View | None) -> float:
    """What a view must show more than another to be chosen, in visible share."""
    away = view.frame()[2]
    cost = BELOW_COST * float(away[2] > 1e-9) + BEHIND_COST * float(away[1] < -1e-9)
    cost += UNUSUAL_COST * float(np.ptp(np.abs(away)) > 1e-9)
    if previous is not None and previous.direction != view.direction:
        turn = math.acos(float(np.clip(np.dot(away, previous.frame()[2]), -1.0, 1.0)))
        cost += CHANGE_COST + TURN_COST * turn / math.pi
    return cost


def _shares(crowd: Crowd, mine: Numbers) -> list[float]:
    """Of each of the pieces `mine` the share of its outline that is seen."""
    rows = mine.tolist()
    looks = looks_of([crowd.bodies[n] for n in rows], crowd.frames[mine], [crowd.keys[n] for n in rows])
    size = float(np.linalg.norm(np.ptp(crowd.at, axis=0))) + max(
        float(np.linalg.norm(look.high_mm - look.low_mm)) for look in looks
    )
    outlines = [look.sort == OUTLINE for look in looks]
    lines = lines_of(
        [look.begin[some] for look, some in zip(looks, outlines, strict=True)],
        [look.end[some] for look, some in zip(looks, outlines, strict=True)],
        crowd.at[mine], mine, slack_mm(size),
    )  # fmt: skip
    corners, owner = crowd.fronts(np.flatnonzero(before_any(crowd, mine) & crowd.solid))
    near = near_lines(corners, lines)
    free = visible(faces_on_paper(corners[near], owner[near], size), lines, grid_of, size, own_too=False)
    length = np.linalg.norm((lines.end - lines.begin)[:, :2], axis=1)[free.line]
    shown = np.bincount(lines.owner[free.line], (free.end - free.begin) * length, len(crowd.pieces))
    return [
        min(float(shown[n]) / look.outline_mm, 1.0) if look.outline_mm > 0 else 0.0
        for n, look in zip(rows, looks, strict=True)
    ]
