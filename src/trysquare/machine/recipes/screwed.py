"""Recipes whose screws follow the holes of a placed part: rails, plates, bolts, inserts, blocks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.lookup import thread
from trysquare.catalogue.values import BlockSize, Head, RailSize, Screw, Washer
from trysquare.ground.placement import Array, Placement, facing
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.recipes.blind import member_end
from trysquare.machine.recipes.builder import Bite, JointBuilder, material_sort
from trysquare.machine.slots import Hit, core_points_mm
from trysquare.machine.types import standard_type
from trysquare.machine.values import Grip, Hole, Host, PlacedPart

_REACH_MM = 120.0  # no screw of the catalogue is longer


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


Biter = Callable[[JointBuilder, ScrewLine], Bite | None]


def rail_on_slot(joint: JointBuilder) -> None:
    """A rail screwed to the slot under it: every hole, or every n-th from the middle."""
    where = joint.where("rail")
    for rail in joint.scene.find_all(joint.raw.get("rail", ()), joint.unit, where):
        if not isinstance(rail.type.standard, RailSize):
            joint.problem("rail", rail.id, "a placed rail", "Name a part whose type is a rail.")
            continue
        joint.from_centre = True
        joint.joins(rail)
        every = max(1, joint.raw.get("every", 1))
        holes = rail.type.holes
        middle = (len(holes) - 1) // 2
        chosen = [hole for index, hole in enumerate(holes) if (index - middle) % every == 0]
        lines = _lines(joint, rail, chosen, back=False)
        if "bar" in joint.raw:
            _bar_in_slot(joint, lines)
            continue
        for line in lines:
            _finish(joint, line, _slot_nut_bite)


def plate_on_slots(joint: JointBuilder) -> None:
    """A plate or bracket screwed to whatever slots lie under its holes."""
    for line in _through_lines(joint):
        _finish(joint, line, _slot_nut_bite)


def through_bolt(joint: JointBuilder) -> None:
    """Screws through one part or several, into tapped holes, a member's tapped end (base:a) or nuts."""
    if "into" in joint.raw and "nut" in joint.raw:
        joint.problem("nut", joint.raw["nut"], "either into or nut", "Keep the one the screws bite into.")
        return
    biter = _into_bite if "into" in joint.raw else _free_nut_bite
    for line in _through_lines(joint):
        _finish(joint, line, biter)


def insert_and_screw(joint: JointBuilder) -> None:
    """Screws through parts into heat-set inserts."""
    for line in _through_lines(joint):
        _finish(joint, line, _insert_bite)


def block_on_rail(joint: JointBuilder) -> None:
    """Carriages on their rail, and the screws of what they carry."""
    rail = joint.scene.find(joint.raw.get("rail", ""), joint.unit, joint.where("rail"))
    blocks = joint.scene.find_all(joint.raw.get("blocks", ()), joint.unit, joint.where("blocks"))
    if rail is None or not blocks:
        return
    joint.joins(rail, *blocks)
    for block in blocks:
        joint.slides_on[block.id] = rail.id
        _check_block(joint, block, rail)
    if "through" not in joint.raw:
        return
    if "screw" not in joint.raw:
        joint.problem("screw", "nothing", "the screws into the blocks", 'Add screw = "ISO 4762 M3x8".')
        return
    for line in _through_lines(joint):
        _finish(joint, line, lambda j, at: _tapped_in(j, at, blocks))


def _check_block(joint: JointBuilder, block: PlacedPart, rail: PlacedPart) -> None:
    block_size, rail_size = block.type.standard, rail.type.standard
    if not isinstance(rail_size, RailSize) or not isinstance(block_size, BlockSize):
        joint.problem("blocks", block.id, "a block and a rail", "Name parts whose types are these.")
        return
    if block_size.rail_width_mm != rail_size.width_mm:
        joint.scene.say(
            "block-of-another-size",
            f"{block.id} is for rails {block_size.rail_width_mm:g} mm wide, "
            f"{rail.id} is {rail_size.width_mm:g}.",
            parts=(block.id, rail.id),
            joint=joint.id,
            value=block_size.rail_width_mm,
            limit=rail_size.width_mm,
            unit="mm",
            where=joint.where("blocks"),
        )
    spot = rail.placement.back(block.placement.origin_mm)
    aside = float(np.hypot(spot[1], spot[2]))
    turned = abs(float(block.placement.turn[:, 0] @ rail.placement.turn[:, 0]))
    upright = float(block.placement.turn[:, 2] @ rail.placement.turn[:, 2])
    half = block_size.length_mm / 2
    inside = half - 1e-6 <= spot[0] <= rail_size.length_mm - half + 1e-6
    if aside > 0.05 or turned < 1 - 1e-6 or upright < 1 - 1e-6 or not inside:
        joint.scene.say(
            "block-off-rail",
            f"{block.id} does not sit on {rail.id}: {aside:.2f} mm beside it, at {spot[0]:.1f} mm of "
            f"{rail_size.length_mm:g} mm.",
            parts=(block.id, rail.id),
            joint=joint.id,
            value=aside,
            limit=0.05,
            unit="mm",
            at_mm=block.placement.origin_mm,
            where=joint.where("blocks"),
        )


