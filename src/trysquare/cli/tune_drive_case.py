"""What `trysquare tune drive` was asked, and the parts of its report that answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import click

from trysquare.cli import words
from trysquare.cli.answers import NotThere
from trysquare.cli.table_in import read_table
from trysquare.ground.errors import nearest
from trysquare.machine.values import Machine
from trysquare.publish.chart import Chart, Plot, chart_page
from trysquare.publish.drive_plot import positions_chart, torque_chart, travel_chart
from trysquare.tuning.drive import travel_per_turn_belt_mm, travel_per_turn_screw_mm, wiring_seen
from trysquare.tuning.drive_crossed import crossed_part, way_seen
from trysquare.tuning.drive_file import Travels, parse_drive
from trysquare.tuning.drive_machine import Drive, drives_of, is_crossed, moving_gram
from trysquare.tuning.drive_positions import targets_part
from trysquare.tuning.drive_report import Steps, steps_part, travel_part
from trysquare.tuning.motor import USUAL_SHARE, Load, Motor
from trysquare.tuning.motor_report import (
    MotorCase,
    WarmCase,
    torque_part,
    trusted_speed_mm_per_second,
    warmth_part,
)
from trysquare.tuning.report import Part, Report
from trysquare.tuning.travel import READING_MM

GRAVITY = 9.81  # m/s², to three digits anywhere on the ground
DIAL_MM = 0.002  # half width of a dial or digital indicator at a target: common practice, no source
SCREW_EFFICIENCY = 0.4  # trapezoidal thread of several starts in a plastic or bronze nut: common practice
_SHEET = {"ohm": "--ohm", "inductance": "--inductance", "holding": "--holding"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was typed; None where nothing was."""

    readings: str | None
    axis: str | None
    teeth: int | None
    pitch: float | None
    starts: int | None
    full_steps: int
    microsteps: int
    gear: float
    now: float | None
    within_mm: float | None
    scale_limit: float
    lost_limit: float
    accuracy_limit: float | None
    x_went: str | None
    y_went: str | None
    ohm: float | None
    inductance: float | None
    rated: float | None
    holding: float | None
    rotor: float
    volt: float | None
    ampere: float | None
    speed: float | None
    acceleration: float | None
    moving: float | None
    drag: float
    upright: bool
    drive_word: str | None
    case_celsius: float | None
    room_celsius: float
    mount: str

    @property
    def wants_motor(self) -> bool:
        return any(getattr(self, name) is not None for name in (*_SHEET, "volt", "acceleration", "speed"))

    @property
    def wants_crossed(self) -> bool:
        return self.x_went is not None or self.y_went is not None

    @property
    def wants_warmth(self) -> bool:
        return self.case_celsius is not None or (self.rated is not None)


def report_of(asked: Asked, machine: Machine | None, *, draw: bool) -> tuple[Report, Plot | None]:
    """All parts that were asked for, and the picture. Raises UsageError, NotThere, ReadingErrors."""
    drives = _drives(asked, machine)
    parts: list[Part] = []
    charts: list[Chart] = []
    if asked.readings is not None:
        _readings(asked, parts, charts)
    if asked.wants_crossed:
        if asked.x_went is None or asked.y_went is None:
            raise click.UsageError("--x-went and --y-went go together: two moves tell which motor it is.")
        parts.append(
            crossed_part(wiring_seen(_way("--x-went", asked.x_went), _way("--y-went", asked.y_went)), drives)
        )
    if asked.wants_motor:
        case = _motor_case(asked, machine, drives)
        parts.append(torque_part(case))
        charts.append(torque_chart(case, trusted_speed_mm_per_second(case)))
    if asked.wants_warmth:
        parts.append(warmth_part(_warm_case(asked)))
    if (
        drives
        and (not parts or asked.now is not None or asked.teeth or asked.pitch)
        and not asked.wants_motor
    ):
        steps = Steps(full_steps=asked.full_steps, microsteps=asked.microsteps, gear=asked.gear)
        parts.insert(0, steps_part(drives, steps, asked.now))
    if not parts:
        raise click.UsageError(
            "What is to be known? Give READINGS, --machine FOLDER, --teeth and --pitch, --x-went and "
            "--y-went, or a motor's data."
        )
    if asked.axis:
        name = words.one_line(asked.axis)
        parts = [replace(part, of=f"{name} {part.of}") for part in parts]
    hot = asked.wants_motor or asked.wants_warmth
    cautions = ("motion", "hot") if hot else ("motion",)
    report = Report(what="drive", title="Drives", parts=tuple(parts), cautions=cautions)
    says = " ".join(sentence for part in parts for sentence in part.says)
    return report, chart_page("Drives", says, charts) if draw else None


def _way(option: str, text: str) -> tuple[float, float]:
    try:
        return way_seen(text)
    except ValueError as error:
        raise click.UsageError(f"{option} {error}.") from error


def _readings(asked: Asked, parts: list[Part], charts: list[Chart]) -> None:
    assert asked.readings is not None  # by the caller's choice
    read = parse_drive(read_table(asked.readings), asked.readings)
    if isinstance(read, Travels):
        try:
            made, found = travel_part(
                read, asked.now, within_mm=asked.within_mm or READING_MM,
                scale_limit_percent=asked.scale_limit, lost_limit_mm=asked.lost_limit,
            )  # fmt: skip
        except ValueError as error:
            raise click.UsageError(f"{words.one_line(asked.readings)}: {error}.") from error
        parts += made
        charts.append(travel_chart(read, found))
    else:
        part, positions = targets_part(read, asked.accuracy_limit, asked.within_mm or DIAL_MM)
        parts.append(part)
        charts.append(positions_chart(positions))


