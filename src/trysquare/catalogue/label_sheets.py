"""Sheets of labels as they are sold, and plain sheets to cut."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from trysquare.catalogue.designation import near
from trysquare.catalogue.rows import rows
from trysquare.catalogue.unknown import UnknownDesignation

PAPERS_MM: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height of a sheet, upright. Source: ISO 216:2007 (A4); ASME Y14.1 (letter, 8.5 × 11 inch)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSheet:
    """Where the labels lie on a sheet: the first one's corner from the sheet's upper left corner, and the
    step to the next one. `cut`: a plain sheet, with lines to cut along."""

    name: str
    paper: str
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    step_x_mm: float
    step_y_mm: float
    cut: bool
    source: str

    @property
    def count(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows

    @property
    def bottom_mm(self) -> float:
        """What the last row leaves free below itself."""
        last_mm = self.top_mm + (self.rows - 1) * self.step_y_mm + self.height_mm
        return PAPERS_MM[self.paper][1] - last_mm

    def corner_mm(self, index: int) -> tuple[float, float]:
        """Upper left corner of a label; they are counted from 0, row by row."""
        row, column = divmod(index, self.columns)
        return (self.left_mm + column * self.step_x_mm, self.top_mm + row * self.step_y_mm)


@cache
def label_sheets() -> dict[str, LabelSheet]:
    """All sheets by name, as the table has them."""
    return {
        row["name"]: LabelSheet(
            name=row["name"],
            paper=row["paper"],
            columns=int(row["columns"]),
            rows=int(row["rows"]),
            width_mm=float(row["width_mm"]),
            height_mm=float(row["height_mm"]),
            left_mm=float(row["left_mm"]),
            top_mm=float(row["top_mm"]),
            step_x_mm=float(row["step_x_mm"]),
            step_y_mm=float(row["step_y_mm"]),
            cut=row["cut"] == "yes",
            source=row["source"],
        )
        for row in rows("label_sheets")
    }


def label_sheet(name: str) -> LabelSheet:
    """The sheet of a name; raises UnknownDesignation with the nearest names."""
    sheets = label_sheets()
    if name.casefold() not in sheets:
        raise UnknownDesignation(
            read=name,
            expected=f"a sheet of labels: {', '.join(sheets)}",
            suggestions=(nearest := near(name, sheets)),
            where="label sheet",
            remedy="" if nearest else "Choose one of these; a4-cut and letter-cut are plain sheets to cut.",
        )
    return sheets[name.casefold()]
