"""Which piece may serve for another, where, and what follows: the permitted substitutes of a screw or nut.

A substitute is permitted where every check of fit that the asked piece passes is passed by the other too:
stack, hole, head, key, torque, neighbours in the slot, solids round head and tip. What was already wrong
with the asked piece is no reason against another. Points weigh compromises against each other: 1 for
what nobody will notice, up to 12 for what must be remembered at every service; our own scale.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from trysquare.catalogue.values import Head, Nut, Screw, SlotNut
from trysquare.fit.heads import head_faults, hole_faults, hole_under_head
from trysquare.fit.key_holes import access_faults
from trysquare.fit.lengths import length_faults
from trysquare.fit.torque import class_of, torque_of
from trysquare.machine.stack import engaged_mm, fits, stack_of
from trysquare.machine.values import Fastening, Host, Machine
from trysquare.stock.neighbours import Neighbours

LEAST_TORQUE_SHARE = 0.8  # below this share of the asked piece's torque it is another joint; our own rule
SAME_TORQUE_SHARE = 0.98  # nobody's hand tells less
HEAD_ROOM_MM = 0.3  # air round a head that was not planned; common practice, no source

POINTS_CLASS, POINTS_WEAKER, POINTS_LENGTH, POINTS_HEAD = 1, 4, 2, 6
POINTS_NUT, POINTS_WEAKER_NUT = 2, 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Compromise:
    """What it costs to take another piece: points on our scale, its sort, and the consequence in words.

    `sort`: "class", "length", "head", "nut", "holes", "grade" or "grease"; several with commas between.
    """

    points: int
    sort: str
    says: str


def screw_serves(
    machine: Machine, fastening: Fastening, offered: Screw, neighbours: Neighbours
) -> Compromise | None:
    """What it costs to take `offered` in this place, or None where it may not be taken.

    Never another thread, never a countersunk head for a flat one or the reverse; a set screw only of its
    own length and point.
    """
    asked = fastening.screw_type
    if offered.thread.name != asked.thread.name:
        return None
    if Head.NONE in (asked.head, offered.head) or Head.COUNTERSUNK in (asked.head, offered.head):
        if asked.head is not offered.head or asked.point != offered.point:
            return None
        if asked.head is Head.NONE and offered.length_mm != asked.length_mm:
            return None
    other = replace(fastening, screw_type=offered)
    if _new_faults(machine, fastening, other):
        return None
    longer_or_shorter = asked.head is not Head.NONE and offered.length_mm != asked.length_mm
    if longer_or_shorter and (fastening.host is Host.NONE or not fits(stack_of(other), offered.length_mm)):
        return None
    found = [
        one
        for one in (_class(machine, fastening, other), _length(fastening, other), _head(fastening, other))
        if one is not None
    ]
    if any(one.points < 0 for one in found) or not _solids_free(machine, fastening, other, neighbours):
        return None
    if not found:
        return Compromise(points=0, sort="", says="")
    return Compromise(
        points=sum(one.points for one in found),
        sort=", ".join(one.sort for one in found),
        says=" ".join(one.says for one in found),
    )


def _new_faults(machine: Machine, asked: Fastening, other: Fastening) -> bool:
    """Whether the other screw has any stop or doubt that the asked one has not."""

    def codes(one: Fastening) -> set[str]:
        faults = [
            *length_faults(machine, one),
            *hole_faults(machine, one),
            *head_faults(machine, one),
            *access_faults(one),
        ]
        return {fault.finding.code for fault in faults if fault.finding.code not in _TOLD}

    new = codes(other)
    return bool(new) and bool(new - codes(asked))


_TOLD = frozenset({"tip-near-floor", "head-stands-proud"})  # notes: said as a consequence instead
_REFUSED = Compromise(points=-1, sort="", says="")


def _class(machine: Machine, asked: Fastening, other: Fastening) -> Compromise | None:
    """Another property class: by the torque that the joint then bears."""
    before, after = torque_of(machine, asked), torque_of(machine, other)
    if before is not None and after is not None:
        share = after.newton_metre / before.newton_metre if before.newton_metre > 0 else 1.0
        if share < LEAST_TORQUE_SHARE:
            return _REFUSED
        if share < SAME_TORQUE_SHARE:
            return Compromise(
                points=POINTS_WEAKER,
                sort="class" if other.screw_type.strength != asked.screw_type.strength else "torque",
                says=f"Tighten to {after.newton_metre:.2f} instead of {before.newton_metre:.2f} N·m "
                f"({after.limited_by}, class {after.strength}).",
            )
    if asked.screw_type.strength and other.screw_type.strength != asked.screw_type.strength:
        return Compromise(
            points=POINTS_CLASS,
            sort="class",
            says=f"Class {class_of(other.screw_type)} instead of {asked.screw_type.strength}: "
            "the torque stays, something else in the joint limits it.",
        )
    return None


def _length(asked: Fastening, other: Fastening) -> Compromise | None:
    """Another length that the stack allows."""
    more_mm = other.screw_type.length_mm - asked.screw_type.length_mm
    if not more_mm:
        return None
    stack = stack_of(other)
    if more_mm < 0:
        bites = engaged_mm(stack, other.screw_type.length_mm)
        says = f"{-more_mm:g} mm shorter: bites {bites:.1f} mm, {stack.least_mm:.1f} are needed."
    elif math.isinf(stack.room_mm):
        stands = other.screw_type.length_mm - stack.thread_to_mm
        says = (
            f"{more_mm:g} mm longer: its tip stands {max(0.0, stands):.1f} mm out; "
            "see that nothing moves past it."
        )
    else:
        says = (
            f"{more_mm:g} mm longer: {stack.room_mm - other.screw_type.length_mm:.1f} mm are left at its tip."
        )
    return Compromise(points=POINTS_LENGTH + round(abs(more_mm)), sort="length", says=says)


def _head(asked: Fastening, other: Fastening) -> Compromise | None:
    one, two = asked.screw_type, other.screw_type
    if one.head is two.head:
        return None
    higher = two.head_height_mm - one.head_height_mm
    return Compromise(
        points=POINTS_HEAD,
        sort="head",
        says=f"A {two.head} head for a {one.head} head: {abs(higher):.1f} mm "
        f"{'higher' if higher > 0 else 'lower'}, and a {two.key_mm:g} mm key instead of {one.key_mm:g} mm.",
    )


def _solids_free(machine: Machine, asked: Fastening, other: Fastening, neighbours: Neighbours) -> bool:
    """Room for a larger head, and for the tip of a longer screw, among the solids there are."""
    one, two = asked.screw_type, other.screw_type
    axis, head = np.asarray(asked.axis, dtype=float), np.asarray(asked.head_mm, dtype=float)
    larger = two.head_height_mm > one.head_height_mm or two.head_diameter_mm > one.head_diameter_mm
    if two.head is not one.head and larger and not asked.head_in_slot:
        # what the head is sunk in was compared by its counterbore; here counts what stands above that
        from_mm = _sunk_mm(machine, asked) + 0.05
        tall = two.head_height_mm + HEAD_ROOM_MM - from_mm
        wide = two.head_diameter_mm + 2 * HEAD_ROOM_MM
        if tall > 0 and not neighbours.free(asked, head + axis * from_mm, axis, wide, tall):
            return False
    if two.head is Head.NONE or two.length_mm <= one.length_mm or _in_own_hole(asked, two):
        return True
    tip = head - axis * (one.length_mm + 0.05)
    longer_mm = two.length_mm - one.length_mm - 0.05 + two.length_plus_mm
    return neighbours.free(asked, tip, -axis, two.thread.diameter_mm, longer_mm)


def _sunk_mm(machine: Machine, fastening: Fastening) -> float:
    """How deep the head's seat lies under the surface round it."""
    part = machine.part.get(fastening.grips[0].part) if fastening.grips else None
    hole = hole_under_head(fastening, part) if part is not None else None
    return hole.counterbore_depth_mm if hole is not None else 0.0


