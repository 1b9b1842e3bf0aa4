"""Which solids are the same shape, wherever they stand and however turned, and which are mirror images.

A solid is compared by marks: the centres of its faces and the corners of its edges, each with figures that
no motion changes. Three marks that are rare fix a motion; it holds when it carries every mark of one solid
to a like mark of the other.
"""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.placement import Array, Placement, cross, facing
from trysquare.intake.bodies import Face, FaceKind

SAME_MARK_MM = 5e-3  # STEP files hold 5 to 15 digits; a builder feels a hundredth
SAME_RATIO = 2e-4  # of volumes, areas, moments
MOST_TRIALS = 4000  # motions tried before two solids count as different
MOST_MARKS = 3000  # of a modelled thread only so many are looked at
STRIDE = 200  # marks compared at a time, so that no table grows large
ON_LINE_MM = 0.02  # marks nearer to a line say nothing of the turn about it
CLEAR_HAND = 1e-10  # of triple products of unit size; rounding in files leaves less than this


class Figures(Protocol):
    """What is needed of a solid: `bodies.Shape` and `solids.Measured` have it."""

    @property
    def faces(self) -> tuple[Face, ...]: ...
    @property
    def volume_mm3(self) -> float: ...
    @property
    def area_mm2(self) -> float: ...
    @property
    def centroid_mm(self) -> Array: ...
    @property
    def moments_mm5(self) -> Array: ...


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """Marks of a solid: `points_mm` (n, 3) from its centroid; `figures` (n, k) that no motion changes."""

    points_mm: Array
    figures: Array
    centroid_mm: Array

    def mirrored(self) -> Marks:
        """The marks of the mirror image, in the plane x = 0 through the centroid."""
        return Marks(self.points_mm * np.array([-1.0, 1.0, 1.0]), self.figures, self.centroid_mm)


_KIND_NUMBERS = {kind: 100.0 * (number + 1) for number, kind in enumerate(FaceKind)}


def marks_of(solid: Figures) -> Marks:
    """The marks of a solid: a face's centre with its kind, area and radii; a corner with its distance."""
    points: list[Array] = []
    figures: list[tuple[float, ...]] = []
    for face in solid.faces[:MOST_MARKS]:
        away = face.centre_mm - solid.centroid_mm
        kind = _KIND_NUMBERS[face.kind] + (50.0 if face.hollow else 0.0)
        size = float(np.sqrt(face.area_mm2)) if face.area_mm2 > 0 else 0.0
        radius = 0.0 if face.kind is FaceKind.OTHER else face.radius_mm
        points.append(away)
        figures.append((kind, size, radius, float(np.linalg.norm(away))))
    cloud = getattr(solid, "points_mm", None)
    if not solid.faces and cloud is not None:  # a mesh: its own points are its marks
        points = list(cloud[:MOST_MARKS] - solid.centroid_mm)
        figures = [(0.0, 0.0, 0.0, float(np.linalg.norm(point))) for point in points]
    corners = [face.corners_mm for face in solid.faces[:MOST_MARKS] if len(face.corners_mm)]
    if corners and len(points) < MOST_MARKS:
        away = np.unique(np.round(np.concatenate(corners) - solid.centroid_mm, 4), axis=0)[:MOST_MARKS]
        points += list(away)
        figures += [(0.0, 0.0, 0.0, float(np.linalg.norm(point))) for point in away]
    return Marks(np.array(points).reshape(-1, 3), np.array(figures).reshape(-1, 4), solid.centroid_mm)


def could_be_same(one: Figures, other: Figures) -> bool:
    """Whether the figures that no motion and no mirror changes agree."""
    if len(one.faces) != len(other.faces):
        return False
    pairs = [
        (one.volume_mm3, other.volume_mm3),
        (one.area_mm2, other.area_mm2),
        *zip(one.moments_mm5, other.moments_mm5, strict=True),
    ]
    largest = float(np.abs(one.moments_mm5).max(initial=0.0))
    return all(
        abs(first - second) <= SAME_RATIO * max(abs(first), abs(second)) + 1e-9 * largest + 1e-9
        for first, second in pairs
    )


def motion_between(one: Figures, other: Figures, *, mirrored: bool = False) -> Placement | None:
    """A rigid motion that lays solid `one` upon `other`, or None when there is none.

    With `mirrored`: the motion for the mirror image of `one` in the plane x = its centroid's x.
    """
    if not could_be_same(one, other):
        return None
    first = marks_of(one)
    return motion_of_marks(first.mirrored() if mirrored else first, marks_of(other))


def motion_of_marks(one: Marks, other: Marks) -> Placement | None:
    """The motion that lays marks upon marks, centroid on centroid; None when there is none."""
    if len(one.points_mm) != len(other.points_mm):
        return None
    for turn in itertools.islice(_turns(one, other), MOST_TRIALS):
        if _lies_on(one, other, turn):
            return Placement(turn, other.centroid_mm - turn @ one.centroid_mm)
    return None


def _turns(one: Marks, other: Marks) -> Iterator[Array]:
    """Rotations worth trying: those that carry two rare marks to like marks."""
    usable = one.figures[:, 3] > ON_LINE_MM if len(one.figures) else np.zeros(0, dtype=bool)
    if not usable.any():
        yield np.eye(3)
        return
    counts = _counts_of_like(one.figures)
    order = sorted(np.flatnonzero(usable), key=lambda number: (counts[number], -one.figures[number, 3]))
    first = order[0]
    axis = one.points_mm[first] / np.linalg.norm(one.points_mm[first])
    beside = np.linalg.norm(one.points_mm - np.outer(one.points_mm @ axis, axis), axis=1)
    second = next((number for number in order if beside[number] > ON_LINE_MM), None)
    for target in np.flatnonzero(_like(other.figures, one.figures[first])):
        if second is None:
            yield facing(other.points_mm[target]) @ facing(one.points_mm[first]).T
            continue
        apart = np.linalg.norm(one.points_mm[first] - one.points_mm[second])
        distances = np.linalg.norm(other.points_mm - other.points_mm[target], axis=1)
        like = _like(other.figures, one.figures[second]) & (np.abs(distances - apart) < 2 * SAME_MARK_MM)
        mine = _frame(one.points_mm[first], one.points_mm[second])
        for partner in np.flatnonzero(like):
            yield _frame(other.points_mm[target], other.points_mm[partner]) @ mine.T