def _drives(asked: Asked, machine: Machine | None) -> tuple[Drive, ...]:
    """The drive that was typed, else the machine's."""
    if asked.teeth is not None or asked.pitch is not None or asked.starts is not None:
        if asked.pitch is None:
            raise click.UsageError("--pitch is missing: the belt's, or the screw thread's, in mm.")
        if asked.teeth is not None and asked.starts is not None:
            raise click.UsageError("--teeth is of a belt's pulley, --starts of a screw: give one of them.")
        if asked.teeth is not None:
            travel = travel_per_turn_belt_mm(asked.teeth, asked.pitch)
            how, screw = f"{asked.teeth} teeth of {asked.pitch:g} mm", False
        else:
            starts = asked.starts or 1
            travel = travel_per_turn_screw_mm(asked.pitch, starts)
            how, screw = f"pitch {asked.pitch:g} mm, {words.count(starts, 'start')}", True
        axes = (words.one_line(asked.axis),) if asked.axis else ()
        return (Drive(of="as typed", axes=axes, travel_mm=travel, how=how, screw=screw),)
    if machine is None:
        if asked.drive_word:
            raise click.UsageError("--of is a drive of a machine: give --machine FOLDER too.")
        return ()
    found = drives_of(machine)
    if asked.axis:
        known = sorted({axis for one in found for axis in one.axes} | {axis.id for axis in machine.axes})
        if found and asked.axis not in known:
            raise NotThere(
                f"{machine.name} has no axis '{words.one_line(asked.axis)}'. {nearest(asked.axis, known)}"
            )
        found = tuple(one for one in found if asked.axis in one.axes) or found
    if not asked.drive_word:
        return found
    named = {name: one for one in found for name in (one.of.rpartition("/")[2], one.of)}
    if asked.drive_word not in named:
        raise NotThere(
            f"{machine.name} has no drive '{words.one_line(asked.drive_word)}'. "
            f"{nearest(asked.drive_word, named)}"
        )
    return (named[asked.drive_word],)


def _motor_case(asked: Asked, machine: Machine | None, drives: Sequence[Drive]) -> MotorCase:
    needed = {**_SHEET, "rated": "--rated", "volt": "--volt", "acceleration": "--acceleration"}
    missing = [option for name, option in needed.items() if getattr(asked, name) is None]
    if missing:
        raise click.UsageError(f"For the motor's torque, {' and '.join(missing)} must be given too.")
    if not drives:
        raise click.UsageError("What does the motor drive? Give --teeth and --pitch, or --machine FOLDER.")
    drive = drives[0]
    sharing = 1
    mass = asked.moving
    upright = asked.upright
    crossed = False
    if machine is not None and drive.of != "as typed":
        crossed = not drive.screw and is_crossed(drives_of(machine))
        if drive.screw:
            sharing = sum(one.screw and one.axes == drive.axes for one in drives_of(machine))
            ways = [axis.direction for axis in machine.axes if axis.id in drive.axes]
            upright = upright or any(abs(way[2]) > 0.5 for way in ways)
        if mass is None:
            mass = moving_gram(machine, drive.axes)
    if mass is None:
        raise click.UsageError("How much does it move? Give --moving, in grams.")
    assert asked.ohm is not None  # all of them were looked for above
    assert asked.inductance is not None
    assert asked.rated is not None
    assert asked.holding is not None
    assert asked.volt is not None
    assert asked.acceleration is not None
    return MotorCase(
        motor=Motor(
            resistance_ohm=asked.ohm, inductance_millihenry=asked.inductance, rated_ampere=asked.rated,
            holding_newton_metre=asked.holding, rotor_gram_cm2=asked.rotor, full_steps=asked.full_steps,
        ),
        load=Load(
            travel_mm=drive.travel_mm / asked.gear,
            moving_gram=mass / sharing,
            acceleration_mm_per_s2=asked.acceleration,
            drag_newton=asked.drag / sharing,
            lift_newton=mass * 1e-3 * GRAVITY / sharing if upright else 0.0,
            efficiency=SCREW_EFFICIENCY if drive.screw else 1.0,
            crossed=crossed,
        ),
        volt=asked.volt,
        ampere=asked.ampere or USUAL_SHARE * asked.rated,
        microsteps=asked.microsteps,
        speed_mm_per_second=asked.speed,
    )  # fmt: skip


def _warm_case(asked: Asked) -> WarmCase:
    motor = None
    if asked.ohm is not None and asked.inductance is not None and asked.rated is not None and asked.holding:
        motor = Motor(
            resistance_ohm=asked.ohm, inductance_millihenry=asked.inductance, rated_ampere=asked.rated,
            holding_newton_metre=asked.holding,
        )  # fmt: skip
    if asked.case_celsius is not None and asked.ampere is None:
        raise click.UsageError("--case-celsius was measured at a current: give --ampere too.")
    return WarmCase(
        rated_ampere=asked.rated,
        ampere=asked.ampere,
        case_celsius=asked.case_celsius,
        room_celsius=asked.room_celsius,
        printed=asked.mount == "printed",
        motor=motor,
    )