def _in_own_hole(asked: Fastening, offered: Screw) -> bool:
    """Whether the longer tip still lies within the room that the stack knows of (a tapped or blind hole)."""
    return offered.length_mm + offered.length_plus_mm <= asked.room_mm and not math.isinf(asked.room_mm)


# --- nuts


def nut_serves(
    machine: Machine, fastening: Fastening, offered: SlotNut | Nut, neighbours: Neighbours
) -> Compromise | None:
    """What it costs to take another nut under this screw, or None.

    A slot nut for the same slot and thread that goes in as easily: what slides in from an end may be
    replaced by what goes in through the mouth, never the reverse, for the end may be shut by then.
    """
    part = machine.part.get(fastening.host_part)
    asked = part.type.standard if part is not None else None
    if isinstance(asked, Nut) and isinstance(offered, Nut):
        return _plain_nut(asked, offered)
    if not isinstance(asked, SlotNut) or not isinstance(offered, SlotNut):
        return None
    if (asked.slot_mm, asked.thread.name) != (offered.slot_mm, offered.thread.name) or fastening.carrier:
        return None
    if asked.insertable and not offered.insertable:
        return None
    # measured from the head: where the nut's shoulder lies, and from there the other nut's thread
    shoulder_mm = fastening.thread_from_mm + asked.neck_mm
    other = replace(
        fastening,
        thread_from_mm=shoulder_mm - offered.neck_mm,
        thread_to_mm=shoulder_mm - offered.neck_mm + offered.height_mm,
    )
    length_mm = fastening.screw_type.length_mm
    if not fits(stack_of(other), length_mm) or not _has_slot_room(machine, fastening, offered, neighbours):
        return None
    weaker = 0 < offered.pull_newton < asked.pull_newton or (
        asked.pull_newton > 0 and not offered.pull_newton
    )
    says = f"A {offered.shape} nut for a {asked.shape} one: it may go in at any time before its screw."
    if weaker:
        says += (
            " It bears less pull, or nobody says how much: do not use it where the slot nut carries the load."
        )
    return Compromise(points=POINTS_WEAKER_NUT if weaker else POINTS_NUT, sort="nut", says=says)


def _plain_nut(asked: Nut, offered: Nut) -> Compromise | None:
    """The same nut of another class, where the asked one is said: not a weaker one."""
    if (asked.standard, asked.thread.name) != (offered.standard, offered.thread.name):
        return None
    if not asked.strength or asked.strength == offered.strength:
        return Compromise(points=0, sort="", says="")
    if not offered.strength:
        return None
    return Compromise(
        points=POINTS_CLASS,
        sort="class",
        says=f"Nut of class {offered.strength} instead of {asked.strength}: a nut of full height "
        "carries its screw.",
    )


def _has_slot_room(machine: Machine, fastening: Fastening, offered: SlotNut, neighbours: Neighbours) -> bool:
    """Whether a nut of this length stands clear of what else lies in the slot, and of the slot's ends."""
    half, at = offered.length_mm / 2, fastening.slot_at_mm
    member = machine.part.get(fastening.slot_member)
    if member is None or at - half < 0 or at + half > member.type.length_mm:
        return False
    return all(
        piece.to_mm <= at - half + 1e-6 or piece.from_mm >= at + half - 1e-6
        for piece in neighbours.in_slot(fastening)
    )
