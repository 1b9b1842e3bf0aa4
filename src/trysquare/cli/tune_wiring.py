"""`trysquare tune wiring`: cable runs judged, earth points, first power signed off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.cli.tune_shared import log_option, machine_options, machine_or_none, plot_option, unreadable

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.publish.first_power import Check
    from trysquare.tuning.report import Part

_EARTH = "demo/larch/recordings/earth.csv"
_CORD_OHM_PER_M = 0.0195  # of 1 mm²; Source: IEC 60228 class 5


@click.command(
    "wiring",
    cls=Taught,
    learns="Know each cable's gauge, drop, fuse and reach, the supply's load, the earth points, and the "
    "first "
    "power in a safe order.",
    inputs=(
        ("FOLDER", "the machine's folder, or --machine; its cables are joints of the recipe cable-run"),
        ("--earth FILE", "CSV: point, ohm; also within_ohm: what the meter is worth there"),
        ("--coils FILE", "CSV: run, pin, other, ohm (or open): between two pins of a motor's plug"),
        ("", "local codes and licensed practice decide: this gives checks, not permission"),
    ),
    examples=(
        "trysquare tune wiring demo/larch",
        f"trysquare tune wiring demo/larch --earth {_EARTH} --cord-m 1.5",
        "trysquare tune wiring --machine demo/larch --supply 350 --air 55 --json",
    ),
    exits=(
        (0, "every run is as it should be, every point is read, every check is signed"),
        (1, "something is to be done, or cannot be told"),
        *COMMON_EXITS,
    ),
)
@click.argument("place", metavar="[FOLDER]", required=False)
@machine_options
@click.option("--earth", metavar="FILE", help="Earth points as read, unplugged.  [default: none]")
@click.option("--coils", metavar="FILE", help="Motors' pins by ohm meter, unplugged.  [default: none]")
@click.option(
    "--cord-m",
    metavar="M",
    type=click.FloatRange(0, 100),
    default=0.0,
    help="Length of the cord that was in the path, 1 mm².  [default: 0]",
)
@click.option(
    "--supply",
    "supply_watt",
    metavar="WATT",
    type=click.FloatRange(0, 1e5, min_open=True),
    help="Rating on its label.  [default: as its name says]",
)
@click.option(
    "--air",
    "air_celsius",
    metavar="CELSIUS",
    type=click.FloatRange(-20, 80),
    default=40.0,
    help="Air at the supply.  [default: 40]",
)
@click.option(
    "--low-line",
    metavar="PERCENT",
    type=click.FloatRange(1, 100),
    default=100.0,
    help="Part of its rating at your mains voltage, by its sheet.  [default: 100]",
)
@click.option(
    "--sign",
    "signs",
    metavar="CHECK=NAME",
    multiple=True,
    help="Sign a check of the first power, in order; goes into the log.  [default: none]",
)
@plot_option
@log_option
@json_option
def command(
    place: str | None, folder: str | None, papers: tuple[str, ...], earth: str | None,
    coils: str | None, cord_m: float,
    supply_watt: float | None, air_celsius: float, low_line: float, signs: tuple[str, ...], plot: str | None,
    into_log: bool, as_json: bool,
) -> int:  # fmt: skip
    """Reckons from the folder; reads earth points; takes sign-offs."""
    from dataclasses import replace

    from trysquare.cli.tune_report import finish
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.publish.first_power import first_power
    from trysquare.tuning.wiring_report import WiringAsked, wiring_report

    where = _folder(place, folder, signs, into_log=into_log)
    reads = where  # what is being read, should it have problems
    try:
        machine = machine_or_none(where, papers, into_log=into_log)
        assert machine is not None  # a folder is always given
        readings = []
        if earth is not None:
            from trysquare.cli.table_in import read_table
            from trysquare.tuning.earth import parse_earth

            reads = earth
            readings = parse_earth(read_table(earth), earth)
            reads = where
        pairs = []
        if coils is not None:
            from trysquare.cli.table_in import read_table
            from trysquare.tuning.coil_pairs import parse_pairs

            reads = coils
            pairs = parse_pairs(read_table(coils), coils)
            reads = where
        asked = WiringAsked(
            supply_watt=supply_watt, air_celsius=air_celsius, low_line=low_line / 100,
            cord_ohm=cord_m * _CORD_OHM_PER_M, earth=readings, coils=pairs,
        )  # fmt: skip
        report = wiring_report(machine, asked)
        drawing = None
        if plot is not None:
            from trysquare.publish.limits_plot import wiring_plot

            drawing = wiring_plot(machine, asked, " ".join(part.says[0] for part in report.parts))
        checks = first_power(machine)
        before = _signed_before(where, machine)
        signed = _signed_now(signs, checks, before)
        earth_bad = any(part.of == "earth points" and part.verdict == "bad" for part in report.parts)
        if earth_bad and "earth" in signed:
            raise click.UsageError(
                "'earth' cannot be signed: a point has no earth path. Mend it and read it again."
            )
        checklist = _checklist(checks, before, signed, earth_bad=earth_bad)
        parts = (*report.parts, *checklist, *_sign_parts(checks, signed))
        return finish(
            replace(report, parts=parts), machine=machine, folder=where, as_json=as_json, into_log=into_log,
            files=[Path(one) for one in (earth, coils) if one], plot=plot, drawing=drawing,
            inputs={"earth": earth, "coils": coils, "signed": signed},
        )  # fmt: skip
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, reads, as_json=as_json)


def _folder(place: str | None, folder: str | None, signs: Sequence[str], *, into_log: bool) -> str:
    """The machine's folder; raises UsageError for what does not go together."""
    if (place is None) == (folder is None):
        raise click.UsageError("Give the machine's FOLDER once: trysquare tune wiring demo/larch.")
    if signs and not into_log:
        raise click.UsageError("--sign goes into the machine's build log: give --log too.")
    return place or folder or ""


