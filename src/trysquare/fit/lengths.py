"""Whether each screw is long enough for its thread and short enough for the room behind it."""

from __future__ import annotations

import math

import numpy as np

from trysquare.catalogue.screws import sold_lengths_mm
from trysquare.catalogue.values import BlockSize, Head
from trysquare.fit.faults import Fault, pair
from trysquare.fit.limits import ROUNDING_MM
from trysquare.ground.findings import Finding
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.stack import TIP_CLEAR_MM, Stack, engaged_mm, make_stack, stack_of, suggested_length_mm
from trysquare.machine.values import Fastening, Hole, Host, Machine


def length_faults(machine: Machine, fastening: Fastening) -> list[Fault]:
    """Too short, too long, tip near the slot's floor; a set screw too short. At most one of them.

    A screw of another thread than its host has no meaningful length: that fault alone is said.
    """
    if fastening.host is Host.NONE:
        return []
    if fastening.host_thread and fastening.host_thread != fastening.screw_type.thread.name:
        return [_wrong_thread(machine, fastening)]
    if fastening.screw_type.head is Head.NONE:
        return _set_screw(machine, fastening)
    stack = stack_of(fastening)
    longest = fastening.screw_type.length_mm + fastening.screw_type.length_plus_mm
    if longest > stack.room_mm + ROUNDING_MM:
        return [_too_long(machine, fastening, stack, longest)]
    engaged = engaged_mm(stack, fastening.screw_type.length_mm)
    if engaged < stack.least_mm - ROUNDING_MM:
        return [_too_short(machine, fastening, stack, engaged)]
    return _near_floor(fastening, stack)


def named(fastening: Fastening) -> str:
    """The screw in words for a finding: its joint and designation."""
    return f"{fastening.joint}: {fastening.screw_type.designation}"


def host_words(machine: Machine, fastening: Fastening) -> str:
    """What the thread bites into, in words."""
    part = machine.part.get(fastening.host_part)
    if fastening.host is Host.TAPPED:
        kind = "block" if part is not None and isinstance(part.type.standard, BlockSize) else "thread"
        return f"the {kind} of {fastening.host_part}" if kind == "thread" else fastening.host_part
    if part is None or fastening.host is Host.BAR:
        return f"the {fastening.host}"
    return f"the {fastening.host} ({part.type.id})"


def take_instead(fastening: Fastening, stack: Stack) -> str:
    """The length on sale that fits, as an order to a builder; other means when none does."""
    screw = fastening.screw_type
    better = suggested_length_mm(stack, screw.standard, screw.thread.name)
    if better is None:
        return "No length on sale fits here: change the clamped thickness with a washer, or take another nut."
    return f"Take {screw.standard} {screw.thread.name}x{better:g} {screw.strength}".rstrip() + " instead."


def _wrong_thread(machine: Machine, fastening: Fastening) -> Fault:
    screw = fastening.screw_type
    return Fault(
        finding=Finding(
            code="wrong-thread",
            says=f"{named(fastening)} has an {screw.thread.name} thread, {host_words(machine, fastening)} "
            f"an {fastening.host_thread} one.",
            parts=(fastening.screw, fastening.host_part),
            joint=fastening.joint,
            value=screw.thread.diameter_mm,
            limit=float(fastening.host_thread.removeprefix("M")),
            unit="mm",
            at_mm=fastening.head_mm,
            remedy=f"Take an {fastening.host_thread} screw, or a nut or hole with {screw.thread.name}.",
        ),
        pairs=frozenset({pair(fastening.screw, fastening.host_part)}),
        tip=fastening.screw,
        tip_from_mm=fastening.thread_from_mm - 0.5,
    )


def _too_short(machine: Machine, fastening: Fastening, stack: Stack, engaged: float) -> Fault:
    host = host_words(machine, fastening)
    bites = f"bites only {engaged:.1f} mm of {host}" if engaged > 0 else f"does not reach {host}"
    return Fault(
        finding=Finding(
            code="screw-too-short",
            says=f"{named(fastening)} {bites}; it needs {stack.least_mm:.1f} mm.",
            parts=(fastening.screw, fastening.host_part),
            joint=fastening.joint,
            value=engaged,
            limit=stack.least_mm,
            unit="mm",
            at_mm=fastening.head_mm,
            remedy=take_instead(fastening, stack),
        )
    )


