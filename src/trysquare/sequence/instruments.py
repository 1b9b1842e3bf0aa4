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
        if reading in kind.reads
    ]
    return min((limit for limit in limits if limit is not None), default=None)


def _as_trusted(kind: InstrumentKind, owned: Instrument) -> Instrument:
    """With its kind's reach when the folder gives none, and the wide default when nobody vouches for it."""
    return replace(owned, half_width_mm=owned.trusted_half_width_mm, reach_mm=owned.reach_mm or kind.reach_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardBand:
    """Up to where a value is good, and above which it is bad. `good_to`: None where no value is ever good."""

    good_to: float | None
    bad_above: float


def guard_band(limit: float, half: float) -> GuardBand:
    """Where error limits ± `half` leave no answer about `limit`, both in one unit.

    A value counts as good or bad only where the instrument's whole error limits stand behind it.
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
        limits = limits_of(one, usual, spans)
        if limits is not None and guard_band(one.limit, limits).good_to is not None:
            found.append((limits, number, kind))
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
    diagonal = math.hypot(wide, high)
    if spans.parts < _ENOUGH_FOR_DIAGONALS or high <= 0 or not 0 < diagonal <= owned.reach_mm:
        return None
    return 100.0 * _of_two(kind, owned) * diagonal / (2 * wide * high)


def _spanning(kind: InstrumentKind, owned: Instrument, spans: Spans) -> float | None:
    """Of a distance across, read twice: it must span it."""
    return _of_two(kind, owned) if 0 < spans.between_mm <= owned.reach_mm else None


def _of_two(kind: InstrumentKind, owned: Instrument) -> float:
    """The error limits of a difference of two readings with one instrument."""
    return owned.half_width_mm * (1.0 if kind.as_difference else math.sqrt(2))


def _to_the_end(kind: InstrumentKind, owned: Instrument, spans: Spans) -> float | None:
    """A distance along the part; a comparator, without a zero, tells none."""
    return None if kind.free_zero or spans.along_mm > owned.reach_mm else owned.half_width_mm


def _on_a_carriage(_: InstrumentKind, owned: Instrument, spans: Spans) -> float | None:
    """A dial that a carriage takes along a rail."""
    return owned.half_width_mm if spans.rails else None


def _not_on_a_rail(_: InstrumentKind, owned: Instrument, spans: Spans) -> float | None:
    """A leaf under a straight edge, for which a rail is too narrow."""
    return None if spans.rails else owned.half_width_mm


def _with_a_zero(kind: InstrumentKind, owned: Instrument, _: Spans) -> float | None:
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
    "offset": {"offset": _to_the_end},
    "flatness": {"sweep": _as_it_is, "height": _not_on_a_rail, "rock": _not_on_a_rail},
    "flush": {"height": _as_it_is},
    "height-difference": {"height": _as_it_is, "offset": _with_a_zero},
    "centring": {"sweep": _as_it_is, "offset": _with_a_zero},
    "free-motion": {"direct": _in("newton")},
    "resistance": {"direct": _in("ohm")},
}
"""For each sort of characteristic the sorts of reading that tell it, with what they make of the error."""
