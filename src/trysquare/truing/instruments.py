"""What each instrument can read, how far, and how sure: the builder's own, and those that one could borrow.

Three things make a reading unsure, and they are kept apart because they average out differently. What
differs from reading to reading (feel, parallax) is independent. What the instrument itself is out by (a
square's angle, a level's zero) is the same in every reading made with it, with its sign turned when the
instrument is: so two readings with the instrument turned over tell it. A comparator (dial, pinch rod) has
no zero at all: only differences of readings made in one setting mean anything.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from trysquare.catalogue.instruments import (
    InstrumentKind,
    instrument_kinds,
    kind_of,
)
from trysquare.machine.values import Instrument
from trysquare.truing.uncertainty import standard_uncertainty


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """An instrument that is at hand: its sort, its own half-width and reach (0: no end)."""

    id: str
    kind: InstrumentKind
    half_width_mm: float
    reach_mm: float
    marked: bool
    owned: bool
    source: str

    @property
    def words(self) -> str:
        return self.kind.words

    @property
    def reading_uncertainty_mm(self) -> float:
        """Standard uncertainty of one reading apart from scatter and from what all readings share."""
        if self.kind.own_error:
            return standard_uncertainty(self.kind.reading_mm)
        shared = math.sqrt(2) if self.kind.as_difference else 1.0
        return standard_uncertainty(self.half_width_mm) / shared

    @property
    def own_uncertainty_mm(self) -> float:
        """Standard uncertainty of what all its readings share, at `full_reach_mm`; 0 for most sorts."""
        return standard_uncertainty(self.half_width_mm) if self.kind.own_error else 0.0

    @property
    def full_reach_mm(self) -> float:
        """The length over which the half-width of a square or level counts."""
        if self.kind.sort == "level":
            return 1000.0
        return self.reach_mm or self.kind.reach_mm

    def can_read(self, sort: str) -> bool:
        return sort in self.kind.reads

    def spans(self, length_mm: float) -> bool:
        """Whether it reaches so far."""
        return not self.reach_mm or length_mm <= self.reach_mm * 1.001


def gauge_of(instrument: Instrument) -> Gauge | None:
    """An owned instrument; None for a sort that reads nothing a frame is trued by and no force either."""
    kind = kind_of(instrument.sort, instrument.reach_mm)
    if kind is None:
        return None
    return Gauge(
        id=instrument.id,
        kind=kind,
        half_width_mm=instrument.trusted_half_width_mm,
        reach_mm=instrument.reach_mm or kind.reach_mm,
        marked=instrument.marked,
        owned=True,
        source=instrument.source,
    )


def usual_gauge(sort: str) -> Gauge:
    """An instrument that one could borrow or buy, with the table's usual figures. Raises KeyError."""
    kind = instrument_kinds()[sort]
    return Gauge(
        id=sort,
        kind=kind,
        half_width_mm=kind.half_width_mm,
        reach_mm=kind.reach_mm,
        marked=True,
        owned=False,
        source=kind.source,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Reversal:
    """What two readings of one corner, the square turned over between them, tell: the square's own error at
    its tip and the corner's, both with standard uncertainty; positive opens the angle."""

    square_mm: float
    corner_mm: float
    uncertainty_mm: float


def reversal(gap_mm: float, turned_gap_mm: float, reading_uncertainty_mm: float) -> Reversal:
    """A square checked against itself: gaps at the tip, negative when the light is at the heel.

    Equation: gap = corner − square, turned = corner + square; so square = (turned − gap) / 2 and
    corner = (gap + turned) / 2, each with u / √2.
    Source: the reversal of a square, as in every workshop book; derived here from the two equations.
    """
    return Reversal(
        square_mm=(turned_gap_mm - gap_mm) / 2,
        corner_mm=(gap_mm + turned_gap_mm) / 2,
        uncertainty_mm=reading_uncertainty_mm / math.sqrt(2),
    )
