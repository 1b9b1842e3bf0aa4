"""Protective earth: every point that must have a path to the inlet's pin, and what was read there."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trysquare.machine.values import Machine
from trysquare.tuning.named_rows import named_rows, refuse_faults
from trysquare.tuning.wiring import RunFigures, ends_of

LIMIT_OHM = 0.1  # beside the cord's own. Source: makers' sheets
METER_OHM = 0.2  # a multimeter with its leads taken away, ±. Common practice, no source.
OPEN_OHM = 1.0  # over this no rule calls it a path. Source: makers' sheets
OPEN, OPEN_OHM = ("ol", "o.l", "o.l.", "open", "inf", "∞"), 1e9  # as a meter shows that nothing conducts
EXAMPLE = "point,ohm,within_ohm"


@dataclass(frozen=True, slots=True, kw_only=True)
class EarthReading:
    """Resistance from the inlet's earth pin to a point, and what it is worth, ± in Ω."""

    point: str
    ohm: float
    within_ohm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EarthPoint:
    """A point: what its wires should read (None: no earth wire leads there), what was read, the limit."""

    part: str
    label: str  # of the last wire to it
    wires_ohm: float | None
    limit_ohm: float
    reading: EarthReading | None

    @property
    def state(self) -> str:
        """One of good, bad, cannot tell, not read."""
        if self.reading is None:
            return "not read"
        low = self.reading.ohm - self.reading.within_ohm
        high = self.reading.ohm + self.reading.within_ohm
        if low > self.limit_ohm:
            return "bad"
        return "good" if high <= self.limit_ohm else "cannot tell"


def parse_earth(text: str, file: str) -> list[EarthReading]:
    """Readings by point. Raises ReadingErrors."""
    rows = named_rows(text, file, ("point", "ohm"), EXAMPLE)
    found = []
    for row in rows:
        point = row.cells.get("point", "")
        if not point:
            row.fault("point", "the name of an earth point, as the list shows it", "Write it.")
        ohm = OPEN_OHM if row.cells.get("ohm", "").casefold() in OPEN else row.number("ohm", most=OPEN_OHM)
        if ohm < 0:
            row.fault("ohm", "0 or more", "Read it again, and take the touching probes' reading away once.")
        found.append(
            EarthReading(
                point=point,
                ohm=ohm,
                within_ohm=row.number("within_ohm", above=0, most=1e3, default=METER_OHM),
            )
        )
    refuse_faults(rows)
    return found


def ohm_words(ohm: float) -> str:
    """A resistance as a meter is read: its figures, or that nothing conducts."""
    return "open" if ohm >= OPEN_OHM else f"{ohm:g} Ω"


def earth_points(
    machine: Machine, figures: Sequence[RunFigures], readings: Sequence[EarthReading], cord_ohm: float
) -> tuple[list[EarthPoint], list[str]]:
    """Every point of the machine, and the names that were read but are none of them.

    The points are those of its resistance characteristics, and every part that an earth wire ends at. A
    part's short name will do where it is the only one of that name. The last reading of a point counts.
    """
    limit = cord_ohm + min(
        (one.limit for one in machine.characteristics if one.sort == "resistance"), default=LIMIT_OHM
    )
    wires = _ways(machine, figures)
    asked = [name for one in machine.characteristics if one.sort == "resistance" for name in one.of]
    names = list(dict.fromkeys([*asked, *wires]))
    by_name: dict[str, EarthReading] = {}
    strangers = []
    for reading in readings:
        fits = [name for name in names if reading.point in (name, name.rpartition("/")[2])]
        if len(fits) == 1:
            by_name[fits[0]] = reading
        else:
            strangers.append(reading.point)
    points = [
        EarthPoint(
            part=name, label=wires.get(name, ("", 0.0))[0],
            wires_ohm=wires[name][1] if name in wires else None, limit_ohm=limit, reading=by_name.get(name),
        )
        for name in names
    ]  # fmt: skip
    return points, strangers


def _ways(machine: Machine, figures: Sequence[RunFigures]) -> Mapping[str, tuple[str, float]]:
    """For each part that earth wires reach from where mains enters: the last wire and the sum of their Ω.

    Resistances at 20 °C; the mains cable brings the earth pin along in its third core.
    """
    edges: dict[str, list[tuple[str, str, float]]] = {}
    starts = []
    for one in figures:
        if one.run.role not in ("earth", "mains"):
            continue
        begin, end = ends_of(machine, one.run)
        if one.run.role == "mains":
            if one.run.cores < 3:
                continue
            starts.append(begin)
        ohm = one.wire.resistance_ohm_per_km / 1e6 * one.run.length_mm
        edges.setdefault(begin, []).append((end, one.run.label, ohm))
        edges.setdefault(end, []).append((begin, one.run.label, ohm))
    found: dict[str, tuple[str, float]] = {}
    waiting = [(0.0, start, "") for start in starts]
    while waiting:
        ohm, part, label = heapq.heappop(waiting)
        if part in found:
            continue
        found[part] = (label, ohm)
        for other, other_label, more in edges.get(part, ()):
            if other not in found:
                heapq.heappush(waiting, (ohm + more, other, other_label))
    for start in starts:
        found.pop(start, None)
    return found
