"""Giving back what drawings have kept for the next ones: for a process that must stay small."""

# ruff: noqa: SLF001  # the memories of its own package
from __future__ import annotations

from trysquare.solid.drawing import edges, eye, flats, lids, looks, regions

# Only answers that are found again when they are asked for; a drawing is the same with and without them.
_KEPT = (
    edges._welded, edges._edges, eye._boxes, eye._sound, eye._crowds, flats._flats, lids._covers,
    looks._looks, looks._fronts, looks._met,
)  # fmt: skip


def forget_drawings() -> None:
    """Empties every memory of this package. The next drawing takes longer, and is the same."""
    for kept in _KEPT:
        kept.clear()
    regions._shape_of.cache_clear()
    regions._flat_faces.cache_clear()
