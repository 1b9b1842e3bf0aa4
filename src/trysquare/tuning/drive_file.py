"""Tables of an axis: travels as commanded and measured, or positions at targets, each with its side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trysquare.ground.errors import ReadingError, ReadingErrors, Where
from trysquare.tuning.named_rows import Row, named_rows, refuse_faults

TRAVEL_EXAMPLE = "commanded_mm,measured_mm,from"
TARGET_EXAMPLE = "target_mm,position_mm,from"
SIDES = ("below", "above")
_FARTHEST_MM = 20_000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Travels:
    """Rows of travels, arrays of shape (n,); `lines`: of the file."""

    commanded_mm: NDArray[np.float64]
    measured_mm: NDArray[np.float64]
    from_above: NDArray[np.bool_]
    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Targets:
    """Positions at targets: targets (m,), from below and from above (m, n), ISO 230-2's arrangement.

    `left_out`: readings beyond the n that every target has from both sides.
    """

    targets_mm: NDArray[np.float64]
    up_mm: NDArray[np.float64]
    down_mm: NDArray[np.float64]
    left_out: int


def parse_drive(text: str, file: str) -> Travels | Targets:
    """Reads whichever table it is, by its heading. Raises ReadingErrors."""
    heading = next(
        (line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")), ""
    )
    if "target" in heading.casefold():
        return _targets(named_rows(text, file, ("target_mm", "position_mm", "from"), TARGET_EXAMPLE), file)
    return _travels(named_rows(text, file, ("commanded_mm", "measured_mm"), TRAVEL_EXAMPLE))


def _side(row: Row) -> str:
    known = {"up": "below", "+": "below", "down": "above", "-": "above"}
    text = row.cells.get("from", "").casefold()
    return known[text] if text in known else row.word("from", SIDES, default="below")


def _travels(rows: list[Row]) -> Travels:
    found = [
        (
            row.number("commanded_mm", above=-_FARTHEST_MM, most=_FARTHEST_MM),
            row.number("measured_mm", above=-_FARTHEST_MM, most=_FARTHEST_MM),
            _side(row) == "above",
            row.line,
        )
        for row in rows
    ]
    refuse_faults(rows)
    return Travels(
        commanded_mm=np.array([one[0] for one in found]),
        measured_mm=np.array([one[1] for one in found]),
        from_above=np.array([one[2] for one in found]),
        lines=tuple(one[3] for one in found),
    )


def _targets(rows: list[Row], file: str) -> Targets:
    sides: dict[float, dict[str, list[float]]] = {}
    for row in rows:
        target = row.number("target_mm", above=-_FARTHEST_MM, most=_FARTHEST_MM)
        position = row.number("position_mm", above=-_FARTHEST_MM, most=_FARTHEST_MM)
        side = _side(row)
        if not row.problems and abs(position - target) > max(5.0, 0.2 * abs(target)):
            row.fault(
                "position_mm", f"about the target, {target:g}", "Is it a deviation? Write the position."
            )
        if not row.problems:
            sides.setdefault(target, {"below": [], "above": []})[side].append(position)
    refuse_faults(rows)
    targets = sorted(sides)
    fewest = min(len(sides[target][side]) for target in targets for side in SIDES)
    if len(targets) < 2 or fewest < 2:
        raise ReadingErrors([
            ReadingError(
                where=Where(file=file),
                read=f"{len(targets)} targets, the fewest approached {fewest} times from a side",
                expected="two targets or more, each twice or more from below and from above",
                remedy="ISO 230-2 wants five targets in each metre, each five times from both sides.",
            )
        ])  # fmt: skip
    up, down = (np.array([sides[target][side][:fewest] for target in targets]) for side in SIDES)
    return Targets(
        targets_mm=np.array(targets), up_mm=up, down_mm=down, left_out=len(rows) - up.size - down.size
    )
