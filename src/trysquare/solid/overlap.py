"""Where solids of a machine cross each other.

An overlap is a shared volume above `OVERLAP_MM3` that is thicker than `CONTACT_MM` somewhere. Faces
drawn touching, shafts in holes of the same size and threads in their nuts are contact, not overlap.
A part wholly inside another's material is an overlap.

Every standing of one solid to another is computed once: a machine repeats the same corner, the same
screw in the same nut, a hundred times.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from manifold3d import Manifold, OpType

from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import Array, Placement, Triple
from trysquare.ground.tolerances import CONTACT_MM, OVERLAP_MM3
from trysquare.machine.values import PartType, PlacedPart
from trysquare.solid import broad
from trysquare.solid.broad import Crowd, Numbers, candidate_pairs, candidates_against, crowd_of, crowd_of_one
from trysquare.solid.shapes import Solid, makes_solid, solid_of

KEPT_STANDINGS = 500_000  # some 200 bytes each
SAME_STANDING_MM = 1e-4  # far below contact: standings this near give the same verdict
SAME_TURN = 1e-7  # of a rotation's numbers: 1e-4 mm over 1 m


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


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """What two solids share, in the coordinates of the first."""

    volume_mm3: float
    at_mm: Array  # (3,)
    corners_mm: Array  # (8, 3) of the box


def overlaps(
    placed: Sequence[PlacedPart], folder: str | Path = "", *, unusable: set[str] | None = None
) -> tuple[Overlap, ...]:
    """All overlaps among placed parts, in their order. Parts without a solid are skipped.

    `unusable`: give a set to collect the ids of part types whose shape cannot be read, instead of
    the ReadingError being raised.
    """
    crowd = crowd_of(placed, solids_of(placed, folder, unusable=unusable))
    pairs = candidate_pairs(crowd)
    found = shared_volumes(crowd, pairs[:, 0], crowd, pairs[:, 1])
    return tuple(
        overlap_of(placed[crowd.row[i]].id, placed[crowd.row[j]].id, shared, crowd, int(i))
        for (i, j), shared in zip(pairs, found, strict=True)
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
    among = (
        np.array(
            [(present is None or one in present) and one not in ignoring for one in obstacles.ids], dtype=bool
        )
        if present is not None or ignoring
        else None
    )
    pairs = candidates_against(moving, obstacles.crowd, among)
    found = shared_volumes(moving, pairs[:, 0], obstacles.crowd, pairs[:, 1])
    return tuple(
        overlap_of(moving_id, obstacles.ids[j], shared, moving, 0)
        for j, shared in zip(pairs[:, 1], found, strict=True)
        if shared is not None
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


def overlap_of(a_id: str, b_id: str, shared: Shared, crowd: Crowd, i: int) -> Overlap:
    """Takes what is shared, seen from piece `i` of the crowd, to the machine frame."""
    place = Placement(crowd.turn[i], crowd.origin_mm[i])
    corners = place.point(shared.corners_mm)
    return Overlap(
        a_id=a_id,
        b_id=b_id,
        volume_mm3=shared.volume_mm3,
        at_mm=_triple(place.point(shared.at_mm)),
        low_mm=_triple(corners.min(axis=0)),
        high_mm=_triple(corners.max(axis=0)),
    )


def _triple(point: Array) -> Triple:
    return (float(point[0]), float(point[1]), float(point[2]))


def forget_standings() -> None:
    """Drops all verdicts kept in memory, for measuring a cold start."""
    _standings.clear()


_standings: dict[tuple[bytes, bytes, bytes], Shared | None] = {}


def shared_volumes(a: Crowd, i: Numbers, b: Crowd, j: Numbers) -> list[Shared | None]:
    """What pieces `i` of `a` share with pieces `j` of `b`: one answer a pair, None for no overlap."""
    if len(_standings) > KEPT_STANDINGS:
        _standings.clear()
    answers: list[Shared | None] = []
    for solid_a, solid_b, key, matrix in _standing_pairs(a, i, b, j):
        if key in _standings:
            answers.append(_standings[key])
            continue
        answer = shared_between(solid_a, solid_b, matrix)
        _standings[key] = answer
        answers.append(answer)
    return answers


def _standing_pairs(
    a: Crowd, i: Numbers, b: Crowd, j: Numbers
) -> Iterator[tuple[Solid, Solid, tuple[bytes, bytes, bytes], Array]]:
    """For each pair its two solids, a key of how they stand to each other, and the (3, 4) matrix that
    takes the second's coordinates to the first's."""
    turn = np.einsum("mki,mkj->mij", a.turn[i], b.turn[j])
    origin = np.einsum("mki,mk->mi", a.turn[i], b.origin_mm[j] - a.origin_mm[i])
    matrices = np.concatenate([turn, origin[:, :, None]], axis=2)
    rounded = np.concatenate(
        [np.rint(turn.reshape(-1, 9) / SAME_TURN), np.rint(origin / SAME_STANDING_MM)], axis=1
    ).astype(np.int64)
    for n in range(len(i)):
        solid_a, solid_b = a.solids[a.which[i[n]]], b.solids[b.which[j[n]]]
        yield solid_a, solid_b, (solid_a.digest, solid_b.digest, rounded[n].tobytes()), matrices[n]


def shared_between(a: Solid, b: Solid, b_to_a: Array) -> Shared | None:
    """What two solids share, None when that is nothing or mere contact."""
    common = a.manifold ^ b.manifold.transform(b_to_a)
    if common.is_empty():
        return None
    volume = float(common.volume())
    if not is_overlap(common, volume):
        return None
    pieces = common.decompose()
    largest = max(pieces, key=lambda piece: float(piece.volume()))
    low = np.array(largest.bounding_box()[:3])
    high = np.array(largest.bounding_box()[3:])
    x0, y0, z0, x1, y1, z1 = common.bounding_box()
    corners = np.array([(x, y, z) for x in (x0, x1) for y in (y0, y1) for z in (z0, z1)])
    return Shared(volume_mm3=volume, at_mm=(low + high) / 2, corners_mm=corners)


def is_overlap(common: Manifold, volume_mm3: float) -> bool:
    """Whether a shared body is more than contact: large enough, and thicker than contact somewhere.

    Twice the volume over the area is never more than the body's greatest thickness, so a body that
    passes by it is surely thick; a box thinner than contact is surely thin. Only in between the body
    is eaten away from all sides by half a contact: what is left was thicker.
    """
    if volume_mm3 <= OVERLAP_MM3:
        return False
    if 2 * volume_mm3 / float(common.surface_area()) > CONTACT_MM:
        return True
    x0, y0, z0, x1, y1, z1 = common.bounding_box()
    if min(x1 - x0, y1 - y0, z1 - z0) <= CONTACT_MM:
        return False
    half = CONTACT_MM / 2
    eaten = Manifold.batch_boolean(
        [common.translate(tuple(half * step)) for step in _SIDES], OpType.Intersect
    )
    return not eaten.is_empty() and float(eaten.volume()) > 1e-6


def _sides() -> Array:
    """Directions to the faces, edges and corners of a cube, 26 unit vectors."""
    grid = np.array([(x, y, z) for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)], dtype=float)
    grid = grid[np.abs(grid).sum(axis=1) > 0]
    sides: Array = grid / np.linalg.norm(grid, axis=1)[:, None]
    return sides


_SIDES = _sides()
