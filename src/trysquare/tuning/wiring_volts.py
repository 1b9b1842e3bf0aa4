"""Whether each load gets the voltage that it is made for: by its name, its run, and what feeds that run."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from trysquare.machine.values import Machine
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, Part
from trysquare.tuning.wiring import LEAST_VOLT, RunFigures, ends_of
from trysquare.tuning.wiring_places import listed

SAME_VOLT = 0.1  # supplies are set a tenth up or down. Common practice, no source.
_LOADS = ("heater", "fan", "motor")
# "24 V" in a name, but no end of a range such as 12-24 V or 100 … 240 V.
_NAMED = re.compile(r"(?<![\w.])(?<![-–…/] )(?<![-–…/])([0-9]{1,3}(?:\.[0-9])?) ?V\b(?! ?[-–…/])")


def volts_part(machine: Machine, figures: Sequence[RunFigures]) -> Part | None:
    """Loads against what feeds them; None without heaters, fans and motors."""
    loads = [one for one in figures if one.run.role in _LOADS]
    if not loads:
        return None
    feeds = {ends_of(machine, one.run)[1]: one for one in figures if one.run.role == "supply"}
    bad: list[str] = []
    unsure: list[str] = []
    for one in loads:
        bad += _against_names(machine, one)
        begins = next((end for end in ends_of(machine, one.run) if end in feeds), "")
        if begins and not _same(one.run.volt, feeds[begins].run.volt):
            words = (
                f"{one.run.label} is planned for {one.run.volt:g} V, and {begins} is fed with "
                f"{feeds[begins].run.volt:g} V"
            )
            if one.run.role == "heater":
                bad.append(f"{words}: do not connect it; find the label and measure its resistance first.")
            else:
                unsure.append(f"{words}: right only if that output is set to it. Measure it with nothing on.")
    return Part(
        of="voltages",
        title="Voltages",
        verdict=BAD if bad else CANNOT_TELL if unsure else GOOD,
        says=listed([*bad, *unsure])
        or ("Each load is planned for the voltage of what feeds it and of its own name.",),
        notes=(
            (
                "Before the plug: the meter at each heater against U²/P (trysquare tune heat --machine "
                "FOLDER), plus and minus told from each other at both ends, the supply's selector against "
                "the wall."
            ),
        ),
    )


def _same(one: float, other: float) -> bool:
    return abs(one - other) <= SAME_VOLT * max(one, other)


def _against_names(machine: Machine, one: RunFigures) -> Iterator[str]:
    """What a part at the run's end is named for, against the run's own voltage; a motor's own volts are none
    that its driver gives it."""
    if one.run.role == "motor" or one.run.volt <= LEAST_VOLT:
        return
    for end in dict.fromkeys(ends_of(machine, one.run)):
        name = machine.part[end].type.name
        named = [volt for found in _NAMED.findall(name) if (volt := float(found)) > LEAST_VOLT]
        if len(named) == 1 and not _same(named[0], one.run.volt):
            power = (one.run.volt / named[0]) ** 2
            then = "burn" if power > 1 else "hardly warm, turn or hold"
            then = f"it would take {power:.2g} times its power and {then}"
            yield (
                f"{one.run.label}: {end} is “{name}”, and its run carries {one.run.volt:g} V: {then}. Do not "
                "connect it."
            )
