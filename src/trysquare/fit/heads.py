"""Whether each screw passes its holes, and its head finds the seat it needs."""

from __future__ import annotations

import math

import numpy as np

from trysquare.catalogue.holes import clearance_hole_mm
from trysquare.catalogue.values import Head, Profile, Pulley, RailSize, Screw, Washer
from trysquare.fit.faults import Fault, pair
from trysquare.fit.lengths import named
from trysquare.fit.limits import PROUD_MM, ROUNDING_MM
from trysquare.ground.findings import Finding
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.values import Fastening, Grip, Hole, Machine, PlacedPart

_HEIGHTS = 9  # heights at which a head is compared with its slot


def hole_faults(machine: Machine, fastening: Fastening) -> list[Fault]:
    """Holes narrower than the shank, and holes tighter than a fine clearance hole.

    A slot's mouth is no drilled hole, and the bore of an idler's bearing is meant to be the shank's
    size: they are compared with the shank alone.
    Source of the clearance: ISO 273:1979, fine series.
    """
    return [fault for grip in fastening.grips for fault in _hole(machine, fastening, grip)]


def _hole(machine: Machine, fastening: Fastening, grip: Grip) -> list[Fault]:
    thread = fastening.screw_type.thread
    fine = clearance_hole_mm(thread.name, "fine")
    part = machine.part.get(grip.part)
    is_bore = fastening.head_in_slot or (part is not None and isinstance(part.type.standard, Pulley))
    if grip.hole_mm <= 0:
        code, limit, does = "hole-missing", thread.diameter_mm, "has no hole for it"
    elif grip.hole_mm < thread.diameter_mm - ROUNDING_MM:
        code, limit, does = "hole-too-small", thread.diameter_mm, f"has a {grip.hole_mm:g} mm hole"
    elif grip.hole_mm < fine - ROUNDING_MM and not is_bore:
        code, limit, does = "hole-tight", fine, f"has a {grip.hole_mm:g} mm hole, a fine fit is {fine:g}"
    else:
        return []
    return [
        Fault(
            finding=Finding(
                code=code,
                says=f"{named(fastening)} passes {grip.part}, which {does}.",
                parts=(fastening.screw, grip.part),
                joint=fastening.joint,
                value=grip.hole_mm,
                limit=limit,
                unit="mm",
                at_mm=fastening.head_mm,
                remedy=f"Drill it to {clearance_hole_mm(thread.name):g} mm before anything is assembled, or "
                "take a thinner screw.",
            ),
            pairs=frozenset({pair(fastening.screw, grip.part)}),
        )
    ]


def head_faults(machine: Machine, fastening: Fastening) -> list[Fault]:
    """A head too wide for its counterbore, proud of it, unlike its seat, or too big for its slot."""
    if fastening.screw_type.head is Head.NONE or not fastening.grips:
        return []
    if fastening.head_in_slot:
        return _head_in_slot(machine, fastening)
    under = machine.part.get(fastening.grips[0].part)
    hole = hole_under_head(fastening, under) if under is not None else None
    if under is None or hole is None:
        return []
    return _head_on_hole(machine, fastening, under, hole)


def hole_under_head(fastening: Fastening, part: PlacedPart) -> Hole | None:
    """The hole whose opening the head stands at; None when the head lies on the hole's far side."""
    axis, head = np.asarray(fastening.axis), np.asarray(fastening.head_mm)
    own_head, own_axis = part.placement.back(head), part.placement.back_direction(axis)
    for hole in part.type.holes:
        delta = np.asarray(hole.at_mm) - own_head
        along = float(delta @ own_axis)
        beside = float(np.linalg.norm(delta - along * own_axis))
        if beside <= ON_AXIS_MM and float(np.asarray(hole.direction) @ own_axis) > 1 - 1e-6:
            return hole
    return None


