"""What the wiring comes to, told and judged: runs, circuits, supply, bundles, reach, pins, earth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from trysquare.machine.values import Machine
from trysquare.tuning.coil_pairs import PairReading, coils_part
from trysquare.tuning.earth import EarthReading
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, Part, Report, Table
from trysquare.tuning.values import Measured
from trysquare.tuning.wiring import RunFigures, figures_of, runs_of
from trysquare.tuning.wiring_circuits import heater_circuits, supplies_of, unbalanced
from trysquare.tuning.wiring_pins import ends_part
from trysquare.tuning.wiring_places import CODES, bundles_part, earth_part, listed, pins_part, reach_part
from trysquare.tuning.wiring_volts import volts_part


@dataclass(frozen=True, slots=True, kw_only=True)
class WiringAsked:
    """What the folder does not say: the supply's rating, the air at it, the cord, readings of earth
    points and of coil pairs."""

    supply_watt: float | None = None
    air_celsius: float = 40.0
    low_line: float = 1.0
    cord_ohm: float = 0.0
    earth: Sequence[EarthReading] = field(default=())
    coils: Sequence[PairReading] = field(default=())


def wiring_report(machine: Machine, asked: WiringAsked) -> Report:
    """Every part that the machine's cables give rise to; a machine without cables has one that says so."""
    figures = figures_of(runs_of(machine))
    if not figures:
        none = Part(
            of="wiring", title="Wiring", verdict=CANNOT_TELL,
            says=("The folder has no cable run: write each as a joint of the recipe cable-run.",),
        )  # fmt: skip
        return Report(what="wiring", title="Wiring", parts=(none,), cautions=("terminals",))
    parts = [
        runs_part(figures),
        *_some(circuits_part(machine, figures)),
        *_some(volts_part(machine, figures)),
        *_some(supply_part(machine, figures, asked)),
        *_some(bundles_part(figures)),
        *_some(reach_part(machine, figures)),
        *_some(pins_part(figures)),
        *_some(ends_part(machine, figures)),
        *_some(coils_part(figures, asked.coils, machine)),
        *_some(earth_part(machine, figures, asked.earth, asked.cord_ohm)),
    ]
    return Report(what="wiring", title="Wiring", parts=tuple(parts), cautions=cautions_of(figures))


def cautions_of(figures: Sequence[RunFigures]) -> tuple[str, ...]:
    """Cautions by what the cables carry."""
    roles = {one.run.role for one in figures}
    there = (
        ("mains", "mains"), ("mains", "selector"), ("earth", "earth"),
        ("heater", "heater"), ("heater", "hot"), ("motor", "motion"),
    )  # fmt: skip
    return (*(name for role, name in there if role in roles), "terminals")


def _some(part: Part | None) -> tuple[Part, ...]:
    return () if part is None else (part,)


def runs_part(figures: Sequence[RunFigures]) -> Part:
    """Gauge, drop, contact and fuse of each run."""
    bad = [f"{one.run.label}: {says}" for one in figures for says in one.bad]
    unknown = [f"{one.run.label}: {says}" for one in figures for says in one.open]
    rows = tuple(run_row(one) for one in figures)
    says = listed(bad or unknown) or (
        "Every run carries its current in its wire, with its drop and its fuse.",
    )
    return Part(
        of="cable runs",
        title="Cable runs",
        verdict=BAD if bad else CANNOT_TELL if unknown else GOOD,
        says=(*says, CODES),
        tables=(
            Table(
                title=f"{len(figures)} runs",
                columns=("run", "carries", "wire", "length mm", "A", "planned A", "drop V", "drop", ("fuse "
                                                                                                    "A"), ""),
                rows=rows,
                right=frozenset({3, 4, 5, 6, 7, 8}),
                gist=_worst_run(figures),
            ),
        ),
        notes=(
            ("Planned A: for wires bundled in a warm box (common practice, no source; published tables "
             "differ "
            "tenfold). Drop: there and back at 50 °C; limits 3 %, heaters 5 % (common practice). Fuse: as "
            "written "
            "in the folder, else (in brackets) the next blade fuse over 1.25 × the current."),
        ),
        data={
            "runs": [
                {"label": one.run.label, "role": one.run.role, "wire": one.run.wire,
                 "length_mm": round(one.run.length_mm, 1), "ampere": one.run.ampere,
                 "drop_volt": round(one.drop_volt, 4), "fuse_ampere": one.run.fuse_ampere or one.fuse_advised,
                 "bad": list(one.bad), "open": list(one.open)}
                for one in figures
            ]
        },
    )  # fmt: skip


