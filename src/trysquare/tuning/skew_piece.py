"""Our test piece for skew and scale: a ring with eight flats, so that jaws never touch a corner.

Along both axes and both diagonals two flats lie opposite each other, outside and inside, and a hole through
one wall lets a depth rod read from an outer flat to the inner flat that looks the same way. Seen with its
dotted face towards you, its first axis points to the right and its second one up; dots name them: one for x,
two for y, three for z.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from manifold3d import Manifold

from trysquare.ground.placement import Array
from trysquare.solid.bodies import aimed, bore
from trysquare.tuning.skew import AXES, PLANES, Side

WALL_MM, THICK_MM = 12.0, 16.0
BEVEL_MM = 1.0  # takes away what the first layer squeezes out, and the burr of a cutter
HOLE_MM = 6.0  # a caliper's depth rod is 3 to 4 mm wide
DOT_MM, DOT_DEEP_MM, DOT_APART_MM = 3.0, 1.0, 4.5
USUAL_MM, LEAST_MM, MOST_MM = 100.0, 60.0, 500.0
DOTS = {"x": 1, "y": 2, "z": 3}
DIRECTIONS = ("first", "second", "rising", "falling")
"""Along the plane's first axis, its second, from low-low to high-high, from low-high to high-low."""

_HALF_TURN_OF_A_FLAT_DEG = 22.5
# Own first, second and face direction in the machine's: seen from above, from the front, from the right.
_TURNS = {
    "xy": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "xz": ((1, 0, 0), (0, 0, 1), (0, -1, 0)),
    "yz": ((0, 1, 0), (0, 0, 1), (1, 0, 0)),
}
SEEN_FROM = {"xy": "above", "xz": "the front", "yz": "the right"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceLength:
    """One length of the piece: its plane, its direction of `DIRECTIONS`, how it is read, its nominal."""

    plane: str
    along: str
    how: str  # "outside", "inside" or "through" (depth rod, from outer flat to inner flat)
    nominal_mm: float

    @property
    def run_mm(self) -> tuple[float, float, float]:
        """Nominal differences of x, y and z between its ends."""
        return run_of(self.plane, self.along, self.nominal_mm)

    @property
    def side(self) -> Side:
        return SIDES[self.how]


SIDES = {"outside": Side.OUTSIDE, "inside": Side.INSIDE, "through": Side.SAME}


def run_of(plane: str, along: str, nominal_mm: float) -> tuple[float, float, float]:
    """A length along a direction of a plane as differences of x, y and z."""
    share = math.sqrt(0.5)
    first, second = {"first": (1.0, 0.0), "second": (0.0, 1.0), "rising": (share, share),
                     "falling": (share, -share)}[along]  # fmt: skip
    run = [0.0, 0.0, 0.0]
    run[AXES.index(plane[0])] += first * nominal_mm
    run[AXES.index(plane[1])] += second * nominal_mm
    return (run[0], run[1], run[2])


def nominal_mm(how: str, size_mm: float = USUAL_MM) -> float:
    """Across outer flats, across inner ones, or from an outer one to the inner one beyond the hole."""
    return size_mm - WALL_MM * {"outside": 0, "inside": 2, "through": 1}[how]


def piece_lengths(plane: str, size_mm: float = USUAL_MM) -> tuple[PieceLength, ...]:
    """All that is to be read on a piece of this plane, in the order of the sheet.

    Upright only the depth rod reads along z: outside there is the first layer, squeezed, and inside a bridge,
    which sags.
    """
    return tuple(
        PieceLength(plane=plane, along=along, how=how, nominal_mm=nominal_mm(how, size_mm))
        for along in DIRECTIONS
        for how in (("through",) if along == "second" and plane[1] == "z" else tuple(SIDES))
    )


@cache
def piece_body(plane: str, size_mm: float = USUAL_MM) -> Manifold:
    """The piece as it stands on the bed: its middle at x = y = 0, its lowest point at z = 0.

    `plane` is one of PLANES, `size_mm` across outer flats, from LEAST_MM to MOST_MM; else ValueError.
    """
    if plane not in PLANES:
        raise ValueError(f"no plane {plane!r}: expected {', '.join(PLANES)}")
    if not LEAST_MM <= size_mm <= MOST_MM:
        raise ValueError(
            f"a size of {size_mm:g} mm: expected {LEAST_MM:g} to {MOST_MM:g} mm across its flats"
        )
    body = _own_body(plane, size_mm).transform(np.hstack([turn_of(plane), np.zeros((3, 1))]))
    low_x, low_y, low_z, high_x, high_y, _ = body.bounding_box()
    return body.translate((-(low_x + high_x) / 2, -(low_y + high_y) / 2, -low_z))


def turn_of(plane: str) -> Array:
    """(3, 3): takes the piece's own first, second and face direction to the machine's x, y, z."""
    return np.array(_TURNS[plane], dtype=np.float64).T


def _own_body(plane: str, size_mm: float) -> Manifold:
    """First axis along x, second along y, back face at z = 0, dotted face at z = THICK_MM."""
    inner, bevel, top = size_mm - 2 * WALL_MM, BEVEL_MM, THICK_MM
    middle = _frustum(size_mm, size_mm, bevel, top - bevel)
    body = middle + _frustum(size_mm - 2 * bevel, size_mm, 0, bevel)
    body += _frustum(size_mm, size_mm - 2 * bevel, top - bevel, top)
    wide = inner + 2 * bevel
    body -= _frustum(inner, inner, -1, top + 1)
    body -= _frustum(wide + 2, inner, -1, bevel) + _frustum(inner, wide + 2, top - bevel, top + 1)
    for degrees in (0, 45, 90, 135):
        way = (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)), 0.0)
        from_mm, to_mm = size_mm / 2 - WALL_MM - 1, size_mm / 2 + 1
        body -= aimed(bore(HOLE_MM, from_mm, to_mm), (0.0, 0.0, top / 2), way)
    dot = bore(DOT_MM, top - DOT_DEEP_MM, top + 1)
    far = size_mm / 2 - WALL_MM / 2
    for number, axis in enumerate(plane):
        for shift in _dot_shifts(DOTS[axis]):
            body -= dot.translate((far, shift, 0.0) if number == 0 else (shift, far, 0.0))
    return body


def _dot_shifts(count: int) -> list[float]:
    return [(index - (count - 1) / 2) * DOT_APART_MM for index in range(count)]


def _frustum(low_mm: float, high_mm: float, from_mm: float, to_mm: float) -> Manifold:
    """A piece of an eight-sided cone, given across flats at its lower and upper end; flats face ±x."""
    corner = 1 / (2 * math.cos(math.radians(_HALF_TURN_OF_A_FLAT_DEG)))
    body = Manifold.cylinder(to_mm - from_mm, low_mm * corner, high_mm * corner, 8)
    return body.rotate((0.0, 0.0, _HALF_TURN_OF_A_FLAT_DEG)).translate((0.0, 0.0, from_mm))
