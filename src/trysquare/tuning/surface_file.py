"""A bed's map as a table: places and heights, and what cannot be one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trysquare.tuning.named_rows import named_rows, refuse_faults
from trysquare.tuning.surface import Points

EXAMPLE = "x_mm,y_mm,z_mm"
LEAST_POINTS = 4
FARTHEST_MM = 1e4  # of any coordinate
FAR_MM = 20.0  # no bed of such a machine leans by more than this: the columns are something else


@dataclass(frozen=True, slots=True, kw_only=True)
class Map:
    """Heights as read: points_mm array (n, 3), x y z, and the line of the file that each stands in."""

    points_mm: Points
    lines: tuple[int, ...]


def parse_map(text: str, file: str) -> Map:
    """Rows of x_mm, y_mm, z_mm; z is the height of the bed, larger is nearer to the tool.

    Raises ReadingErrors: also for fewer than four points, points on one line, one place read twice far apart,
    a column that never changes where it must, heights that cannot be a bed's.
    """
    rows = named_rows(text, file, ("x_mm", "y_mm", "z_mm"), EXAMPLE)
    values = np.array(
        [
            [row.number(name, above=-FARTHEST_MM, most=FARTHEST_MM) for name in ("x_mm", "y_mm", "z_mm")]
            for row in rows
        ]
    )
    refuse_faults(rows)
    first = rows[0]
    if len(rows) < LEAST_POINTS:
        first.fault(
            "",
            f"at least {LEAST_POINTS} points, better 9 to 49; the file has {len(rows)}",
            "Probe a grid that reaches beyond the screws.",
        )
    for index, name in enumerate(("x_mm", "y_mm")):
        if not np.ptp(values[:, index]) > 0:
            first.fault(name, "places all over the bed", "All rows have the same: is it another column?")
    for row, value in zip(rows, values[:, 2] - np.median(values[:, 2]), strict=True):
        if abs(value) > FAR_MM:
            row.fault(
                "z_mm",
                f"a height within {FAR_MM:g} mm of the others",
                "Are the columns in another order, or the heights in another unit?",
            )
    if not any(row.problems for row in rows):
        spread = np.linalg.svd(values[:, :2] - values[:, :2].mean(axis=0), compute_uv=False)
        if spread[1] < 1e-3 * spread[0]:
            first.fault("x_mm", "places all over the bed", "They lie on one line: probe a grid.")
    refuse_faults(rows)
    return Map(points_mm=values, lines=tuple(row.line for row in rows))
