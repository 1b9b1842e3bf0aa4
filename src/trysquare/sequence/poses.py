"""The ways a part can be put into its own place: turned in its own box, or another part in its box.

A pose is a rotation about the middle of the part's box that brings the box onto itself, so that the
part keeps touching what it should touch. Poses that bring the part onto itself, shape and holes, are
no different from the right one.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trysquare.ground.placement import Array, Placement
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.values import Hole, PartType
from trysquare.solid.near_points import lie_on_each_other
from trysquare.solid.shapes import Solid, solid_of

SAME_BOX_MM = 0.1  # boxes this near look and fit the same
SAME_SIZE_MM = 0.1  # of a hole; a caliper's reading on a drilled edge
SAME_POINT_MM = 1e-3  # of mesh corners: far below any shape a person sees
SHAPE_SLACK_MM = 1e-3  # a surface that is everywhere this near is the same surface
SHAPE_SLACK_MM3 = 0.5  # a grain; less is rounding of a round surface


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Difference:
    """How a part in a pose differs from the right part in its place, in the right part's own coordinates.

    `missing`: holes of the right part that the wrong one has not got there. `extra`: holes of the wrong
    one, moved to where they are, that the right one has not got. `ends_missing`, `ends_extra`: tapped
    ends likewise. `shape`: the solids differ although holes and ends do not.
    """

    missing: tuple[Hole, ...] = ()
    extra: tuple[Hole, ...] = ()
    ends_missing: tuple[str, ...] = ()
    ends_extra: tuple[str, ...] = ()
    slot: bool = False  # of another slot
    shape: bool = False

    @property
    def same(self) -> bool:
        """Whether nobody could tell the two apart."""
        return not (
            self.missing or self.extra or self.ends_missing or self.ends_extra or self.slot or self.shape
        )


def _rotations() -> tuple[Array, ...]:
    """The 24 turns of a cube, as arrays (3, 3): none first, then half turns, quarter turns, the rest."""
    found: list[Array] = []
    for order in itertools.permutations(range(3)):
        for signs in itertools.product((1.0, -1.0), repeat=3):
            turn = np.zeros((3, 3))
            turn[np.arange(3), order] = signs
            if np.linalg.det(turn) > 0:
                found.append(turn)

    def simple_first(turn: Array) -> tuple[float, ...]:
        still = float(np.abs(np.diag(turn)).sum())
        return (-still if still == 3 else 3.0 - still, -float(np.trace(turn)))

    found.sort(key=simple_first)
    return tuple(found)


ROTATIONS = _rotations()


def poses(right: Solid, wrong: Solid) -> tuple[Placement, ...]:
    """Placements of `wrong` in the coordinates of `right` that bring its box onto the right one's box.
    The first is unturned where that is among them."""
    size_right, size_wrong = right.high_mm - right.low_mm, wrong.high_mm - wrong.low_mm
    middle_right, middle_wrong = (right.low_mm + right.high_mm) / 2, (wrong.low_mm + wrong.high_mm) / 2
    return tuple(
        Placement(turn, middle_right - turn @ middle_wrong)
        for turn in ROTATIONS
        if (np.abs(np.abs(turn) @ size_wrong - size_right) <= SAME_BOX_MM).all()
    )


def same_box(one: Solid, other: Solid) -> bool:
    """Whether two solids have the same outer size, turned or not."""
    sizes = np.sort(one.high_mm - one.low_mm), np.sort(other.high_mm - other.low_mm)
    return bool((np.abs(sizes[0] - sizes[1]) <= SAME_BOX_MM).all())


class Differences:
    """Answers how one type differs from another in a pose, each worked out once."""

    def __init__(self, folder: str) -> None:
        self.folder = folder
        self._known: dict[tuple[int, int, bytes], Difference] = {}

    def between(self, right: PartType, wrong: PartType, pose: Placement) -> Difference:
        key = (id(right), id(wrong), np.rint(pose.turn).tobytes())
        if key not in self._known:
            self._known[key] = _difference(right, wrong, pose, self.folder)
        return self._known[key]

    def is_symmetry(self, part: PartType, turn: Array) -> bool:
        """Whether this turn about the middle of its box brings a part onto itself."""
        solid = solid_of(part, self.folder)
        middle = (solid.low_mm + solid.high_mm) / 2
        return self.between(part, part, Placement(turn, middle - turn @ middle)).same


def _difference(right: PartType, wrong: PartType, pose: Placement, folder: str) -> Difference:
    moved = [moved_hole(hole, pose) for hole in wrong.holes]
    missing = tuple(hole for hole in right.holes if not any(same_hole(hole, other) for other in moved))
    extra = tuple(hole for hole in moved if not any(same_hole(hole, other) for other in right.holes))
    ends = tuple(sorted(end_in_place(end, pose) for end in wrong.tapped_ends))
    found = Difference(
        missing=missing,
        extra=extra,
        ends_missing=tuple(end for end in right.tapped_ends if end not in ends),
        ends_extra=tuple(end for end in ends if end not in right.tapped_ends),
        slot=right.profile != wrong.profile,
    )
    if not found.same:
        return found  # no need of the slow question
    differs = not same_shape(solid_of(right, folder), solid_of(wrong, folder), pose)
    return replace(found, shape=differs)


def end_in_place(end: str, pose: Placement) -> str:
    """Which of the right member's ends this end of the wrong one comes to."""
    if pose.turn[0, 0] > 0:
        return end
    return {"a": "b", "b": "a"}[end]


