"""`trysquare tune belt`: a belt's tension from the sound of a pluck, and what to turn next."""

from __future__ import annotations

import filecmp
from pathlib import Path
from typing import Any

import click

from trysquare.cli import words
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.cli.tune_shared import (
    limits,
    log_option,
    machine_options,
    machine_or_none,
    plot_option,
    unreadable,
)

_A, _B = "demo/larch/recordings/belt-a.flac", "demo/larch/recordings/belt-b.flac"
POSITIVE = click.FloatRange(0, 1e6, min_open=True)


@click.command(
    "belt",
    cls=Taught,
    learns="Know a belt's tension from the sound of a pluck, whether it is right, and what to turn next.",
    inputs=(
        ("RECORDING", "WAV, FLAC, OGG or MP3 of three plucks; two recordings compare a pair of belts"),
        ("", "none with --tone (heard otherwise) or --press and --aside (a span that does not ring)"),
    ),
    examples=(
        f"trysquare tune belt {_A} --length-mm 335 --mass 8.4",
        f"trysquare tune belt {_A} {_B} --machine demo/larch",
        "trysquare tune belt --tone 112 --machine demo/larch --belt belt-a --span 1 --at 90,90",
        "trysquare tune belt --press 2 --aside 4 --length-mm 150",
    ),
    exits=(
        (0, "every belt is as taut as it should be, and pairs agree"),
        (1, "one is not, or nobody can tell"),
        *COMMON_EXITS,
    ),
)
@click.argument("recordings", metavar="[RECORDING]…", nargs=-1)
@machine_options
@click.option(
    "--belt",
    "belts",
    metavar="BELT",
    multiple=True,
    help="Which belt, once for each recording.  [default: in the machine's order]",
)
@click.option(
    "--span",
    metavar="SPAN",
    help="Which span, by number or a part at its end.  [default: the longest that no axis changes]",
)
@click.option("--at", metavar="X,Y", help="Where the head stood, mm of travel.  [default: as drawn]")
@click.option(
    "--length-mm", metavar="MM", type=POSITIVE, help="Length of the span.  [default: the machine's]"
)
@click.option(
    "--length-within",
    metavar="MM",
    type=click.FloatRange(0, 1000),
    help="How well the length is known, ±.  [default: 0.5 as given, 1 from the machine]",
)
@click.option("--mass", metavar="G/M", type=POSITIVE, help="Mass of the belt, g/m.  [default: our table's]")
@click.option(
    "--mass-within",
    metavar="G/M",
    type=click.FloatRange(0, 1e5),
    help="How well the mass is known, ±.  [default: 2 % of it; 15 % of a table's]",
)
@click.option(
    "--weighed", metavar="GRAM:MM", help="A length of belt as weighed, such as 42:5000.  [default: none]"
)
@click.option("--width", "width_mm", metavar="MM", type=POSITIVE, help="Width of the belt.  [default: 6]")
@click.option(
    "--rate",
    metavar="HZ",
    type=POSITIVE,
    help="The recorder's true rate, if the file's is wrong.  [default: as the file says]",
)
@click.option(
    "--expect", metavar="HZ-HZ", help="Bounds of the tone.  [default: of sane tensions on this span]"
)
@click.option(
    "--tone",
    "tones",
    metavar="HZ",
    type=POSITIVE,
    multiple=True,
    help="A tone that was heard otherwise, ± 1 %.  [default: none]",
)
@click.option(
    "--press", metavar="NEWTON", type=POSITIVE, help="Force in the middle of the span.  [default: none]"
)
@click.option("--aside", metavar="MM", type=POSITIVE, help="How far that presses it aside.  [default: none]")
@click.option(
    "--head",
    type=click.Choice(["light", "cutting"]),
    default="light",
    help="What the belt moves.  [default: light]",
)
@click.option(
    "--target",
    metavar="NEWTON",
    type=POSITIVE,
    help="Your own ruling; --log keeps it for next time.  [default: the kept one, else common practice]",
)
@click.option(
    "--acceleration",
    metavar="MM/S2",
    type=POSITIVE,
    help="Acceleration of the fastest move: the slack side must stay taut.  [default: not asked]",
)
@click.option(
    "--moving",
    "moving_gram",
    metavar="GRAM",
    type=POSITIVE,
    help="The mass it moves.  [default: reckoned from the machine]",
)
@click.option(
    "--screw",
    "screw_mm",
    metavar="MM",
    type=POSITIVE,
    help="Pitch of the tensioner's screw: 0.5 for M3, 0.7 for M4, 0.8 for M5.  [default: none]",
)
@click.option(
    "--takes-in",
    metavar="MM",
    type=POSITIVE,
    default=2.0,
    help="Belt taken in for 1 mm of the screw: 2 round an idler, 1 at a clamp.  [default: 2]",
)
@click.option("--before", metavar="FILE", help="The recording before the last turn.  [default: none]")
@click.option(
    "--turned",
    metavar="TURNS",
    type=click.FloatRange(-1000, 1000),
    help="How far it was turned since; > 0 tightened.  [default: none]",
)
@click.option(
    "--limit",
    "limit_percent",
    metavar="PERCENT",
    type=POSITIVE,
    default=5.0,
    help="How far a pair may differ in tension.  [default: 5]",
)
@plot_option
@log_option
@json_option
def command(
    recordings: tuple[str, ...], folder: str | None, papers: tuple[str, ...], rate: float | None,
    expect: str | None, tones: tuple[float, ...], press: float | None, aside: float | None,
    before: str | None, turned: float | None, limit_percent: float, plot: str | None, into_log: bool,
    as_json: bool, **typed: Any,
) -> int:  # fmt: skip
    """Listens, reckons, judges and advises."""
    from trysquare.cli.recordings import read_recording
    from trysquare.cli.tune_belt_case import Asked, cases
    from trysquare.cli.tune_belt_report import Said, belt_report, read_all
    from trysquare.cli.tune_report import finish
    from trysquare.ground.errors import ReadingError, ReadingErrors

    _check_call(recordings, tones, press, aside, before, turned)
    try:
        machine = machine_or_none(folder, papers, into_log=into_log)
        length_within = typed.pop("length_within")
        asked = Asked(expect=limits(expect, "--expect", "60-200"), length_within_mm=length_within, **typed)
        found = cases(asked, machine, folder, max(1, len(recordings) or len(tones)))
        heard = [
            read_recording(Path(file), rate_hz=rate, expected_hz=case.expected_hz)
            for file, case in zip(recordings, found, strict=False)
        ]
        said = Said(tones=tones, press=press, aside=aside, before=before, turned=turned, rate=rate)
        readings = read_all(found, heard, said)
        report = belt_report(found, readings, heard, limit_percent)
        drawing = None
        if plot is not None:
            from trysquare.publish.tuning_plot import BeltPicture, belt_plot

            drawing = belt_plot(
                [
                    BeltPicture(reading=reading, sound=one.sound, pluck=one.loudest, rate_hz=one.loudest_hz)
                    for reading, one in zip(readings, heard, strict=False)
                ]
            )
        return finish(
            report, machine=machine, folder=folder, as_json=as_json, into_log=into_log,
            files=[Path(one) for one in recordings], plot=plot, drawing=drawing,
            inputs={"recordings": list(recordings), "tones_hz": list(tones), "press_newton": press,
                    "aside_mm": aside},
        )  # fmt: skip
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, folder or words.listed(recordings), as_json=as_json)
    except ValueError as error:
        raise click.UsageError(f"{error}.") from error


