"""Boxes of placed solids, and the pairs whose boxes cross: the cheap look before the exact one.

Two boxes that cross by no more than `CONTACT_MM` along some direction cannot hold a shared volume
thicker than that, so touching parts are dropped here already.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array, Placement
from trysquare.ground.tolerances import CONTACT_MM, OVERLAP_MM3
from trysquare.machine.values import PlacedPart
from trysquare.solid.shapes import Solid

Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Crowd:
    """Placed solids as arrays, one row a piece.

    `solids` are the different solids, `which` (n,) says which one a piece has. `turn` (n, 3, 3) and
    `origin_mm` (n, 3) place it. `centre_mm`, `half_mm` (n, 3): middle and half size of its own box,
    the middle in the machine frame, the half sizes along its own axes. `box_mm` (n, 6): lowest, then
    highest corner along the machine's axes, exact for a piece that stands square to them and never
    too small for any other. `row` (n,) is its number in the sequence the crowd was made from.
    """

    solids: tuple[Solid, ...]
    which: Numbers
    turn: Array
    origin_mm: Array
    centre_mm: Array
    half_mm: Array
    box_mm: Array
    row: Numbers


def crowd_of(placed: Sequence[PlacedPart], solids: Sequence[Solid | None]) -> Crowd:
    """Placed parts with their solids as arrays; those without a solid are left out."""
    rows = [i for i, solid in enumerate(solids) if solid is not None and solid.triangle_count]
    different: dict[bytes, int] = {}
    kept: list[Solid] = []
    which = np.zeros(len(rows), dtype=np.int64)
    for n, i in enumerate(rows):
        solid = solids[i]
        assert solid is not None  # by the choice of rows
        if solid.digest not in different:
            different[solid.digest] = len(kept)
            kept.append(solid)
        which[n] = different[solid.digest]
    turn = np.array([placed[i].placement.turn for i in rows]).reshape(-1, 3, 3)
    origin = np.array([placed[i].placement.origin_mm for i in rows]).reshape(-1, 3)
    low = np.array([solid.low_mm for solid in kept]).reshape(-1, 3)
    high = np.array([solid.high_mm for solid in kept]).reshape(-1, 3)
    centre = np.einsum("nij,nj->ni", turn, ((low + high) / 2)[which]) + origin
    half = ((high - low) / 2)[which]
    reach = np.einsum("nij,nj->ni", np.abs(turn), half)
    return Crowd(
        solids=tuple(kept),
        which=which,
        turn=turn,
        origin_mm=origin,
        centre_mm=centre,
        half_mm=half,
        box_mm=np.hstack([centre - reach, centre + reach]),
        row=np.array(rows, dtype=np.int64),
    )


def crowd_of_one(solid: Solid, placement: Placement) -> Crowd:
    """A crowd of a single placed solid."""
    return crowd_at([solid], placement)


def candidate_pairs(crowd: Crowd) -> Numbers:
    """Array (m, 2): pairs of pieces, lower number first, whose turned boxes cross by more than contact."""
    pairs = sweep_and_prune(crowd.box_mm)
    return pairs[crossing(crowd, pairs[:, 0], crowd, pairs[:, 1])]


def candidates_against(moving: Crowd, others: Crowd, among: NDArray[np.bool_] | None = None) -> Numbers:
    """Array (m, 2): pairs of a piece of `moving` and one of `others` whose turned boxes cross by more
    than contact. `among` (n,) leaves out those of `others` that are False. Meant for a few moving pieces.
    """
    meet = _meet(moving.box_mm[:, None, :], others.box_mm[None, :, :])
    if among is not None:
        meet &= among[None, :]
    pairs = np.argwhere(meet)
    return pairs[crossing(moving, pairs[:, 0], others, pairs[:, 1])]


@dataclass(frozen=True, slots=True, eq=False)
class Shelf:
    """A crowd's boxes sorted along the machine's longest axis, so that one box is held against its
    neighbours only and not against all."""

    crowd: Crowd
    axis: int
    order: Numbers  # (n,) rows by their lowest coordinate along the axis
    low_mm: Array  # (n,) those coordinates, ascending
    widest_mm: float


def shelf_of(crowd: Crowd) -> Shelf:
    """Sorts a crowd's boxes, once for many questions."""
    low, high = crowd.box_mm[:, :3], crowd.box_mm[:, 3:]
    axis = int(np.argmax(high.max(axis=0) - low.min(axis=0))) if len(low) else 0
    order = np.argsort(low[:, axis], kind="stable")
    widest = float((high[:, axis] - low[:, axis]).max()) if len(low) else 0.0
    return Shelf(crowd, axis, order, low[order, axis], widest)


def candidates_on(moving: Crowd, shelf: Shelf) -> Numbers:
    """As `candidates_against`, for a few bodies close together against a shelf: array (m, 2)."""
    low = float(moving.box_mm[:, shelf.axis].min())
    high = float(moving.box_mm[:, 3 + shelf.axis].max())
    begin = int(np.searchsorted(shelf.low_mm, low - shelf.widest_mm))
    end = int(np.searchsorted(shelf.low_mm, high, side="right"))
    rows = np.sort(shelf.order[begin:end])
    mine, there = np.nonzero(_meet(moving.box_mm[:, None, :], shelf.crowd.box_mm[rows][None, :, :]))
    rows = rows[there]
    keep = crossing(moving, mine, shelf.crowd, rows)
    return np.column_stack([mine[keep], rows[keep]])


