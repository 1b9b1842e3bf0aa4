"""Which tuning tool takes a characteristic that a step reads."""

from __future__ import annotations

from fnmatch import fnmatch

from trysquare.machine.values import BeltRun, Characteristic, Machine

BELTS = ("Belts", "/tune/belt")
HEAT = ("Heat", "/tune/heat")
WIRING = ("Wiring and first power", "/tune/wiring")
NONE = ("", "")


def tool_for(machine: Machine, one: Characteristic) -> tuple[str, str]:
    """Title and address of the tool that measures it better than one number; empty for none.

    A force on parts that a belt touches is heard from the belt; a resistance on a heater is the heater's, on
    any other part that of the earth path.
    """
    if one.unit in ("newton", "hertz"):
        touched = {
            part for joint in machine.joints if joint.belt is not None for part in _touched(joint.belt)
        }
        return BELTS if any(fnmatch(part, name) for name in one.of for part in touched) else NONE
    if one.unit == "ohm":
        names = [part for name in one.of for part in machine.part if fnmatch(part, name)]
        heats = any("heater" in f"{part} {machine.part[part].type.name}".casefold() for part in names)
        return HEAT if heats else WIRING
    return NONE


def _touched(belt: BeltRun) -> set[str]:
    return {part for span in belt.spans for part in (span.begins, span.ends)}
