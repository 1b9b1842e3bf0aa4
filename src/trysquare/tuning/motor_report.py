"""What a motor can pull and how warm it may get, as parts of a report."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from trysquare.tuning.motor import (
    METAL_CELSIUS,
    PRINTED_CELSIUS,
    RESERVE,
    ROOM_CELSIUS,
    USUAL_SHARE,
    Load,
    Motor,
    copper_watt,
    corner_radian_per_second,
    current_for_celsius,
    highest_speed_mm_per_second,
    microstep_newton_metre,
    needed_newton_metre,
    pull_out_newton_metre,
)
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, TOLD, Line, Part, Table
from trysquare.tuning.values import Measured

SHEET_WITHIN = 0.10  # half width, relative, of a data sheet's torque: common practice, no source
CELSIUS_WITHIN = 3.0  # half width of a thermometer held to a case: common practice, no source
# Beyond it iron losses and swinging decide, of which no data sheet tells: common practice, no source.
TRUSTED_TURNS_PER_MINUTE = 2000.0
SLOW_RISE = 4.0  # volts over I · R: below, the current hardly follows. Common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorCase:
    """A motor at work. `ampere`: RMS that the driver is set to; `speed_mm_per_second`: wished, or None."""

    motor: Motor
    load: Load
    volt: float
    ampere: float
    microsteps: int = 16
    speed_mm_per_second: float | None = None


def torque_part(case: MotorCase) -> Part:
    """Torque against what is needed, the highest speed with a reserve, and what limits it."""
    motor, load = case.motor, case.load
    needed = needed_newton_metre(motor, load)
    top = trusted_speed_mm_per_second(case)
    ideal = highest_speed_mm_per_second(motor, load, case.volt, case.ampere, reserve=1.0)
    corner = corner_radian_per_second(motor, case.volt, case.ampere)
    corner_mm = corner * load.travel_mm * load.share / (2 * math.pi)
    says, verdict, reserve = _judged(case, needed, top)
    doubts = []
    if corner <= 0:
        full = math.sqrt(2) * case.ampere * motor.resistance_ohm
        doubts.append((
            "supply-too-low",
            f"{case.volt:g} V cannot drive {case.ampere:g} A, {full:.1f} V at the crest: is a figure wrong?",
        ))  # fmt: skip
        verdict = BAD
    elif case.volt < SLOW_RISE * case.ampere * motor.resistance_ohm:
        doubts.append((
            "supply-low", "The supply is low for this motor: less inductance or more volts goes faster.",
        ))  # fmt: skip
    if case.ampere > motor.rated_ampere * 1.001:
        doubts.append((
            "over-rated", f"{case.ampere:g} A is more than the rated {motor.rated_ampere:g} A: set it lower.",
        ))  # fmt: skip
        verdict = BAD
    torque = Measured(
        value=needed, standard_uncertainty=0.05 * needed, unit="N·m", basis="mass, acceleration, drag"
    )
    limit = Measured(
        value=top, standard_uncertainty=_speed_error(case, top), unit="mm/s", basis="data sheet, ± 10 %"
    )
    return Part(
        of="motor-torque",
        title="Torque and speed of the motor",
        verdict=verdict,
        says=tuple(says),
        main=limit,
        lines=(
            Line(label="needed", value=torque, says=f"for {load.force_newton:.2f} N and the rotor"),
            Line(
                label="highest speed", value=limit, says=f"with {RESERVE:g} times the torque that is needed"
            ),
            Line(label="ideal", says=f"{ideal:.0f} mm/s, without any reserve: never plan with it"),
            Line(
                label="current whole to",
                says=f"{corner_mm:.0f} mm/s, {corner * 30 / math.pi:.0f} turns a minute",
            ),
            Line(
                label="a microstep holds",
                says=f"{1000 * microstep_newton_metre(motor, case.ampere, case.microsteps):.1f} mN·m",
            ),
        ),
        tables=(_table(case, needed, top),),
        doubts=tuple(doubts),
        notes=(
            "An ideal motor with sine currents; friction, detent and swinging take from the reserve.",
            f"Beyond {TRUSTED_TURNS_PER_MINUTE:g} turns a minute nothing is promised.",
            "Currents are RMS; a driver that is set by the crest wants 1.41 times as much.",
            *(
                ("Crossed belts: the worst way is the diagonal, where one motor does all the work.",)
                if load.crossed
                else ()
            ),
        ),
        data={
            "needed_newton_metre": round(needed, 7),
            "reserve_at_speed": None if reserve is None else round(reserve, 3),
            "highest_speed_mm_per_second": round(top, 2),
            "corner_mm_per_second": round(corner_mm, 2),
            "speed_mm_per_second": case.speed_mm_per_second,
        },
    )


def trusted_speed_mm_per_second(case: MotorCase) -> float:
    """The highest speed with the reserve, at most that of TRUSTED_TURNS_PER_MINUTE."""
    load = case.load
    shaft = TRUSTED_TURNS_PER_MINUTE * 2 * math.pi / 60
    most = shaft * load.travel_mm * load.share / (2 * math.pi)
    return min(most, highest_speed_mm_per_second(case.motor, load, case.volt, case.ampere))


def _judged(case: MotorCase, needed: float, top: float) -> tuple[list[str], str, float | None]:
    if needed <= 0:
        return ["Nothing is to be moved: give the moving mass and the acceleration."], CANNOT_TELL, None
    if case.speed_mm_per_second is None:
        if top <= 0:
            says = "It never has twice the torque that is needed: accelerate less, or take a stronger motor."
            return [says], BAD, None
        return [f"Up to {top:.0f} mm/s it pulls twice what is needed."], TOLD, None
    speed = case.speed_mm_per_second
    shaft = np.array([case.load.shaft_radian_per_second(speed)])
    pulls = float(pull_out_newton_metre(case.motor, case.volt, case.ampere, shaft)[0])
    reserve = pulls / needed
    turns = float(shaft[0]) * 30 / math.pi
    if reserve >= RESERVE and turns > TRUSTED_TURNS_PER_MINUTE:
        beyond = f"{speed:g} mm/s are {turns:.0f} turns a minute: whether it follows cannot be reckoned."
        return [beyond, f"Plan with {top:.0f} mm/s, or more travel for each turn."], CANNOT_TELL, reserve
    if reserve >= RESERVE:
        return [f"At {speed:g} mm/s it pulls {reserve:.1f} times what is needed."], GOOD, reserve
    advice = f"Plan with {top:.0f} mm/s, or accelerate less." if top > 0 else "Accelerate less."
    if reserve < 1:
        return (
            [f"At {speed:g} mm/s it would lose steps: it pulls {reserve:.2f} of what is needed.", advice],
            BAD,
            reserve,
        )
    return (
        [f"At {speed:g} mm/s an ideal motor has {reserve:.1f} times what is needed; a real one may fail.",
         advice], CANNOT_TELL, reserve,
    )  # fmt: skip


def _speed_error(case: MotorCase, top: float) -> float:
    """How far the speed moves when the data sheet's torque is off by what is usual."""
    holding = case.motor.holding_newton_metre
    ends = []
    for factor in (1 - SHEET_WITHIN, 1 + SHEET_WITHIN):
        other = replace(case, motor=replace(case.motor, holding_newton_metre=holding * factor))
        ends.append(trusted_speed_mm_per_second(other))
    return max(abs(one - top) for one in ends) / math.sqrt(3)


