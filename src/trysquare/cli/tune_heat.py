"""`trysquare tune heat`: a heater before its power is on, its answer, its controller, its holding power."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import talk
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.cli.tune_shared import (
    log_option,
    machine_options,
    machine_or_none,
    plot_option,
    unreadable,
)

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.publish.chart import Plot
    from trysquare.tuning.report import Part

_DEMO = "demo/larch/recordings"
POSITIVE = click.FloatRange(0, 1e6, min_open=True)
CELSIUS = click.FloatRange(-40, 1000)


@click.command(
    "heat",
    cls=Taught,
    learns="Know a heater's current, resistance and warm-up before its power is on, settings that hold a "
    "temperature, and whether a sensor has come loose.",
    inputs=(
        ("RECORD", "CSV of one heating: time_s, temperature_celsius, and power_percent or power_watt"),
        ("", "a step of power from rest, or on and off by a switch at a temperature, four cycles"),
        ("", "none with --power, --sensor or --hold alone"),
        ("--machine", "alone: every heater of the folder, with the plate that it lies on"),
        ("--hold FILE", "CSV: when, temperature_celsius, power_percent or power_watt; also room_celsius"),
    ),
    examples=(
        "trysquare tune heat --machine demo/larch --target 90",
        "trysquare tune heat --power 160 --volt 24 --plate 200x200x4 --target 90 --ohm 3.6 --ohm-within 0.1",
        "trysquare tune heat --sensor ntc:100000:3950 --sensor-ohm 112000 --table 0:120:20",
        f"trysquare tune heat {_DEMO}/bed-step.csv --target 90",
        f"trysquare tune heat {_DEMO}/hot-end-cycles.csv --target 210 --name hot-end",
        f"trysquare tune heat --hold {_DEMO}/bed-hold.csv --name bed",
    ),
    exits=(
        (0, "told, and what was measured is as it should be"),
        (1, "something is not, or cannot be told"),
        *COMMON_EXITS,
    ),
)
@click.argument("record", metavar="[RECORD]", required=False)
@machine_options
@click.option("--power", "watt", metavar="WATT", type=POSITIVE, help="Power of the heater.  [default: none]")
@click.option(
    "--volt", metavar="VOLT", type=POSITIVE, default=24.0, help="Voltage that it runs at.  [default: 24]"
)
@click.option(
    "--target",
    metavar="CELSIUS",
    type=CELSIUS,
    help="Temperature to reckon to.  [default: 60, or the record's last]",
)
@click.option("--hold", metavar="FILE", help="Powers that held a temperature, by date.  [default: none]")
@click.option(
    "--ohm", metavar="OHM", type=click.FloatRange(0, 1e7), help="The heater as read cold.  [default: none]"
)
@click.option(
    "--ohm-within",
    metavar="OHM",
    type=click.FloatRange(0, 1e5),
    default=0.4,
    help="What the meter is worth, ±; 0.1 with its leads taken away.  [default: 0.4]",
)
@click.option("--name", metavar="NAME", default="bed", help="What is heated.  [default: bed]")
@click.option(
    "--plate", metavar="MMxMMxMM", help="Length, width and thickness of what is heated.  [default: none]"
)
@click.option(
    "--material",
    type=click.Choice(["aluminium", "steel", "glass"]),
    default="aluminium",
    help="Material of the plate.  [default: aluminium]",
)
@click.option(
    "--mass",
    "mass_kg",
    metavar="KG",
    type=POSITIVE,
    help="Mass of the plate as weighed.  [default: by its size]",
)
@click.option(
    "--area",
    "area_cm2",
    metavar="CM2",
    type=POSITIVE,
    help="Area of the heater's mat.  [default: the plate's]",
)
@click.option(
    "--loss", metavar="W/K", type=POSITIVE, help="Measured loss for each kelvin.  [default: by its faces]"
)
@click.option(
    "--room", metavar="CELSIUS", type=CELSIUS, default=22.0, help="Temperature of the room.  [default: 22]"
)
@click.option(
    "--room-within",
    metavar="KELVIN",
    type=click.FloatRange(0, 30),
    default=2.0,
    help="How well the room is known, ±.  [default: 2]",
)
@click.option(
    "--sensor",
    metavar="SENSOR",
    help="The sensor: pt100, pt1000, ntc:OHM:BETA or ntc:A,B,C.  [default: none]",
)
@click.option(
    "--sensor-ohm", metavar="OHM", type=click.FloatRange(0, 1e9), help="The sensor as read.  [default: none]"
)
@click.option("--table", metavar="LOW:HIGH:STEP", help="The sensor's table, °C.  [default: none]")
@click.option(
    "--rule",
    type=click.Choice(
        ["amigo", "simc", "imc", "chr", "cohen-coon", "ziegler-nichols", "tyreus-luyben",
         "ziegler-nichols-swing"]
    ),
    help="Take this rule's settings.  [default: the quickest of the calm ones]",
)  # fmt: skip
@plot_option
@log_option
@json_option
def command(
    record: str | None, folder: str | None, papers: tuple[str, ...], hold: str | None, plot: str | None,
    into_log: bool, as_json: bool, **typed: Any,
) -> int:  # fmt: skip
    """Reckons what it was given figures for, and judges what was read."""
    from trysquare.cli.tune_report import finish
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.tuning.heat_report import heat_report

    of_machine = folder is not None and not (record or hold or typed["watt"] or typed["sensor"])
    if not of_machine:
        _check_call(record, hold, typed)
    if plot is not None and not record:
        talk("--plot draws a RECORD; nothing is drawn of the rest.")
        plot = None
    try:
        machine = machine_or_none(folder, papers, into_log=into_log)
        parts = [*_before(typed), *_sensor(typed)]
        if of_machine and machine is not None:
            parts += _of_machine(machine, typed)
        drawing = None
        if record:
            found_parts, drawing = _answer(record, typed, draws=plot is not None)
            parts += found_parts
        if hold:
            from trysquare.cli.table_in import read_table
            from trysquare.tuning.heat_file import parse_holds
            from trysquare.tuning.heat_hold import hold_part

            parts.append(hold_part(parse_holds(read_table(hold), hold), typed["name"]))
        return finish(
            heat_report(parts, mains=typed["volt"] > 60),
            machine=machine, folder=folder, as_json=as_json, into_log=into_log,
            files=[Path(one) for one in (record, hold) if one], plot=plot, drawing=drawing,
            inputs={"record": record, "hold": hold},
        )  # fmt: skip
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, record or hold or folder or "what was typed", as_json=as_json)
    except ValueError as error:
        raise click.UsageError(words.sentence(error)) from error


def _check_call(record: str | None, hold: str | None, typed: dict[str, Any]) -> None:
    """Raises UsageError for what does not go together."""
    if not (record or hold or typed["watt"] or typed["sensor"]):
        raise click.UsageError("Give a RECORD, or --machine, --power, --sensor or --hold: see --help.")
    _check_pairs(typed)


def _check_pairs(typed: dict[str, Any]) -> None:
    """Raises UsageError for an option without the one that it goes with."""
    for option, needs in (("ohm", "watt"), ("plate", "watt"), ("sensor_ohm", "sensor"), ("table", "sensor")):
        if typed[option] is not None and typed[needs] is None:
            named = {"watt": "--power WATT", "sensor": "--sensor"}[needs]
            raise click.UsageError(f"--{option.replace('_', '-')} goes with {named}.")


def _before(typed: dict[str, Any]) -> list[Part]:
    if typed["watt"] is None:
        return []
    from trysquare.tuning.heat_before import Heater, heater_part, warm_up_part
    from trysquare.tuning.report import BAD

    heater = Heater(
        name=typed["name"],
        watt=typed["watt"],
        volt=typed["volt"],
        read_ohm=typed["ohm"],
        read_within_ohm=typed["ohm_within"],
    )
    parts = [heater_part(heater)]
    absurd = any(code == "absurd-current" for code, _ in parts[0].doubts) and parts[0].verdict == BAD
    target = 60.0 if typed["target"] is None else typed["target"]
    if typed["plate"] is not None and not absurd:
        if target <= typed["room"]:
            raise ValueError(f"--target {target:g} is not above the room's {typed['room']:g} °C")
        parts.append(warm_up_part(heater, _plate(typed), typed["room"], target))
    return parts


def _of_machine(machine: Machine, typed: dict[str, Any]) -> list[Part]:
    """Every heater that the folder's cables lead to, before its power is on."""
    from dataclasses import replace

    from trysquare.tuning.heat_before import heater_part, warm_up_part
    from trysquare.tuning.heat_machine import heaters_of

    _check_pairs(typed)
    target = 60.0 if typed["target"] is None else typed["target"]
    parts: list[Part] = []
    for one in heaters_of(machine):
        first = heater_part(one.heater)
        parts.append(replace(first, notes=(*first.notes, *one.says)))
        if one.plate is not None and target > typed["room"]:
            parts.append(warm_up_part(one.heater, one.plate, typed["room"], target))
    if not parts:
        raise click.UsageError(
            "No cable run of the role heater leads to a heater here: give --power WATT, or a RECORD."
        )
    return parts


