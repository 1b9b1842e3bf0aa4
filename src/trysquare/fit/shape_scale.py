"""A shape file that does not hold the part's own holes: drawn in another unit, or from another origin."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from trysquare.ground.errors import ReadingError
from trysquare.ground.findings import Finding
from trysquare.ground.placement import Array
from trysquare.machine.values import Machine, PartType
from trysquare.solid.shapes import solid_of

SLACK_MM = 0.5
"""A mouth so far outside its shape may be a rounded edge; common practice, no source."""
LARGEST = 4.0
"""A part is seldom so many times as large as its holes reach; common practice, no source."""
UNITS = {"inches": 25.4, "metres": 1000.0, "centimetres": 10.0, "thousandths of a millimetre": 0.001}
"""Millimetres in what a file may have been drawn in. Source: an inch by the international agreement of 1959,
from memory."""


def scale_findings(machine: Machine, unusable: set[str]) -> list[Finding]:
    """One finding for each placed part type whose holes open outside the box round its shape file."""
    found: list[Finding] = []
    for part_type, low, high in shapes_in_use(machine, unusable):
        holes = hole_mouths_mm(part_type)
        if not len(holes):
            continue
        far = _outside_mm(holes, low, high)
        if (far > SLACK_MM).any():
            found.append(_finding(machine, part_type, holes, low, high, far))
    return found


def hole_mouths_mm(part_type: PartType) -> Array:
    """Where the holes of a part open, array (n, 3), in its own coordinates."""
    return np.array([hole.at_mm for hole in part_type.holes], dtype=float).reshape(-1, 3)


def shapes_in_use(machine: Machine, unusable: set[str]) -> Iterator[tuple[PartType, Array, Array]]:
    """Each placed part type that has a shape file, and the corners of the box round it."""
    placed = {part.type.id: part.type for part in machine.placed}
    for part_type in placed.values():
        if not part_type.shape_file or part_type.id in unusable:
            continue
        try:
            solid = solid_of(part_type, machine.folder)
        except ReadingError:
            continue  # said already
        yield part_type, np.asarray(solid.low_mm), np.asarray(solid.high_mm)


def _outside_mm(points: Array, low: Array, high: Array) -> Array:
    """How far each point (n, 3) lies outside a box, 0 inside."""
    far: Array = np.maximum(np.maximum(low - points, points - high), 0.0).max(axis=1)
    return far


def _finding(
    machine: Machine, part_type: PartType, holes: Array, low: Array, high: Array, far: Array
) -> Finding:
    worst = part_type.holes[int(far.argmax())]
    size = " x ".join(f"{side:.4g}" for side in high - low)
    fits = [
        name
        for name, scale in sorted(UNITS.items(), key=lambda one: one[1])
        if (_outside_mm(holes, low * scale, high * scale) <= SLACK_MM * max(1.0, scale)).all()
        and (high - low).max() * scale <= LARGEST * np.abs(holes).max()
    ]
    unit = f" If it was drawn in {fits[0]}, it would hold them all." if fits else ""
    outside = int((far > SLACK_MM).sum())
    return Finding(
        code="holes-outside-shape",
        says=f"{part_type.shape_file} is {size} mm large, and {outside} of the {len(holes)} holes of "
        f"{part_type.id} open outside it, {worst.name} by {far.max():.4g} mm.{unit}",
        parts=tuple(part.id for part in machine.placed if part.type.id == part_type.id),
        where=part_type.where,
        value=float(far.max()),
        limit=SLACK_MM,
        unit="mm",
        remedy=f"Export {part_type.shape_file} again in millimetres."
        if fits
        else "Export it again about the origin that the holes are measured from, or mend the holes.",
    )
