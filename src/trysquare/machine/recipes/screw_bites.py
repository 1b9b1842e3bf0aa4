"""What a screw that follows a hole bites into: a slot nut, a nut, a tapped hole or core, an insert, a bar."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from trysquare.catalogue.lookup import thread
from trysquare.ground.placement import Placement
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.recipes.blind import member_end
from trysquare.machine.recipes.builder import Bite, JointBuilder, material_sort
from trysquare.machine.recipes.missed_holes import Opening, openings, say_missed
from trysquare.machine.recipes.rail_ends import meets_turned, say_turned
from trysquare.machine.recipes.screw_lines import LONGEST_MM, ScrewLine, on_line
from trysquare.machine.slots import Hit, core_points_mm
from trysquare.machine.values import Hole, Host, PlacedPart

Biter = Callable[[JointBuilder, ScrewLine], Bite | None]


def finish(joint: JointBuilder, line: ScrewLine, biter: Biter) -> None:
    """Fastens one line with what its thread bites into; nothing when it bites into nothing."""
    bite = biter(joint, line)
    if bite is None:
        return
    _no_gap(joint, line, bite)
    joint.fasten(head_mm=line.head_mm, axis=line.axis, grips=line.grips, bite=bite, washers=line.washers)


def _no_gap(joint: JointBuilder, line: ScrewLine, bite: Bite) -> None:
    """The clamped layers must touch, from the head to the face the thread lies behind."""
    edges = [0.0 if not line.washers else line.grips[0].from_mm]
    gap, after = 0.0, line.part.id
    for grip in line.grips:
        if grip.from_mm - edges[-1] > gap:
            gap, after = grip.from_mm - edges[-1], grip.part
        edges.append(max(edges[-1], grip.to_mm))
    face = bite.hit.below_mm if bite.hit else (bite.from_mm if bite.host is not Host.NUT else edges[-1])
    if face - edges[-1] > gap:
        gap, after = face - edges[-1], (bite.hit.channel.member if bite.hit else bite.part)
    if gap > 0.1:
        joint.scene.say(
            "gap-in-stack",
            f"{joint.id}: {gap:.2f} mm of air before {after} under the head; "
            "the screw would bend the parts together.",
            parts=(line.part.id, after),
            joint=joint.id,
            value=gap,
            limit=0.1,
            unit="mm",
            at_mm=line.surface_mm,
            where=joint.where(),
        )


def slot_nut_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
    """A nut in the slot that lies under the line."""
    hit = joint.scene.channels.below(
        line.head_mm - line.axis * (line.end_mm - 0.2), line.axis, beside_mm=ON_AXIS_MM, reach_mm=30.0
    )
    if hit is None:
        joint.scene.say(
            "hole-over-no-slot",
            f"{joint.id}: no slot lies under hole {line.hole.name} of {line.part.id}.",
            parts=(line.part.id,),
            joint=joint.id,
            at_mm=line.surface_mm,
            where=joint.where(),
        )
        return None
    hit = Hit(
        channel=hit.channel,
        below_mm=float((line.head_mm - hit.channel.start_mm) @ line.axis),
        at_mm=hit.at_mm,
        beside_mm=hit.beside_mm,
    )
    return joint.bite_slot_nut(hit)


def free_nut_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
    """A nut on the far face."""
    return joint.bite_nut(line.head_mm, line.axis, line.end_mm)


def into_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
    """The thread that ``into`` names: a member's end means its tapped cores, anything else holes."""
    found = joint.scene.feature(joint.raw["into"], joint.unit, joint.where("into"))
    if found is None:
        return None
    part, name = found
    if part.type.profile is not None and name in ("a", "b"):
        return _core_bite(joint, line)
    return _tapped_bite(joint, line)


def _core_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
    """The tapped core of a member's end that lies on the screw's line."""
    found = member_end(joint, joint.raw["into"], "into")
    if found is None:
        return None
    member, end, middle, outward = found
    profile = member.type.profile
    assert profile is not None
    joint.joins(member)
    if end not in member.type.tapped_ends:
        joint.scene.say(
            "end-not-tapped",
            f"{joint.id}: end {end} of {member.id} has no thread for the screw through {line.part.id}.",
            parts=(line.part.id, member.id),
            joint=joint.id,
            at_mm=line.surface_mm,
            where=joint.where("into"),
        )
        return None
    for core in core_points_mm(profile):
        delta = line.head_mm - middle - member.placement.direction(core)
        below = float(delta @ line.axis)
        beside = float(np.linalg.norm(delta - below * line.axis))
        if float(line.axis @ outward) < 1 - 1e-6 or beside > ON_AXIS_MM or not -1.0 <= below <= LONGEST_MM:
            continue
        return Bite(
            host=Host.TAPPED,
            part=member.id,
            thread=thread(profile.core_thread).name,
            material=material_sort(member.type.material, member.type.kind),
            from_mm=below,
            to_mm=below + member.type.tapped_depth_mm,
            room_mm=below + member.type.tapped_depth_mm,  # a screw jams where the thread ends
            room_part=member.id,
        )
    ends = [
        Opening(part=member.id, at_mm=middle + member.placement.direction(core), direction=outward)
        for core in core_points_mm(profile)
    ]
    _no_hole_below(joint, line, member, ends)
    return None