def _plate(typed: dict[str, Any]) -> Any:
    from trysquare.tuning.heat_before import Plate
    from trysquare.tuning.warming import MATERIALS, plate_joule_per_kelvin

    text = typed["plate"]
    try:
        length, width, thick = (float(one) / 1000 for one in text.casefold().replace("×", "x").split("x"))
    except ValueError:
        length = width = thick = 0.0
    if not (min(length, width, thick) >= 1e-3 and max(length, width, thick) <= 5):
        raise ValueError(
            f"--plate read '{text}'; expected length, width and thickness in mm, each from 1 to 5000: "
            "200x200x4"
        )
    material = MATERIALS[typed["material"]]
    area = length * width
    by_size = plate_joule_per_kelvin(material, area, thick)
    weighed = typed["mass_kg"]
    return Plate(
        name=typed["material"] + (f", {weighed:g} kg as weighed" if weighed else f" {text} mm"),
        joule_per_kelvin=weighed * material.heat_capacity if weighed else by_size,
        losing_m2=2 * area + 2 * thick * (length + width),
        heated_cm2=typed["area_cm2"] or area * 1e4,
        loss_watt_per_kelvin=typed["loss"],
    )


def _sensor(typed: dict[str, Any]) -> list[Part]:
    if typed["sensor"] is None:
        return []
    from trysquare.tuning.heat_before import sensor_part
    from trysquare.tuning.heat_report import table_part
    from trysquare.tuning.sensor_words import sensor_of

    sensor = sensor_of(typed["sensor"])
    parts = [sensor_part(sensor, typed["room"], typed["room_within"], typed["sensor_ohm"])]
    if typed["table"] is not None:
        low, high, step = _range(typed["table"], sensor.rises)
        parts.append(table_part(sensor, low, high, step))
    return parts


