"""A shape file that is many times too large: its holes open deep inside it, or it dwarfs the whole machine.

The holes of a shape that is too small open outside it (`shape_scale`); those of one that is too large lie
inside, so what tells is where they open, and what stands beside it.
"""

from __future__ import annotations

import numpy as np

from trysquare.fit.shape_scale import SLACK_MM, hole_mouths_mm, shapes_in_use
from trysquare.ground.errors import ReadingError
from trysquare.ground.findings import Finding
from trysquare.ground.placement import Array
from trysquare.machine.values import Machine, PartType
from trysquare.solid.shapes import makes_solid, solid_of

TIMES = {
    25.4: "a drawing in inches that was taken to millimetres twice",
    10.0: "a drawing in millimetres that was read as centimetres",
    1000.0: "a drawing in millimetres that was read as metres",
}
"""How many times too large a file comes out when units are mistaken, and by which mistake."""
LARGER_THAN_MACHINE = 2.0
"""No part is so many times as long as all others of its machine together; common practice, no source."""
LEAST_MM = 2.0
"""No part that is drawn is shorter; common practice, no source."""
ALONE = 3
"""Of fewer other parts with a solid nothing can be told of a machine's size; common practice, no source."""


def too_large_findings(machine: Machine, unusable: set[str]) -> list[Finding]:
    """One finding for each placed part type whose shape file is 10, 25.4 or 1000 times too large."""
    found: list[Finding] = []
    for part_type, low, high in shapes_in_use(machine, unusable):
        times, why = _by_holes(part_type, low, high)
        if not times:
            times, why = _by_others(machine, part_type, low, high, unusable)
        if times:
            found.append(_finding(machine, part_type, high - low, times, why))
    return found


def _by_holes(part_type: PartType, low: Array, high: Array) -> tuple[tuple[float, ...], str]:
    """The factor at which the holes would open on the box's outside, where now none does; () for none."""
    mouths = hole_mouths_mm(part_type)
    if len(mouths) < 2 or (_depth_mm(mouths, low, high) < SLACK_MM).any():
        return (), ""
    for times in sorted(TIMES):
        depth = _depth_mm(mouths, low / times, high / times)
        if (depth >= -SLACK_MM).all() and (depth <= SLACK_MM).mean() > 0.5:  # more than half
            inside = f"its {len(mouths)} holes open deep inside it"
            return (times,), f"{inside}, and on its outside when it is {times:g} times smaller"
    return (), ""


def _depth_mm(points: Array, low: Array, high: Array) -> Array:
    """How deep each point (n, 3) lies in a box, below 0 outside of it."""
    depth: Array = np.minimum(points - low, high - points).min(axis=1)
    return depth


def _by_others(
    machine: Machine, part_type: PartType, low: Array, high: Array, unusable: set[str]
) -> tuple[tuple[float, ...], str]:
    """The factors at which the shape is no longer than all other parts together; () when it is so now."""
    corners: list[Array] = []
    for placed in machine.placed:
        if placed.type.id == part_type.id or placed.type.id in unusable or not makes_solid(placed.type):
            continue
        try:
            box = solid_of(placed.type, machine.folder).box_mm
        except ReadingError:
            continue  # said already
        grid = np.stack(np.meshgrid(*box.T), axis=-1).reshape(-1, 3)
        corners.append(grid @ placed.placement.turn.T + np.asarray(placed.placement.origin_mm))
    if len(corners) < ALONE:
        return (), ""
    points = np.concatenate(corners)
    whole_mm = float((points.max(axis=0) - points.min(axis=0)).max())
    longest_mm = float((high - low).max())
    if longest_mm <= LARGER_THAN_MACHINE * whole_mm:
        return (), ""
    times = tuple(
        one for one in sorted(TIMES) if longest_mm / one <= whole_mm and longest_mm / one >= LEAST_MM
    )
    return times, f"all other parts of the machine together are {whole_mm:.4g} mm long"


def _finding(
    machine: Machine, part_type: PartType, size_mm: Array, all_times: tuple[float, ...], why: str
) -> Finding:
    looks = " or ".join(
        f"{times:g} times too large ({TIMES[times]}): then {part_type.id} is {_size(size_mm / times)} mm"
        for times in all_times
    )
    return Finding(
        code="shape-too-large",
        says=f"{part_type.shape_file} is {_size(size_mm)} mm large: {why}. It looks {looks}.",
        parts=tuple(part.id for part in machine.placed if part.type.id == part_type.id),
        where=part_type.where,
        value=float(size_mm.max()),
        limit=float(size_mm.max() / all_times[0]),
        unit="mm",
        remedy=f"Measure {part_type.id}, then export {part_type.shape_file} again in millimetres, "
        f"{' or '.join(f'{times:g}' for times in all_times)} times smaller.",
    )


def _size(sides_mm: Array) -> str:
    return " x ".join(f"{side:.4g}" for side in sides_mm)
