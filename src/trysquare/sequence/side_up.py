"""Which side of the work must lie up for a hand with a key."""

from __future__ import annotations

from collections.abc import Iterable

from trysquare.machine.values import Fastening
from trysquare.sequence.reach import Reach

DOWN = 0.7  # a key line within 45° of straight down …
HAND_UNDER_MM = 150.0  # … cannot be reached on a table, unless a hand with a key goes under it
"""Common practice, no source: a fist and the short arm of a hexagon key."""


def floor_of(reach: Reach) -> float:
    """The height of the table: the machine's lowest point; 0 without solids."""
    low = reach.standing.crowd.box_mm[:, 2]
    return float(low.min()) if len(low) else 0.0


def side_for(fastenings: Iterable[Fastening], floor_mm: float) -> str:
    """The side that must lie up to turn these screws: "-z" when a head looks down near the table, "+z" when
    one looks up, "" when either will do."""
    ups = {_up(one, floor_mm) for one in fastenings}
    return "-z" if "-z" in ups else ("+z" if "+z" in ups else "")


def _up(one: Fastening, floor_mm: float) -> str:
    if one.axis[2] > DOWN:
        return "+z"
    return "-z" if one.axis[2] < -DOWN and one.head_mm[2] - floor_mm < HAND_UNDER_MM else ""
