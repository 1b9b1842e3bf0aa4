"""Characteristics that are read as they are: forces, resistances, straightness from a sweep."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.machine.values import Characteristic, Machine
from trysquare.sequence.instruments import is_far_beyond
from trysquare.truing.doubts import Doubt
from trysquare.truing.instruments import Gauge
from trysquare.truing.readings import Reading
from trysquare.truing.sweeps import straightness
from trysquare.truing.uncertainty import COVERAGE, scatter_of_mean, standard_uncertainty
from trysquare.truing.verdicts import Judged, judge

LEAST_STATIONS = 3
CONTRADICTS = 2.0  # times what both uncertainties (k = 2) leave open


def direct_components(
    machine: Machine,
    readings: Sequence[Reading],
    gauges: Mapping[str, Gauge],
    set_aside: Collection[Reading] = (),
) -> dict[str, tuple[tuple[str, Judged], ...]]:
    """For each characteristic that is read directly, or as a sweep, its components.

    `set_aside`: those that do not count until somebody has answered for them.
    """
    found: dict[str, tuple[tuple[str, Judged], ...]] = {}
    for one in machine.characteristics:
        mine = [each for each in _read_as(one, readings) if each not in set_aside]
        if mine:
            value, uncertainty = combined([_group(row, gauges) for row in _alike(mine)])
            found[one.id] = ((f"{len(mine)} × read", judge(value, uncertainty, one.limit)),)
        elif one.sort == "flatness":
            swept = _straight(one, readings, gauges)
            if swept:
                found[one.id] = tuple(swept)
    return found


def _read_as(one: Characteristic, readings: Sequence[Reading]) -> list[Reading]:
    return [each for each in readings if each.sort == "direct" and each.first == one.id]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Repeats with one instrument: their mean and its standard uncertainty."""

    mean: float
    uncertainty: float
    readings: tuple[Reading, ...]


def combined(groups: Sequence[Group]) -> tuple[float, float]:
    """The mean of several instruments' means, weighed by how sure each is, and its standard uncertainty.

    Where they scatter more than they admit, the scatter counts.
    Source: weights 1/u² as in any text on weighted means; the factor is Birge's ratio, from memory.
    """
    weights = np.array([1 / max(one.uncertainty, 1e-9) ** 2 for one in groups])
    means = np.array([one.mean for one in groups])
    value = float(weights @ means / weights.sum())
    inner = 1 / math.sqrt(float(weights.sum()))
    ratio = math.sqrt(float(weights @ np.square(means - value)) / max(1, len(groups) - 1))
    return value, inner * max(1.0, ratio)


def _alike(readings: Sequence[Reading]) -> list[list[Reading]]:
    """Readings whose error limits are one and the same, which no repeat takes away."""
    groups: dict[tuple[str, float], list[Reading]] = {}
    for one in readings:
        groups.setdefault((one.instrument, one.half_width_mm), []).append(one)
    return list(groups.values())


def _group(readings: Sequence[Reading], gauges: Mapping[str, Gauge]) -> Group:
    gauge = gauges.get(readings[0].instrument)
    own = readings[0].half_width_mm
    limits = standard_uncertainty(own) if own else gauge.reading_uncertainty_mm if gauge else 0.0
    known = gauge.kind.scatter_mm if gauge else 0.0
    values = [one.value for one in readings]
    return Group(
        mean=math.fsum(values) / len(values),
        uncertainty=math.hypot(limits, scatter_of_mean(values, known=known)),
        readings=tuple(readings),
    )


def direct_doubts(
    machine: Machine, readings: Sequence[Reading], gauges: Mapping[str, Gauge]
) -> tuple[Doubt, ...]:
    """Direct readings to be asked about: far beyond anything a frame does, or against all the others."""
    found: list[Doubt] = []
    for one in machine.characteristics:
        left = []
        for each in _read_as(one, readings):
            if one.unit in ("mm", "mm/100") and is_far_beyond(each.value, one.limit):
                found.append(_not_believed(one, each))
            else:
                left.append(each)
        found += _contradicting(one, left, gauges)
    return tuple(found)


def _not_believed(one: Characteristic, reading: Reading) -> Doubt:
    times = abs(reading.value) / one.limit
    return Doubt(
        code="not-believed",
        says=f"{one.id}: read {reading.value:g} {one.unit}, {times:.0f} times its limit.",
        remedy="Did a point or a unit slip? Read it once more.",
        readings=(reading,),
        sets_aside=True,
    )


def _contradicting(
    one: Characteristic, readings: Sequence[Reading], gauges: Mapping[str, Gauge]
) -> list[Doubt]:
    """Of three or more the one that the others, which agree, speak against; of two both."""
    if len(readings) < 2:
        return []
    apart = [_apart_from(each, [x for x in readings if x is not each], gauges) for each in readings]
    worst = int(np.argmax(apart))
    if apart[worst] <= CONTRADICTS:
        return []
    others = [each for each in readings if each is not readings[worst]]
    agree = (
        len(others) > 1
        and max(_apart_from(each, [x for x in others if x is not each], gauges) for each in others) <= 1.0
    )
    told = ", ".join(f"{each.value:g}" for each in others)
    return [
        Doubt(
            code="contradicts",
            says=f"{one.id}: {readings[worst].value:g} and {told} {one.unit} contradict each other by more "
            "than their instruments leave open.",
            remedy="It does not count; read it once more."
            if agree
            else "Read it once more; the three will tell.",
            readings=(readings[worst],),
            sets_aside=agree,
        )
    ]


def _apart_from(one: Reading, others: Sequence[Reading], gauges: Mapping[str, Gauge]) -> float:
    """How far a reading is from the others, in units of what both leave open (k = 2)."""
    mine = _group([one], gauges)
    value, uncertainty = combined([_group(row, gauges) for row in _alike(others)])
    return abs(mine.mean - value) / max(COVERAGE * math.hypot(mine.uncertainty, uncertainty), 1e-9)


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