def _table(case: MotorCase, needed: float, top: float) -> Table:
    far = max(top * 1.5, 1.5 * (case.speed_mm_per_second or 0.0), 50.0)
    step = 10 ** math.floor(math.log10(far / 5))
    step *= next(one for one in (1, 2, 5, 10) if one * step >= far / 6)
    speeds = np.arange(0.0, far + step / 2, step)
    shaft = np.array([case.load.shaft_radian_per_second(one) for one in speeds.tolist()])
    pulls = pull_out_newton_metre(case.motor, case.volt, case.ampere, shaft)
    return Table(
        title="What it pulls",
        columns=("mm/s", "turns/min", "mN·m", "times needed"),
        rows=tuple(
            (f"{speed:g}", f"{turn * 30 / math.pi:.0f}", f"{1000 * pull:.0f}",
             f"{pull / needed:.1f}" if needed > 0 else "–")
            for speed, turn, pull in zip(speeds.tolist(), shaft.tolist(), pulls.tolist(), strict=True)
        ),
        right=frozenset(range(4)),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmCase:
    """A motor's warmth: the case's temperature after an hour's work at `ampere` (None: not measured yet)."""

    rated_ampere: float | None
    ampere: float | None
    case_celsius: float | None
    room_celsius: float = ROOM_CELSIUS
    printed: bool = True
    motor: Motor | None = None

    @property
    def limit_celsius(self) -> float:
        return PRINTED_CELSIUS if self.printed else METAL_CELSIUS


def warmth_part(case: WarmCase) -> Part:
    """A current that is sensible, by what holds the motor, and by its temperature where it was measured."""
    limit = case.limit_celsius
    holder = "a printed part" if case.printed else "metal"
    lines = [Line(label="warmest case", says=f"{limit:g} °C where {holder} holds it")]
    if case.motor is not None and case.ampere is not None:
        watt = copper_watt(case.motor, case.ampere)
        lines.append(Line(label="heat", says=f"{watt:.1f} W in its copper at {case.ampere:g} A"))
    if case.case_celsius is None or case.ampere is None:
        start = None if case.rated_ampere is None else USUAL_SHARE * case.rated_ampere
        says = ["How warm it gets was not measured: --ampere and --case-celsius, after an hour's work, tell."]
        if start is not None:
            says.insert(0, f"Begin with {start:.2f} A, seven tenths of the rated current.")
        main = None if start is None else Measured(
            value=start, standard_uncertainty=0.0, unit="A", basis="common practice, no source"
        )  # fmt: skip
        return Part(
            of="motor-current", title="Current and warmth", verdict=TOLD, says=tuple(says), main=main,
            lines=tuple(lines), data={"limit_celsius": limit},
        )  # fmt: skip
    rise = case.case_celsius - case.room_celsius
    if rise <= 0:
        return Part(
            of="motor-current",
            title="Current and warmth",
            verdict=CANNOT_TELL,
            says=(
                f"The case, {case.case_celsius:g} °C, is no warmer than the room: it has not worked.",
                "Let it work for an hour, and measure both again.",
            ),
            lines=tuple(lines),
        )
    sensible = current_for_celsius(case.ampere, case.case_celsius, limit, case.room_celsius)
    capped = min(sensible, case.rated_ampere) if case.rated_ampere is not None else sensible
    # d ln I = d rise / (2 rise); both temperatures are read.
    error = capped * CELSIUS_WITHIN / math.sqrt(3) / (2 * rise)
    value = Measured(value=capped, standard_uncertainty=error, unit="A", basis=f"{case.ampere:g} A measured")
    within = CELSIUS_WITHIN
    if case.case_celsius <= limit - within:
        verdict, says = GOOD, [f"{case.case_celsius:g} °C is fine where {holder} holds it."]
        if capped > 1.1 * case.ampere:
            says.append(f"If it loses steps, up to {capped:.2f} A may be set.")
    elif case.case_celsius > limit + within:
        verdict = BAD
        says = [f"{case.case_celsius:g} °C is too warm where {holder} holds it: set {value}."]
    else:
        verdict = CANNOT_TELL
        says = [f"{case.case_celsius:g} °C is at the limit of {limit:g} °C, to what a thermometer tells."]
    if case.case_celsius > 60:
        says.append("Above 60 °C it burns skin: do not find that out by touch.")
    return Part(
        of="motor-current",
        title="Current and warmth",
        verdict=verdict,
        says=tuple(says),
        main=value,
        lines=(Line(label="sensible current", value=value, says="RMS"), *lines),
        notes=("Rise over the room goes with the square of the current.",),
        data={"limit_celsius": limit, "case_celsius": case.case_celsius, "room_celsius": case.room_celsius},
    )