def _of(check: str) -> str:
    """Name of a check in the log."""
    return f"first power: {check}"


def _signed_before(folder: str, machine: Machine) -> Mapping[str, str]:
    """Who signed each check, from the build log."""
    from trysquare.record.log import FILE_NAME, open_log

    if not (Path(folder) / FILE_NAME).is_file():
        return {}
    with open_log(Path(folder), machine=machine.name, read_only=True) as log:
        results = log.state().results
    start = _of("")
    return {
        name.removeprefix(start): f"signed by {found[-1].says.removeprefix('signed by ')}"
        for name, found in results.items()
        if name.startswith(start) and found
    }


def _signed_now(signs: Sequence[str], checks: Sequence[Check], before: Mapping[str, str]) -> dict[str, str]:
    """Sign-offs asked for, by check; raises UsageError for a stranger, or one before its turn."""
    names = [check.id for check in checks]
    found: dict[str, str] = {}
    for text in signs:
        name, _, who = (part.strip() for part in text.partition("="))
        if name not in names or not who or len(who) > 80:
            raise click.UsageError(
                f"--sign read '{words.one_line(text)}'; expected a check and who answers for it, such as "
                f"earth=NAME. Checks: {', '.join(names)}."
            )
        found[name] = who
    for name in names:
        if name in found:
            earlier = [one for one in names[: names.index(name)] if one not in before and one not in found]
            if earlier:
                raise click.UsageError(
                    f"'{name}' comes after {', '.join(earlier)}: the order is what keeps you safe. Sign "
                    "those first."
                )
    return found


def _checklist(
    checks: Sequence[Check], before: Mapping[str, str], signed: Mapping[str, str], *, earth_bad: bool
) -> tuple[Part, ...]:
    from trysquare.tuning.report import CANNOT_TELL, GOOD, Part, Table
    from trysquare.tuning.wiring_places import CODES

    if not checks:
        return ()
    rows = []
    for check in checks:
        state = f"signed by {signed[check.id]}" if check.id in signed else before.get(check.id, "")
        rows.append((check.id, check.phase, check.words, check.signs, state or "________"))
    still = [check for check in checks if check.id not in signed and check.id not in before]
    says = f"Next: {still[0].words}" if still else "Every check is signed."
    notes = (f"Then sign it: --sign {still[0].id}=NAME --log.",) if still else ()
    data: dict[str, Any] = {"open": [check.id for check in still]}
    if still and not (still[0].id == "earth" and earth_bad):
        data["sign_next"] = {"of": _of(still[0].id), "check": still[0].id, "words": still[0].words}
    return (
        Part(
            of="first power",
            title="First power",
            verdict=CANNOT_TELL if still else GOOD,
            says=(says, f"In this order, one thing at a time. {CODES}"),
            tables=(
                Table(
                    title=f"{len(checks)} checks, {len(checks) - len(still)} signed",
                    columns=("check", "phase", "what", "caution", "signed"),
                    rows=tuple(rows),
                    gist=f"next: {still[0].id}" if still else "all are signed",
                ),
            ),
            notes=notes,
            data=data,
        ),
    )


def _sign_parts(checks: Sequence[Check], signed: Mapping[str, str]) -> tuple[Part, ...]:
    """One part, and so one entry in the log, for each sign-off."""
    from trysquare.tuning.report import GOOD, Part

    return tuple(
        Part(
            of=_of(check.id), title=f"Signed: {check.id}", verdict=GOOD,
            says=(f"signed by {words.one_line(signed[check.id])}",), notes=(check.words,),
        )
        for check in checks
        if check.id in signed
    )  # fmt: skip
