"""What is usual for a sort of measuring instrument: what it reads, how far, how sure, in which unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from trysquare.catalogue.rows import rows

_OTHER_NAMES = {"spring-scale": "spring-balance"}


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentKind:
    """One row of `tables/instruments.csv`: what is usual for a sort of instrument.

    `reads`: sorts of reading. `free_zero`: only differences in one setting mean anything.
    `as_difference`: the half-width is that of a difference of two readings. `own_error`: the half-width
    is the instrument's own, the same in every reading; `reading_mm` is then what comes on top each time.
    `scatter_mm`: standard deviation of repeats. `unmarked_mm_per_100`: half-width while nobody vouches
    for it. `work`: effort of one reading, relative. All of them are in `unit`, in which its half-width is
    given: "mm", "mm/m", "g", "newton", "ohm" or "hertz".
    """

    sort: str
    words: str
    reads: frozenset[str]
    free_zero: bool
    as_difference: bool
    own_error: bool
    half_width_mm: float
    reading_mm: float
    scatter_mm: float
    unmarked_mm_per_100: float
    reach_mm: float
    work: float
    unit: str
    source: str


@cache
def instrument_kinds() -> Mapping[str, InstrumentKind]:
    """All sorts of instruments, in the table's order."""
    return {
        row["sort"]: InstrumentKind(
            sort=row["sort"],
            words=row["words"],
            reads=frozenset(row["reads"].split()),
            free_zero=row["zero"] == "free",
            as_difference=row["as_difference"] == "yes",
            own_error=row["own_error"] == "yes",
            half_width_mm=float(row["half_width_mm"]),
            reading_mm=float(row["reading_mm"]),
            scatter_mm=float(row["scatter_mm"]),
            unmarked_mm_per_100=float(row["unmarked_mm_per_100"]),
            reach_mm=float(row["reach_mm"]),
            work=float(row["work"]),
            unit=row["unit"],
            source=row["source"],
        )
        for row in rows("instruments")
    }


def kind_of(sort: str, reach_mm: float) -> InstrumentKind | None:
    """The kind of an instrument by the sort that a machine's folder gives it; None for one that we do not
    know. A scale that reaches some way is a rule, else it weighs."""
    if sort == "scale" and reach_mm > 0:
        sort = "rule"
    return instrument_kinds().get(_OTHER_NAMES.get(sort, sort))


def unmarked_half_width_mm(kind: InstrumentKind, reach_mm: float) -> float:
    """The wide default for an instrument that nobody vouches for, at its reach. A level's is per metre."""
    if kind.sort == "level":
        return kind.unmarked_mm_per_100
    return kind.unmarked_mm_per_100 * reach_mm / 100
