"""The frame warm: steel rails on aluminium members bow, offsets shift, a bed plate grows.

So that what is trued cold can be judged as it will be hot. Everything takes one even temperature of the part;
a heated chamber after its soak is meant, not a draught on one side.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import Profile, RailSize
from trysquare.machine.values import Kind, Machine, PlacedPart
from trysquare.truing.bodies import Assembly, assembly_of

COLD_CELSIUS = 20.0  # what lengths are meant at. Source: ISO 1

_ALUMINIUM = (70000.0, 23.4e-6)  # E in MPa, expansion in 1/K. Source: profile makers' sheets, EN AW-6060
_STEEL = (200000.0, 11.5e-6)  # Source: expansion JCGM 100:2008 H.1; E general engineering, from memory
SHOWS_MM = 0.01  # a change below this nobody reads


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A bar in a pair: modulus MPa, expansion 1/K, area mm², second moment mm⁴ about the bending axis."""

    modulus_mpa: float
    expansion_per_kelvin: float
    area_mm2: float
    moment_mm4: float


def pair_curvature_per_mm(one: Bar, other: Bar, apart_mm: float, kelvin: float) -> float:
    """Curvature (1/mm) of two bars joined all along, their centres `apart_mm` apart, warmed by `kelvin`;
    positive bends towards `other`'s side being the shorter one.

    Equation: Δα·ΔT·h / ((E₁I₁ + E₂I₂)·(1/E₁A₁ + 1/E₂A₂) + h²). It takes a joint that does not slip, so it
    is an upper bound for a rail on screws.
    Source: Timoshenko, Analysis of bi-metal thermostats, 1925, for bars of any section.
    """
    stiff = one.modulus_mpa * one.moment_mm4 + other.modulus_mpa * other.moment_mm4
    soft = 1 / (one.modulus_mpa * one.area_mm2) + 1 / (other.modulus_mpa * other.area_mm2)
    differs = one.expansion_per_kelvin - other.expansion_per_kelvin
    return differs * kelvin * apart_mm / (stiff * soft + apart_mm**2)


def bow_mm(curvature_per_mm: float, length_mm: float) -> float:
    """Rise of an arc over its chord: κ·L²/8. Source: circle, small angles."""
    return curvature_per_mm * length_mm**2 / 8


def growth_mm(length_mm: float, expansion_per_kelvin: float, kelvin: float) -> float:
    """α·L·ΔT."""
    return length_mm * expansion_per_kelvin * kelvin


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermalChange:
    """One thing that changes with warmth. `kind`: bow, offset, growth, spacing; `mm`: by how much."""

    kind: str
    part: str
    mm: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermalReport:
    """All that changes between cold and hot, the largest first, and what to do about it."""

    cold_celsius: float
    hot_celsius: float
    changes: tuple[ThermalChange, ...]
    advice: tuple[str, ...]


def when_hot(
    machine: Machine,
    hot_celsius: float,
    *,
    cold_celsius: float = COLD_CELSIUS,
    bed_celsius: float | None = None,
) -> ThermalReport:
    """What changes when the frame goes from cold to hot. `bed_celsius`: of heated plates."""
    assembly = assembly_of(machine)
    kelvin = hot_celsius - cold_celsius
    changes = [
        *_bows(assembly, kelvin),
        *_spacings(assembly, kelvin),
        *_plates(machine, (hot_celsius if bed_celsius is None else bed_celsius) - cold_celsius),
    ]
    kept = [one for one in changes if abs(one.mm) >= SHOWS_MM]
    kept.sort(key=lambda one: -abs(one.mm))
    return ThermalReport(
        cold_celsius=cold_celsius,
        hot_celsius=hot_celsius,
        changes=tuple(kept),
        advice=tuple(_advice(kept, kelvin)),
    )


def section_of(profile: Profile) -> tuple[float, float, float]:
    """Area (mm²) of a profile's section and its second moments (mm⁴) about its own y and z.

    Of our own neutral outline; a maker's sheet for the bar in hand is better.
    Source: area and moments of a polygon, Green's theorem.
    """
    from trysquare.solid.profiles import section  # noqa: PLC0415  # the solid kernel is heavy

    area = moment_y = moment_z = 0.0
    for polygon in section(profile, profile.core_mm).to_polygons():
        y, z = np.asarray(polygon, dtype=float).T
        next_y, next_z = np.roll(y, -1), np.roll(z, -1)
        twice = y * next_z - next_y * z
        area += float(twice.sum()) / 2
        moment_y += float((twice * (z * z + z * next_z + next_z * next_z)).sum()) / 12
        moment_z += float((twice * (y * y + y * next_y + next_y * next_y)).sum()) / 12
    return area, moment_y, moment_z


