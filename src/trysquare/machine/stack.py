"""A screw's stack: what it clamps, where its thread bites, which standard length fits."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trysquare.catalogue.engagement import least_engagement_mm
from trysquare.catalogue.screws import length_tolerance_mm, sold_lengths_mm
from trysquare.machine.values import Fastening, Host

TIP_CLEAR_MM = 1.0  # above a slot's floor; maker sheets


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """What the length of a screw must meet, all from the head's bearing face.

    `thread_from_mm` to `thread_to_mm` is the host's thread, `room_mm` where the tip would meet
    something solid (inf: never), `least_mm` the least engagement.
    """

    thread_from_mm: float
    thread_to_mm: float
    room_mm: float
    least_mm: float


def stack_of(fastening: Fastening) -> Stack:
    """The stack of a screw in its joint."""
    return make_stack(
        fastening.host,
        fastening.host_material,
        fastening.host_thread or fastening.screw_type.thread.name,
        fastening.thread_from_mm,
        fastening.thread_to_mm,
        fastening.room_mm,
    )


def make_stack(
    host: Host, material: str, thread: str, thread_from_mm: float, thread_to_mm: float, room_mm: float
) -> Stack:
    """The stack of a host: its thread, its room and the engagement its material asks for."""
    least, _ = least_engagement_mm(str(host), material, thread)
    return Stack(
        thread_from_mm=thread_from_mm,
        thread_to_mm=thread_to_mm,
        room_mm=room_mm,
        # A nut or a short block thread cannot give more than it has.
        least_mm=min(least, thread_to_mm - thread_from_mm),
    )


def engaged_mm(stack: Stack, length_mm: float) -> float:
    """Thread engagement of a screw of this length; negative when it does not reach."""
    return min(length_mm, stack.thread_to_mm) - stack.thread_from_mm


def fits(stack: Stack, length_mm: float) -> bool:
    """Long enough for its thread, and short enough even when delivered long."""
    plus, _ = length_tolerance_mm(length_mm)
    return engaged_mm(stack, length_mm) >= stack.least_mm - 1e-9 and length_mm + plus <= stack.room_mm


def suggested_length_mm(stack: Stack, standard: str, thread: str) -> float | None:
    """The shortest length on sale that fits, its tip clear where that can be; None if none fits."""
    good = [length for length in sold_lengths_mm(standard, thread) if fits(stack, length)]
    clear = [length for length in good if math.isinf(stack.room_mm) or length + TIP_CLEAR_MM <= stack.room_mm]
    return (clear or good or [None])[0]  # type: ignore[list-item]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextLength:
    """A length on sale that does not fit. `by_mm`: how much too short (below 0) or, delivered long, too long.

    `least_mm` to `most_mm`: by how much less (too short) or more (too long) would have to be clamped for it
    to fit; `most_mm` below `least_mm`: by no thickness.
    """

    length_mm: float
    by_mm: float
    least_mm: float
    most_mm: float


def next_lengths(stack: Stack, standard: str, thread: str) -> tuple[NextLength, ...]:
    """Where no length fits: the longest on sale that is too short, and the shortest that is too long."""
    need = stack.thread_from_mm + stack.least_mm
    lengths = sold_lengths_mm(standard, thread)
    found = []
    for length in [one for one in lengths if engaged_mm(stack, one) < stack.least_mm - 1e-9][-1:]:
        plus, _ = length_tolerance_mm(length)
        lack = need - length
        found.append(
            NextLength(length_mm=length, by_mm=-lack, least_mm=lack, most_mm=stack.room_mm - length - plus)
        )
    for length in [one for one in lengths if one + length_tolerance_mm(one)[0] > stack.room_mm][:1]:
        over = length + length_tolerance_mm(length)[0] - stack.room_mm
        found.append(NextLength(length_mm=length, by_mm=over, least_mm=over, most_mm=length - need))
    return tuple(found)