def moved_hole(hole: Hole, pose: Placement) -> Hole:
    """A hole of a part that stands in a pose, in the coordinates the pose leads to."""
    at, way = pose.point(hole.at_mm), pose.direction(hole.direction)
    return replace(
        hole,
        at_mm=(float(at[0]), float(at[1]), float(at[2])),
        direction=(float(way[0]), float(way[1]), float(way[2])),
    )


def same_hole(one: Hole, other: Hole) -> bool:
    """Whether two holes do the same: a plain hole right through may be seen from either side."""
    if not alike(one, other):
        return False
    way, other_way = np.asarray(one.direction), np.asarray(other.direction)
    at, other_at = np.asarray(one.at_mm), np.asarray(other.at_mm)
    along = float(way @ other_way)
    if two_sided(one) and along < 0:
        other_at, along = other_at - other_way * other.depth_mm, -along
    return along > 1 - 1e-6 and float(np.linalg.norm(at - other_at)) <= ON_AXIS_MM


def alike(one: Hole, other: Hole) -> bool:
    """Whether two holes are of one size and sort, wherever they are."""
    return (
        one.thread == other.thread
        and one.insert == other.insert
        and one.through == other.through
        and one.countersunk == other.countersunk
        and abs(one.diameter_mm - other.diameter_mm) <= SAME_SIZE_MM
        and abs(one.depth_mm - other.depth_mm) <= SAME_SIZE_MM
        and abs(one.counterbore_mm - other.counterbore_mm) <= SAME_SIZE_MM
        and abs(one.counterbore_depth_mm - other.counterbore_depth_mm) <= SAME_SIZE_MM
    )


def two_sided(hole: Hole) -> bool:
    """Whether a hole looks the same from both its ends."""
    return hole.through and not hole.insert and not hole.countersunk and hole.counterbore_depth_mm <= 0


def same_shape(right: Solid, wrong: Solid, pose: Placement) -> bool:
    """Whether a solid in a pose fills the same space as the right one, as far as a person can see.

    The volume they do not share may be `SHAPE_SLACK_MM` on the whole surface and a grain. Volume and
    moments reject most pairs, equal corners accept most others; only the rest is cut.
    """
    slack = SHAPE_SLACK_MM3 + SHAPE_SLACK_MM * right.area_mm2
    if abs(right.volume_mm3 - wrong.volume_mm3) > slack:
        return False
    reach = float(np.linalg.norm(right.high_mm - right.low_mm))
    first, second = _moments(right)
    first_wrong, second_wrong = _moments(wrong)
    # A volume of `slack` within `reach` of the middle cannot shift the moments by more than this.
    if float(np.linalg.norm(first - pose.turn @ first_wrong)) > slack * reach:
        return False
    if float(np.abs(second - pose.turn @ second_wrong @ pose.turn.T).max()) > slack * reach**2:
        return False
    points = pose.point(wrong.points_mm)
    if len(points) == len(right.points_mm) and lie_on_each_other(points, right.points_mm, SAME_POINT_MM):
        return True
    other = wrong.manifold.transform(pose.matrix())
    return float((right.manifold - other).volume() + (other - right.manifold).volume()) <= slack


