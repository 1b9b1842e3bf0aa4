"""Blind joints: a screw in a member's tapped end whose head lies in the neighbour's slot."""

from __future__ import annotations

import numpy as np

from trysquare.catalogue.lookup import thread
from trysquare.ground.placement import Array
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.recipes.builder import Bite, JointBuilder
from trysquare.machine.slots import Hit, core_points_mm
from trysquare.machine.values import Grip, Hole, Host, PlacedPart


def member_end(joint: JointBuilder, word: str, key: str) -> tuple[PlacedPart, str, Array, Array] | None:
    """A member's end: the member, "a" or "b", the end's middle and the direction out of it."""
    found = joint.scene.feature(word, joint.unit, joint.where(key))
    if found is None:
        return None
    member, end = found
    if member.type.profile is None or end not in ("a", "b"):
        joint.problem(key, word, "a member's end, such as beam:a", "Members have the ends a and b.")
        return None
    x = member.placement.turn[:, 0]
    if end == "a":
        return member, end, member.placement.origin_mm, -x
    return member, end, member.placement.point((member.type.length_mm, 0.0, 0.0)), x


def blind_joint(joint: JointBuilder) -> None:
    """One screw for each core of each named end; the neighbour and its slot follow from where the end is."""
    for word in joint.raw.get("ends", ()):
        found = member_end(joint, word, "ends")
        if found is None:
            continue
        member, end, middle, outward = found
        profile = member.type.profile
        assert profile is not None
        joint.joins(member)
        for core in core_points_mm(profile):
            point = middle + member.placement.direction(core)
            _one_screw(joint, member, end, point, outward)


def _one_screw(joint: JointBuilder, member: PlacedPart, end: str, point: Array, outward: Array) -> None:
    profile = member.type.profile
    assert profile is not None
    # The neighbour's face lies against the end; seen from there its slot faces back at the member.
    hit = joint.scene.channels.below(point - outward * 0.05, -outward, beside_mm=ON_AXIS_MM, reach_mm=0.2)
    if hit is None:
        joint.scene.say(
            "end-meets-no-slot",
            f"{joint.id}: end {end} of {member.id} stands against no member's slot.",
            parts=(member.id,),
            joint=joint.id,
            at_mm=point,
            where=joint.where("ends"),
        )
        return
    neighbour = joint.scene.parts[hit.channel.member]
    joint.joins(neighbour)
    lip = hit.channel.profile.lip_mm
    tapped = end in member.type.tapped_ends
    if not tapped:
        joint.scene.say(
            "end-not-tapped",
            f"{joint.id}: end {end} of {member.id} has no thread for the blind joint's screw.",
            parts=(member.id, neighbour.id),
            joint=joint.id,
            at_mm=point,
            where=joint.where("ends"),
        )
        return
    depth = member.type.tapped_depth_mm
    bite = Bite(
        host=Host.TAPPED,
        part=member.id,
        thread=thread(profile.core_thread).name,
        material="aluminium",
        from_mm=lip,
        to_mm=lip + depth,
        room_mm=lip + depth,  # the core runs on, but a screw jams where its thread ends
        room_part=member.id,
    )
    joint.fasten(
        head_mm=point + outward * lip,
        axis=outward,
        grips=(Grip(part=neighbour.id, from_mm=0.0, to_mm=lip, hole_mm=hit.channel.profile.mouth_mm),),
        bite=bite,
        access_hole_mm=_access_hole_mm(neighbour, point, outward),
        needs_access_hole=True,
        head_hit=Hit(channel=hit.channel, below_mm=0.0, at_mm=hit.at_mm, beside_mm=hit.beside_mm),
    )


def _access_hole_mm(neighbour: PlacedPart, point: Array, outward: Array) -> float:
    """Diameter of the neighbour's hole opposite the head; 0 when there is none on the screw's line."""
    best = 0.0
    for hole in neighbour.type.holes:
        if _on_key_line(neighbour, hole, point, outward):
            best = max(best, hole.diameter_mm)
    return best


def _on_key_line(neighbour: PlacedPart, hole: Hole, point: Array, outward: Array) -> bool:
    direction = neighbour.placement.direction(hole.direction)
    if abs(float(direction @ outward)) < 1 - 1e-6 or not hole.through:
        return False
    delta = neighbour.placement.point(hole.at_mm) - point
    beside = delta - float(delta @ outward) * outward
    return float(np.linalg.norm(beside)) <= ON_AXIS_MM