def _tapped_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
    found = _hole_on(joint, line, lambda hole: hole.thread, "tapped holes",
                     "Give the hole its thread, or screw into a nut.")  # fmt: skip
    return None if found is None else joint.bite_hole(*found)


def tapped_in(joint: JointBuilder, line: ScrewLine, parts: Sequence[PlacedPart]) -> Bite | None:
    """The tapped hole of one of these parts that lies on the line."""
    for part in parts:
        for hole in part.type.holes:
            span = on_line(part, hole, line.head_mm, line.axis) if hole.thread else None
            if span is not None:
                return joint.bite_hole(part, hole, span[0])
    tapped = [
        one for part in parts for one in openings(part, (hole for hole in part.type.holes if hole.thread))
    ]
    _no_hole_below(joint, line, parts[0], tapped)
    return None


def insert_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
    """The heat-set insert that lies on the line."""
    found = _hole_on(joint, line, lambda hole: hole.insert, "holes for inserts",
                     'Give the hole insert = "heat-set insert …".')  # fmt: skip
    return None if found is None else joint.bite_insert(*found)


def _hole_on(
    joint: JointBuilder, line: ScrewLine, takes: Callable[[Hole], str], expected: str, remedy: str
) -> tuple[PlacedPart, Hole, float] | None:
    """Of the holes that ``into`` names the one on the line, with how far below the head it begins; None
    after telling that none lies there, or that it takes no screw."""
    words = joint.raw.get("into", "")
    found = joint.scene.holes(words, joint.unit, joint.where("into"))
    if found is None:
        return None
    part, holes = found
    joint.joins(part)
    for hole in holes:
        span = on_line(part, hole, line.head_mm, line.axis)
        if span is None:
            continue
        if not takes(hole):
            joint.problem("into", words, expected, remedy)
            return None
        return part, hole, span[0]
    if meets_turned(line.part, part, holes):
        say_turned(joint, line.part, part, "into")
        return None
    _no_hole_below(joint, line, part, openings(part, holes))
    return None


def _no_hole_below(joint: JointBuilder, line: ScrewLine, part: PlacedPart, below: Sequence[Opening]) -> None:
    say_missed(
        joint, line.part, line.hole, line.axis, below, part, at_mm=line.surface_mm, where=joint.where()
    )


def bar_in_slot(joint: JointBuilder, lines: Sequence[ScrewLine]) -> None:
    """One threaded bar in the slot under the rail; its tapped holes take the rail's screws."""
    bar_type = joint.type_of("bar")
    if bar_type is None or not lines:
        return
    taps = [hole for hole in bar_type.holes if hole.thread]
    if not taps:
        joint.problem(
            "bar", joint.raw["bar"], "a bar with tapped holes", "Give the bar its holes with a thread."
        )
        return
    first = lines[0]
    hit = joint.scene.channels.below(
        first.head_mm - first.axis * (first.end_mm - 0.2), first.axis, beside_mm=ON_AXIS_MM, reach_mm=30.0
    )
    if hit is None:
        slot_nut_bite(joint, first)  # says that no slot is there
        return
    channel = hit.channel
    # The bar's own x runs along the slot, its z = 0 touches the lip; its first hole meets the first screw.
    turn = np.column_stack([channel.along, np.cross(channel.out, channel.along), channel.out])
    ats = sorted(float((line.head_mm - channel.start_mm) @ channel.along) for line in lines)
    seat = channel.point(ats[0] - min(hole.at_mm[0] for hole in taps), channel.profile.lip_mm)
    bar = joint.bring("bar", bar_type, Placement(turn, seat))
    joint.joins(joint.scene.parts[channel.member])

    def bite(j: JointBuilder, line: ScrewLine) -> Bite | None:
        for hole in taps:
            span = on_line(bar, hole, line.head_mm, line.axis)
            if span is not None:
                here = channel.profile
                below = float((line.head_mm - channel.start_mm) @ line.axis)
                at = float((line.head_mm - channel.start_mm) @ channel.along)
                return Bite(
                    host=Host.BAR,
                    part=bar.id,
                    thread=hole.thread,
                    material="steel",
                    from_mm=span[0],
                    to_mm=span[1],
                    room_mm=below + here.depth_mm,
                    room_part=channel.member,
                    hit=Hit(channel=channel, below_mm=below, at_mm=at, beside_mm=0.0),
                )
        _no_hole_below(j, line, bar, openings(bar, taps))
        return None

    for line in lines:
        finish(joint, line, bite)
