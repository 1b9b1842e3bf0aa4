"""Before a heater's power is on: current, what a meter reads, warm-up and holding, told and judged."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, TOLD, Line, Part
from trysquare.tuning.sensor_words import Sensor, figure, room_limits
from trysquare.tuning.values import Measured
from trysquare.tuning.warming import (
    LOSS_WATT_PER_M2_KELVIN,
    RESISTANCE_WITHIN,
    WATT_PER_CM2_FOR_100_CELSIUS,
    heater_ohm,
    heater_watt,
    hold_share,
    warm_up_second,
)

METER_OHM = 0.4  # a multimeter with its leads, ±. Common practice, no source.
LEAST_OHM = 0.2  # less is a short circuit between the probes
# What air and radiation take from a face: between these, W/(m² K). Common practice, no source.
LOSS_LOW, LOSS_HIGH = 8.0, 15.0
# More than this on one low-voltage heater is no small machine's: a slip of the pen. Ours.
ABSURD_AMPERE, EXTRA_LOW_VOLT = 40.0, 60.0
LONGEST_WARM_UP_SECOND = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Heater:
    """A heater as designed, and its resistance as read cold (None: not yet)."""

    name: str
    watt: float
    volt: float
    read_ohm: float | None = None
    read_within_ohm: float = METER_OHM


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """What is heated: heat it takes per kelvin, the faces that lose heat, and the face that is heated."""

    name: str
    joule_per_kelvin: float
    losing_m2: float
    heated_cm2: float
    loss_watt_per_kelvin: float | None = None  # measured, else reckoned from its faces


def heater_part(heater: Heater) -> Part:
    """The current, and whether the resistance is that of this heater. Equation: R = U²/P."""
    ampere, ohm = heater.watt / heater.volt, heater_ohm(heater.watt, heater.volt)
    low, high = ohm * (1 - RESISTANCE_WITHIN), ohm * (1 + RESISTANCE_WITHIN)
    lines: tuple[Line, ...] = (
        Line(label="draws", says=f"{ampere:.1f} A at {heater.volt:g} V ({heater.watt:g} W)"),
        Line(
            label="meter, cold",
            says=f"{figure(low)} … {figure(high)} Ω (U²/P = {figure(ohm)} Ω, ± {RESISTANCE_WITHIN:.0%})",
        ),
    )
    main = None
    if heater.read_ohm is not None and heater.read_ohm > 0:
        main = Measured(
            value=heater.read_ohm,
            standard_uncertainty=heater.read_within_ohm / math.sqrt(3),
            unit="Ω",
            basis="multimeter",
        )
        lines += (Line(label="read", value=main),)
    verdict, says, doubts = _heater_verdict(heater, ampere, (low, ohm, high))
    return Part(
        of=f"heater {heater.name}",
        title=f"Heater {heater.name}",
        verdict=verdict,
        says=says,
        lines=lines,
        doubts=doubts,
        notes=(
            ("Read it with both leads off the board and the machine unplugged; take the reading of the "
            f"touching probes away. A meter with leads is worth ± {METER_OHM:g} Ω (common practice)."),
        ),
        main=main,
        data={"ampere": round(ampere, 3), "expected_ohm": round(ohm, 4), "low_ohm": round(low, 4),
              "high_ohm": round(high, 4)},
    )  # fmt: skip


def _heater_verdict(
    heater: Heater, ampere: float, limits: tuple[float, float, float]
) -> tuple[str, tuple[str, ...], tuple[tuple[str, str], ...]]:
    low, ohm, high = limits
    if heater.volt <= EXTRA_LOW_VOLT and ampere > ABSURD_AMPERE:
        says = (
            (
                f"{heater.watt:g} W at {heater.volt:g} V would draw {ampere:.0f} A: no wire, contact or "
                "supply of "
                "a machine like this bears it. Read the heater's label again: its watts, and its voltage."
            ),
        )
        return BAD, says, (("absurd-current", f"Nothing was judged at {ampere:.0f} A."),)
    mains = (
        (("mains", ("This voltage can kill. Its wiring is done or inspected by a competent or licensed "
                    "person, "
          "as the local code asks.")),)
        if heater.volt > EXTRA_LOW_VOLT
        else ()
    )  # fmt: skip
    read = heater.read_ohm
    if read is None:
        return TOLD, (f"Before it is connected, the meter should read about {figure(ohm)} Ω.",), mains
    if read < LEAST_OHM:
        return (
            BAD,
            ("That is a short circuit: do not switch it on. Look for bare ends, then read again.",),
            mains,
        )
    if read > 20 * ohm:
        return (
            BAD,
            ("It is open, or the probes do not touch: a lead is broken, or a cut-off is open.",),
            mains,
        )
    within = heater.read_within_ohm
    if low - within > read or read > high + within:
        watt = heater_watt(read, heater.volt)
        other = next(
            (volt for volt in (12.0, 24.0, 36.0, 48.0, 120.0, 230.0)
             if volt != heater.volt and abs(heater_ohm(heater.watt, volt) / read - 1) < RESISTANCE_WITHIN),
            None,
        )  # fmt: skip
        guess = f" That would be {heater.watt:g} W at {other:g} V: is it another voltage's?" if other else ""
        return BAD, (
            (f"This is another heater: at {heater.volt:g} V it would draw {watt:.0f} W, "
            f"{watt / heater.volt:.1f} A.{guess} Do not connect it."),
        ), mains  # fmt: skip
    if low + within <= read <= high - within:
        return GOOD, ("Its resistance is that of this heater.",), mains
    return CANNOT_TELL, (
        ("The meter is not fine enough to tell here: touch its probes together, take that reading away, and "
        "read again, or measure the current at a low voltage."),
    ), mains  # fmt: skip


def warm_up_part(heater: Heater, plate: Plate, room: float, target: float) -> Part:
    """How long it takes to a target, and what holding takes: between the losses of still and of moved air.

    Source: lumped capacitance, see `warming.warm_up_second`.
    """
    rise = target - room
    own = plate.loss_watt_per_kelvin
    losses = (
        (own, own, own)
        if own is not None
        else tuple(one * plate.losing_m2 for one in (LOSS_LOW, LOSS_WATT_PER_M2_KELVIN, LOSS_HIGH))
    )
    early, middle, late = (warm_up_second(heater.watt, plate.joule_per_kelvin, rise, one) for one in losses)
    share = hold_share(heater.watt, rise, losses[1])
    density = heater.watt / plate.heated_cm2
    lines = [
        Line(label="takes up", says=f"{plate.joule_per_kelvin:.0f} J for each kelvin ({plate.name})"),
        Line(
            label="warm-up",
            says=f"{duration(middle)} from {room:g} to {target:g} °C ({duration(early)} … {duration(late)})",
        ),
        Line(label="holding", says=f"{share * heater.watt:.0f} W, {share:.0%} of its power"),
        Line(
            label="highest",
            says=f"{room + heater.watt / losses[1]:.0f} °C if nobody stops it: the cut-off must",
        ),
        Line(label="density", says=f"{density:.2f} W/cm² of the heated face"),
    ]
    verdict, says = (
        TOLD,
        [f"About {duration(middle)} to {target:g} °C, then {share:.0%} of the power holds it."],
    )
    if math.isinf(late) and math.isfinite(early):
        verdict = CANNOT_TELL
        says = ["In moved air its losses eat its power: whether it gets there depends on cover and draught."]
    if math.isinf(early):
        verdict = BAD
        says = [f"It never gets to {target:g} °C: its losses eat its power first."]
    elif verdict == TOLD and middle > LONGEST_WARM_UP_SECOND:
        verdict, says = BAD, [f"It would take {duration(middle)}: is the mass or the power what you meant?"]
    if target - room >= 60 and density < WATT_PER_CM2_FOR_100_CELSIUS * rise / 80:
        says.append(
            f"{WATT_PER_CM2_FOR_100_CELSIUS:g} W/cm² is what a plate for 100 °C wants (common practice)."
        )
    return Part(
        of=f"warm-up of {heater.name}",
        title="Warm-up",
        verdict=verdict,
        says=tuple(says),
        lines=tuple(lines),
        notes=(
            "One lump of heat that loses in proportion to its rise; "
            + (
                f"its loss is {own:g} W/K, as given."
                if own is not None
                else f"{LOSS_WATT_PER_M2_KELVIN:g} W/(m² K) from each face, {LOSS_LOW:g} in still air and "
                f"{LOSS_HIGH:g} in moved air (common practice, no source). Screws, glass and sheet add to it."
            ),
        ),
        data={
            "warm_up_second": None if math.isinf(middle) else round(middle, 1),
            "hold_share": round(share, 4),
            "watt_per_cm2": round(density, 4),
        },
    )


def sensor_part(sensor: Sensor, room: float, room_within: float, read_ohm: float | None) -> Part:
    """What the meter should read on a sensor at room temperature, and whether it does."""
    low, ohm, high = room_limits(sensor, room, room_within)
    lines = [
        Line(label="meter", says=f"{figure(low)} … {figure(high)} Ω at {room:g} ± {room_within:g} °C"),
        Line(label="law", says=sensor.law),
    ]
    verdict = TOLD
    says: tuple[str, ...] = (f"At {room:g} °C the meter should read about {figure(ohm)} Ω.",)
    main = None
    if read_ohm is not None:
        meter = max(METER_OHM, 0.01 * read_ohm)
        if read_ohm > 0:
            main = Measured(
                value=read_ohm, standard_uncertainty=meter / math.sqrt(3), unit="Ω", basis="multimeter"
            )
            lines.append(Line(label="read", value=main))
        verdict, says = _sensor_verdict(sensor, read_ohm, meter, (low, high))
    way = "more" if sensor.rises else "less"
    return Part(
        of=f"sensor {sensor.name}",
        title=f"Sensor {sensor.name}",
        verdict=verdict,
        says=says,
        lines=tuple(lines),
        notes=(f"Held in the hand it reads {way}: that shows which sensor it is.",),
        main=main,
        data={"low_ohm": round(low, 3), "expected_ohm": round(ohm, 3), "high_ohm": round(high, 3)},
    )


def _sensor_verdict(
    sensor: Sensor, read: float, meter: float, limits: tuple[float, float]
) -> tuple[str, tuple[str, ...]]:
    low, high = limits
    if read < 1:
        return BAD, (
            "It is shorted: a controller would read this as far too hot or too cold. Find the touch.",
        )
    if read > 20 * high:
        return BAD, ("It is open: a lead is broken or a crimp does not hold.",)
    if low - meter > read or read > high + meter:
        try:
            seems = f" It would be {sensor.celsius(read):.0f} °C by this law."
        except ValueError:
            seems = ""
        return BAD, (
            (f"This is another sensor, or another law.{seems} With the wrong law a controller heats to a "
            "temperature that nobody sees: find out which it is before any heat."),
        )  # fmt: skip
    if low + meter <= read <= high - meter or (low <= read <= high and meter > (high - low) / 4):
        return GOOD, ("Its resistance is that of this sensor at room temperature.",)
    return CANNOT_TELL, ("At the edge of its limits: measure the room, let the sensor rest, and read again.",)


def duration(second: float) -> str:
    """Seconds in words of the bench: 40 s, 12 min, 2.5 h."""
    if math.isinf(second):
        return "never"
    if second < 100:
        return f"{second:.0f} s"
    return f"{second / 60:.0f} min" if second < 100 * 60 else f"{second / 3600:.1f} h"
