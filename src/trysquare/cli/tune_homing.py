"""`trysquare tune homing`: how well a switch or probe finds its place again."""

from __future__ import annotations

from pathlib import Path

import click

from trysquare.cli import words
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.cli.tune_shared import (
    log_option,
    machine_options,
    machine_or_none,
    plot_option,
    unreadable,
)

_TOUCHES = "demo/larch/recordings/touches.csv"


@click.command(
    "homing",
    cls=Taught,
    learns="Know how well a switch or probe finds its place again, and how far the probe is from the tool.",
    inputs=(
        ("TOUCHES", "CSV with the column position_mm, one row a touch, in the order made"),
        ("axis, with", "as you like: x, y, z [default: z]; switch, probe, tool [default: switch]"),
        ("", "touches with probe and with tool at one place give the probe's offset"),
    ),
    examples=(
        f"trysquare tune homing {_TOUCHES}",
        f"trysquare tune homing {_TOUCHES} --tolerance 0.02 --offset 1.8 --json",
    ),
    exits=(
        (0, "every switch and probe is good enough"),
        (1, "one is not, creeps, or nobody can tell"),
        *COMMON_EXITS,
    ),
)
@click.argument("file", metavar="TOUCHES")
@machine_options
@click.option(
    "--tolerance",
    "tolerance_mm",
    metavar="MM",
    type=click.FloatRange(0, 100, min_open=True),
    help="What the place is needed to, ±.  [default: 0.05 for z, 0.1 for x and y]",
)
@click.option(
    "--offset",
    "offset_mm",
    metavar="MM",
    type=click.FloatRange(-1000, 1000),
    help="The probe's offset as the machine has it now.  [default: not compared]",
)
@plot_option
@log_option
@json_option
def command(
    file: str, folder: str | None, papers: tuple[str, ...], tolerance_mm: float | None,
    offset_mm: float | None, plot: str | None, into_log: bool, as_json: bool,
) -> int:  # fmt: skip
    """Reads the touches and judges."""
    from trysquare.cli.table_in import read_table
    from trysquare.cli.tune_report import finish
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.tuning.touches_report import TouchesCase, parse_touches, touches_report

    try:
        machine = machine_or_none(folder, papers, into_log=into_log)
        series = parse_touches(read_table(file), file)
        case = TouchesCase(series=series, tolerance_mm=tolerance_mm, known_offset_mm=offset_mm)
        report, found = touches_report(case)
        drawing = None
        if plot is not None:
            from trysquare.publish.touches_plot import touches_plot

            drawing = touches_plot(series, found)
        return finish(
            report, machine=machine, folder=folder, as_json=as_json, into_log=into_log, files=[Path(file)],
            plot=plot, drawing=drawing,
            inputs={"file": file, "touches": sum(len(one.lines) for one in series)},
        )  # fmt: skip
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, file, as_json=as_json)
    except ValueError as error:
        raise click.UsageError(words.sentence(error)) from error