def _moments(solid: Solid) -> tuple[Array, Array]:
    known = _kept.get(solid.digest)
    if known is None:
        known = _moments_of(solid)
        _kept[solid.digest] = known
    return known


_kept: dict[bytes, tuple[Array, Array]] = {}


def _moments_of(solid: Solid) -> tuple[Array, Array]:
    """First moment (3,) and second moments (3, 3) of a solid's volume about the middle of its box.

    Equation: sums over tetrahedra from that middle; of one with corners 0 a b c and six-fold volume d,
    ∫x = d/24·(a+b+c), ∫xxᵀ = d/120·(Σ pᵢpᵢᵀ + (Σ pᵢ)(Σ pᵢ)ᵀ).
    """
    corner = solid.points_mm[solid.triangles] - (solid.low_mm + solid.high_mm) / 2
    six = np.einsum("ij,ij->i", corner[:, 0], np.cross(corner[:, 1], corner[:, 2]))
    total = corner.sum(axis=1)
    first = (six[:, None] * total).sum(axis=0) / 24.0
    outer = np.einsum("nki,nkj->nij", corner, corner) + np.einsum("ni,nj->nij", total, total)
    return first, np.asarray(np.einsum("n,nij->ij", six, outer) / 120.0)


def turn_in_machine(placement: Placement, pose: Placement) -> Array | None:
    """The pose's turn seen in the machine frame; None when the part stands askew to it."""
    turn = placement.turn @ pose.turn @ placement.turn.T
    if np.abs(turn - np.rint(turn)).max() > 1e-6:
        return None
    rounded: Array = np.rint(turn)
    return rounded


def pose_words(part: PartType, placement: Placement, pose: Placement) -> str:
    """How the part was turned, such as "end for end" or "upside down, left and right kept"."""
    own = np.rint(pose.turn)
    seen = turn_in_machine(placement, pose)
    if part.profile is not None:
        return _member_words(own, seen, standing=abs(float(placement.turn[2, 0])) > 0.9)
    if (own == np.eye(3)).all():
        return "the same way round"
    return _turn_words(own if seen is None else seen)


def _member_words(own: Array, seen: Array | None, *, standing: bool) -> str:
    if (own == np.eye(3)).all():
        return "the same way round"
    if own[1, 1] == 0:
        quarter = "a quarter turn about its length"
        return quarter if own[0, 0] > 0 else f"end for end and {quarter}"
    if seen is None or standing:
        if own[0, 0] > 0:
            return "half a turn about its length"
        kept = "" if seen is None else f", {_KEPT[int(np.argmax(np.diag(seen)))][1]} kept"
        return f"end for end{kept}"
    if own[0, 0] > 0:
        return "upside down"
    return "end for end" if seen[2, 2] > 0 else "end for end and upside down"


_KEPT = (("x", "left and right"), ("y", "front and back"), ("z", "top and bottom"))


def _turn_words(seen: Array) -> str:
    diagonal = np.diag(seen)
    if np.abs(diagonal).sum() == 3:
        axis, kept = _KEPT[int(np.argmax(diagonal))]
        return "turned half round" if axis == "z" else f"upside down, {kept} kept"
    if seen[2, 2] == 1:
        return "a quarter turn round"
    if seen[2, 2] == -1:
        return "upside down and a quarter turn round"
    if np.abs(diagonal).sum() == 1 and diagonal.sum() == 1:
        return "a quarter turn over"
    return "turned over to another side"


def by_plainness(placement: Placement, found: Sequence[Placement]) -> list[Placement]:
    """The poses in the order in which a person would name them: half turns, then quarter turns, then the
    rest; among equals those that leave the machine's top on top."""

    def rank(pose: Placement) -> tuple[float, float]:
        seen = placement.turn @ pose.turn @ placement.turn.T
        still = float(np.abs(np.diag(np.rint(pose.turn))).sum())
        return (-still if still == 3 else abs(still - 1), -float(seen[2, 2]))

    return sorted(found, key=rank)


def unique_poses(part: PartType, found: Sequence[Placement], differences: Differences) -> list[Placement]:
    """The poses without those that look like the right one or like an earlier one."""
    kept: list[Placement] = []
    for pose in found:
        alike_earlier = any(differences.is_symmetry(part, one.turn.T @ pose.turn) for one in kept)
        if not alike_earlier and not differences.between(part, part, pose).same:
            kept.append(pose)
    return kept
