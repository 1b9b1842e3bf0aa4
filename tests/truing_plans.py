"""What is read on the demo machine, as a plan for simulated builds: its base, and its uprights."""

from __future__ import annotations

from simulated_builds import Plan, planned
from trysquare.machine.values import Machine
from trysquare.truing.readings import Reading
from trysquare.truing.standing import at_reading


def gaps(stock: str, blade: str) -> list[Reading]:
    """A corner with the square, once as it is and once turned over."""
    return [planned("gap", stock, blade, "square", turned=turned) for turned in (False, True)]


def base_plan(machine: Machine) -> Plan:
    """The base snug on a flat plate: diagonals with the pinch rod, all corners with the square, the rock."""
    return Plan(
        machine=machine,
        standing=at_reading(machine, "base-true"),
        targets=("base-square", "base-twist"),
        readings=(
            planned("diagonal", "base/left-base:a-y", "base/right-base:b+y", "pinch-rod"),
            planned("diagonal", "base/left-base:b-y", "base/right-base:a+y", "pinch-rod"),
            *gaps("base/front-base:+y", "base/left-base:-y"),
            *gaps("base/back-base:-y", "base/right-base:+y"),
            *gaps("base/front-base:+y", "base/right-base:+y"),
            *gaps("base/back-base:-y", "base/left-base:-y"),
            planned(
                "rock",
                "base/front-base:a-z",
                "base/front-base:b-z base/back-base:b-z base/back-base:a-z",
                "feeler",
            ),
        ),
    )


def frame_plan(machine: Machine) -> Plan:
    """Uprights and carry beams snug on the finished base: every corner with the square."""
    readings: list[Reading] = []
    for name, along, beside, face in (
        ("left-front", "front-base", "left-base", "+y"),
        ("right-front", "front-base", "right-base", "-y"),
        ("left-back", "back-base", "left-base", "-y"),
        ("right-back", "back-base", "right-base", "+y"),
    ):
        readings += gaps(f"base/{along}:+z", f"uprights/{name}:-z")
        readings += gaps(f"base/{beside}:+z", f"uprights/{name}:{face}")
    for name in ("left-carry", "right-carry"):
        readings += gaps("carry/back-carry:-y", f"carry/{name}:-y")
    return Plan(
        machine=machine,
        standing=at_reading(machine, "frame-true"),
        targets=("uprights-square", "carry-square"),
        readings=tuple(readings),
    )