def _too_long(machine: Machine, fastening: Fastening, stack: Stack, longest: float) -> Fault:
    room_part = fastening.room_part or fastening.host_part
    part = machine.part.get(room_part)
    if fastening.host in (Host.SLOT_NUT, Host.BAR):
        meets = f"the slot's floor of {room_part} stands at"
        does = "It feels tight and clamps nothing."
    elif part is not None and isinstance(part.type.standard, BlockSize):
        meets = f"the thread of {room_part} ends at"
        does = "It crushes the block's ball return, and the block jams."
    else:
        meets = f"the hole of {room_part} ends at"
        does = "It bottoms: feels tight, clamps nothing, and may push the part apart."
    return Fault(
        finding=Finding(
            code="screw-too-long",
            says=f"{named(fastening)} may be {longest:.1f} mm long as delivered; {meets} "
            f"{stack.room_mm:.1f} mm. {does}",
            parts=(fastening.screw, room_part),
            joint=fastening.joint,
            value=longest,
            limit=stack.room_mm,
            unit="mm",
            at_mm=_below(fastening, stack.room_mm),
            remedy=take_instead(fastening, stack),
        ),
        tip=fastening.screw,
        tip_from_mm=min(stack.thread_to_mm, stack.room_mm) - 0.5,
    )


def _near_floor(fastening: Fastening, stack: Stack) -> list[Fault]:
    screw = fastening.screw_type
    left = stack.room_mm - screw.length_mm
    if fastening.host not in (Host.SLOT_NUT, Host.BAR) or left >= TIP_CLEAR_MM - ROUNDING_MM:
        return []
    better = suggested_length_mm(stack, screw.standard, screw.thread.name)
    clear = better is not None and better + TIP_CLEAR_MM <= stack.room_mm + ROUNDING_MM
    return [
        Fault(
            finding=Finding(
                code="tip-near-floor",
                says=f"{named(fastening)} ends {left:.1f} mm above the slot's floor.",
                parts=(fastening.screw, fastening.room_part),
                joint=fastening.joint,
                value=left,
                limit=TIP_CLEAR_MM,
                unit="mm",
                at_mm=_below(fastening, screw.length_mm),
                remedy=take_instead(fastening, stack)
                if clear
                else "No other length on sale is better: measure each screw, and clear the slot of chips.",
            )
        )
    ]


def _set_screw(machine: Machine, fastening: Fastening) -> list[Fault]:
    """A set screw's tip stands on the floor or shaft; what of it lies in the tapped hole holds it."""
    hole = tapped_hole(machine, fastening)
    if hole is None:
        return []
    screw = fastening.screw_type
    part = machine.part[fastening.host_part]
    axis = np.asarray(fastening.axis)
    opening_mm = float((part.placement.point(hole.at_mm) - np.asarray(fastening.head_mm)) @ axis)
    # from the hole's opening down to what the tip stands on
    floor_mm = opening_mm + screw.length_mm
    depth_mm = hole.depth_mm
    rule = make_stack(fastening.host, fastening.host_material, screw.thread.name, 0.0, depth_mm, math.inf)

    def holds(length_mm: float) -> float:
        return min(floor_mm, depth_mm) - max(0.0, floor_mm - length_mm)

    engaged = holds(screw.length_mm)
    if engaged >= rule.least_mm - ROUNDING_MM:
        return []
    lengths = [
        length for length in sold_lengths_mm(screw.standard, screw.thread.name)
        if holds(length) >= rule.least_mm - ROUNDING_MM
    ]  # fmt: skip
    better = (
        f"{screw.standard} {screw.thread.name}x{lengths[0]:g} {screw.strength}".rstrip() if lengths else ""
    )
    reach = f"is held by {engaged:.1f} mm of thread" if engaged > 0 else "does not reach its floor"
    return [
        Fault(
            finding=Finding(
                code="set-screw-too-short",
                says=f"{named(fastening)} {reach} when its tip stands {floor_mm:.1f} mm below the hole's "
                f"opening; it needs {rule.least_mm:.1f} mm.",
                parts=(fastening.screw, fastening.host_part),
                joint=fastening.joint,
                value=engaged,
                limit=rule.least_mm,
                unit="mm",
                at_mm=fastening.head_mm,
                remedy=f"Take {better} instead."
                if better
                else "No length on sale reaches; use another bracket or hub.",
            )
        )
    ]


def tapped_hole(machine: Machine, fastening: Fastening) -> Hole | None:
    """The tapped hole of the host part on the screw's line; None when the host has none there."""
    part = machine.part.get(fastening.host_part)
    if part is None:
        return None
    axis, head = np.asarray(fastening.axis), np.asarray(fastening.head_mm)
    for hole in part.type.holes:
        if not hole.thread or abs(float(part.placement.direction(hole.direction) @ axis)) < 1 - 1e-6:
            continue
        delta = part.placement.point(hole.at_mm) - head
        if float(np.linalg.norm(delta - float(delta @ axis) * axis)) <= ON_AXIS_MM:
            return hole
    return None


def _below(fastening: Fastening, depth_mm: float) -> tuple[float, float, float]:
    """The point on the screw's axis this far below its head."""
    x, y, z = np.asarray(fastening.head_mm) - np.asarray(fastening.axis) * depth_mm
    return (float(x), float(y), float(z))