def _through_lines(joint: JointBuilder) -> list[ScrewLine]:
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
        lines += _lines(joint, part, holes, back=back, further=further)
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


def _lines(
    joint: JointBuilder,
    part: PlacedPart,
    holes: Sequence[Hole],
    *,
    back: bool,
    further: Sequence[tuple[PlacedPart, tuple[Hole, ...]]] = (),
) -> list[ScrewLine]:
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
        for other, _ in further:
            if not met.pop(id(other.type), True):  # spacers of one type share the lines among them
                joint.scene.say(
                    "hole-missing",
                    f"{joint.id}: the screw through {part.id} ({hole.name}) meets no hole of {other.id}.",
                    parts=(part.id, other.id),
                    joint=joint.id,
                    at_mm=surface,
                    where=joint.where("through"),
                )
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


def _on_line(part: PlacedPart, hole: Hole, head: Array, axis: Array) -> tuple[float, float] | None:
    """Where a hole's two openings lie below the head, if the hole lies on the screw's line."""
    direction = part.placement.direction(hole.direction)
    along = float(direction @ axis)
    if abs(along) < 1 - 1e-6:
        return None
    opening = part.placement.point(hole.at_mm)
    delta = head - opening
    below = float(delta @ axis)
    if float(np.linalg.norm(delta - below * axis)) > ON_AXIS_MM or not -1.0 <= below <= _REACH_MM:
        return None
    far = below + hole.depth_mm * (1.0 if along > 0 else -1.0)
    return min(below, far), max(below, far)


def _layer(part: PlacedPart, holes: Sequence[Hole], head: Array, axis: Array) -> Grip | None:
    for hole in holes:
        span = _on_line(part, hole, head, axis)
        if span is not None:
            return Grip(part=part.id, from_mm=span[0], to_mm=span[1], hole_mm=hole.diameter_mm)
    return None


def _finish(joint: JointBuilder, line: ScrewLine, biter: Biter) -> None:
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


def _slot_nut_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
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


def _free_nut_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
    return joint.bite_nut(line.head_mm, line.axis, line.end_mm)


def _into_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
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
        if float(line.axis @ outward) < 1 - 1e-6 or beside > ON_AXIS_MM or not -1.0 <= below <= _REACH_MM:
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
    _no_hole_below(joint, line, member)
    return None


def _tapped_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
    found = joint.scene.holes(joint.raw["into"], joint.unit, joint.where("into"))
    if found is None:
        return None
    part, holes = found
    joint.joins(part)
    for hole in holes:
        span = _on_line(part, hole, line.head_mm, line.axis)
        if span is None:
            continue
        if not hole.thread:
            joint.problem(
                "into", joint.raw["into"], "tapped holes", "Give the hole its thread, or screw into a nut."
            )
            return None
        return joint.bite_hole(part, hole, span[0])
    _no_hole_below(joint, line, part)
    return None


def _tapped_in(joint: JointBuilder, line: ScrewLine, parts: Sequence[PlacedPart]) -> Bite | None:
    for part in parts:
        for hole in part.type.holes:
            span = _on_line(part, hole, line.head_mm, line.axis) if hole.thread else None
            if span is not None:
                return joint.bite_hole(part, hole, span[0])
    _no_hole_below(joint, line, parts[0])
    return None


def _insert_bite(joint: JointBuilder, line: ScrewLine) -> Bite | None:
    found = joint.scene.holes(joint.raw.get("into", ""), joint.unit, joint.where("into"))
    if found is None:
        return None
    part, holes = found
    joint.joins(part)
    for hole in holes:
        span = _on_line(part, hole, line.head_mm, line.axis)
        if span is None:
            continue
        if not hole.insert:
            joint.problem(
                "into", joint.raw["into"], "holes for inserts", 'Give the hole insert = "heat-set insert …".'
            )
            return None
        return joint.bite_insert(part, hole, span[0])
    _no_hole_below(joint, line, part)
    return None


def _no_hole_below(joint: JointBuilder, line: ScrewLine, part: PlacedPart) -> None:
    joint.scene.say(
        "hole-missing",
        f"{joint.id}: the screw through {line.part.id} ({line.hole.name}) meets no hole of {part.id}.",
        parts=(line.part.id, part.id),
        joint=joint.id,
        at_mm=line.surface_mm,
        where=joint.where(),
    )


def _bar_in_slot(joint: JointBuilder, lines: Sequence[ScrewLine]) -> None:
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
        _slot_nut_bite(joint, first)  # says that no slot is there
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
            span = _on_line(bar, hole, line.head_mm, line.axis)
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
        _no_hole_below(j, line, bar)
        return None

    for line in lines:
        _finish(joint, line, bite)


def is_set_screw(screw: Screw) -> bool:
    """Whether the screw has no head: its tip presses instead of clamping."""
    return screw.head is Head.NONE
