"""One screw as the bench sees it: length, what it passes and bites, key, torque."""

from __future__ import annotations

from typing import Any

from trysquare.cli.facts import point_fact, rounded
from trysquare.fit.soft import PRACTICE, gives_way
from trysquare.fit.torque import torque_of
from trysquare.machine.stack import engaged_mm, stack_of
from trysquare.machine.values import Fastening, Machine


def screw_fact(machine: Machine, one: Fastening) -> dict[str, Any]:
    """A screw with its stack. Distances in the stack count from the head's bearing face.

    `engaged_mm` is the thread that holds, `needed_mm` the least that should; `to_spare_mm` is what is
    free beyond the tip (null: nothing is in the way). Through something that gives way (silicone, a spring)
    a screw has no torque (null), and `torque_limited_by` names it.
    """
    stack = stack_of(one)
    length_mm = one.screw_type.length_mm
    torque = torque_of(machine, one)
    soft = gives_way(machine, one)
    return {
        "screw": one.id,
        "designation": one.screw_type.designation,
        "length_mm": rounded(length_mm),
        "key_mm": rounded(one.screw_type.key_mm),
        "head_at_mm": point_fact(one.head_mm),
        "key_comes_from": point_fact(one.axis),
        "passes": [
            {
                "part": grip.part,
                "from_mm": rounded(grip.from_mm, 2),
                "to_mm": rounded(grip.to_mm, 2),
                "hole_mm": rounded(grip.hole_mm, 2),
            }
            for grip in one.grips
        ],
        "washers": list(one.washers),
        "bites": str(one.host),
        "bites_part": one.host_part,
        "thread_from_mm": rounded(one.thread_from_mm, 2),
        "thread_to_mm": rounded(one.thread_to_mm, 2),
        "engaged_mm": rounded(engaged_mm(stack, length_mm), 2),
        "needed_mm": rounded(stack.least_mm, 2),
        "to_spare_mm": rounded(one.room_mm - length_mm, 2),
        "slot": f"{one.slot_face} of {one.slot_member}" if one.slot_member else "",
        "slot_from_end_a_mm": rounded(one.slot_at_mm, 2) if one.slot_member else None,
        "head_in_slot": one.head_in_slot,
        "access_hole_mm": rounded(one.access_hole_mm) or None,
        "torque_newton_metre": rounded(torque.newton_metre, 2) if torque else None,
        "snug_newton_metre": rounded(torque.snug_newton_metre, 2) if torque else None,
        "torque_limited_by": torque.limited_by if torque else soft,
        "torque_is_assumed": torque.is_assumed if torque else None,
        "torque_source": torque.source if torque else PRACTICE if soft else "",
    }
