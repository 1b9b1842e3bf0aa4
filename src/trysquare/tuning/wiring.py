"""Every cable run of a machine against its current: gauge, drop, contact and fuse.

Design currents and limits are common practice, never a rating: the makers' sheets and the local code decide.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Wire
from trysquare.machine.values import CableRun, Machine
from trysquare.tuning.conductors import BLADE_FUSES_AMPERE, COPPER_PER_KELVIN, FUSE_FACTOR, fuse_ampere

ROLES = ("mains", "earth", "supply", "heater", "motor", "fan", "signal")
"""What a run carries, the most dangerous first: tables are in this order."""
LEAST_VOLT, EXTRA_LOW_VOLT = 0.5, 60.0
CONDUCTOR_CELSIUS = 50.0  # copper in a warm box; common practice, no source
# Part of the voltage that a run may lose. Common practice, no source.
DROP_LIMIT = {"heater": 0.05, "earth": 1.0}
DROP_LIMIT_OTHERS = 0.03
# A crimped contact of 2.5 mm pitch bears this, on wires of these gauges. Source: makers' sheets.
SMALL_CONTACT_AMPERE = 3.0
FUSED_ROLES = ("supply", "heater")
MORE_THAN_ANY_WIRE_AMPERE = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFigures:
    """A run with what was reckoned of it. `drop_volt` at 50 °C; `heat_watt_per_m`: of all its cores.

    `bad`: sentences of what must change; `open`: of what is not known; `fuse_advised`: None for none.
    """

    run: CableRun
    wire: Wire
    ohm: float  # of one core, at 50 °C
    drop_volt: float
    drop_limit: float
    heat_watt_per_m: float
    fuse_advised: float | None
    bad: tuple[str, ...]
    open: tuple[str, ...]

    @property
    def drop_share(self) -> float:
        """Part of the voltage that it loses."""
        return self.drop_volt / self.run.volt if self.run.volt > LEAST_VOLT else 0.0


def runs_of(machine: Machine) -> list[CableRun]:
    """Every cable, by what it carries, then as the machine lists them."""
    rank = {role: number for number, role in enumerate(ROLES)}
    runs = [joint.cable for joint in machine.joints if joint.cable is not None]
    return sorted(runs, key=lambda run: rank.get(run.role, len(ROLES)))


def ends_of(machine: Machine, run: CableRun) -> tuple[str, str]:
    """The placed parts that a run begins and ends at; one part twice for a bridge between its own points."""
    parts = machine.joint[run.joint].parts
    same = run.from_terminal.partition(":")[0] == run.to_terminal.partition(":")[0]
    return parts[0], parts[0] if same else parts[1]


def figures_of(runs: Iterable[CableRun]) -> list[RunFigures]:
    """Each run reckoned and judged alone."""
    wires: dict[str, Wire] = {}
    found = []
    for run in runs:
        if run.wire not in wires:
            wire = lookup(run.wire)
            assert isinstance(wire, Wire)  # the folder is refused otherwise
            wires[run.wire] = wire
        found.append(_figures(run, wires[run.wire]))
    return found


def resistance_ohm(run: CableRun, wire: Wire, celsius: float = CONDUCTOR_CELSIUS) -> float:
    """Of one core from end to end. Source: IEC 60028:1925 for the rise with temperature."""
    warm = 1 + COPPER_PER_KELVIN * (celsius - 20)
    return wire.resistance_ohm_per_km / 1e6 * run.length_mm * warm


def ways(run: CableRun) -> int:
    """How often the current runs its length: there and back, or once where the return is another run."""
    return 1 if run.cores == 1 else 2


def _figures(run: CableRun, wire: Wire) -> RunFigures:
    ohm = resistance_ohm(run, wire)
    carries = run.role != "earth"
    drop = ways(run) * ohm * run.ampere if carries else 0.0
    limit = DROP_LIMIT.get(run.role, DROP_LIMIT_OTHERS)
    loaded = min(run.cores, 2) if run.role != "motor" else run.cores  # both coils of a motor
    per_metre = loaded * wire.resistance_ohm_per_km / 1e3 * (1 + COPPER_PER_KELVIN * 30) * run.ampere**2
    advised = fuse_ampere(run.ampere) if run.role in FUSED_ROLES else None
    bad, unknown = _absurd(run), []
    if not bad:
        bad = [*_gauge(run, wire), *_drop(run, drop, limit), *_contact(run), *_fuse(run, wire)]
        unknown = _unknown(run, wire)
    return RunFigures(
        run=run, wire=wire, ohm=ohm, drop_volt=drop, drop_limit=limit,
        heat_watt_per_m=per_metre if carries else 0.0, fuse_advised=advised, bad=tuple(bad),
        open=tuple(unknown),
    )  # fmt: skip


def _absurd(run: CableRun) -> list[str]:
    if run.volt <= LEAST_VOLT and run.role != "earth":
        return [f"{run.volt:g} V carries nothing: write the voltage it works at."]
    if run.ampere <= 0 and run.role != "earth":
        return ["No current is said: nothing can be judged. Write what it carries at most."]
    if run.cores < 1:
        return ["It has no core."]
    if run.ampere > MORE_THAN_ANY_WIRE_AMPERE and run.volt <= EXTRA_LOW_VOLT:
        return [
            (
                f"{run.ampere:g} A at {run.volt:g} V, {run.ampere * run.volt / 1000:.1f} kW: no wire, "
                "contact or "
                "fuse of a machine like this bears it. Read the load's label again, or run it at mains "
                "voltage."
            )
        ]
    return []


def _gauge(run: CableRun, wire: Wire) -> list[str]:
    if run.ampere <= wire.design_ampere:
        return []
    return [
        (
            f"{run.ampere:g} A in {run.wire}, which is planned for {wire.design_ampere:g} A in a warm "
            "bundle: take "
            f"{thicker(run.ampere)}."
        )
    ]


def thicker(ampere: float) -> str:
    """The thinnest wire of our table that is planned for a current."""
    names = [f"wire AWG {gauge}" for gauge in (28, 26, 24, 22, 20, 18, 16, 14, 12, 10)]
    for name in names:
        wire = lookup(name)
        if isinstance(wire, Wire) and wire.design_ampere >= ampere:
            return name
    return "a licensed electrician's advice"


def _drop(run: CableRun, drop: float, limit: float) -> list[str]:
    if run.role == "earth" or run.volt <= LEAST_VOLT or drop <= limit * run.volt:
        return []
    return [
        (
            f"It loses {drop:.2f} V, {drop / run.volt:.1%} of {run.volt:g} V; {limit:.0%} is the limit: "
            "thicker "
            "or shorter."
        )
    ]


def _contact(run: CableRun) -> list[str]:
    if run.contact_ampere <= 0 or run.ampere <= run.contact_ampere:
        return []
    return [
        (
            f"Its contact bears {run.contact_ampere:g} A, the run carries {run.ampere:g} A: it would melt "
            "its "
            "housing."
        )
    ]


def _fuse(run: CableRun, wire: Wire) -> list[str]:
    said = []
    if run.fuse_ampere > 0:
        if run.fuse_ampere > wire.design_ampere:
            said.append(
                f"Its fuse of {run.fuse_ampere:g} A protects no {run.wire} ({wire.design_ampere:g} A): the "
                "wire "
                "would burn first."
            )
        if run.fuse_ampere < run.ampere:
            said.append(f"Its fuse of {run.fuse_ampere:g} A blows at its own {run.ampere:g} A.")
        if 0 < run.contact_ampere < run.fuse_ampere:
            said.append(
                f"Its fuse of {run.fuse_ampere:g} A is larger than what its contact bears "
                f"({run.contact_ampere:g} A)."
            )
    return said


def _unknown(run: CableRun, wire: Wire) -> list[str]:
    said = []
    if run.contact_ampere <= 0 and run.ampere > SMALL_CONTACT_AMPERE and run.role not in ("mains", "earth"):
        said.append(
            f"What its contacts bear is not said: more than {SMALL_CONTACT_AMPERE:g} A goes through no "
            "small crimp "
            "contact. Write contact_ampere from the maker's sheet."
        )
    if run.role in FUSED_ROLES and run.fuse_ampere <= 0:
        advised = fuse_ampere(run.ampere)
        if advised is None:
            said.append(
                f"{FUSE_FACTOR:g} × {run.ampere:g} A is over the largest blade fuse "
                f"({BLADE_FUSES_AMPERE[-1]} A)."
            )
        elif advised > wire.design_ampere:
            said.append(
                f"No fuse is said, and the next one over {FUSE_FACTOR:g} × {run.ampere:g} A is {advised:g} "
                "A, more "
                f"than {run.wire} is planned for ({wire.design_ampere:g} A): take {thicker(advised)}, or "
                "write the "
                "fuse_ampere that protects it."
            )
    if run.role == "mains" and run.fuse_ampere <= 0:
        said.append("The inlet's fuse is not said: write fuse_ampere.")
    return said
