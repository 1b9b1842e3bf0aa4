"""Brackets: corner pieces set where two members meet, or brackets already placed, with their screws.

A bracket that the recipe sets at corners has its own coordinates so: origin at the inner corner, one
leg along +x lying on the face z = 0, the other along +z lying on the face x = 0, its middle at y = 0.
"""

from __future__ import annotations

import numpy as np

from trysquare.catalogue.lookup import UnknownDesignation
from trysquare.catalogue.values import Screw
from trysquare.ground.placement import Array, Placement
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.recipes.blind import member_end
from trysquare.machine.recipes.builder import Bite, JointBuilder
from trysquare.machine.recipes.screw_bites import finish, slot_nut_bite
from trysquare.machine.recipes.screw_lines import lines_of, through_lines
from trysquare.machine.recipes.screwed import is_set_screw
from trysquare.machine.slots import Hit, member_channels
from trysquare.machine.types import standard_type
from trysquare.machine.values import Hole, Host, PartType, PlacedPart


def bracket(joint: JointBuilder) -> None:
    """Sets a bracket at each corner and screws it, or screws the brackets named under `through`."""
    if joint.raw.get("through"):
        for line in through_lines(joint):
            finish(joint, line, slot_nut_bite)
        return
    bracket_type = joint.type_of("bracket")
    if bracket_type is None or not joint.raw.get("corners"):
        if "bracket" not in joint.raw or not joint.raw.get("corners"):
            joint.problem(
                "recipe",
                "a bracket without through",
                "bracket and corners, or through",
                'Write bracket = "…" and corners = [{ end = "beam:a", toward = "+z" }], or through = ["…"].',
            )
        return
    for corner in joint.raw["corners"]:
        placed = _at_corner(joint, bracket_type, corner)
        if placed is not None:
            _screws(joint, placed)


def _at_corner(joint: JointBuilder, bracket_type: PartType, corner: dict[str, object]) -> PlacedPart | None:
    found = member_end(joint, str(corner.get("end", "")), "corners")
    if found is None or "toward" not in corner:
        return None
    member, _, middle, outward = found
    toward = joint.scene.unit_placement[joint.unit].direction(np.asarray(corner["toward"], dtype=float))
    toward = toward / float(np.linalg.norm(toward))
    channels = [c for c in member_channels(member) if float(c.out @ toward) > 1 - 1e-6]
    if not channels:
        joint.problem(
            "corners",
            corner["toward"],
            f"a direction that one of {member.id}'s faces looks",
            "Name the side of the member on which the bracket lies.",
        )
        return None
    profile = member.type.profile
    assert profile is not None
    face = channels[0]  # the first slot of that face; its plane is the bracket's seat
    off = face.start_mm - member.placement.origin_mm
    origin = middle + off - face.along * float(off @ face.along)
    neighbour = joint.scene.channels.below(
        origin + toward * (profile.cell_mm / 2) - outward * 0.05, -outward, beside_mm=ON_AXIS_MM, reach_mm=0.2
    )
    x, z = -outward, toward
    placed = joint.bring("bracket", bracket_type, Placement(np.column_stack([x, np.cross(z, x), z]), origin))
    joint.joins(member)
    if neighbour is not None:
        joint.joins(joint.scene.parts[neighbour.channel.member])
    return placed


def _screws(joint: JointBuilder, placed: PlacedPart) -> None:
    words = joint.screw_words()
    if words is None:
        return
    holes = placed.type.holes
    if not holes:
        joint.problem("bracket", placed.type.id, "a bracket with holes", "Give the bracket type its holes.")
        return
    if any(hole.thread for hole in holes):
        for hole in holes:
            _set_screw(joint, placed, hole)
        return
    for line in lines_of(joint, placed, holes, back=False):
        finish(joint, line, slot_nut_bite)


def _set_screw(joint: JointBuilder, placed: PlacedPart, hole: Hole) -> None:
    """A set screw in the bracket's own thread whose tip presses on what lies behind it."""
    axis: Array = placed.placement.direction(hole.direction)
    opening: Array = placed.placement.point(hole.at_mm)
    word = str(joint.raw["screw"])
    try:
        screw = standard_type(word).standard
    except UnknownDesignation as error:
        joint.problem("screw", word, "a set screw such as ISO 4026 M4x5", error.remedy)
        return
    if not isinstance(screw, Screw) or not is_set_screw(screw):
        joint.problem("screw", word, "a set screw such as ISO 4026 M4x5", "The bracket's holes are tapped.")
        return
    floor = None
    for channel in joint.scene.channels.channels:
        delta = opening - channel.start_mm
        at, above = float(delta @ channel.along), float(delta @ channel.out)
        beside = float(np.linalg.norm(delta - at * channel.along - above * channel.out))
        inside = 0 <= at <= channel.length_mm and -channel.profile.depth_mm <= above <= 0.5
        if inside and beside <= ON_AXIS_MM and float(channel.out @ axis) > 1 - 1e-6:
            floor = channel.profile.depth_mm + above
            hit = Hit(channel=channel, below_mm=-above, at_mm=at, beside_mm=beside)
    if floor is None:
        joint.scene.say(
            "hole-over-no-slot",
            f"{joint.id}: the set screw in {hole.name} of {placed.id} presses on no slot.",
            parts=(placed.id,),
            joint=joint.id,
            at_mm=opening,
            where=joint.where(),
        )
        return
    # Tightened, the tip stands on the slot's floor.
    joint.fasten(
        head_mm=opening - axis * (floor - screw.length_mm),
        axis=axis,
        grips=(),
        bite=Bite(
            host=Host.TAPPED,
            part=placed.id,
            thread=hole.thread,
            material="steel",
            from_mm=max(0.0, screw.length_mm - floor),
            to_mm=screw.length_mm - floor + hole.depth_mm,
            room_mm=float("inf"),
            hit=hit,
        ),
    )
