"""Pieces as they stand before the eye: how each is turned, where it is, and the box it fills there."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trysquare.ground.placement import Array, Triple
from trysquare.solid.drawing.edges import welded_of
from trysquare.solid.drawing.lids import Lids, lids_of
from trysquare.solid.drawing.looks import Key, fronts_of, keys_of
from trysquare.solid.drawing.paper import Flags
from trysquare.solid.drawing.scene import GHOST, Body, Numbers, Piece, Scene, View

KEPT_BOXES = 20_000
KEPT_SCENES = 8
KEPT_CROWDS = 24  # some 0.3 MB each: as many as there are views to choose from

_boxes: OrderedDict[Key, tuple[Array, Array]] = OrderedDict()


def forget_crowds() -> None:
    """Drops all kept in memory, for measuring a cold start."""
    _boxes.clear()
    _sound.clear()
    _crowds.clear()


_sound: OrderedDict[int, tuple[tuple[Piece, ...], tuple[Piece, ...], tuple[str, ...]]] = OrderedDict()
_crowds: OrderedDict[tuple[int, Triple, Triple], Crowd] = OrderedDict()


@dataclass(frozen=True, kw_only=True, eq=False)  # no slots: cached_property keeps its answers in the instance
class Crowd:
    """Pieces before the eye, in machine mm: x right, y down, depth away from it.

    `frames` (n, 3, 3): right, down and away in each piece's own coordinates; `at` (n, 3): its origin; `keys`:
    what names each body turned so. `low`, `high` (n, 3): boxes.
    """

    pieces: tuple[Piece, ...]
    frames: Array
    at: Array
    keys: Sequence[Key]
    low: Array
    high: Array

    @cached_property
    def bodies(self) -> list[Body]:
        return [piece.body for piece in self.pieces]

    @cached_property
    def size_mm(self) -> float:
        """Of the whole picture."""
        if not len(self.pieces):
            return 1.0
        return max(float(np.linalg.norm(self.high.max(axis=0) - self.low.min(axis=0))), 1e-6)

    @cached_property
    def solid(self) -> Flags:
        """Flags (n,): all but ghosts, which hide nothing."""
        return np.array([piece.role != GHOST for piece in self.pieces], dtype=bool)

    @cached_property
    def lids(self) -> Lids:
        """What hides all that lies deeper."""
        some = np.flatnonzero(self.solid)
        return lids_of(
            [self.bodies[n] for n in some.tolist()], [self.keys[n] for n in some.tolist()],
            self.frames[some], self.at[some], self.low[some], self.high[some],
        )  # fmt: skip

    def fronts(self, some: Numbers) -> tuple[Array, Numbers]:
        """Triangles (m, 3, 3) of some pieces that face the eye, and whose each is (m,)."""
        rows = some.tolist()
        fronts = fronts_of([self.bodies[n] for n in rows], self.frames[some], [self.keys[n] for n in rows])
        many = np.array([len(front) for front in fronts], dtype=np.int64)
        corners = np.concatenate(fronts) if fronts else np.zeros((0, 3, 3))
        return corners + np.repeat(self.at[some], many, axis=0)[:, None, :], np.repeat(some, many)


def sound(scene: Scene) -> tuple[tuple[Piece, ...], tuple[str, ...]]:
    """The pieces that stand somewhere, and what is to be told of the others and of bad triangles."""
    known = _sound.get(id(scene.pieces))
    if known is None or known[0] is not scene.pieces:
        known = (scene.pieces, *_sorted_out(scene.pieces))
        _sound[id(scene.pieces)] = known
        if len(_sound) > KEPT_SCENES:
            _sound.popitem(last=False)
    return known[1:]


def _sorted_out(given: tuple[Piece, ...]) -> tuple[tuple[Piece, ...], tuple[str, ...]]:
    pieces, told = [], []
    for piece in given:
        mesh = welded_of(piece.body)
        placed = np.isfinite(piece.placement.origin_mm).all() and np.isfinite(piece.placement.turn).all()
        if not placed:
            told.append(f"{piece.id}: not drawn, its place is no number")
            continue
        pieces.append(piece)
        if not len(mesh.triangles):
            told.append(f"{piece.id}: not drawn, it has no faces")
        elif mesh.dropped:
            told.append(f"{piece.id}: {mesh.dropped} triangles without area left out")
    return tuple(pieces), tuple(told)


def crowd_of(pieces: tuple[Piece, ...], view: View) -> Crowd:
    """The pieces before the eye; the last ones are kept, whatever the view's scale."""
    name = (id(pieces), view.direction, view.up)
    known = _crowds.get(name)
    if known is None or known.pieces is not pieces:
        known = _stand(pieces, view)
        _crowds[name] = known
        if len(_crowds) > KEPT_CROWDS:
            _crowds.popitem(last=False)
    return known


def _stand(pieces: tuple[Piece, ...], view: View) -> Crowd:
    frame = view.frame()
    turns = np.array([piece.placement.turn for piece in pieces]).reshape(-1, 3, 3)
    frames = frame @ turns
    at = np.array([piece.placement.origin_mm for piece in pieces]).reshape(-1, 3) @ frame.T
    keys = keys_of([piece.body for piece in pieces], frames)
    boxes = [_box(piece.body, frames[n], keys[n]) for n, piece in enumerate(pieces)]
    while len(_boxes) > KEPT_BOXES:
        _boxes.popitem(last=False)
    return Crowd(
        pieces=pieces,
        frames=frames,
        at=at,
        keys=keys,
        low=at + np.array([box[0] for box in boxes]).reshape(-1, 3),
        high=at + np.array([box[1] for box in boxes]).reshape(-1, 3),
    )


def _box(body: Body, frame: Array, key: Key) -> tuple[Array, Array]:
    known = _boxes.get(key)
    if known is None:
        points = welded_of(body).points_mm @ frame.T
        known = (points.min(axis=0), points.max(axis=0)) if len(points) else (np.zeros(3), np.zeros(3))
        _boxes[key] = known
    return known


def before_any(crowd: Crowd, some: Numbers) -> Flags:
    """Flags (n,): which pieces have a box that may stand before that of one of these."""
    low, high = crowd.low, crowd.high
    flags = np.zeros(len(low), dtype=bool)
    for n in some.tolist():
        meets = (low[:, :2] < high[n, :2]).all(axis=1) & (high[:, :2] > low[n, :2]).all(axis=1)
        flags |= meets & (low[:, 2] < high[n, 2])
    return flags
