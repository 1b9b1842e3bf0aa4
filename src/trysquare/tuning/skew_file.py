"""Readings of a test piece as a table or as words: which plane, along what, how, and what was read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.tuning.named_rows import Row, named_rows, refuse_faults
from trysquare.tuning.skew import PLANES, Length, Side
from trysquare.tuning.skew_piece import DIRECTIONS, SIDES, USUAL_MM, nominal_mm, run_of

CALIPER_MM = (
    0.03  # half width of a caliper's reading. Source: maker sheets, DIN 862 for 0.02 mm steps, from memory
)
ROD_MM = 0.05  # its depth rod: narrow, tips easily. Common practice, no source
# What the first layer squeezes out, and what a bridge sags: common practice, no source.
UPRIGHT_MM = 0.15
EXAMPLE = "plane,along,how,measured_mm"
FAR_OFF = 0.1  # a reading that far from its nominal length is of something else


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceReading:
    """A reading with the words that it was written with; `line` 0: typed."""

    plane: str
    along: str
    how: str
    length: Length
    line: int = 0

    @property
    def name(self) -> str:
        spot = f", line {self.line}" if self.line else ""
        return f"{self.plane} {self.along} {self.how}{spot}"

    @property
    def is_upright(self) -> bool:
        """Along z from a bottom or to a bridge: faces that layers do not put where they should be."""
        return self.length.run_mm[0] == self.length.run_mm[1] == 0 and self.length.side is not Side.SAME


def parse_piece(text: str, file: str, size_mm: float = USUAL_MM) -> list[PieceReading]:
    """Rows of `plane, along, how, measured_mm`, and as you like `nominal_mm`, `within_mm`.

    `along` is an axis of the plane, or rising or falling; `nominal_mm` is needed for a piece of your own.
    Raises ReadingErrors.
    """
    rows = named_rows(text, file, ("plane", "along", "measured_mm"), EXAMPLE)
    found = [_reading(row, size_mm) for row in rows]
    refuse_faults(rows)
    return [one for one in found if one is not None]


def parse_typed(words: Sequence[str], option: str, size_mm: float = USUAL_MM) -> list[PieceReading]:
    """Each "xy rising outside 100.12", or with its nominal length "xy rising outside 141.5/141.42"."""
    rows = []
    for index, text in enumerate(words, start=1):
        parts = text.replace(",", ".").split()
        measured, _, nominal = (parts[-1] if parts else "").partition("/")
        names = ("plane", "along", "how")
        cells = dict(zip(names, parts[:-1], strict=False)) | {"measured_mm": measured, "nominal_mm": nominal}
        row = Row(file=f"{option} {index}", line=0, cells=cells, comma=False)
        if len(parts) not in (3, 4):
            row.fault("", "plane, direction, how and millimetres", "Write it so: 'xy rising outside 100.12'.")
        rows.append(row)
    found = [_reading(row, size_mm) for row in rows]
    refuse_faults(rows)
    return [one for one in found if one is not None]


def _reading(row: Row, size_mm: float) -> PieceReading | None:
    plane = row.word("plane", PLANES)
    known = (*plane, *DIRECTIONS)
    along = row.word("along", known) if plane else ""
    how = row.word("how", tuple(SIDES), default="outside")
    measured = row.number("measured_mm", above=0, most=5000)
    nominal = row.number("nominal_mm", above=0, most=5000, default=nominal_mm(how, size_mm) if how else 1.0)
    within = row.number("within_mm", above=0, most=50, default=ROD_MM if how == "through" else CALIPER_MM)
    if row.problems:
        return None
    if abs(measured - nominal) > FAR_OFF * nominal:
        row.fault(
            "measured_mm", f"about the {nominal:g} mm it should be",
            "Is it another length, or a piece of another size? --size-mm or the column nominal_mm say so.",
        )  # fmt: skip
        return None
    direction = {plane[0]: "first", plane[1]: "second"}.get(along, along)
    side = SIDES[how]
    run = run_of(plane, direction, nominal)
    upright = run[0] == run[1] == 0 and side is not Side.SAME
    return PieceReading(
        plane=plane,
        along={"first": plane[0], "second": plane[1]}.get(direction, direction),
        how=how,
        length=Length(
            run_mm=run,
            measured_mm=measured,
            half_width_mm=math.hypot(within, UPRIGHT_MM) if upright else within,
            side=side,
        ),
        line=row.line,
    )