def _head_on_hole(machine: Machine, fastening: Fastening, under: PlacedPart, hole: Hole) -> list[Fault]:
    screw = fastening.screw_type
    sunk_head = screw.head is Head.COUNTERSUNK
    if sunk_head != hole.countersunk and not fastening.washers:
        what = "a countersunk head on a plain hole" if sunk_head else "a flat head on a countersunk hole"
        return [
            _head_fault(
                fastening, under.id, "head-unlike-hole",
                f"is {what} of {under.id}; it bears on an edge only.", None, None,
                f"Take a screw with a {'countersunk head' if hole.countersunk else 'flat bearing face'}.",
            )
        ]  # fmt: skip
    bears_mm, what = _bearing(machine, fastening)
    if not sunk_head and bears_mm <= hole.diameter_mm:
        return [
            _head_fault(
                fastening, under.id, "head-falls-through",
                f"has a {what} {bears_mm:g} mm wide over a {hole.diameter_mm:g} mm hole of {under.id}.",
                bears_mm, hole.diameter_mm,
                f"Put a washer wider than {hole.diameter_mm:g} mm under it, or make the hole smaller.",
            )
        ]  # fmt: skip
    if hole.counterbore_mm <= 0:
        return []
    if screw.head_diameter_mm > hole.counterbore_mm + ROUNDING_MM and not sunk_head:
        return [
            _head_fault(
                fastening, under.id, "head-too-big",
                f"has a head {screw.head_diameter_mm:g} mm wide, the counterbore of {under.id} is "
                f"{hole.counterbore_mm:g} mm.", screw.head_diameter_mm, hole.counterbore_mm,
                "Take a screw with a smaller head, or the screw the part was made for.",
            )
        ]  # fmt: skip
    proud = _proud_mm(fastening, hole)
    if proud <= PROUD_MM:
        return []
    on_rail = isinstance(under.type.standard, RailSize)
    return [
        _head_fault(
            fastening, under.id, "head-above-rail" if on_rail else "head-stands-proud",
            f"stands {proud:.2f} mm proud of {under.id}.", proud, PROUD_MM,
            "Take a lower head, or the screw the part was made for.",
        )
    ]  # fmt: skip


def _bearing(machine: Machine, fastening: Fastening) -> tuple[float, str]:
    """Width of what bears on the part: the washer where there is one, else the head; and its word."""
    for name in fastening.washers:
        washer = machine.part[name].type.standard
        if isinstance(washer, Washer):
            return washer.outer_mm, "washer"
    return fastening.screw_type.head_diameter_mm, "head"


def _proud_mm(fastening: Fastening, hole: Hole) -> float:
    """How far a head stands above the surface it is sunk in; washers have lifted the head already."""
    screw = fastening.screw_type
    lift = fastening.grips[0].from_mm if fastening.washers else 0.0
    if screw.head is Head.COUNTERSUNK:
        # a 90° cone sinks by half of what its seat is wider
        return (screw.head_diameter_mm - hole.counterbore_mm) / 2 if hole.counterbore_mm else 0.0
    if hole.counterbore_depth_mm <= 0:
        return 0.0
    return screw.head_height_mm + lift - hole.counterbore_depth_mm


def _head_in_slot(machine: Machine, fastening: Fastening) -> list[Fault]:
    member = machine.part.get(fastening.slot_member)
    profile = member.type.profile if member is not None else None
    if profile is None or member is None:
        return []
    screw = fastening.screw_type
    value, limit = tightest(screw, profile)
    if value <= limit + ROUNDING_MM:
        return []
    return [
        _head_fault(
            fastening, member.id, "head-too-big",
            f"has a head {screw.head_diameter_mm:g} mm wide and {screw.head_height_mm:g} mm high; the slot "
            f"of {member.id} ({profile.designation}) leaves {limit:.1f} mm where {value:.1f} are needed.",
            value, limit, "Take a button head of the thread the profile's core is made for.",
        )
    ]  # fmt: skip


def tightest(screw: Screw, profile: Profile) -> tuple[float, float]:
    """Where a head hooked under a slot's lip has the least room: the width it needs there and the width
    there is; when it is taller than the slot is deep, its height and the depth left.
    """
    depth = profile.depth_mm - profile.lip_mm
    if screw.head_height_mm > depth:
        return screw.head_height_mm, depth
    widths = []
    for step in range(_HEIGHTS):
        height = screw.head_height_mm * step / (_HEIGHTS - 1)
        below = profile.lip_mm + height
        room = profile.inside_mm - 2 * max(0.0, below - profile.shoulder_mm)
        widths.append((2 * head_radius_mm(screw, height), room))
    return max(widths, key=lambda pair_: pair_[0] - pair_[1])


def head_radius_mm(screw: Screw, height_mm: float) -> float:
    """Radius of a flat-bearing head this far above its bearing face; a button head is a cap of a sphere."""
    radius, tall = screw.head_diameter_mm / 2, screw.head_height_mm
    if screw.head is not Head.BUTTON:
        return radius
    sphere = (radius**2 + tall**2) / (2 * tall)
    return math.sqrt(max(0.0, sphere**2 - (sphere - tall + height_mm) ** 2))


def _head_fault(
    fastening: Fastening,
    part: str,
    code: str,
    says: str,
    value: float | None,
    limit: float | None,
    remedy: str,
) -> Fault:
    return Fault(
        finding=Finding(
            code=code,
            says=f"{named(fastening)} {says}",
            parts=(fastening.screw, part),
            joint=fastening.joint,
            value=value,
            limit=limit,
            unit="mm" if value is not None else "",
            at_mm=fastening.head_mm,
            remedy=remedy,
        ),
        pairs=frozenset({pair(fastening.screw, part)}),
    )
