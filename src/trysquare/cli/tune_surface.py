"""`trysquare tune surface`: which screw of the bed to turn, and what no screw can help."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from trysquare.cli import words
from trysquare.cli.answers import NotThere
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.cli.tune_shared import (
    log_option,
    machine_options,
    machine_or_none,
    numbers,
    plot_option,
    unreadable,
)

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.tuning.surface import Screw

_MAP = "demo/larch/recordings/bed-map.csv"
_COLD = "demo/larch/recordings/bed-map-cold.csv"
POSITIVE = click.FloatRange(0, 1000, min_open=True)
USUAL_PITCH_MM = 0.7  # an M4's. Source: ISO 261:1998, table 2


@click.command(
    "surface",
    cls=Taught,
    learns="Know which screw of the bed to turn, how far and which way, and what no screw can help.",
    inputs=(
        ("MAP", "CSV with the columns x_mm, y_mm, z_mm: the bed's height at each place"),
        ("", "larger z is nearer to the tool; a probe's trigger heights do as they are"),
    ),
    examples=(
        f"trysquare tune surface {_MAP} --machine demo/larch",
        f"trysquare tune surface {_MAP} --machine demo/larch --cold {_COLD}",
        f"trysquare tune surface {_MAP} --screw front:90,31 --screw left:30,186 --screw right:150,186 --json",
    ),
    exits=(
        (0, "the bed is level and flat enough"),
        (1, "a screw is to be turned, the plate is not flat, or nobody can tell"),
        *COMMON_EXITS,
    ),
)
@click.argument("file", metavar="MAP")
@machine_options
@click.option(
    "--screw",
    "screws",
    metavar="NAME:X,Y",
    multiple=True,
    help="A screw and its place in the map, mm.  [default: the machine's]",
)
@click.option(
    "--pitch",
    "pitch_mm",
    metavar="MM",
    type=POSITIVE,
    help="The screws' pitch.  [default: the machine's; 0.7]",
)
@click.option(
    "--hand",
    type=click.Choice(["right", "left"]),
    default="right",
    help="Hand of the screws' threads.  [default: right]",
)
@click.option(
    "--from",
    "seen_from",
    type=click.Choice(["above", "below"]),
    default="above",
    help="Where the hand turns them.  [default: above]",
)
@click.option("--fixed", metavar="NAME", multiple=True, help="A screw that stays as it is.  [default: none]")
@click.option("--lock-nut", is_flag=True, help="The screws have lock nuts.  [default: none]")
@click.option(
    "--origin", metavar="X,Y", help="The map's zero in the machine, mm.  [default: the tool's travel]"
)
@click.option("--cold", metavar="FILE", help="The map before warming up; MAP is hot.  [default: none]")
@click.option(
    "--limit",
    "limit_mm",
    metavar="MM",
    type=POSITIVE,
    default=0.1,
    help="What the heights may span.  [default: 0.1]",
)
@click.option(
    "--probe",
    "probe_mm",
    metavar="MM",
    type=POSITIVE,
    default=0.01,
    help="The probe's standard deviation, see tune homing.  [default: 0.01]",
)
@plot_option
@log_option
@json_option
def command(
    file: str, folder: str | None, papers: tuple[str, ...], screws: tuple[str, ...], pitch_mm: float | None,
    hand: str, seen_from: str, fixed: tuple[str, ...], lock_nut: bool, origin: str | None, cold: str | None,
    limit_mm: float, probe_mm: float, plot: str | None, into_log: bool, as_json: bool,
) -> int:  # fmt: skip
    """Reads the map, finds plane, screws and shape, and judges."""
    from trysquare.cli.table_in import read_table
    from trysquare.cli.tune_report import finish
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.tuning.surface_file import parse_map
    from trysquare.tuning.surface_report import SurfaceCase, surface_report

    try:
        machine = machine_or_none(folder, papers, into_log=into_log)
        found_screws, basis = _screws(screws, pitch_mm, hand, fixed, origin, machine)
        case = SurfaceCase(
            hot=parse_map(read_table(file), file),
            cold=parse_map(read_table(cold), cold) if cold is not None else None,
            screws=found_screws,
            limit_mm=limit_mm,
            probe_mm=probe_mm,
            seen_from=seen_from,
            lock_nut=lock_nut,
            screws_from=basis,
        )
        report, found = surface_report(case)
        drawing = None
        if plot is not None:
            from trysquare.publish.surface_plot import surface_plot

            drawing = surface_plot(case.hot.points_mm, found, case.screws)
        return finish(
            report, machine=machine, folder=folder, as_json=as_json, into_log=into_log,
            files=[Path(file), *([Path(cold)] if cold is not None else [])], plot=plot, drawing=drawing,
            inputs={"file": file, "cold": cold, "points": len(case.hot.lines), "screws": len(case.screws)},
        )  # fmt: skip
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, file, as_json=as_json)
    except ValueError as error:
        raise click.UsageError(words.sentence(error)) from error


def _screws(
    typed: tuple[str, ...], pitch_mm: float | None, hand: str, fixed: tuple[str, ...], origin: str | None,
    machine: Machine | None,
) -> tuple[list[Screw], str]:  # fmt: skip
    """The screws and what they rest on; raises UsageError and NotThere."""
    from dataclasses import replace

    from trysquare.ground.errors import nearest
    from trysquare.tuning.bed_screws import bed_screws
    from trysquare.tuning.surface import Screw

    screws, basis = [_typed(text, pitch_mm or USUAL_PITCH_MM) for text in typed], "as given"
    zero = None
    if origin is not None:
        if machine is None:
            raise click.UsageError("--origin is a place in a machine: give --machine FOLDER too.")
        place = numbers(origin, "--origin", "two numbers such as 120,115")
        if len(place) != 2:
            raise click.UsageError("--origin takes x and y of the machine, such as 120,115.")
        zero = (place[0], place[1])
    if not screws and machine is not None:
        known = bed_screws(machine, zero)
        if known is not None:
            screws = [one if pitch_mm is None else replace(one, pitch_mm=pitch_mm) for one in known.screws]
            basis = known.from_words
    names = [one.name for one in screws]
    if len(set(names)) < len(names):
        raise click.UsageError("Two screws have one name: name each differently.")
    for name in fixed:
        if name not in names:
            told = f" {nearest(name, names)}" if names else " Give the screws with --screw."
            raise NotThere(f"--fixed: there is no screw '{words.one_line(name)}'.{told}")
    return [
        Screw(
            name=one.name, x_mm=one.x_mm, y_mm=one.y_mm, pitch_mm=one.pitch_mm,
            right_hand=hand == "right", locked=one.name in fixed,
        )
        for one in screws
    ], basis  # fmt: skip


def _typed(text: str, pitch_mm: float) -> Screw:
    import math

    from trysquare.tuning.surface import Screw

    name, _, place = text.rpartition(":")
    found = numbers(place, "--screw", "a name and its place in mm, such as front:90,31")
    if not name.strip() or len(found) != 2 or not all(math.isfinite(one) for one in found):
        raise click.UsageError(
            f"--screw read '{words.one_line(text)}'; expected a name and its place in mm: front:90,31."
        )
    return Screw(name=words.one_line(name.strip()), x_mm=found[0], y_mm=found[1], pitch_mm=pitch_mm)
