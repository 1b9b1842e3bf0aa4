"""Which of the builder's instruments reads a characteristic best, and reaches.

What an instrument's error limits make of a characteristic depends on the way it is used: a square tells
its own error along its blade, two diagonals by tape tell their difference over the frame's sides.
Source: the uses of the instruments by common practice, no source; the equations beside them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from trysquare.catalogue.instruments import InstrumentKind, instrument_kinds, kind_of
from trysquare.catalogue.values import RailSize
from trysquare.ground.placement import Array
from trysquare.machine.values import Characteristic, Instrument, Machine, PlacedPart

# So far beyond its limit, in times of it, a value is rather a slip of the pen. Common practice, no source.
_FAR_BEYOND, _WIDE_MM = 20.0, 3.0
_ENDLESS_MM = 1e6  # longer than any machine here
_ENOUGH_FOR_DIAGONALS = 3  # members; two meet in one corner only, where nothing but a square helps


@dataclass(frozen=True, slots=True, kw_only=True)
class Spans:
    """Lengths that a characteristic's parts span. `sides_mm`: of the smallest box round their lines, the
    longest first; `between_mm`: how far the first two stand apart; `along_mm`: from the end of the first to
    the nearest end of the second, along the first; `parts`: how many there are; `rails`: one is a rail."""

    sides_mm: tuple[float, float, float]
    between_mm: float
    along_mm: float
    parts: int
    rails: bool


Reads = Callable[[InstrumentKind, Instrument, Spans], float | None]
"""Error limits of a characteristic read with an instrument, in its own unit; None when it does not reach.
The instrument's half-width and reach are those that count (`_as_trusted`)."""


def best_instrument(machine: Machine, one: Characteristic) -> Instrument | None:
    """The instrument with the narrowest error limits of those that reach; None when none does."""
    spans = spans_of(machine, one)
    found: list[tuple[float, int, Instrument]] = []
    for number, owned in enumerate(machine.instruments):
        limits = limits_of(one, owned, spans)
        if limits is not None:
            found.append((limits, number, owned))
    return min(found)[2] if found else None


def limits_of(one: Characteristic, owned: Instrument, spans: Spans) -> float | None:
    """Error limits, ±, of a characteristic read with an instrument, in the characteristic's unit; None when
    it does not reach or is no instrument for it."""
    kind = kind_of(owned.sort, owned.reach_mm)
    if kind is None:
        return None
    trusted = _as_trusted(kind, owned)
    limits = [
        reads(kind, trusted, spans)
        for reading, reads in _READS.get(one.sort, {}).items()
        if reading in kind.reads and _reach_for(one, reading, spans) <= (trusted.reach_mm or math.inf)
    ]
    return min((limit for limit in limits if limit is not None), default=None)


def expanded(half: float, scatter: float) -> float:
    """U of one reading, from its error limits ± `half` and the standard deviation of repeats, in one unit.

    Equation: U = 2 √(a²/3 + s²). Source: JCGM 100:2008, 4.3.7 (a/√3) and 6.3.3 (k = 2).
    """
    return 2.0 * math.hypot(half / math.sqrt(3.0), scatter)


def expanded_told(half: float, scatter: float) -> float:
    """The same in the two digits that an uncertainty is told with. Source: JCGM 100:2008, 7.2.6."""
    return float(f"{expanded(half, scatter):.2g}")


def expanded_of(one: Characteristic, owned: Instrument, spans: Spans) -> float | None:
    """U of a characteristic read once with an instrument, in its unit, as truing reckons it; None as
    `limits_of`."""
    half, kind = limits_of(one, owned, spans), kind_of(owned.sort, owned.reach_mm)
    return expanded(half, kind.scatter_mm) if half is not None and kind is not None else None


def is_far_beyond(value: float, limit: float) -> bool:
    """Whether a length in mm, or per 100 mm, is farther beyond its limit than any frame is."""
    return abs(value) > max(_WIDE_MM, _FAR_BEYOND * limit)


