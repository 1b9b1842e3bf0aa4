"""Four sides and two diagonals, no machine needed: how far a frame leans, how sure that is, what to push."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trysquare.catalogue.instruments import instrument_kinds
from trysquare.truing.instruments import Gauge, usual_gauge
from trysquare.truing.uncertainty import COVERAGE
from trysquare.truing.verdicts import Judged, judge

LIMIT_MM_PER_100 = 0.1  # a frame that carries no motion itself. common practice, no source
SIDE_MM = 0.5  # how well a side is known that nobody measured. ISO 2768-1 m, 120 to 400 mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """What two diagonals tell. `lean_rad`: of the sides out of square, positive when the angle at A (and C)
    is sharp, A–C being the first diagonal. `per_100`: the same in mm per 100 mm with its U and verdict.
    `across_mm`: over `side_y_mm`. `move_mm`: how far one side is to be pushed along itself. `expected_mm`:
    what both diagonals then read, ± U. `misfit_mm`: by how much they are too long together for the sides,
    ± U."""

    lean_rad: float
    lean_uncertainty_rad: float
    per_100: Judged
    across_mm: float
    across_expanded_mm: float
    move_mm: float
    expected_mm: float
    expected_expanded_mm: float
    misfit_mm: float
    misfit_expanded_mm: float
    says: str
    decides: str


def lean_rad(side_x_mm: float, side_y_mm: float, first_mm: float, second_mm: float) -> float:
    """Angle by which a four-sided frame leans: opposite sides are taken as equal.

    Equation: first² − second² = 4 · side_x · side_y · sin(lean).
    Source: parallelogram law and law of cosines; Euclid, Elements, II.12 and II.13.
    """
    sine = (first_mm**2 - second_mm**2) / (4 * side_x_mm * side_y_mm)
    return math.asin(max(-1.0, min(1.0, sine)))


def lean_uncertainty_rad(
    side_x_mm: float,
    side_y_mm: float,
    first_mm: float,
    second_mm: float,
    side_uncertainty_mm: float,
    diagonal_uncertainty_mm: float,
) -> float:
    """Standard uncertainty of that angle from those of sides and diagonals, all independent.

    Source: JCGM 100:2008, 5.1.2, equation (10).
    """
    sine = (first_mm**2 - second_mm**2) / (4 * side_x_mm * side_y_mm)
    by_first = first_mm / (2 * side_x_mm * side_y_mm)
    by_second = second_mm / (2 * side_x_mm * side_y_mm)
    of_diagonals = math.hypot(by_first, by_second) * diagonal_uncertainty_mm
    of_sides = math.hypot(sine / side_x_mm, sine / side_y_mm) * side_uncertainty_mm
    return math.hypot(of_diagonals, of_sides) / math.sqrt(max(1e-12, 1 - sine**2))


def corner_angle_rad(side_mm: float, other_mm: float, diagonal_mm: float) -> float:
    """The angle between two sides from the line across their ends. Source: law of cosines."""
    return math.acos((side_mm**2 + other_mm**2 - diagonal_mm**2) / (2 * side_mm * other_mm))


def rectangle(
    side_x_mm: float,
    side_y_mm: float,
    first_mm: float,
    second_mm: float,
    gauge: Gauge,
    *,
    limit_mm_per_100: float = LIMIT_MM_PER_100,
    side_half_width_mm: float = SIDE_MM,
) -> Rectangle:
    """What two diagonals of a frame tell, read with one instrument."""
    side_u = side_half_width_mm / math.sqrt(3)
    u = math.hypot(gauge.reading_uncertainty_mm, gauge.kind.scatter_mm)
    lean = lean_rad(side_x_mm, side_y_mm, first_mm, second_mm)
    lean_u = lean_uncertainty_rad(side_x_mm, side_y_mm, first_mm, second_mm, side_u, u)
    judged = judge(100 * math.sin(lean), 100 * lean_u, limit_mm_per_100)
    across = side_y_mm * math.sin(lean)
    square = math.sqrt((first_mm**2 + second_mm**2) / 2)
    fits = math.hypot(side_x_mm, side_y_mm)
    misfit = square - fits
    misfit_u = math.hypot(u / math.sqrt(2), side_u * fits / math.hypot(side_x_mm, side_y_mm))
    return Rectangle(
        lean_rad=lean,
        lean_uncertainty_rad=lean_u,
        per_100=judged,
        across_mm=across,
        across_expanded_mm=COVERAGE * side_y_mm * lean_u,
        move_mm=abs(across),
        expected_mm=square,
        expected_expanded_mm=COVERAGE * u,
        misfit_mm=misfit,
        misfit_expanded_mm=COVERAGE * misfit_u,
        says=_says(first_mm, second_mm, across, square, COVERAGE * u),
        decides=_decides(side_x_mm, side_y_mm, first_mm, second_mm, judged, gauge),
    )


def _says(first: float, second: float, across: float, square: float, expanded: float) -> str:
    if first == second:
        return "Both diagonals agree: nothing to push."
    corners = "A and C" if first > second else "B and D"
    return (
        f"The longer diagonal is {'A–C' if first > second else 'B–D'}: with the joints snug push corners "
        f"{corners} towards each other, so that one side slides {abs(across):.2f} mm along itself. "
        f"Both diagonals should then read {square:.1f} ± {expanded:.1f} mm."
    )


def _decides(x: float, y: float, first: float, second: float, judged: Judged, gauge: Gauge) -> str:
    """Whether the instrument can decide at all, and which would."""
    if judged.verdict in ("good", "bad"):
        return ""
    best, widest = "", 0.0
    for sort, kind in instrument_kinds().items():
        other = usual_gauge(sort)
        if "diagonal" not in kind.reads or sort == gauge.kind.sort or not other.spans(max(first, second)):
            continue
        u = math.hypot(other.reading_uncertainty_mm, kind.scatter_mm)
        spread = 100 * COVERAGE * lean_uncertainty_rad(x, y, first, second, 0.0, u)
        if widest < spread < min(judged.limit / 2, judged.expanded):  # the plainest that is good enough
            best, widest = f"{kind.words} (± {spread:.2f} mm per 100 mm) would tell.", spread
    here = f"With {gauge.words} a lean is known to ± {judged.expanded:.2f} mm per 100 mm only."
    return f"{here} {best[:1].upper()}{best[1:]}".strip()
