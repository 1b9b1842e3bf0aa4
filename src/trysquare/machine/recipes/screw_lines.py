"""The lines of the screws that follow the holes of placed parts, and the layers they pass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import Washer
from trysquare.ground.placement import Array, Placement, facing
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.recipes.builder import JointBuilder
from trysquare.machine.recipes.missed_holes import openings, say_missed
from trysquare.machine.recipes.rail_ends import meets_turned, say_turned
from trysquare.machine.types import standard_type
from trysquare.machine.values import Grip, Hole, PlacedPart

LONGEST_MM = 120.0  # no screw of the catalogue is longer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScrewLine:
    """The line of one screw: the surface its head comes to, the way out, the holes it passes."""

    hole: Hole
    part: PlacedPart
    head_mm: Array  # the head's bearing face
    axis: Array
    grips: tuple[Grip, ...]
    washers: tuple[str, ...]
    end_mm: float  # where the last clamped layer ends, below the head
    surface_mm: Array  # the first part's surface


def through_lines(joint: JointBuilder) -> list[ScrewLine]:
    """Lines of all holes of the first group; the further groups must lie on them."""
    words: Sequence[str] = joint.raw.get("through", ())
    where = joint.where("through")
    first: list[tuple[PlacedPart, tuple[Hole, ...]]] = []
    further: list[tuple[PlacedPart, tuple[Hole, ...]]] = []
    back = joint.raw.get("from", "front") == "back"
    anchors: set[str] = set()
    for word in words:
        found = joint.scene.holes(word, joint.unit, where)
        if found is None:
            return []
        # Several groups of one part, or of its twins beside it, all take heads; any other group lies below.
        beside = any(found[0].type is part.type for part, _ in first) and not _lies_below(first, *found, back)
        if not anchors or found[0].id in anchors or beside:
            anchors.add(found[0].id)
            first.append(found)
        else:
            further.append(found)
    lines: list[ScrewLine] = []
    for part, holes in first:
        joint.joins(part)
        lines += lines_of(joint, part, holes, back=back, further=further)
    joint.joins(*(part for part, _ in further))
    gripped = {grip.part for line in lines for grip in line.grips}
    for part, _ in further if lines else ():
        if part.id not in gripped:
            joint.scene.say(
                "hole-missing",
                f"{joint.id}: no screw of the joint passes {part.id}.",
                parts=(part.id,),
                joint=joint.id,
                at_mm=part.placement.origin_mm,
                where=where,
            )
    return lines


def _lies_below(
    first: Sequence[tuple[PlacedPart, tuple[Hole, ...]]],
    other: PlacedPart,
    other_holes: Sequence[Hole],
    back: bool,
) -> bool:
    """True when some screw of the first groups passes the other part: twins stacked, not side by side."""
    for part, holes in first:
        for hole in holes:
            outward = part.placement.direction(hole.direction)
            opening = part.placement.point(hole.at_mm)
            head, axis = (opening - outward * hole.depth_mm, -outward) if back else (opening, outward)
            if _layer(other, other_holes, head, axis) is not None:
                return True
    return False


def lines_of(
    joint: JointBuilder,
    part: PlacedPart,
    holes: Sequence[Hole],
    *,
    back: bool,
    further: Sequence[tuple[PlacedPart, tuple[Hole, ...]]] = (),
) -> list[ScrewLine]:
    """A line for each of the holes, with the layers of `further` parts that it passes."""
    lines: list[ScrewLine] = []
    washer = joint.standard_of("washer", Washer, "a washer such as ISO 7089 M3")
    words = joint.screw_words() if "screw" in joint.raw else None
    for hole in holes:
        outward = part.placement.direction(hole.direction)
        axis = -outward if back else outward
        opening = part.placement.point(hole.at_mm)
        surface = opening - outward * hole.depth_mm if back else opening
        sunk = 0.0 if back else hole.counterbore_depth_mm
        if words is not None and hole.countersunk and _is_countersunk(words[0]):
            sunk = 0.0  # a countersunk head's own zero is its flat top
        thick = washer.thickness_mm if washer else 0.0
        head = surface - axis * (sunk - thick)
        washers: tuple[str, ...] = ()
        if washer:
            placed = joint.bring(
                "washer", standard_type(washer.designation), Placement(facing(axis), surface - axis * sunk)
            )
            washers = (placed.id,)
        grips = [
            Grip(part=part.id, from_mm=thick, to_mm=thick + hole.depth_mm - sunk, hole_mm=hole.diameter_mm)
        ]
        met: dict[int, bool] = {}
        for other, other_holes in further:
            grip = _layer(other, other_holes, head, axis)
            met[id(other.type)] = met.get(id(other.type), False) or grip is not None
            if grip is not None:
                grips.append(grip)
        for other, other_holes in further:
            if not met.pop(id(other.type), True):  # spacers of one type share the lines among them
                if meets_turned(part, other, other_holes):
                    say_turned(joint, part, other, "through")
                    continue
                say_missed(
                    joint, part, hole, axis, openings(other, other_holes), other,
                    at_mm=surface, where=joint.where("through"),
                )  # fmt: skip
        grips.sort(key=lambda grip: grip.from_mm)
        lines.append(
            ScrewLine(
                hole=hole,
                part=part,
                head_mm=head,
                axis=axis,
                grips=tuple(grips),
                washers=washers,
                end_mm=grips[-1].to_mm,
                surface_mm=surface,
            )
        )
    return lines


def _is_countersunk(standard: str) -> bool:
    return standard == "ISO 10642"


def on_line(part: PlacedPart, hole: Hole, head: Array, axis: Array) -> tuple[float, float] | None:
    """Where a hole's two openings lie below the head, if the hole lies on the screw's line."""
    direction = part.placement.direction(hole.direction)
    along = float(direction @ axis)
    if abs(along) < 1 - 1e-6:
        return None
    opening = part.placement.point(hole.at_mm)
    delta = head - opening
    below = float(delta @ axis)
    if float(np.linalg.norm(delta - below * axis)) > ON_AXIS_MM or not -1.0 <= below <= LONGEST_MM:
        return None
    far = below + hole.depth_mm * (1.0 if along > 0 else -1.0)
    return min(below, far), max(below, far)


def _layer(part: PlacedPart, holes: Sequence[Hole], head: Array, axis: Array) -> Grip | None:
    for hole in holes:
        span = on_line(part, hole, head, axis)
        if span is not None:
            return Grip(part=part.id, from_mm=span[0], to_mm=span[1], hole_mm=hole.diameter_mm)
    return None
