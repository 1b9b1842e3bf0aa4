"""Pieces in a box, and pieces that a step goes without: values that need nothing of a machine to be read."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLot:
    """Pieces of one part in one box. `grade` as the box says it; `length_mm` of each, for rolls, else 0."""

    box: str
    part: str
    pieces: int
    grade: str = ""
    length_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lack:
    """What a step goes without. `pieces` 0 for what is used up and not counted. `served` of the part
    are held for this and earlier steps, of `wanted`."""

    step: int
    part: str
    pieces: int
    served: int
    wanted: int
    places: tuple[str, ...] = ()
