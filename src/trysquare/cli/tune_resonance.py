"""`trysquare tune resonance`: how the machine swings, and how to move without it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.cli.tune_shared import (
    limits,
    log_option,
    machine_options,
    machine_or_none,
    plot_option,
    unreadable,
)

if TYPE_CHECKING:
    from trysquare.tuning.resonance import Resonance

_SHAKE = "demo/larch/recordings/x-shake.csv"
_LOOSE = "demo/larch/recordings/x-shake-loose.csv"
POSITIVE = click.FloatRange(0, 1e6, min_open=True)
LEAST_ORDINATES = 40  # fewer points of a spectrum are no curve


@click.command(
    "resonance",
    cls=Taught,
    learns="Know how the machine swings, how to give its moves so that it does not, and what to stiffen.",
    inputs=(
        ("SHAKE", "CSV from an accelerometer on the head: time, x, y, z, any rate above 40 a second"),
        ("", "a heading may name columns and units: time_s or time_ms, x_g or x_m/s2"),
        ("", "ten seconds or more of quick moves to and fro along one axis, knocks, or a sweep"),
    ),
    examples=(
        f"trysquare tune resonance {_SHAKE} --machine demo/larch",
        f"trysquare tune resonance {_SHAKE} --before {_LOOSE} --wanted 3000",
        f"trysquare tune resonance {_SHAKE} --error 15 --left 3 --json",
    ),
    exits=(
        (0, "the swings are known, and what is asked for with --wanted is within them"),
        (1, "too quick, livelier than before, or nobody can tell"),
        *COMMON_EXITS,
    ),
)
@click.argument("file", metavar="SHAKE")
@machine_options
@click.option("--before", metavar="FILE", help="A recording from before a change.  [default: none]")
@click.option("--axis", metavar="AXES", help="Axes told in full: x or x,y.  [default: what moved most]")
@click.option(
    "--wanted",
    metavar="MM/S2",
    type=POSITIVE,
    help="An acceleration that has to be possible.  [default: not judged]",
)
@click.option(
    "--error",
    "error_percent",
    metavar="PERCENT",
    type=click.FloatRange(0, 40),
    default=10.0,
    help="How far frequencies may be off.  [default: 10]",
)
@click.option(
    "--left",
    "left_percent",
    metavar="PERCENT",
    type=click.FloatRange(0.5, 50),
    default=5.0,
    help="What may be left of a swing.  [default: 5]",
)
@click.option(
    "--path",
    "path_mm",
    metavar="MM",
    type=POSITIVE,
    default=0.1,
    help="How far shaping may pull the path off.  [default: 0.1]",
)
@click.option(
    "--swing",
    "swing_mm",
    metavar="MM",
    type=POSITIVE,
    default=0.02,
    help="How far a start or stop may make it swing.  [default: 0.02]",
)
@click.option("--band", metavar="LOW-HIGH", help="Frequencies looked at, Hz.  [default: 8-200]")
@click.option(
    "--rate",
    "rate_hz",
    metavar="HZ",
    type=POSITIVE,
    help="Samples a second; goes before the times.  [default: by the times]",
)
@plot_option
@log_option
@json_option
def command(
    file: str, folder: str | None, papers: tuple[str, ...], before: str | None, axis: str | None,
    wanted: float | None, error_percent: float, left_percent: float, path_mm: float, swing_mm: float,
    band: str | None, rate_hz: float | None, plot: str | None, into_log: bool, as_json: bool,
) -> int:  # fmt: skip
    """Reads the recording, finds how it swings, shapes, and judges."""
    from trysquare.cli.tune_report import finish
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.tuning.resonance_axis import ResonanceCase
    from trysquare.tuning.resonance_culprit import computed_modes
    from trysquare.tuning.resonance_report import resonance_report

    at = file
    try:
        machine = machine_or_none(folder, papers, into_log=into_log)
        wide = _band(band)
        now = _resonance(file, rate_hz, wide)
        axes = _axes(axis, now)
        at = before or file
        earlier = _resonance(before, rate_hz, wide) if before is not None else None
        at = file
        case = ResonanceCase(
            resonance=now,
            before=earlier,
            computed=computed_modes(machine) if machine is not None else (),
            axes=axes,
            error=error_percent / 100,
            limit=left_percent / 100,
            path_mm=path_mm,
            swing_mm=swing_mm,
            wanted=wanted,
        )
        report, found = resonance_report(case)
        drawing = None
        if plot is not None:
            from trysquare.publish.resonance_plot import resonance_plot

            drawing = resonance_plot(case, found)
        return finish(
            report, machine=machine, folder=folder, as_json=as_json, into_log=into_log,
            files=[Path(file), *([Path(before)] if before is not None else [])], plot=plot, drawing=drawing,
            inputs={
                "file": file, "before": before, "seconds": round(now.shake.seconds, 3),
                "rate_hz": round(now.shake.rate_hz, 3), "axes": list(now.shake.axes),
            },
        )  # fmt: skip
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, at, as_json=as_json)


def _band(text: str | None) -> tuple[float, float]:
    from trysquare.tuning.resonance import HIGHEST_HZ, LOWEST_HZ

    low, high = limits(text, "--band", "8-200") or (LOWEST_HZ, HIGHEST_HZ)
    if not (low >= 0 and low + 10 <= high < 1e5):
        raise click.UsageError("--band takes two frequencies, the second one higher by 10 Hz or more: 8-200.")
    return low, high


def _resonance(file: str, rate_hz: float | None, band: tuple[float, float]) -> Resonance:
    """Raises ReadingError and ReadingErrors."""
    from trysquare.cli.table_pieces import table_pieces
    from trysquare.ground.errors import ReadingError
    from trysquare.tuning.acceleration_file import acceleration_of
    from trysquare.tuning.resonance import resonance_of
    from trysquare.tuning.shakes import shake_of

    shake = shake_of(acceleration_of(table_pieces(file), file), rate_hz)
    seen = 0.45 * shake.rate_hz
    if seen < band[0] + 10:
        raise ReadingError(
            where=file,
            read=f"{shake.rate_hz:.0f} samples a second, which show frequencies up to {seen:.0f} Hz",
            expected=f"more than {band[0] + 10:.0f} Hz to be seen",
            remedy="Let the sensor write faster: 400 a second or more.",
        )
    longest = max(len(one) for one in shake.stretches) / shake.rate_hz
    wide = min(band[1], seen) - band[0]
    if wide * longest < LEAST_ORDINATES:
        raise ReadingError(
            where=file,
            read=f"{longest:.2g} s without a gap, looked at over {wide:.0f} Hz",
            expected=f"seconds times hertz of {LEAST_ORDINATES} or more",
            remedy="Record longer, or widen --band.",
        )
    return resonance_of(shake, *band)


def _axes(text: str | None, found: Resonance) -> tuple[str, ...]:
    """The axes that are asked for; raises NotThere."""
    from trysquare.cli import words
    from trysquare.cli.answers import NotThere

    if text is None:
        return ()
    asked = tuple(dict.fromkeys(one.strip().lower() for one in text.split(",")))
    for one in asked:
        if one in found.shake.still:
            raise NotThere(f"--axis: column {one} never changes: nothing can be said of it.")
        if one not in found.fits:
            has = ", ".join(found.shake.axes)
            raise NotThere(
                f"--axis: the table has no column for '{words.one_line(one)}'. It has these: {has}."
            )
    return asked
