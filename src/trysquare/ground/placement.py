"""Rigid placements: where a part stands and which way it is turned."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.tolerances import SAME_DIRECTION

Array: TypeAlias = NDArray[np.float64]
Triple: TypeAlias = tuple[float, float, float]

DIRECTIONS: dict[str, Triple] = {
    "+x": (1.0, 0.0, 0.0),
    "-x": (-1.0, 0.0, 0.0),
    "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0),
    "+z": (0.0, 0.0, 1.0),
    "-z": (0.0, 0.0, -1.0),
}
"""Directions by name. In the machine frame +x is right, +y is back, +z is up."""

SIDES = (("left", "right"), ("front", "back"), ("bottom", "top"))


def side(direction: Array) -> str:
    """The side of the machine a direction looks to; "" when it looks askew."""
    axis = int(np.argmax(np.abs(direction)))
    if abs(float(direction[axis])) < 0.995:
        return ""
    return SIDES[axis][int(direction[axis] > 0)]


@dataclass(frozen=True, slots=True, eq=False)
class Placement:
    """Takes a part's own coordinates to the machine frame: ``machine = turn @ part + origin_mm``.

    `turn`: array (3, 3), a proper rotation, columns are the part's own x, y, z in the machine
    frame. `origin_mm`: array (3,), the part's origin in the machine frame.
    """

    turn: Array = field(default_factory=lambda: np.eye(3))
    origin_mm: Array = field(default_factory=lambda: np.zeros(3))

    def point(self, part_mm: Triple | Array) -> Array:
        """A point, or array (n, 3) of points, from part to machine coordinates."""
        points: Array = np.asarray(part_mm, dtype=float) @ self.turn.T + self.origin_mm
        return points

    def direction(self, part: Triple | Array) -> Array:
        """A direction, or array (n, 3), from part to machine coordinates."""
        turned: Array = np.asarray(part, dtype=float) @ self.turn.T
        return turned

    def back(self, machine_mm: Triple | Array) -> Array:
        """A point, or array (n, 3), from machine to part coordinates."""
        points: Array = (np.asarray(machine_mm, dtype=float) - self.origin_mm) @ self.turn
        return points

    def back_direction(self, machine: Triple | Array) -> Array:
        """A direction, or array (n, 3), from machine to part coordinates."""
        turned: Array = np.asarray(machine, dtype=float) @ self.turn
        return turned

    def then(self, inner: Placement) -> Placement:
        """The placement of something placed by `inner` inside what this one places."""
        return Placement(self.turn @ inner.turn, self.turn @ inner.origin_mm + self.origin_mm)

    def inverse(self) -> Placement:
        """Takes machine coordinates back to the part's."""
        return Placement(self.turn.T.copy(), -(self.turn.T @ self.origin_mm))

    def matrix(self) -> Array:
        """Array (3, 4): rotation and origin side by side, as solid kernels want it."""
        return np.hstack([self.turn, self.origin_mm[:, None]])


def cross(one: Triple | Array, other: Triple | Array) -> Array:
    """The cross product of two vectors. For a single pair this is many times quicker than numpy's own."""
    (a, b, c), (x, y, z) = one, other
    return np.array([b * z - c * y, c * x - a * z, a * y - b * x])


def unit(direction: Triple | Array) -> Array:
    """The direction with length 1. A zero or non-finite direction raises ValueError."""
    vector = np.asarray(direction, dtype=float)
    length = float(np.linalg.norm(vector))
    if not (math.isfinite(length) and length > 1e-12):
        raise ValueError("a direction needs a length")
    return vector / length


def turned(along: Triple | Array, up: Triple | Array) -> Array:
    """Rotation (3, 3) that sends the part's own x along `along` and its own z as near `up` as it can.

    Raises ValueError when the two are parallel.
    """
    x = unit(along)
    z = np.asarray(up, dtype=float) - x * float(np.dot(x, up))
    if float(np.linalg.norm(z)) < math.sqrt(SAME_DIRECTION):
        raise ValueError("along and up are parallel")
    z = unit(z)
    return np.column_stack([x, cross(z, x), z])


def facing(z_axis: Triple | Array) -> Array:
    """A rotation (3, 3) that sends the part's own z to `z_axis`; the turn about it is any, but stable."""
    z = unit(z_axis)
    helper = np.array([1.0, 0.0, 0.0]) if abs(z[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    x = unit(helper - z * float(np.dot(helper, z)))
    return np.column_stack([x, cross(z, x), z])
