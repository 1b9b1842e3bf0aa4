"""Heating records and hold-power lists as text tables."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trysquare.ground.errors import one_problem
from trysquare.tuning.heat_step import HeatRecord
from trysquare.tuning.named_rows import Row, named_rows, refuse_faults

RECORD_EXAMPLE = "time_s,power_percent,temperature_celsius"
HOLD_EXAMPLE = "when,power_percent,temperature_celsius,room_celsius"
_POWER = ("power_percent", "power_watt")
_LOWEST, _HIGHEST = -60.0, 1500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A power that held a temperature; `room_celsius` None: nobody wrote it down."""

    when: str
    power: float
    unit: str  # "%" or "W"
    temperature_celsius: float
    room_celsius: float | None


def parse_record(text: str, file: str, full_watt: float | None) -> HeatRecord:
    """Time, power and temperature of one heating; power in watt becomes percent of `full_watt`.

    Raises ReadingErrors with every fault by its line.
    """
    rows = named_rows(text, file, ("time_s", "temperature_celsius"), RECORD_EXAMPLE)
    column = _power_column(rows, file)
    if column == "power_watt" and full_watt is None:
        raise one_problem(file, 0, "power_watt", "the heater's full power too", "Give --power WATT.")
    scale = 1.0 if column == "power_percent" or full_watt is None else 100 / full_watt
    most = 100.0 if column == "power_percent" else 1e5
    times: list[float] = []
    powers: list[float] = []
    temperatures: list[float] = []
    for row in rows:
        time = row.number("time_s", above=-1e9, most=1e9)
        if times and time <= times[-1]:
            row.fault("time_s", f"a time after {times[-1]:g} s", "Keep the rows as they were recorded.")
        times.append(time)
        powers.append(from_nought(row, column, most) * scale)
        temperatures.append(row.number("temperature_celsius", above=_LOWEST, most=_HIGHEST))
    refuse_faults(rows)
    if len(rows) < 10:
        raise one_problem(
            file, 0, f"{len(rows)} rows", "at least ten samples", "Record one each second or faster."
        )
    return HeatRecord(
        time_second=np.array(times),
        power_percent=np.array(powers),
        temperature_celsius=np.array(temperatures),
    )


def parse_holds(text: str, file: str) -> list[Hold]:
    """Powers that held a temperature, in order of time. Raises ReadingErrors."""
    rows = named_rows(text, file, ("when", "temperature_celsius"), HOLD_EXAMPLE)
    column = _power_column(rows, file)
    unit, most = ("%", 100.0) if column == "power_percent" else ("W", 1e5)
    holds = []
    for row in rows:
        temperature = row.number("temperature_celsius", above=_LOWEST, most=_HIGHEST)
        room = row.number("room_celsius", above=-40, most=60) if row.has("room_celsius") else None
        if room is not None and temperature - room < 10:
            row.fault(
                "temperature_celsius", f"at least 10 K above the room's {room:g} °C",
                "Write the temperature that was held and the power that held it.",
            )  # fmt: skip
        holds.append(
            Hold(
                when=row.cells.get("when", ""), power=row.number(column, above=0, most=most), unit=unit,
                temperature_celsius=temperature, room_celsius=room,
            )
        )  # fmt: skip
    refuse_faults(rows)
    return holds


def from_nought(row: Row, name: str, most: float) -> float:
    """A number from 0 to a most; else a fault of the row, and NaN or what was read."""
    value = row.number(name)
    if value < 0 or value > most:
        row.fault(name, f"a number from 0 to {most:g}", "Check the column and its unit.")
    return value


def _power_column(rows: list[Row], file: str) -> str:
    there = [name for name in _POWER if name in rows[0].cells]
    if len(there) != 1:
        read = "no power" if not there else "power twice"
        raise one_problem(
            file, 0, read, "one column power_percent or power_watt", "Name the power's column so."
        )
    return there[0]
