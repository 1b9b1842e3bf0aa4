"""Where solids of a machine cross each other.

An overlap is a shared volume above `OVERLAP_MM3` that is thicker than `CONTACT_MM` somewhere. Faces
drawn touching, shafts in holes of the same size and threads in their nuts are contact, not overlap.
A part wholly inside another's material is an overlap.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import Array, Placement, Triple
from trysquare.machine.values import PartType, PlacedPart
from trysquare.solid import broad
from trysquare.solid.broad import Crowd, candidate_pairs, candidates_against, crowd_of, crowd_of_one
from trysquare.solid.shapes import Solid, makes_solid, solid_of
from trysquare.solid.shared import Shared, any_shared, shared_volumes


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """Two placed parts share volume.

    `at_mm`: middle of the largest shared piece, `low_mm`, `high_mm`: box of all that is shared,
    machine frame. `a_id` stands before `b_id` in the sequence that was checked.
    """

    a_id: str
    b_id: str
    volume_mm3: float
    at_mm: Triple
    low_mm: Triple
    high_mm: Triple


def overlaps(
    placed: Sequence[PlacedPart], folder: str | Path = "", *, unusable: set[str] | None = None
) -> tuple[Overlap, ...]:
    """All overlaps among placed parts, in their order. Parts without a solid are skipped.

    `unusable`: give a set to collect the ids of part types whose shape cannot be read, instead of
    the ReadingError being raised.
    """
    crowd = crowd_of(placed, solids_of(placed, folder, unusable=unusable))
    pairs = candidate_pairs(crowd)
    return tuple(
        _told(placed[crowd.row[i]].id, placed[crowd.row[j]].id, shared, host)
        for (i, j), (shared, host) in zip(pairs, shared_volumes(crowd, crowd, pairs), strict=True)
        if shared is not None
    )


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """Parts that stand, made ready to be asked many times what is in something's way."""

    placed: tuple[PlacedPart, ...]
    crowd: Crowd
    ids: tuple[str, ...]  # of the crowd's pieces


def standing(placed: Sequence[PlacedPart], folder: str | Path = "") -> Standing:
    """Makes parts ready for `crossings`; worth it from the second question on."""
    crowd = crowd_of(placed, solids_of(placed, folder))
    return Standing(tuple(placed), crowd, tuple(placed[row].id for row in crowd.row))


def crossings(
    moving_id: str,
    solid: Solid,
    placement: Placement,
    obstacles: Standing,
    present: Collection[str] | None = None,
    ignoring: Collection[str] = (),
) -> tuple[Overlap, ...]:
    """Overlaps of one placed solid, such as a swept part or a key line, with parts that stand.

    `present`: ids of the obstacles that are there yet, None for all; `ignoring`: ids left out.
    """
    moving = crowd_of_one(solid, placement)
    pairs = candidates_against(moving, obstacles.crowd, _among(obstacles, present, ignoring))
    return tuple(
        _told(moving_id, obstacles.ids[j], shared, host)
        for j, (shared, host) in zip(pairs[:, 1], shared_volumes(moving, obstacles.crowd, pairs), strict=True)
        if shared is not None
    )


def crosses_any(
    solid: Solid,
    placement: Placement,
    obstacles: Standing,
    present: Collection[str] | None = None,
    ignoring: Collection[str] = (),
) -> bool:
    """Whether `crossings` would find anything; quicker, for it stops at the first."""
    moving = crowd_of_one(solid, placement)
    pairs = candidates_against(moving, obstacles.crowd, _among(obstacles, present, ignoring))
    return any_shared(moving, obstacles.crowd, pairs)


def _among(
    obstacles: Standing, present: Collection[str] | None, ignoring: Collection[str]
) -> NDArray[np.bool_] | None:
    """Array (n,): which of the crowd's pieces count; None for all."""
    if present is None and not ignoring:
        return None
    return np.array(
        [(present is None or one in present) and one not in ignoring for one in obstacles.ids], dtype=bool
    )


def solids_of(
    placed: Sequence[PlacedPart], folder: str | Path = "", *, unusable: set[str] | None = None
) -> list[Solid | None]:
    """The solid of each placed part, None where there is none."""
    by_type: dict[int, Solid | None] = {}
    for part in placed:
        if id(part.type) not in by_type:
            by_type[id(part.type)] = _solid(part.type, folder, unusable)
    return [by_type[id(part.type)] for part in placed]


def boxes(placed: Sequence[PlacedPart], folder: str | Path = "") -> Array:
    """Array (n, 6): lowest and highest corner of each placed part's box, machine frame; NaN without solid."""
    return broad.boxes(placed, solids_of(placed, folder))


def _solid(part_type: PartType, folder: str | Path, unusable: set[str] | None) -> Solid | None:
    if not makes_solid(part_type):
        return None
    try:
        return solid_of(part_type, folder)
    except ReadingError:
        if unusable is None:
            raise
        unusable.add(part_type.id)
        return None


def _told(a_id: str, b_id: str, shared: Shared, host: Placement) -> Overlap:
    """Takes what is shared, seen from its host, to the machine frame."""
    corners = host.point(shared.corners_mm)
    return Overlap(
        a_id=a_id,
        b_id=b_id,
        volume_mm3=shared.volume_mm3,
        at_mm=_triple(host.point(shared.at_mm)),
        low_mm=_triple(corners.min(axis=0)),
        high_mm=_triple(corners.max(axis=0)),
    )


def _triple(point: Array) -> Triple:
    return (float(point[0]), float(point[1]), float(point[2]))