def rail_bar(rail: RailSize) -> Bar:
    """A rail as a plain bar of its width and height."""
    modulus, expansion = _STEEL
    return Bar(
        modulus_mpa=modulus,
        expansion_per_kelvin=expansion,
        area_mm2=rail.width_mm * rail.height_mm,
        moment_mm4=rail.width_mm * rail.height_mm**3 / 12,
    )


def _rails(assembly: Assembly) -> Iterator[tuple[PlacedPart, PlacedPart, RailSize, Profile]]:
    """Every rail on its member."""
    for link in assembly.links:
        one, other = assembly.bodies[link.one].placed, assembly.bodies[link.other].placed
        if isinstance(one.type.standard, RailSize) and other.type.profile is not None:
            yield one, other, one.type.standard, other.type.profile


def _bows(assembly: Assembly, kelvin: float) -> Iterator[ThermalChange]:
    modulus, expansion = _ALUMINIUM
    for rail, member, size, profile in _rails(assembly):
        area, moment_y, moment_z = section_of(profile)
        normal = member.placement.back_direction(rail.placement.turn[:, 2])
        on_z = abs(normal[2]) > 0.7
        bar = Bar(
            modulus_mpa=modulus,
            expansion_per_kelvin=expansion,
            area_mm2=area,
            moment_mm4=moment_y if on_z else moment_z,
        )
        apart = (profile.size_z_mm if on_z else profile.size_y_mm) / 2 + size.height_mm / 2
        bow = bow_mm(pair_curvature_per_mm(bar, rail_bar(size), apart, kelvin), size.length_mm)
        yield ThermalChange(
            kind="bow",
            part=rail.id,
            mm=bow,
            says=f"{member.id} with {rail.id} bows by at most {abs(bow):.2f} mm over {size.length_mm:g} mm, "
            f"its rail side {'hollow' if bow > 0 else 'high'}",
        )
        slip = growth_mm(size.length_mm / 2, expansion - _STEEL[1], kelvin)
        yield ThermalChange(
            kind="offset",
            part=rail.id,
            mm=slip,
            says=f"each end of {rail.id} shifts by {abs(slip):.2f} mm along {member.id}",
        )


def _spacings(assembly: Assembly, kelvin: float) -> Iterator[ThermalChange]:
    """Pairs of parallel rails that one carriage or gantry ties: their distance grows with the frame."""
    _, expansion = _ALUMINIUM
    for one in assembly.machine.characteristics:
        bodies = [assembly.number(part) for part in one.of]
        if one.sort != "parallelism" or len(bodies) != 2 or None in bodies:
            continue
        first, second = (assembly.bodies[number] for number in bodies if number is not None)
        if not (first.is_rail and second.is_rail):
            continue
        apart = second.centre_mm - first.centre_mm
        across = apart - float(apart @ first.along) * first.along
        growth = growth_mm(float(np.linalg.norm(across)), expansion, kelvin)
        yield ThermalChange(
            kind="spacing",
            part=second.id,
            mm=growth,
            says=f"{first.id} and {second.id} come {abs(growth):.2f} mm "
            f"{'further apart' if growth > 0 else 'nearer'}; a gantry of aluminium grows along, of steel not",
        )


def _plates(machine: Machine, kelvin: float) -> Iterator[ThermalChange]:
    """Plates that lie under a heater: those it touches in name or as a unit's plate of metal."""
    _, expansion = _ALUMINIUM
    heated = {placed.unit for placed in machine.placed if "heater" in placed.type.id.casefold()}
    for placed in machine.placed:
        corners = placed.type.outline_mm
        metal = placed.type.material.casefold().startswith("alu") or not placed.type.material
        if placed.joint or placed.unit not in heated or placed.type.kind is not Kind.PLATE or not corners:
            continue
        if not metal or "heater" in placed.type.id.casefold():
            continue
        longest = float(max(np.ptp(np.array(corners), axis=0)))
        growth = growth_mm(longest, expansion, kelvin)
        yield ThermalChange(
            kind="growth",
            part=placed.id,
            mm=growth,
            says=f"{placed.id} grows by {abs(growth):.2f} mm over its {longest:g} mm",
        )


def _advice(changes: list[ThermalChange], kelvin: float) -> Iterator[str]:
    kinds = {one.kind for one in changes}
    if "bow" in kinds:
        yield (
            "Judge straightness and parallelism of the rails warm, after the soak; what is good cold by less "
            "than the bow can be bad hot. Every second screw snug, not final, lets a rail slip and bow less."
        )
    if "growth" in kinds:
        yield "Hold the plate at three points, or in slots, so that it can grow; set its height hot."
    if "spacing" in kinds and abs(kelvin) > 5:
        yield "Run the tied gantry by hand again when all is warm: drag that comes with warmth is spacing."
    if changes:
        yield "Hot surfaces burn and motors may move: heat off and power off before hands go in."
