"""Blind joints: whether the key reaches the screw head through the neighbour's access hole."""

from __future__ import annotations

import math

from trysquare.fit.faults import Fault
from trysquare.fit.lengths import named
from trysquare.fit.limits import KEY_ROOM_MM, ROUNDING_MM
from trysquare.ground.findings import Finding
from trysquare.machine.values import Fastening


def key_corners_mm(key_mm: float) -> float:
    """Across the corners of a hexagon key: the least round hole that lets it through.

    Equation: corners = flats · 2/√3, of the regular hexagon.
    """
    return key_mm * 2 / math.sqrt(3)


def access_faults(fastening: Fastening) -> list[Fault]:
    """No access hole, one the key does not pass, or one with less room round the key than is practice.

    The stop is at the key's corners themselves, where it cannot pass; between that and a millimetre
    more it passes if hole and screw stand in line, which a person must judge.
    """
    if not fastening.needs_access_hole:
        return []
    key = fastening.screw_type.key_mm
    corners = key_corners_mm(key)
    hole, neighbour = fastening.access_hole_mm, fastening.slot_member
    practice = corners + KEY_ROOM_MM
    if hole <= 0:
        code, limit = "access-hole-missing", practice
        says = f"needs a hole for its {key:g} mm key through {neighbour}, and there is none on its line."
    elif hole < corners - ROUNDING_MM:
        code, limit = "access-hole-too-small", corners
        says = (
            f"has a {key:g} mm key, {corners:.1f} mm across corners; the hole in {neighbour} is {hole:g} mm."
        )
    elif hole < practice - ROUNDING_MM:
        code, limit = "access-hole-tight", practice
        says = (
            f"has a {key:g} mm key, {corners:.1f} mm across corners; the hole in {neighbour} is {hole:g} mm."
        )
    else:
        return []
    wanted = math.ceil(practice * 2) / 2
    return [
        Fault(
            finding=Finding(
                code=code,
                says=f"{named(fastening)} {says}",
                parts=(fastening.screw, neighbour),
                joint=fastening.joint,
                value=hole,
                limit=limit,
                unit="mm",
                at_mm=fastening.head_mm,
                remedy=f"Drill {neighbour} through with {wanted:g} mm on the screw's line and deburr it, "
                "before anything is assembled.",
            )
        )
    ]
