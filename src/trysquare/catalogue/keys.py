"""Hexagon keys: how far their arms reach."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from trysquare.catalogue.rows import rows


@dataclass(frozen=True, slots=True, kw_only=True)
class HexKey:
    """A bent hexagon key. Arms are measured along their outer side.

    `corners_mm`: across the corners of the hexagon, the least round hole it passes.
    """

    size_mm: float
    corners_mm: float
    long_mm: float
    short_mm: float
    source: str


@cache
def hex_key(size_mm: float) -> HexKey:
    """The key of a size across flats; a size between two rows takes the next larger one's arms.

    Source: ISO 2936 (arms, from memory); corners = flats · 2/√3.
    """
    table = rows("hex_keys")
    row = next((row for row in table if float(row["size_mm"]) >= size_mm - 1e-9), table[-1])
    return HexKey(
        size_mm=size_mm,
        corners_mm=size_mm * 2 / math.sqrt(3),
        long_mm=float(row["long_mm"]),
        short_mm=float(row["short_mm"]),
        source=row["source"],
    )