def _check_call(
    recordings: tuple[str, ...], tones: tuple[float, ...], press: float | None, aside: float | None,
    before: str | None, turned: float | None,
) -> None:  # fmt: skip
    """Raises UsageError for what does not go together."""
    ways = [bool(recordings), bool(tones), press is not None or aside is not None]
    if sum(ways) != 1:
        raise click.UsageError("Give recordings, or --tone, or --press with --aside: one of the three.")
    if (press is None) != (aside is None):
        raise click.UsageError("--press and --aside go together: the force, and how far it pressed the span.")
    if (before is None) != (turned is None):
        raise click.UsageError(
            "--before and --turned go together: the recording before the turn, and the turn."
        )
    if len(recordings) == 2 and _one_file(*map(Path, recordings)):
        raise click.UsageError("Both recordings are one and the same: record each belt by itself.")
    if before is not None and _one_file(Path(before), Path(recordings[0]) if recordings else Path()):
        raise click.UsageError("--before is the same recording: give the one from before the turn.")
    if before is not None and len(recordings) != 1:
        raise click.UsageError("--before goes with one recording: that of the same belt after the turn.")


def _one_file(one: Path, other: Path) -> bool:
    """Whether two recordings are one and the same, also when it was copied."""
    try:
        return one.is_file() and other.is_file() and filecmp.cmp(one, other, shallow=False)
    except OSError:
        return False
