"""What others than the screw itself can bear: limits of torque by practice, friction, head bearings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from trysquare.catalogue.rows import rows

_BEARING_SHARE = 0.9  # of the largest head: where a head rounds off; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """A number from a table of practice, with its source."""

    value: float
    source: str


@cache
def torque_limit(host: str, thread_name: str) -> Practice | None:
    """Largest torque in newton metre that a host bears; None when the table has no row.

    `host`: "tapped aluminium", "tapped plastic", "insert", "clamped plastic", "set screw".
    """
    for row in rows("torque_limits"):
        if row["host"] == host and row["thread"] == thread_name:
            return Practice(value=float(row["newton_metre"]), source=row["source"])
    return None


@cache
def friction(surface: str) -> Practice:
    """Friction coefficient of thread and head as delivered: "steel" or "stainless"."""
    for row in rows("friction"):
        if row["surface"] == surface:
            return Practice(value=float(row["coefficient"]), source=row["source"])
    raise KeyError(surface)


@cache
def assumed_pull(slot_mm: float) -> Practice:
    """Pull-out load in newton of a slot nut whose maker states none: that of the next smaller slot known."""
    table = rows("assumed_pulls")
    fitting = [row for row in table if float(row["slot_mm"]) <= slot_mm + 1e-9] or [table[0]]
    return Practice(value=float(fitting[-1]["pull_newton"]), source=fitting[-1]["source"])


@cache
def head_bearing_mm(standard: str, thread_name: str, head_mm: float) -> float:
    """Outer diameter on which a head bears, the least; nine tenths of the head where no table says it."""
    for row in rows("head_bearings"):
        if row["standard"] == standard and row["thread"] == thread_name:
            return float(row["bearing_mm"])
    return _BEARING_SHARE * head_mm