def reach_missing_mm(one: Characteristic, owned: Instrument, spans: Spans) -> float | None:
    """How far an instrument would have to reach to read a characteristic that it cannot; None when it reads
    it, and when it is no instrument for it, however long."""
    kind = kind_of(owned.sort, owned.reach_mm)
    if kind is None or kind.reach_mm <= 0 or limits_of(one, owned, spans) is not None:
        return None
    if limits_of(one, replace(owned, reach_mm=_ENDLESS_MM), spans) is None:
        return None
    return min(_reach_for(one, reading, spans) for reading in _READS[one.sort] if reading in kind.reads)


def _reach_for(one: Characteristic, reading: str, spans: Spans) -> float:
    """How far an instrument must reach for a reading: over the frame, across to the other part, along to the
    end; what reads a height, up to the limit."""
    if reading == "diagonal":
        return math.hypot(*spans.sides_mm[:2])
    if reading == "offset" and one.sort in ("parallelism", "offset"):
        return spans.between_mm if one.sort == "parallelism" else spans.along_mm
    return one.limit if reading in ("height", "rock", "sweep") and one.unit == "mm" else 0.0


def _as_trusted(kind: InstrumentKind, owned: Instrument) -> Instrument:
    """With its kind's reach when the folder gives none, and the wide default when nobody vouches for it."""
    return replace(owned, half_width_mm=owned.trusted_half_width_mm, reach_mm=owned.reach_mm or kind.reach_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardBand:
    """Up to where a value is good, and above which it is bad. `good_to`: None where no value is ever good."""

    good_to: float | None
    bad_above: float


def guard_band(limit: float, half: float) -> GuardBand:
    """Where an uncertainty ± `half` (U) leaves no answer about `limit`, both in one unit.

    Source: ISO 14253-1, the classic rule: a guard band of U on either side of the limit.
    """
    good = None if half >= limit else round(limit - half, 4)
    return GuardBand(good_to=good, bad_above=round(limit + half, 4))


def best_of_kinds(machine: Machine, one: Characteristic) -> InstrumentKind | None:
    """The sort of instrument that, as it is usually sold, can call a characteristic good, with the most room;
    None when none can."""
    spans = spans_of(machine, one)
    found: list[tuple[float, int, InstrumentKind]] = []
    for number, kind in enumerate(instrument_kinds().values()):
        usual = Instrument(
            id=kind.sort, sort=kind.sort, half_width_mm=kind.half_width_mm, reach_mm=kind.reach_mm, source=""
        )
        half = expanded_of(one, usual, spans)
        if half is not None and guard_band(one.limit, half).good_to is not None:
            found.append((half, number, kind))
    return min(found)[2] if found else None


def told_by(one: Characteristic) -> frozenset[str]:
    """The sorts of reading that tell a characteristic; empty for one that is only noted."""
    return frozenset(_READS.get(one.sort, {}))


def is_felt(one: Characteristic) -> bool:
    """Whether a characteristic is commonly told by hand or ear, without an instrument from the list."""
    return one.sort in ("free-motion", "other")


def spans_of(machine: Machine, one: Characteristic) -> Spans:
    """The spans of a characteristic's parts as they are drawn."""
    parts = [machine.part[name] for name in one.of]
    lines = [_line(part) for part in parts]
    points = np.vstack(lines) if lines else np.zeros((1, 3))
    sides = sorted((points.max(axis=0) - points.min(axis=0)).tolist(), reverse=True)
    between, along = _apart(parts[0], lines[0], lines[1]) if len(lines) > 1 else (0.0, 0.0)
    return Spans(
        sides_mm=(sides[0], sides[1], sides[2]),
        between_mm=between,
        along_mm=along,
        parts=len(parts),
        rails=any(isinstance(part.type.standard, RailSize) for part in parts),
    )


def _line(part: PlacedPart) -> Array:
    """Both ends of a part's own x axis, array (2, 3); twice its origin when it has no length."""
    size = part.type.standard
    length = size.length_mm if isinstance(size, RailSize) else part.type.length_mm
    origin = part.placement.origin_mm
    return np.vstack([origin, origin + part.placement.turn[:, 0] * length])


def _apart(part: PlacedPart, first: Array, second: Array) -> tuple[float, float]:
    """How far the second line's middle stands from the first line, and the least distance of their ends
    along it."""
    along = part.placement.turn[:, 0]
    off = second.mean(axis=0) - first[0]
    across = off - along * float(off @ along)
    ends = np.abs((first @ along)[:, None] - (second @ along)[None, :])
    return float(np.linalg.norm(across)), float(ends.min())


def _square(_: InstrumentKind, owned: Instrument, __: Spans) -> float | None:
    """Per 100 mm: its error at the tip over its blade."""
    return owned.half_width_mm / owned.reach_mm * 100.0


def _diagonals(kind: InstrumentKind, owned: Instrument, spans: Spans) -> float | None:
    """Per 100 mm, of two diagonals.

    Equation: lean = (d1² − d2²) / (4·W·H) ≈ D·(d1 − d2) / (2·W·H) with D = √(W² + H²).
    Source: Euclid, Elements, II.12 and II.13, applied to the two diagonals.
    """
    wide, high, _ = spans.sides_mm
    if spans.parts < _ENOUGH_FOR_DIAGONALS or high <= 0:
        return None
    diagonal = math.hypot(wide, high)
    return 100.0 * _of_two(kind, owned) * diagonal / (2 * wide * high)


def _spanning(kind: InstrumentKind, owned: Instrument, spans: Spans) -> float | None:
    """Of a distance across, read twice."""
    return _of_two(kind, owned) if spans.between_mm > 0 else None


def _of_two(kind: InstrumentKind, owned: Instrument) -> float:
    """The error limits of a difference of two readings with one instrument."""
    return owned.half_width_mm * (1.0 if kind.as_difference else math.sqrt(2))


def _on_a_carriage(_: InstrumentKind, owned: Instrument, spans: Spans) -> float | None:
    """A dial that a carriage takes along a rail."""
    return owned.half_width_mm if spans.rails else None


def _not_on_a_rail(_: InstrumentKind, owned: Instrument, spans: Spans) -> float | None:
    """A leaf under a straight edge, for which a rail is too narrow."""
    return None if spans.rails else owned.half_width_mm


def _with_a_zero(kind: InstrumentKind, owned: Instrument, _: Spans) -> float | None:
    """A distance or a height; a comparator, without a zero, tells none."""
    return None if kind.free_zero else owned.half_width_mm


def _as_it_is(_: InstrumentKind, owned: Instrument, __: Spans) -> float | None:
    return owned.half_width_mm


def _in(unit: str) -> Reads:
    """Read as it is, by what reads in its unit."""

    def reads(kind: InstrumentKind, owned: Instrument, _: Spans) -> float | None:
        return owned.half_width_mm if kind.unit == unit else None

    return reads


_READS: Mapping[str, Mapping[str, Reads]] = {
    "squareness": {"gap": _square, "diagonal": _diagonals},
    "twist": {"height": _as_it_is, "rock": _as_it_is},
    "parallelism": {"offset": _spanning, "sweep": _on_a_carriage},
    "offset": {"offset": _with_a_zero},
    "flatness": {"sweep": _as_it_is, "height": _not_on_a_rail, "rock": _not_on_a_rail},
    "flush": {"height": _as_it_is},
    "height-difference": {"height": _as_it_is, "offset": _with_a_zero},
    "centring": {"sweep": _as_it_is, "offset": _with_a_zero},
    "free-motion": {"direct": _in("newton")},
    "resistance": {"direct": _in("ohm")},
}
"""For each sort of characteristic the sorts of reading that tell it, with what they make of the error."""