def _range(text: str, platinum: bool) -> tuple[float, float, float]:
    lowest, highest = (-199.0, 849.0) if platinum else (-60.0, 400.0)
    try:
        low, high, step = (float(one) for one in text.split(":"))
    except ValueError:
        low = high = step = float("nan")
    if not (lowest <= low < high <= highest and step > 0 and (high - low) / step <= 399):
        raise ValueError(
            f"--table read '{text}'; expected low:high:step in °C between {lowest:g} and {highest:g}, at "
            "most "
            "400 rows: 0:120:10"
        )
    return low, high, step


def _answer(record: str, typed: dict[str, Any], *, draws: bool) -> tuple[list[Part], Plot | None]:
    from trysquare.cli.table_in import read_table
    from trysquare.tuning.heat_file import parse_record
    from trysquare.tuning.heat_report import answer_part, answered, settings_part

    read = parse_record(read_table(record), record, typed["watt"])
    target = typed["target"]
    if target is None:
        target = round(float(read.temperature_celsius[-max(1, len(read.time_second) // 10) :].mean()))
    found = answered(read, float(target), typed["rule"])
    drawing = None
    if draws:
        from trysquare.publish.heat_plot import heat_plot

        drawing = heat_plot(found)
    return [answer_part(found, typed["name"]), settings_part(found, typed["name"])], drawing
