"""`trysquare tune drive`: steps, travel, lost motion, directions, torque and warmth of an axis."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from trysquare.cli import words
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.cli.tune_shared import log_option, machine_options, machine_or_none, plot_option, unreadable

_TRAVEL, _POSITIONS = "demo/larch/recordings/x-travel.csv", "demo/larch/recordings/x-positions.csv"

_MOTOR = "--ohm 1.6 --inductance 3 --rated 1.5 --holding 0.4 --rotor 54"


def _above(most: float) -> click.FloatRange:
    return click.FloatRange(0, most, min_open=True)


@click.command(
    "drive",
    cls=Taught,
    learns="Know what a step moves, what is lost on turning back, and how fast and warm a motor may run.",
    inputs=(
        ("READINGS", "CSV: commanded_mm, measured_mm, from (below or above): scale and lost motion"),
        ("", "or target_mm, position_mm, from: accuracy and repeatability after ISO 230-2"),
        ("", "none for steps (--machine, or --teeth, --pitch, --starts), directions (--x-went, --y-went),"),
        ("", "motor (--ohm … --volt, --acceleration), warmth (--ampere, --case-celsius)"),
    ),
    examples=(
        "trysquare tune drive --machine demo/larch --axis x --now 66.667",
        "trysquare tune drive --pitch 2 --starts 4 --microsteps 16",
        f"trysquare tune drive {_TRAVEL} --axis x --now 66.667",
        f"trysquare tune drive {_POSITIONS} --accuracy-limit 0.1",
        "trysquare tune drive --x-went back --y-went right",
        f"trysquare tune drive --machine demo/larch {_MOTOR} --volt 24 --acceleration 3000 --speed 200",
        "trysquare tune drive --rated 1.5 --ampere 1.2 --case-celsius 68 --mount printed",
    ),
    exits=(
        (0, "as it should be, or only reckoned"),
        (1, "something is to be done, or cannot be told"),
        *COMMON_EXITS,
    ),
)  # fmt: skip
@click.argument("readings", metavar="[READINGS]", required=False)
@machine_options
@click.option("--axis", metavar="NAME", help="Which axis this is, for the log.  [default: none]")
@click.option(
    "--teeth", metavar="N", type=click.IntRange(5, 500), help="Teeth of the pulley.  [default: none]"
)
@click.option(
    "--pitch", metavar="MM", type=_above(100), help="Pitch of the belt, or of the thread.  [default: none]"
)
@click.option(
    "--starts", metavar="N", type=click.IntRange(1, 20), help="Starts of the screw's thread.  [default: 1]"
)
@click.option(
    "--full-steps",
    metavar="N",
    type=click.IntRange(4, 5000),
    default=200,
    help="Full steps a turn of the motor.  [default: 200]",
)
@click.option(
    "--microsteps",
    metavar="N",
    type=click.IntRange(1, 1024),
    default=16,
    help="Microsteps of the driver.  [default: 16]",
)
@click.option(
    "--gear",
    metavar="TURNS",
    type=_above(1000),
    default=1.0,
    help="Turns of the motor for one of pulley or screw.  [default: 1]",
)
@click.option(
    "--now",
    metavar="STEPS/MM",
    type=_above(1e6),
    help="Steps for a millimetre as they are set.  [default: none]",
)
@click.option(
    "--within-mm",
    metavar="MM",
    type=_above(10),
    help="How well a reading is known, ±.  [default: 0.03; 0.002 at targets]",
)
@click.option(
    "--scale-limit", metavar="PERCENT", type=_above(50), default=0.1, help="Scale allowed.  [default: 0.1]"
)
@click.option(
    "--lost-limit", metavar="MM", type=_above(10), default=0.05, help="Lost motion allowed.  [default: 0.05]"
)
@click.option(
    "--accuracy-limit", metavar="MM", type=_above(10), help="Accuracy A allowed.  [default: told, not judged]"
)
@click.option(
    "--x-went",
    metavar="WAY",
    help="Crossed belts: where the head went when +x was asked: right, back, 0,10 …  [default: none]",
)
@click.option(
    "--y-went", metavar="WAY", help="Crossed belts: where it went when +y was asked.  [default: none]"
)
@click.option("--ohm", metavar="OHM", type=_above(500), help="Motor: of one phase.  [default: none]")
@click.option("--inductance", metavar="MH", type=_above(500), help="Motor: of one phase.  [default: none]")
@click.option(
    "--rated",
    metavar="AMPERE",
    type=_above(20),
    help="Motor: rated current of a phase, RMS.  [default: none]",
)
@click.option("--holding", metavar="NM", type=_above(50), help="Motor: holding torque.  [default: none]")
@click.option(
    "--rotor",
    metavar="G·CM2",
    type=click.FloatRange(0, 50000),
    default=0.0,
    help="Motor: inertia of the rotor.  [default: 0, left out]",
)
@click.option("--volt", metavar="VOLT", type=_above(100), help="Supply of the drivers.  [default: none]")
@click.option(
    "--ampere", metavar="AMPERE", type=_above(20), help="Current as it is set, RMS.  [default: 0.7 of rated]"
)
@click.option(
    "--speed", metavar="MM/S", type=_above(1e4), help="Speed that is wished.  [default: told, not judged]"
)
@click.option(
    "--acceleration",
    metavar="MM/S2",
    type=_above(1e6),
    help="Acceleration of the fastest move.  [default: none]",
)
@click.option(
    "--moving",
    metavar="GRAM",
    type=_above(1e6),
    help="The mass that moves.  [default: reckoned from the machine]",
)
@click.option(
    "--drag",
    metavar="NEWTON",
    type=click.FloatRange(0, 1e4),
    default=2.0,
    help="Drag of the guides.  [default: 2]",
)
@click.option(
    "--upright", is_flag=True, help="The mass is lifted too.  [default: level; the machine's z is upright]"
)
@click.option(
    "--of",
    "drive_word",
    metavar="DRIVE",
    help="Which pulley or screw of the machine drives.  [default: the first]",
)
@click.option(
    "--case-celsius",
    metavar="CELSIUS",
    type=click.FloatRange(-20, 200),
    help="Motor's case after an hour's work.  [default: none]",
)
@click.option(
    "--room-celsius",
    metavar="CELSIUS",
    type=click.FloatRange(-20, 80),
    default=22.0,
    help="Air around the motor.  [default: 22]",
)
@click.option(
    "--mount",
    type=click.Choice(["printed", "metal"]),
    default="printed",
    help="What holds the motor: printed 55 °C at most, metal 75 °C.  [default: printed]",
)
@plot_option
@log_option
@json_option
def command(
    readings: str | None, folder: str | None, papers: tuple[str, ...], plot: str | None, into_log: bool,
    as_json: bool, **typed: Any,
) -> int:  # fmt: skip
    """Gathers what was asked and ends as every tuning does."""
    from trysquare.cli.tune_drive_case import Asked, report_of
    from trysquare.cli.tune_report import finish
    from trysquare.ground.errors import ReadingError, ReadingErrors

    asked = Asked(readings=readings, **typed)
    try:
        machine = machine_or_none(folder, papers, into_log=into_log)
        report, drawing = report_of(asked, machine, draw=plot is not None)
        return finish(
            report, machine=machine, folder=folder, as_json=as_json, into_log=into_log,
            files=[Path(readings)] if readings else [], plot=plot, drawing=drawing,
            inputs={key: value for key, value in (("readings", readings), *sorted(typed.items()))
                    if value is not None},
        )  # fmt: skip
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, readings or folder or "what was typed", as_json=as_json)
    except ValueError as error:
        raise click.UsageError(words.sentence(error)) from error