def _worst_run(figures: Sequence[RunFigures]) -> str:
    """The run with a fault, else the one that takes most of the drop it may have."""
    wrong = next((one for one in figures if one.bad), None)
    if wrong is not None:
        return f"worst: {wrong.run.label}, {wrong.bad[0].rstrip('.')}"
    dropping = [one for one in figures if one.run.role != "earth" and one.drop_limit > 0]
    if not dropping:
        return ""
    most = max(dropping, key=lambda one: one.drop_share / one.drop_limit)
    return f"worst: {most.run.label}, drop {most.drop_share:.1%} of {most.drop_limit:.0%} allowed"


def run_row(one: RunFigures) -> tuple[str, ...]:
    """One run in words: the same in every table of wires."""
    run = one.run
    earth = run.role == "earth"
    fuse = (
        f"{run.fuse_ampere:g}" if run.fuse_ampere else f"({one.fuse_advised:g})" if one.fuse_advised else ""
    )
    mark = "bad" if one.bad else "?" if one.open else ""
    return (
        run.label, run.role, f"{run.cores} × {run.wire.removeprefix('wire ')}", f"{run.length_mm:.0f}",
        f"{run.ampere:g}", f"{one.wire.design_ampere:g}", "" if earth else f"{one.drop_volt:.2f}",
        "" if earth else f"{one.drop_share:.1%}", fuse, mark,
    )  # fmt: skip


def circuits_part(machine: Machine, figures: Sequence[RunFigures]) -> Part | None:
    """What each heater misses from the supply on."""
    circuits = heater_circuits(machine, figures)
    if not circuits:
        return None
    bad = [
        f"{one.label}: {one.drop_volt:.2f} V of {one.volt:g} V are lost on the way: thicker or shorter."
        for one in circuits
        if one.too_much
    ]
    rows = tuple(
        (one.label, f"{len(one.runs)}", f"{one.ampere:g}", f"{one.drop_volt:.2f}",
         f"{one.drop_share:.1%}",
         "–" if one.ohm is None else f"{one.ohm:.2f}")
        for one in circuits
    )  # fmt: skip
    return Part(
        of="heater circuits",
        title="Heater circuits",
        verdict=BAD if bad else GOOD,
        says=listed(bad) or ("Each heater gets its voltage: from the supply on less than 5 % is lost.",),
        tables=(
            Table(
                title="From the supply to the heater and back",
                columns=("heater", "runs", "A", "drop V", "drop", "U/I Ω"),
                rows=rows,
                right=frozenset({1, 2, 3, 4, 5}),
            ),
        ),
        notes=("U/I is what the heater itself should read cold, within a tenth.",),
    )


def supply_part(machine: Machine, figures: Sequence[RunFigures], asked: WiringAsked) -> Part | None:
    """Load of each supply against what may be used of its rating."""
    supplies = supplies_of(
        machine, figures, rated_watt=asked.supply_watt, air_celsius=asked.air_celsius, low_line=asked.low_line
    )
    if not supplies:
        return None
    verdict, says, rows = GOOD, [], []
    for one in supplies:
        share = one.share
        rows.append(
            (one.part, f"{one.load_watt:.0f}", "–" if one.rated_watt is None else f"{one.rated_watt:.0f}",
             "–" if share is None else f"{share:.0%}", f"{one.usable:.0%}",
             one.basis if one.rated_watt else "")
        )  # fmt: skip
        if share is None:
            verdict = CANNOT_TELL if verdict == GOOD else verdict
            says.append(f"{one.part}: its rating is not known: read its label and give --supply WATT.")
        elif share > one.usable:
            verdict = BAD
            says.append(
                f"{one.part}: {one.load_watt:.0f} W of {one.rated_watt:.0f} W are {share:.0%}; "
                f"{one.usable:.0%} "
                "may be used. Take a larger one, or heat one thing after the other."
            )
    for part, into, out in unbalanced(machine, figures):
        verdict = CANNOT_TELL if verdict == GOOD else verdict
        says.append(
            f"{part}: {out:g} A can leave it, {into:g} A are planned to it: right only if not all of it is "
            "on at "
            "once."
        )
    share = supplies[0].share
    return Part(
        of="supply",
        title="Supply",
        verdict=verdict,
        says=listed(says) or ("Its load is inside what may be used of its rating.",),
        tables=(
            Table(
                title="Load",
                columns=("supply", "load W", "rated W", "used", "may be used", "rating"),
                rows=tuple(rows),
                right=frozenset({1, 2, 3, 4}),
            ),
        ),
        notes=(
            (
                f"May be used: 80 % (common practice), less 2.5 % for each kelvin over 50 °C at the supply "
                f"({asked.air_celsius:g} °C taken), times what its sheet gives at your mains voltage "
                f"({asked.low_line:.0%} taken); the factors multiply."
            ),
        ),
        main=None
        if share is None
        else Measured(value=100 * share, standard_uncertainty=0.0, unit="%", basis="planned currents"),
    )
