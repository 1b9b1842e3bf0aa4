"""Runs together: what a heater loses from the supply on, and what the supply gives."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.machine.values import Machine
from trysquare.tuning.wiring import DROP_LIMIT, LEAST_VOLT, RunFigures, ends_of

USED_OF_A_SUPPLY = 0.8  # common practice, no source
DERATES_FROM_CELSIUS, DERATES_PER_KELVIN = 50.0, 0.025  # Source: supply makers' sheets
_RATED = re.compile(r"(?<![\w.])(\d{2,4}(?:\.\d+)?) ?W\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """A heater's way from the supply: its runs, and the volts that they lose together."""

    label: str
    runs: tuple[RunFigures, ...]
    volt: float
    ampere: float
    drop_volt: float

    @property
    def too_much(self) -> bool:
        """Whether the heater misses more than a heater may."""
        return self.drop_share > DROP_LIMIT["heater"]

    @property
    def drop_share(self) -> float:
        """Part of the voltage that is lost; 0 where no voltage is said, which its run is told for."""
        return self.drop_volt / self.volt if self.volt > LEAST_VOLT else 0.0

    @property
    def ohm(self) -> float | None:
        """What the heater should read cold: U/I; None where one of them is not said."""
        return self.volt / self.ampere if self.volt > LEAST_VOLT and self.ampere > 0 else None


def heater_circuits(machine: Machine, figures: Sequence[RunFigures]) -> list[Circuit]:
    """Each heater with the runs to it and those that feed what it hangs on."""
    feeds: dict[str, RunFigures] = {}
    for one in figures:
        if one.run.role == "supply":
            feeds.setdefault(_ends(machine, one)[1], one)
    groups: list[tuple[set[str], list[RunFigures]]] = []
    for one in figures:
        if one.run.role != "heater":
            continue
        joined = {part for part in _ends(machine, one) if part not in feeds} or {one.run.joint}
        # A lead that begins at the switch itself joins the others by the heater at its other end.
        same = [group for group in groups if group[0] & joined]
        parts = joined.union(*(group[0] for group in same))
        runs = [run for group in same for run in group[1]] + [one]
        groups = [group for group in groups if group not in same] + [(parts, runs)]
    found = []
    for _, runs in groups:
        ampere = max(one.run.ampere for one in runs)
        begins = next((part for one in runs for part in _ends(machine, one) if part in feeds), "")
        way = _upstream(machine, feeds, begins)
        # Upstream runs carry others too; what they lose at their own full current counts.
        drop = sum(one.drop_volt for one in (*runs, *way))
        found.append(
            Circuit(
                label=", ".join(one.run.label for one in runs), runs=(*way, *runs),
                volt=runs[0].run.volt, ampere=ampere, drop_volt=drop,
            )
        )  # fmt: skip
    return found


def _ends(machine: Machine, one: RunFigures) -> tuple[str, str]:
    return ends_of(machine, one.run)


def _upstream(machine: Machine, feeds: dict[str, RunFigures], part: str) -> list[RunFigures]:
    way: list[RunFigures] = []
    while part in feeds and feeds[part] not in way:
        way.append(feeds[part])
        part = _ends(machine, feeds[part])[0]
    return way


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """A supply: what leaves it at most, its rating in W (None: not known) and where that was read, and the
    part of the rating that may be used."""

    part: str
    name: str
    load_watt: float
    rated_watt: float | None
    basis: str
    usable: float

    @property
    def share(self) -> float | None:
        """Load over rating."""
        return self.load_watt / self.rated_watt if self.rated_watt else None


def supplies_of(
    machine: Machine, figures: Sequence[RunFigures], *, rated_watt: float | None, air_celsius: float,
    low_line: float,
) -> list[Supply]:  # fmt: skip
    """Parts that supply runs begin at and none ends at. `low_line`: the part of its power that the supply
    gives at your mains voltage, by its sheet."""
    runs = [(one, *_ends(machine, one)) for one in figures if one.run.role == "supply"]
    fed = {end for _, _, end in runs}
    loads: dict[str, float] = {}
    for one, begin, _ in runs:
        if begin not in fed:
            loads[begin] = loads.get(begin, 0.0) + one.run.ampere * one.run.volt
    hot = max(0.0, 1 - DERATES_PER_KELVIN * max(0.0, air_celsius - DERATES_FROM_CELSIUS))
    found = []
    for part, load in loads.items():
        name = machine.part[part].type.name
        read = _RATED.search(name)
        rated, basis = rated_watt, "as given"
        if rated is None and read is not None:
            rated, basis = float(read[1]), "read in its name; compare with its label"
        found.append(
            Supply(
                part=part, name=name, load_watt=load, rated_watt=rated, basis=basis,
                usable=USED_OF_A_SUPPLY * hot * low_line,
            )
        )  # fmt: skip
    return found


def unbalanced(machine: Machine, figures: Sequence[RunFigures]) -> list[tuple[str, float, float]]:
    """Parts that give more current than the supply runs to them carry: part, in A, out A."""
    into: dict[str, float] = {}
    out: dict[str, float] = {}
    for one in figures:
        begin, end = _ends(machine, one)
        if one.run.role == "supply":
            into[end] = into.get(end, 0.0) + one.run.ampere
            out[begin] = out.get(begin, 0.0) + one.run.ampere
        elif one.run.role == "heater" and one.run.cores > 1:
            out[begin] = out.get(begin, 0.0) + one.run.ampere
    return [(part, into[part], out[part]) for part in into if out.get(part, 0.0) > into[part] * 1.001]
