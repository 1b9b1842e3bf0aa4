"""The first power of a machine: our table's checks in their order, with this machine's own names and figures.

The book prints it and `trysquare tune wiring` shows it and takes its sign-offs: one function for both.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from trysquare.fit.pin_maps import unproved
from trysquare.machine.values import CableRun, Machine
from trysquare.publish.tables import table
from trysquare.tuning.earth import earth_points
from trysquare.tuning.sensor_words import figure
from trysquare.tuning.wiring import ends_of, figures_of, runs_of
from trysquare.tuning.wiring_circuits import heater_circuits


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A row of the checklist. `own`: what it is about on this machine; `signs`: the caution that somebody
    answers for, or "" where a tick will do."""

    id: str
    phase: str
    check: str
    own: str
    signs: str

    @property
    def words(self) -> str:
        """The check with this machine's own."""
        return f"{self.check} {self.own}".rstrip()


def has(machine: Machine) -> frozenset[str]:
    """What kinds of things the machine has, as the tables of first power and care ask for them."""
    found: set[str] = set()
    roles = {joint.cable.role for joint in machine.joints if joint.cable is not None}
    said = {name for step in machine.steps for name in step.caution}
    if roles:
        found.add("wires")
    if "mains" in roles | said:
        found.add("mains")
    if roles & {"supply", "mains"} or "mains" in said:
        found.add("supply")
    if "heater" in roles | said:
        found.add("heat")
    if "motor" in roles or machine.axes:
        found.add("motion")
    if any("fan" in part.type.name.casefold().split() or "blower" in part.type.name.casefold()
           for part in machine.placed if not part.joint):  # fmt: skip
        found.add("fans")
    if machine.joints:
        found.add(f"{'hot' if 'heat' in found else 'cold'} frame")
    return frozenset(found)


def first_power(machine: Machine) -> tuple[Check, ...]:
    """The checklist in a safe order, for what the machine has; one without supply or mains has none."""
    there = has(machine)
    if "supply" not in there:
        return ()
    runs = runs_of(machine)
    return tuple(
        Check(
            id=row["id"], phase=row["phase"], check=row["check"], signs=row["signs"],
            own=_OWN[row["id"]](machine, runs) if row["id"] in _OWN else "",
        )
        for row in table("first_power")
        if row["needs"] in there
    )  # fmt: skip


def _named(what: str, names: Iterable[str]) -> str:
    listed = ", ".join(dict.fromkeys(names))
    return f"{what}: {listed}." if listed else ""


def _of_role(what: str, role: str) -> Callable[[Machine, list[CableRun]], str]:
    return lambda _, runs: _named(what, (run.label for run in runs if run.role == role))


def _ends_at(what: str, *words: str) -> Callable[[Machine, list[CableRun]], str]:
    """Signal runs whose far end is a part with one of some words in its name."""

    def own(machine: Machine, runs: list[CableRun]) -> str:
        return _named(
            what,
            (
                run.label
                for run in runs
                if run.role == "signal" and any(word in _far_end(machine, run) for word in words)
            ),
        )

    return own


def _far_end(machine: Machine, run: CableRun) -> str:
    return machine.part[ends_of(machine, run)[1]].type.name.casefold()


def _fuses(mains: bool) -> Callable[[Machine, list[CableRun]], str]:
    return lambda _, runs: _named(
        "Written in the folder",
        (
            f"{run.label} {run.fuse_ampere:g} A"
            for run in runs
            if run.fuse_ampere > 0 and (run.role == "mains") is mains
        ),
    )


def _earth(machine: Machine, runs: list[CableRun]) -> str:
    points, _ = earth_points(machine, figures_of(runs), (), 0.0)
    return _named(f"{len(points)} points", (one.part.rpartition("/")[2] for one in points))


def _resistances(machine: Machine, runs: list[CableRun]) -> str:
    return _named(
        "At the heater",
        (
            f"{one.label} {figure(one.ohm)} Ω"
            for one in heater_circuits(machine, figures_of(runs))
            if one.ohm is not None
        ),
    )


_OWN: Mapping[str, Callable[[Machine, list[CableRun]], str]] = {
    "selector": lambda _, runs: _named("Planned", (f"{run.volt:g} V" for run in runs if run.role == "mains")),
    "fuse": _fuses(mains=True),
    "earth": _earth,
    "resistance": _resistances,
    "shorts": _fuses(mains=False),
    "polarity": lambda machine, _: _named(
        "Not proved by a map", (run.label or run.joint for run in unproved(machine))
    ),
    "board": _ends_at("Sensors", "sensor", "thermistor"),
    "fans": _of_role("Fans", "fan"),
    "stop": _ends_at("Its wire", "stop"),
    "motors": _of_role("Motors", "motor"),
    "switches": _ends_at("Switches", "end switch", "limit switch", "probe"),
    "homing": lambda machine, _: _named("Axes", (one.id for one in machine.axes)),
    "cut-off": _of_role("Heaters", "heater"),
}