def crowd_at(solids: Sequence[Solid], placement: Placement) -> Crowd:
    """Several solids at one placement, as the pieces of one swept body."""
    count = len(solids)
    low = np.array([solid.low_mm for solid in solids]).reshape(-1, 3)
    high = np.array([solid.high_mm for solid in solids]).reshape(-1, 3)
    centre = ((low + high) / 2) @ placement.turn.T + placement.origin_mm
    half = (high - low) / 2
    reach = half @ np.abs(placement.turn).T
    numbers = np.arange(count)
    return Crowd(
        solids=tuple(solids), which=numbers, turn=np.repeat(placement.turn[None], count, axis=0),
        origin_mm=np.repeat(placement.origin_mm[None], count, axis=0), centre_mm=centre, half_mm=half,
        box_mm=np.hstack([centre - reach, centre + reach]), row=numbers,
    )  # fmt: skip


def _meet(a: Array, b: Array) -> NDArray[np.bool_]:
    """Whether boxes (…, 6) cross by more than contact along all three axes."""
    shared = np.minimum(a[..., 3:], b[..., 3:]) - np.maximum(a[..., :3], b[..., :3])
    meet: NDArray[np.bool_] = (shared > CONTACT_MM).all(axis=-1) & (shared.prod(axis=-1) > OVERLAP_MM3)
    return meet


def sweep_and_prune(boxes_mm: Array) -> Numbers:
    """Array (m, 2): all pairs, lower number first, whose boxes (n, 6) cross by more than contact.

    Sweeps along the axis on which the fewest pairs meet, so the work follows the number of pairs
    near each other rather than the square of the pieces.
    """
    n = len(boxes_mm)
    if n < 2:
        return np.zeros((0, 2), dtype=np.int64)
    best = min((_sweep(boxes_mm, axis) for axis in range(3)), key=lambda sweep: int(sweep[1].sum()))
    order, counts = best
    found = []
    # in slices, so that memory stays small in a crowd where everything meets on every axis
    ends = np.cumsum(counts)
    start = 0
    while start < n:
        base = int(ends[start - 1]) if start else 0
        stop = max(int(np.searchsorted(ends, base + 1_000_000, side="right")), start + 1)
        here = counts[start:stop]
        first = np.repeat(np.arange(start, stop), here)
        step = np.arange(len(first)) - np.repeat(np.cumsum(here) - here, here)
        second = order[first + 1 + step]
        first = order[first]
        meet = _meet(boxes_mm[first], boxes_mm[second])
        found.append(np.stack([first[meet], second[meet]], axis=1))
        start = stop
    pairs = np.sort(np.concatenate(found), axis=1)
    return pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]


def _sweep(boxes_mm: Array, axis: int) -> tuple[Numbers, Numbers]:
    """Order of the boxes along an axis, and for each how many begin before it ends."""
    order = np.argsort(boxes_mm[:, axis], kind="stable")
    begins = boxes_mm[order, axis]
    last = np.searchsorted(begins, boxes_mm[order, axis + 3] - CONTACT_MM, side="left")
    counts = np.maximum(last - np.arange(len(order)) - 1, 0)
    return order, counts


def crossing(a: Crowd, i: Numbers, b: Crowd, j: Numbers) -> NDArray[np.bool_]:
    """Array (m,): whether the turned boxes of pieces `i` of `a` and `j` of `b` cross by more than
    contact along all fifteen directions that could part them.

    Source: Gottschalk, Lin, Manocha, "OBBTree", SIGGRAPH 1996, section 5 (the fifteen directions).
    """
    if len(i) == 0:
        return np.zeros(0, dtype=bool)
    turn_a, turn_b = a.turn[i], b.turn[j]
    half_a, half_b = a.half_mm[i], b.half_mm[j]
    offset = b.centre_mm[j] - a.centre_mm[i]
    turned = np.einsum("mki,mkj->mij", turn_a, turn_b)  # b's axes seen from a
    flat = np.abs(turned)
    seen_a = np.einsum("mki,mk->mi", turn_a, offset)
    seen_b = np.einsum("mki,mk->mi", turn_b, offset)
    depth_a = half_a + np.einsum("mij,mj->mi", flat, half_b) - np.abs(seen_a)
    depth_b = half_b + np.einsum("mij,mi->mj", flat, half_a) - np.abs(seen_b)
    cross = (depth_a > CONTACT_MM).all(axis=1) & (depth_b > CONTACT_MM).all(axis=1)
    skew = np.flatnonzero(cross & (flat.max(axis=2).min(axis=1) < 1 - 1e-9))
    if len(skew):  # square to each other: the nine edge directions say nothing new
        cross[skew] = _edges_cross(turned[skew], half_a[skew], half_b[skew], seen_a[skew])
    answer: NDArray[np.bool_] = cross
    return answer


def _edges_cross(turned: Array, half_a: Array, half_b: Array, seen_a: Array) -> NDArray[np.bool_]:
    """The nine directions square to an edge of each box, all in the first box's axes."""
    cross = np.ones(len(turned), dtype=bool)
    eye = np.eye(3)
    for k in range(3):
        for n in range(3):
            direction = np.cross(eye[k], turned[:, :, n])
            length = np.linalg.norm(direction, axis=1)
            usable = length > 1e-6  # parallel edges give no direction
            direction = direction / np.where(usable, length, 1.0)[:, None]
            reach = (np.abs(direction) * half_a).sum(axis=1)
            reach += (np.abs(np.einsum("mi,mij->mj", direction, turned)) * half_b).sum(axis=1)
            apart = np.abs((direction * seen_a).sum(axis=1))
            cross &= ~usable | (reach - apart > CONTACT_MM)
    return cross


def boxes(placed: Sequence[PlacedPart], solids: Sequence[Solid | None]) -> Array:
    """Array (n, 6): box of every placed part along the machine's axes; NaN where there is no solid."""
    answer = np.full((len(placed), 6), np.nan)
    crowd = crowd_of(placed, solids)
    answer[crowd.row] = crowd.box_mm
    return answer
