"""How far a joint can be shifted and turned while it is snug, and how exactly it holds what it holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.ground.placement import Array
from trysquare.machine.values import Fastening, Host, Joint, Machine
from trysquare.truing.contacts import Patch

SEATING_MM = 0.02  # faces pressed together: their flatness. common practice, no source
OPENING_MM = 0.1  # a snug end joint opens so far on one side when pushed. common practice, no source
BY_THUMB_MM = 0.3  # how exactly a sliding end is set flush by eye and thumb. common practice, no source
LEAST_PLAY_MM = 0.1  # a snug screw always gives a little. common practice, no source
ROLL_RAD = 0.02  # how exactly faces are set parallel by eye across 20 mm. common practice, no source
RUNNING_MM = 0.01  # a carriage on its rail. common practice, no source
RUNNING_RAD = 0.0005  # the same over its length. common practice, no source
TRAVEL_MM = 500.0  # a carriage may stand anywhere on its rail


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Play:
    """Half-widths in a link's own frame: along its normal and its two directions, and about them.

    `shift_mm`, `turn_rad` (3,): how far the snug joint can be shifted and turned; what the two parts' true
    places may differ by. `pressed` : turns about the two directions press the faces open.
    """

    shift_mm: Array
    turn_rad: Array
    runs: bool = False  # a carriage on its rail: it travels along the second direction


def running(patch: Patch, travel: Array) -> tuple[Array, Play]:
    """Frame and play of a carriage on its rail; the second column of the frame is the travel."""
    normal = patch.axes[:, 0]
    axes = np.column_stack([normal, travel, np.cross(normal, travel)])
    shift = np.array([RUNNING_MM, TRAVEL_MM, RUNNING_MM])
    return axes, Play(shift_mm=shift, turn_rad=np.full(3, RUNNING_RAD), runs=True)


def play_of(machine: Machine, joint: Joint, patch: Patch, screws: Sequence[Fastening], *, end: bool) -> Play:
    """The play of two parts that lie flat against each other, from the screws that hold them.

    `end`: a member's end stands on the other part; its screw's head or nut can slide along the slot.
    """
    play = joint.play_mm or max([LEAST_PLAY_MM, *(_clearance_mm(machine, one) for one in screws)])
    along = max(play, BY_THUMB_MM) if end and not joint.play_mm else play
    extent = 2 * np.maximum(patch.half_mm, 1.0)
    opening = OPENING_MM if end else SEATING_MM
    roll = min(ROLL_RAD, play / _arm_mm(patch, screws))
    return Play(
        shift_mm=np.array([SEATING_MM, along, along]),
        # about the first direction the faces open across the second, and the other way round
        turn_rad=np.array([roll, opening / extent[1], opening / extent[0]]),
    )


def _clearance_mm(machine: Machine, one: Fastening) -> float:
    """How far a screw can move across itself in its holes, and its nut in its slot's mouth."""
    diameter = one.screw_type.thread.diameter_mm
    holes = max((grip.hole_mm - diameter for grip in one.grips if grip.hole_mm > 0), default=0.0) / 2
    slot = 0.0
    if one.host is Host.SLOT_NUT and one.slot_member in machine.part:
        profile = machine.part[one.slot_member].type.profile
        slot = (profile.mouth_mm - diameter) / 2 if profile is not None and not _necked(machine, one) else 0.0
    return max(0.0, holes) + max(0.0, slot)


def _necked(machine: Machine, one: Fastening) -> bool:
    """Whether a slot nut's neck keeps it in the middle of the mouth."""
    host = machine.part.get(one.host_part)
    return host is not None and getattr(host.type.standard, "neck_width_mm", 0.0) > 0


def _arm_mm(patch: Patch, screws: Sequence[Fastening]) -> float:
    """Distance over which the play turns the part about the normal."""
    if len(screws) > 1:
        spots = np.array([one.head_mm for one in screws])
        flat = (spots - spots.mean(axis=0)) @ patch.axes[:, 1:]
        arm = float(np.sqrt((flat**2).sum(axis=1).mean()))
        if arm > 1.0:
            return arm
    return float(np.hypot(*patch.half_mm))
