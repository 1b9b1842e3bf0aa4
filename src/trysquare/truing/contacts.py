"""Where two parts lie flat against each other: the faces of their boxes, and the rectangle they share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array, Placement, cross

TOUCHING_MM = 0.3  # faces drawn this near are meant to touch; a drawing's rounding, not a workshop's
LEAST_PATCH_MM2 = 4.0  # edges that only meet hold nothing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Box:
    """A part's own box in its place. `half_mm` (3,) along its own axes; `middle_mm` (3,), machine frame."""

    placement: Placement
    low_mm: Array
    high_mm: Array

    @property
    def middle_mm(self) -> Array:
        return self.placement.point((self.low_mm + self.high_mm) / 2)

    @property
    def half_mm(self) -> Array:
        return (self.high_mm - self.low_mm) / 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """The rectangle two parts share. `at_mm`: its middle, machine frame. `axes` (3, 3): columns are the
    normal from the second part into the first, then the two directions along the first's face.
    `half_mm` (2,): half its size along those two. `face`, `other_face`: axis and sign of either face.
    """

    at_mm: Array
    axes: Array
    half_mm: Array
    face: tuple[int, int]
    other_face: tuple[int, int]

    @property
    def area_mm2(self) -> float:
        return float(4 * self.half_mm[0] * self.half_mm[1])


def patch_between(one: Box, other: Box) -> Patch | None:
    """The largest rectangle in which faces of two boxes meet; None when none do."""
    best: Patch | None = None
    apart = other.middle_mm - one.middle_mm
    for axis in range(3):
        way = one.placement.turn[:, axis]
        sign = 1 if float(apart @ way) >= 0 else -1
        for other_axis in range(3):
            dot = float(way @ other.placement.turn[:, other_axis])
            if abs(dot) < 1 - 1e-6:
                continue
            other_sign = -sign if dot > 0 else sign
            gap = sign * float(apart @ way) - one.half_mm[axis] - other.half_mm[other_axis]
            if abs(gap) > TOUCHING_MM:
                continue
            patch = _shared(one, other, (axis, sign), (other_axis, other_sign))
            if patch is not None and (best is None or patch.area_mm2 > best.area_mm2):
                best = patch
    return best


def _shared(one: Box, other: Box, face: tuple[int, int], other_face: tuple[int, int]) -> Patch | None:
    axis, sign = face
    u, v = (one.placement.turn[:, index] for index in range(3) if index != axis)
    half = np.array([one.half_mm[index] for index in range(3) if index != axis])
    centre = one.middle_mm + sign * one.half_mm[axis] * one.placement.turn[:, axis]
    corners = _corners(other, other_face) - centre
    flat = _clipped(np.stack([corners @ u, corners @ v], axis=1), half)
    if len(flat) < 3:
        return None
    low, high = flat.min(axis=0), flat.max(axis=0)
    size = (high - low) / 2
    if 4 * size[0] * size[1] < LEAST_PATCH_MM2:
        return None
    middle = (low + high) / 2
    normal = -sign * one.placement.turn[:, axis]
    # a right-handed frame that begins with the normal
    axes = np.column_stack([normal, u, v])
    if float(cross(u, v) @ normal) < 0:
        axes = np.column_stack([normal, v, u])
        size = size[::-1]
    at = centre + middle[0] * u + middle[1] * v
    return Patch(at_mm=at, axes=axes, half_mm=size.copy(), face=face, other_face=other_face)


def _corners(box: Box, face: tuple[int, int]) -> Array:
    """The four corners of a face, in order around it, machine frame."""
    axis, sign = face
    p, q = (index for index in range(3) if index != axis)
    found = []
    for along, across in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        own = (box.low_mm + box.high_mm) / 2
        own = own.copy()
        own[axis] += sign * box.half_mm[axis]
        own[p] += along * box.half_mm[p]
        own[q] += across * box.half_mm[q]
        found.append(own)
    return box.placement.point(np.array(found))


def _clipped(polygon: Array, half: Array) -> Array:
    """A polygon (n, 2) cut to the rectangle ± half.

    Source: Sutherland and Hodgman, Reentrant polygon clipping, 1974 (method, from memory).
    """
    points = list(polygon)
    for axis in range(2):
        for sign in (1.0, -1.0):
            kept: list[Array] = []
            for index, point in enumerate(points):
                before = points[index - 1]
                inside = sign * point[axis] <= half[axis] + 1e-9
                was = sign * before[axis] <= half[axis] + 1e-9
                if inside != was:
                    share = (sign * half[axis] - before[axis]) / (point[axis] - before[axis])
                    kept.append(before + share * (point - before))
                if inside:
                    kept.append(point)
            points = kept
    return np.array(points).reshape(-1, 2)
