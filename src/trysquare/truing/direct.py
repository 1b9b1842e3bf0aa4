"""Characteristics that are read as they are: forces, resistances, straightness from a sweep."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from trysquare.machine.values import Characteristic, Machine
from trysquare.truing.instruments import Gauge
from trysquare.truing.readings import Reading
from trysquare.truing.sweeps import straightness
from trysquare.truing.uncertainty import scatter_of_mean, standard_uncertainty
from trysquare.truing.verdicts import Judged, judge

LEAST_STATIONS = 3


def direct_components(
    machine: Machine, readings: Sequence[Reading], gauges: Mapping[str, Gauge]
) -> dict[str, tuple[tuple[str, Judged], ...]]:
    """For each characteristic that is read directly, or as a sweep, its components."""
    found: dict[str, tuple[tuple[str, Judged], ...]] = {}
    for one in machine.characteristics:
        mine = [each for each in readings if each.sort == "direct" and each.first == one.id]
        if mine:
            values = [each.value for each in mine]
            uncertainty = _uncertainty(mine, gauges)
            found[one.id] = (
                (f"{len(values)} × read", judge(float(np.mean(values)), uncertainty, one.limit)),
            )
        elif one.sort == "flatness":
            swept = _straight(one, readings, gauges)
            if swept:
                found[one.id] = tuple(swept)
    return found


def _uncertainty(readings: Sequence[Reading], gauges: Mapping[str, Gauge]) -> float:
    gauge = gauges.get(readings[0].instrument)
    own = readings[0].half_width_mm
    limits = standard_uncertainty(own) if own else gauge.reading_uncertainty_mm if gauge else 0.0
    known = gauge.kind.scatter_mm if gauge else 0.0
    return float(np.hypot(limits, scatter_of_mean([one.value for one in readings], known=known)))


def _straight(
    one: Characteristic, readings: Sequence[Reading], gauges: Mapping[str, Gauge]
) -> list[tuple[str, Judged]]:
    """Straightness of every part that was swept at enough stations, one face and setting at a time."""
    lines: dict[tuple[str, str, str], list[Reading]] = {}
    for reading in readings:
        part, _, spec = reading.second.partition(":")
        if reading.sort == "sweep" and part in one.of:
            side = spec.partition("@")[0]
            lines.setdefault((part, side, reading.setting), []).append(reading)
    found: list[tuple[str, Judged]] = []
    for (part, side, _), row in lines.items():
        stations = [_station(reading) for reading in row]
        known = [(at, reading.value) for at, reading in zip(stations, row, strict=True) if at is not None]
        if len({at for at, _ in known}) >= LEAST_STATIONS:
            at, height = zip(*known, strict=True)
            value = straightness(at, height).least_squares
            # the farthest on either side, each with its own reading
            spread = float(np.sqrt(2)) * _scatter(row[0], gauges)
            found.append((f"{part} {side} along {max(at) - min(at):g} mm", judge(value, spread, one.limit)))
    return found


def _scatter(reading: Reading, gauges: Mapping[str, Gauge]) -> float:
    """Within one sweep only what differs from station to station counts."""
    gauge = gauges.get(reading.instrument)
    if reading.half_width_mm or gauge is None:
        return standard_uncertainty(reading.half_width_mm)
    return float(np.hypot(gauge.reading_uncertainty_mm / 2, gauge.kind.scatter_mm))


def _station(reading: Reading) -> float | None:
    _, _, station = reading.second.partition("@")
    if not station:
        return reading.at_mm
    sign = -1.0 if station.startswith("b") else 1.0
    return sign * float(station.lstrip("ab"))