def _like(figures: Array, row: Array) -> NDArray[np.bool_]:
    size_mm = max(1.0, float(row[3]))
    off = np.abs(figures - row) < SAME_MARK_MM + SAME_RATIO * 0.1 * size_mm
    return np.asarray(off.all(axis=1), dtype=np.bool_)


def _counts_of_like(figures: Array) -> NDArray[np.int64]:
    """For each row how many are like it, itself as well: rows at a time, as calls cost more than figures."""
    counts = []
    for first in range(0, len(figures), STRIDE):
        rows = figures[first : first + STRIDE]
        within = SAME_MARK_MM + SAME_RATIO * 0.1 * np.maximum(1.0, rows[:, 3])
        alike = np.ones((len(rows), len(figures)), dtype=bool)
        for column in range(figures.shape[1]):
            alike &= np.abs(figures[None, :, column] - rows[:, None, column]) < within[:, None]
        counts.append(alike.sum(axis=1))
    return np.concatenate(counts)


def _frame(first: Array, second: Array) -> Array:
    x = first / np.linalg.norm(first)
    y = second - x * float(x @ second)
    y = y / np.linalg.norm(y)
    return np.column_stack([x, y, cross(x, y)])


def _lies_on(one: Marks, other: Marks, turn: Array) -> bool:
    """Whether every mark, turned, has a like mark of the other's at its place."""
    moved = one.points_mm @ turn.T
    within_mm = SAME_MARK_MM * 2 + 2e-5 * float(one.figures[:, 3].max(initial=0.0))
    # a few first: most turns that are wrong fail at once
    for some in (slice(0, 8), slice(8, None)):
        for first in range(some.start, min(some.stop or len(moved), len(moved)), STRIDE):
            part = slice(first, min(first + STRIDE, some.stop or len(moved)))
            gap = np.abs(other.points_mm[None] - moved[part, None]).max(axis=2) < within_mm
            size = SAME_MARK_MM + SAME_RATIO * 0.1 * np.maximum(1.0, one.figures[part, 3])
            for column in range(one.figures.shape[1]):
                gap &= (
                    np.abs(other.figures[None, :, column] - one.figures[part, None, column]) < size[:, None]
                )
            if not gap.any(axis=1).all():
                return False
    return True


def is_handed(solid: Figures) -> bool:
    """Whether a solid differs from its mirror image."""
    return motion_between(solid, solid, mirrored=True) is None


def hand_of(solid: Figures) -> int:
    """1 or -1 for the two mirror images of a handed solid, 0 when the figures below cannot tell.

    Triple product of M₀, M₁, M₂ with Mₙ = Σ area · distanceⁿ · centre over the faces, from the
    centroid: a mirror turns its sign, a motion keeps it. Where it vanishes (an axis of symmetry), M₀
    is multiplied with the axial vector of the commutator of two second moments, which behaves alike.
    """
    places, areas = _pieces(solid)
    if not len(places):
        return 0
    points = places - solid.centroid_mm
    reach = float(np.linalg.norm(points, axis=1).max(initial=0.0)) or 1.0
    points = points / reach
    areas = areas / float(areas.sum() or 1.0)
    distances = np.linalg.norm(points, axis=1)
    polar = [(areas * distances**power) @ points for power in (0, 1, 2)]
    triple = float(polar[0] @ cross(polar[1], polar[2]))
    seconds = [np.einsum("i,ij,ik->jk", areas * distances**power, points, points) for power in (0, 1)]
    turn = seconds[0] @ seconds[1] - seconds[1] @ seconds[0]
    axial = np.array([turn[2, 1], turn[0, 2], turn[1, 0]])
    for value in (triple, float(polar[0] @ axial), float(polar[1] @ axial)):
        if abs(value) > CLEAR_HAND:
            return 1 if value > 0 else -1
    return 0


def _pieces(solid: Figures) -> tuple[Array, Array]:
    """Centres (n, 3) and areas (n,) of the faces; of a mesh, of its triangles."""
    if solid.faces:
        return np.array([face.centre_mm for face in solid.faces]), np.array(
            [face.area_mm2 for face in solid.faces]
        )
    triangles = getattr(solid, "triangles", None)
    if triangles is None or not len(triangles):
        return np.zeros((0, 3)), np.zeros(0)
    corners = solid.points_mm[triangles]  # type: ignore[attr-defined]
    doubled = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return corners.mean(axis=1), np.linalg.norm(doubled, axis=1) / 2


def digest_of_shape(solid: Figures, *, handed: bool) -> str:
    """A name by content, 16 hexadecimal digits; equal for repeats in whatever position, but for one in
    some thousands whose figures fall on the edge of rounding."""
    kinds = sorted((face.kind.value, face.hollow) for face in solid.faces)
    figures = [f"{value:.4g}" for value in (solid.volume_mm3, solid.area_mm2, *solid.moments_mm5)]
    hand = hand_of(solid) if handed else 0
    return hashlib.blake2b(repr((kinds, figures, hand)).encode(), digest_size=8).hexdigest()
