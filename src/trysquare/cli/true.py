"""`trysquare true`: how true it is, how sure that is, what to push, and what to read next."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, FOUND, NotThere, print_json, unreadable
from trysquare.cli.page import Page
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.cli.true_tell import tell, tell_before, tell_hot, tell_rectangle


@click.command(
    "true",
    cls=Taught,
    learns="Know how true it is and how sure that is, which corner to push, and what to read next.",
    inputs=(
        ("FOLDER", "a machine folder; its readings/*.csv are read. None with --rectangle"),
        ("readings", "CSV: sort, from, to, value_mm, instrument; also at_mm, turned, setting, round, step"),
    ),
    examples=(
        "trysquare true demo/larch",
        "trysquare true demo/larch --before",
        "trysquare true demo/larch --hot 60 --json",
        "trysquare true --rectangle 350x350 --diagonals 494.6,495.2 --instrument tape",
    ),
    exits=((0, "all that was read is good"), (1, "something is bad, or cannot be told"), *COMMON_EXITS),
)
@click.argument("folder", metavar="[FOLDER]", required=False)
@click.option(
    "--paper",
    "papers",
    metavar="FILE",
    multiple=True,
    help="Lay a paper from outside the folder over it; may be given several times.  [default: none]",
)
@click.option(
    "--readings",
    "files",
    metavar="FILE",
    multiple=True,
    help="Read this file instead; may be given several times.  [default: readings/*.csv]",
)
@click.option(
    "--step",
    metavar="STEP",
    default="",
    help="What stands, and what is snug.  [default: as at the last step that a reading names]",
)
@click.option(
    "--ask",
    is_flag=True,
    help="Ask for the next reading, again and again, and keep what you type in "
    "readings/typed.csv.  [default: no questions]",
)
@click.option(
    "--before",
    is_flag=True,
    help="Before the build: which cuts matter, and can it be trued?  [default: not asked]",
)
@click.option(
    "--hot",
    metavar="CELSIUS",
    type=click.FloatRange(-100, 400),
    help="What changes when it is warm.  [default: not asked; cold is 20 °C]",
)
@click.option(
    "--bed",
    metavar="CELSIUS",
    type=click.FloatRange(-100, 400),
    help="How hot heated plates are.  [default: as the frame]",
)
@click.option(
    "--plot", metavar="FILE", help="Draw the frame with its error enlarged, as SVG.  [default: none]"
)
@click.option(
    "--rectangle",
    metavar="XxY",
    help="Two sides of a frame, in mm; no machine is needed.  [default: a machine's folder]",
)
@click.option(
    "--diagonals", metavar="AC,BD", help="Its two diagonals, in mm.  [default: none, said with --rectangle]"
)
@click.option(
    "--instrument", metavar="SORT", default="tape", help="What they were read with.  [default: tape]"
)
@click.option(
    "--limit",
    metavar="MM",
    type=click.FloatRange(0.001, 100),
    default=0.1,
    help="Limit of a rectangle's lean, mm per 100 mm.  [default: 0.1]",
)
@json_option
def command(
    folder: str | None, papers: tuple[str, ...], files: tuple[str, ...], step: str, ask: bool, before: bool,
    hot: float | None, bed: float | None, plot: str | None, rectangle: str | None, diagonals: str | None,
    instrument: str, limit: float, as_json: bool,
) -> int:  # fmt: skip
    """Reads, adjusts, judges and advises."""
    from trysquare.ground.errors import ReadingError, ReadingErrors

    if rectangle is not None or diagonals is not None:
        return _rectangle(rectangle, diagonals, instrument, limit, as_json=as_json)
    if folder is None:
        raise click.UsageError("Name a machine folder, or give --rectangle and --diagonals.")
    try:
        if before or hot is not None:
            return _without_readings(folder, papers, before=before, hot=hot, bed=bed, as_json=as_json)
        return _with_readings(folder, papers, files, step, ask=ask, plot=plot, as_json=as_json)
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, folder, as_json=as_json)


def _with_readings(
    folder: str, papers: Sequence[str], files: Sequence[str], step: str, *,
    ask: bool, plot: str | None, as_json: bool,
) -> int:  # fmt: skip
    from trysquare.cli.facts import read_machine
    from trysquare.cli.true_facts import has_readings, report_facts, truing_report

    machine = read_machine(folder, papers)
    if not ask and not has_readings(machine, files):
        raise NotThere(
            f"{words.one_line(folder)} has no readings yet. Write readings/frame.csv with the columns sort, "
            "from, to, value_mm, instrument, let --ask ask you, or read at the bench."
        )
    found = truing_report(machine, files, step)
    if ask:
        from trysquare.cli.true_ask import ask_on

        found = ask_on(machine, files, step, found)
    facts = {"folder": folder, **report_facts(found)}
    if plot is not None:
        from trysquare.cli.files_out import look_at, write
        from trysquare.publish.truing_plot import truing_plot

        look_at(Path(plot), b"<svg", "SVG", ".svg")
        write(Path(plot), truing_plot(found).encode())
        facts["plot"] = plot
    if as_json:
        print_json(facts)
    else:
        tell(facts)
    verdicts = {one["verdict"] for one in facts["characteristics"]}
    # Nothing judged is nothing good: what was read tells of no characteristic, or it was set aside.
    return CLEAN if "good" in verdicts and not verdicts & {"bad", "cannot tell"} else FOUND


def _without_readings(
    folder: str, papers: Sequence[str], *, before: bool, hot: float | None, bed: float | None, as_json: bool
) -> int:
    from trysquare.cli.facts import read_machine
    from trysquare.cli.true_facts import stack_facts, thermal_facts

    machine = read_machine(folder, papers)
    facts: dict[str, Any] = {"folder": folder, "machine": machine.name}
    if before:
        from trysquare.truing.stack import stack

        facts["before"] = stack_facts(stack(machine, workers=os.cpu_count() or 1))
    if hot is not None:
        from trysquare.truing.thermal import when_hot

        facts["hot"] = thermal_facts(when_hot(machine, hot, bed_celsius=bed))
    if as_json:
        print_json(facts)
    else:
        page = Page()
        page.title(facts["machine"], folder)
        if before:
            tell_before(page, facts["before"])
        if hot is not None:
            tell_hot(page, facts["hot"])
        page.print()
    return CLEAN


def _rectangle(
    sides: str | None, diagonals: str | None, instrument: str, limit: float, *, as_json: bool
) -> int:
    """The quick form without a machine."""
    from trysquare.catalogue.instruments import instrument_kinds
    from trysquare.cli.true_facts import rectangle_facts
    from trysquare.ground.errors import nearest
    from trysquare.truing.instruments import usual_gauge
    from trysquare.truing.rectangle import rectangle

    x, y = _pair(sides, "--rectangle", "350x350")
    first, second = _pair(diagonals, "--diagonals", "494.6,495.2")
    known = [sort for sort, kind in instrument_kinds().items() if "diagonal" in kind.reads]
    if instrument not in known:
        raise click.UsageError(f"--instrument: '{words.one_line(instrument)}' reads no diagonal. "
                               f"{nearest(instrument, known)}")  # fmt: skip
    gauge = usual_gauge(instrument)
    if not gauge.spans(max(first, second)):
        raise click.UsageError(
            f"--instrument: {max(first, second):g} mm is beyond the {gauge.reach_mm:g} mm of {gauge.words}."
        )
    fits = (x * x + y * y) ** 0.5
    for value in (first, second):
        if abs(value - fits) > max(10.0, 0.05 * fits):
            raise click.UsageError(
                f"--diagonals: {value:g} mm is no diagonal of {x:g} by {y:g} mm, which is {fits:.1f}. In mm?"
            )
    facts = rectangle_facts(rectangle(x, y, first, second, gauge, limit_mm_per_100=limit))
    if as_json:
        print_json(facts)
    else:
        tell_rectangle(facts)
    return CLEAN if facts["lean_mm_per_100"]["verdict"] == "good" else FOUND


def _pair(text: str | None, option: str, example: str) -> tuple[float, float]:
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:mm)?\s*[x×,;]\s*(\d+(?:\.\d+)?)\s*(?:mm)?\s*", text or "")
    if found is None:
        read = f"read '{words.one_line(text)}'" if text else "is missing"
        raise click.UsageError(f"{option} {read}; expected two numbers of millimetres, such as {example}.")
    values = float(found[1]), float(found[2])
    if not all(1 <= value <= 1e5 for value in values):
        raise click.UsageError(f"{option}: sizes from 1 to 100000 mm are meant.")
    return values
