"""The heaters of a machine: their power, voltage, and the plate that each of them lies on."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from trysquare.machine.values import Kind, Machine
from trysquare.solid.overlap import boxes
from trysquare.solid.shapes import Solid, makes_solid, solid_of
from trysquare.tuning.heat_before import Heater, Plate
from trysquare.tuning.warming import MATERIALS
from trysquare.tuning.wiring import LEAST_VOLT, ends_of, figures_of, runs_of
from trysquare.tuning.wiring_circuits import heater_circuits

TOUCH_MM = 0.5  # a heater's adhesive, and what a drawing leaves out
FLAT = 0.25  # a plate's thickness is less than this part of its shorter side
_WATT = re.compile(r"(?<![\w.])(\d{1,4}(?:\.\d+)?) ?W\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineHeater:
    """A heater as the folder has it. `plate` is None where it lies on none whose material is known; `says`:
    where its figures come from, a sentence each."""

    part: str
    heater: Heater
    plate: Plate | None
    says: tuple[str, ...]


def heaters_of(machine: Machine) -> list[MachineHeater]:
    """Every heater that cable runs of the role heater lead to, in the order of its circuits.

    Power: as its name says, else the current of its runs times their voltage.
    """
    found = []
    for circuit in heater_circuits(machine, figures_of(runs_of(machine))):
        part = _heater_part(machine, [one.run.joint for one in circuit.runs if one.run.role == "heater"])
        if part is None or circuit.volt <= LEAST_VOLT or circuit.ampere <= 0:
            continue
        kind = machine.part[part].type
        named = _WATT.search(kind.name)
        watt = float(named[1]) if named is not None else circuit.volt * circuit.ampere
        basis = f"as “{kind.name}” says" if named is not None else "current times voltage"
        says = [
            f"Power {watt:g} W: {basis}. Its runs are planned for {circuit.ampere:g} A at {circuit.volt:g} V."
        ]
        plate = _plate(machine, part, says)
        found.append(
            MachineHeater(
                part=part, heater=Heater(name=part, watt=watt, volt=circuit.volt), plate=plate,
                says=tuple(says),
            )
        )  # fmt: skip
    return found


def _heater_part(machine: Machine, joints: list[str]) -> str | None:
    """The part that runs of a heater end at and that is no switch, board or supply: the one named so, else
    the one that most of them end at."""
    runs = [machine.joint[name].cable for name in joints]
    ends = [part for run in runs if run is not None for part in ends_of(machine, run)]
    named = [part for part in ends if "heater" in f"{part} {machine.part[part].type.name}".casefold()]
    return max(named, key=ends.count) if named else None


def _plate(machine: Machine, heater: str, says: list[str]) -> Plate | None:
    """The flat plate that the heater's box touches with the largest face; None with the reason in `says`."""
    if not makes_solid(machine.part[heater].type):
        says.append("It has no solid in the folder, so nothing tells what it lies on: give --plate.")
        return None
    flats = [one for one in machine.placed if one.type.kind is Kind.PLATE and makes_solid(one.type)]
    placed = [machine.part[heater], *flats]
    found = boxes(placed, machine.folder)
    low, high = found[:, :3], found[:, 3:]
    shared = np.minimum(high[0], high[1:]) - np.maximum(low[0], low[1:])
    best, largest = None, 0.0
    for plate, sides in zip(flats, shared, strict=True):
        if float(sides.min()) < -TOUCH_MM:
            continue
        first, second, _ = sorted((float(side) for side in sides), reverse=True)
        if first * second > largest:
            best, largest = plate, first * second
    if best is None:
        says.append("It lies on no plate: only its resistance is reckoned.")
        return None
    solid = solid_of(best.type, machine.folder)
    thick, width, length = _sides_mm(solid)
    material = MATERIALS.get(best.type.material.casefold())
    if material is None or thick > FLAT * width:
        says.append(
            f"It lies on {best.id}, of {best.type.material or 'a material that is not said'}: "
            "give --plate and --material."
        )
        return None
    says.append(f"It lies on {best.id}, “{best.type.name}”, {best.type.material}.")
    kilogram = best.type.mass_gram / 1000 or solid.volume_mm3 * 1e-9 * material.density
    _, mat_width, mat_length = _sides_mm(solid_of(machine.part[heater].type, machine.folder))
    return Plate(
        name=f"{best.type.material} {length:g}x{width:g}x{thick:g} mm, {kilogram:.2f} kg",
        joule_per_kelvin=kilogram * material.heat_capacity,
        losing_m2=(2 * length * width + 2 * thick * (length + width)) * 1e-6,
        heated_cm2=mat_width * mat_length / 100,
    )


def _sides_mm(solid: Solid) -> tuple[float, float, float]:
    """Sides of a solid's box, the shortest first."""
    first, second, third = sorted(float(one) for one in solid.high_mm - solid.low_mm)
    return first, second, third
