"""Whether two part types are physically one and the same piece, so that either serves for the other.

Two papers, or two hands of one paper, often give one piece two names: a beam with a hole near end a is the
beam with a hole near end b, turned round. Nobody can tell such pieces apart, and nobody needs to.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from trysquare.ground.placement import Array
from trysquare.machine.values import Hole, PartType
from trysquare.solid.near_points import lie_on_each_other
from trysquare.solid.shapes import Solid, makes_solid, solid_of

SAME_SIZE_MM = 0.05  # drawings agree to this when they mean the same
SAME_VOLUME = 1e-4  # share of the volume; round surfaces are drawn with facets


def same_piece(one: PartType, other: PartType, folder: str = "") -> bool:
    """Whether the two are one piece: material, mass, hand, revision, ends, holes and shape agree, turned or
    not. Mirror images are not the same. Without any solid nobody knows: False."""
    if one is other:
        return True
    if (
        one.kind is not other.kind
        or one.material != other.material
        or one.hand != other.hand
        or one.revision != other.revision
        or one.profile != other.profile
        or one.standard != other.standard
        or abs(one.mass_gram - other.mass_gram) > 0.01 * max(one.mass_gram, other.mass_gram)
        or len(one.holes) != len(other.holes)
        or len(one.tapped_ends) != len(other.tapped_ends)
        or one.tapped_depth_mm != other.tapped_depth_mm
        or not (makes_solid(one) and makes_solid(other))
    ):
        return False
    if one.profile is not None and abs(one.length_mm - other.length_mm) > SAME_SIZE_MM:
        return False
    solids = solid_of(one, folder), solid_of(other, folder)
    if abs(solids[0].volume_mm3 - solids[1].volume_mm3) > SAME_VOLUME * solids[0].volume_mm3:
        return False
    return any(_agrees(one, other, *solids, turn) for turn in _turns(*solids))


def _turns(one: Solid, other: Solid) -> list[Array]:
    """The turns of a cube that bring the second one's box onto the first one's."""
    size, wanted = other.high_mm - other.low_mm, one.high_mm - one.low_mm
    found = []
    for order in itertools.permutations(range(3)):
        for signs in itertools.product((1.0, -1.0), repeat=3):
            turn = np.zeros((3, 3))
            turn[np.arange(3), order] = signs
            if np.linalg.det(turn) > 0 and (np.abs(np.abs(turn) @ size - wanted) <= SAME_SIZE_MM).all():
                found.append(turn)
    return found


def _agrees(one: PartType, other: PartType, solid: Solid, turned: Solid, turn: Array) -> bool:
    shift = (solid.low_mm + solid.high_mm) / 2 - turn @ ((turned.low_mm + turned.high_mm) / 2)
    if one.profile is not None and one.tapped_ends != other.tapped_ends:
        ends = {"a": "b", "b": "a"}
        if turn[0, 0] > 0 or {ends[end] for end in other.tapped_ends} != set(one.tapped_ends):
            return False
    elif one.profile is not None and len(one.tapped_ends) == 1 and turn[0, 0] < 0:
        return False
    if not _same_holes(one.holes, other.holes, turn, shift):
        return False
    # A member and a plate are fully said by section or outline, ends and holes; points settle the rest.
    return one.profile is not None or _same_points(solid, turned, turn, shift)


def _same_holes(holes: Sequence[Hole], others: Sequence[Hole], turn: Array, shift: Array) -> bool:
    left = [_openings(other, turn, shift) for other in others]
    for hole in holes:
        wanted = _openings(hole, np.eye(3), np.zeros(3))[0]
        match = next(
            (index for index, ends in enumerate(left) if any(_near(wanted, end) for end in ends)), -1
        )
        if match < 0:
            return False
        left.pop(match)
    return True


Opening = tuple[Array, Array, tuple[object, ...]]


def _openings(hole: Hole, turn: Array, shift: Array) -> list[Opening]:
    """Where a hole opens and which way, with its other properties; a plain bore right through opens twice."""
    at, way = turn @ np.asarray(hole.at_mm) + shift, turn @ np.asarray(hole.direction)
    sort = (
        hole.thread,
        hole.insert,
        hole.through,
        hole.countersunk,
        round(hole.diameter_mm, 1),
        round(hole.depth_mm, 1),
        round(hole.counterbore_mm, 1),
        round(hole.counterbore_depth_mm, 1),
    )
    found: list[Opening] = [(at, way, sort)]
    if hole.through and not hole.insert and not hole.countersunk and hole.counterbore_depth_mm <= 0:
        found.append((at - way * hole.depth_mm, -way, sort))
    return found


def _near(one: Opening, other: Opening) -> bool:
    return (
        one[2] == other[2]
        and float(one[1] @ other[1]) > 0.999
        and float(np.linalg.norm(one[0] - other[0])) <= SAME_SIZE_MM
    )


def _same_points(solid: Solid, turned: Solid, turn: Array, shift: Array) -> bool:
    """Whether every corner of one is near a corner of the other."""
    return lie_on_each_other(turned.points_mm @ turn.T + shift, solid.points_mm, SAME_SIZE_MM)
