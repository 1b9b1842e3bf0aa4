"""What the joints ask of a part in its place: holes, threads, slots, access for keys, shafts, cable ends."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import Pulley, RailSize
from trysquare.ground.placement import Array, Triple
from trysquare.machine.values import Fastening, Hole, Host, Joint, Machine, PlacedPart
from trysquare.sequence.state import Tightness
from trysquare.sequence.timeline import Timeline

NEAR_POINT_MM = 1.0  # a belt's or cable's end lies on the part's own named point


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ask:
    """One thing a joint wants of a part.

    `sort` is "pass", "thread", "insert", "slot", "access", "shaft", "point", "opening" or "belt". `at_mm`
    and `way` are a screw's bearing face and the direction out of its head, a shaft's beginning and
    direction, a belt's middle and axis, an opening's middle and axis, or a point, in the part's own
    coordinates. `event` is when it would be missed; None when no step asks.
    """

    sort: str
    joint: str
    event: int | None
    at_mm: Array
    way: Array
    fastening: Fastening | None = None
    first: bool = False  # the screw's head bears on this part
    slides: Array | None = None  # along this the screw can shift: a single part over a nut in a slot
    hole: Hole | None = None  # that a cable passes
    name: str = ""  # of the part's point or shaft


def asks_of(machine: Machine, part: PlacedPart, joints: Iterable[Joint], timeline: Timeline) -> list[Ask]:
    """All that the joints want of a placed part, by what the machine's drawing has there."""
    comes = timeline.comes.get(part.id, 0)
    found: list[Ask] = []
    for joint in joints:
        for one in joint.fastenings:
            found += _of_fastening(machine, part, joint, one, timeline, comes)
        found += _of_shaft(machine, part, joint, timeline, comes)
        found += _of_ends(part, joint, timeline)
        found += _of_opening(part, joint, timeline)
        found += _of_pulley(part, joint, timeline)
    return found


def _of_fastening(
    machine: Machine, part: PlacedPart, joint: Joint, one: Fastening, timeline: Timeline, comes: int
) -> list[Ask]:
    sorts: dict[str, int | None] = {}
    turn = timeline.first_turn(one.id, comes)
    if any(grip.part == part.id for grip in one.grips) and not one.head_in_slot:
        sorts["pass"] = turn
    if one.host is Host.TAPPED and one.host_part == part.id and (one.grips or one.head_in_slot):
        sorts["thread"] = turn
    if one.host is Host.INSERT and part.id in joint.parts and not any(g.part == part.id for g in one.grips):
        sorts["insert"] = turn
    if one.slot_member == part.id:
        sorts["slot"] = timeline.comes.get(one.host_part if not one.head_in_slot else one.screw, turn)
        if one.head_in_slot and one.needs_access_hole and one.access_hole_mm > 0:
            both = timeline.together(part.id, one.host_part)
            sorts["access"] = timeline.first_turn(one.id, comes if both is None else both, Tightness.SNUG)
    at, way = part.placement.back(one.head_mm), part.placement.back_direction(one.axis)
    bearing = min(one.grips, key=lambda grip: grip.from_mm).part if one.grips else ""
    return [
        Ask(
            sort=sort,
            joint=joint.id,
            event=event,
            at_mm=at,
            way=way,
            fastening=one,
            first=bearing == part.id,
            slides=_slides(machine, part, one) if sort == "pass" else None,
        )
        for sort, event in sorts.items()
    ]


def _slides(machine: Machine, part: PlacedPart, one: Fastening) -> Array | None:
    """The slot along which the screw's nut can be shifted to meet another hole; None when it cannot."""
    size = part.type.standard
    if isinstance(size, RailSize) and size.turned_off_mm:
        return None  # a whole row of nuts would have to be laid anew
    if one.host is not Host.SLOT_NUT or len(one.grips) != 1 or one.slot_member not in machine.part:
        return None
    return part.placement.back_direction(machine.part[one.slot_member].placement.turn[:, 0])


def _of_shaft(machine: Machine, part: PlacedPart, joint: Joint, timeline: Timeline, comes: int) -> list[Ask]:
    if joint.recipe != "shaft-and-coupling" or not joint.parts or joint.parts[0] != part.id:
        return []
    onto = part.placement.back(machine.part[joint.parts[-1]].placement.origin_mm)

    def beside(at: Triple, way: Triple) -> float:
        away = onto - np.asarray(at)
        return float(np.linalg.norm(away - float(away @ np.asarray(way)) * np.asarray(way)))

    shafts = sorted(part.type.shafts, key=lambda shaft: beside(shaft.at_mm, shaft.direction))
    if not shafts:
        return []
    event = timeline.together(part.id, joint.parts[-1])
    if joint.fastenings:
        event = timeline.first_turn(joint.fastenings[0].id, comes)
    at, way = np.asarray(shafts[0].at_mm), np.asarray(shafts[0].direction)
    return [Ask(sort="shaft", joint=joint.id, event=event, at_mm=at, way=way, name=shafts[0].name)]


def _of_ends(part: PlacedPart, joint: Joint, timeline: Timeline) -> list[Ask]:
    """Ends of belts and cables that lie on a named point of the part."""
    ends: list[Triple] = []
    if joint.cable is not None and joint.cable.points_mm:
        ends += [joint.cable.points_mm[0], joint.cable.points_mm[-1]]
    if joint.belt is not None and joint.belt.spans and not joint.belt.closed:
        ends += [joint.belt.spans[0].from_mm, joint.belt.spans[-1].to_mm]
    found: list[Ask] = []
    for end in ends:
        own = part.placement.back(end)
        for name, point in part.type.points.items():
            if float(np.linalg.norm(own - np.asarray(point))) <= NEAR_POINT_MM:
                found.append(
                    Ask(
                        sort="point",
                        joint=joint.id,
                        event=timeline.routed.get(joint.id),
                        at_mm=np.asarray(point, dtype=float),
                        way=np.zeros(3),
                        name=name,
                    )
                )
                break
    return found


def _of_opening(part: PlacedPart, joint: Joint, timeline: Timeline) -> list[Ask]:
    """The hole of the part that a cable passes: of those with the named opening the nearest to its path."""
    cable = joint.cable
    if cable is None or part.id not in cable.through:
        return []
    opening = cable.openings_mm[cable.through.index(part.id)]
    path = part.placement.back(np.array(cable.points_mm))
    holes = [hole for hole in part.type.holes if abs(hole.diameter_mm - opening) < 1e-6]
    if not opening or not holes:
        return []
    hole = min(holes, key=lambda one: _off_path(np.asarray(one.at_mm), path))
    at = np.asarray(hole.at_mm) - np.asarray(hole.direction) * hole.depth_mm / 2
    event = timeline.routed.get(joint.id)
    way = np.asarray(hole.direction)
    return [Ask(sort="opening", joint=joint.id, event=event, at_mm=at, way=way, hole=hole)]


def _off_path(point: Array, path: Array) -> float:
    """Distance of a point from a line of straight pieces, array (n, 3), n ≥ 2."""
    begin, piece = path[:-1], np.diff(path, axis=0)
    squared = np.maximum((piece**2).sum(axis=1), 1e-12)
    share = np.clip(((point - begin) * piece).sum(axis=1) / squared, 0.0, 1.0)
    return float(np.linalg.norm(begin + share[:, None] * piece - point, axis=1).min())


def _of_pulley(part: PlacedPart, joint: Joint, timeline: Timeline) -> list[Ask]:
    if joint.belt is None or not isinstance(part.type.standard, Pulley):
        return []
    middle = np.array([0.0, 0.0, part.type.standard.belt_centre_mm])
    return [
        Ask(
            sort="belt",
            joint=joint.id,
            event=timeline.routed.get(joint.id),
            at_mm=middle,
            way=np.array([0.0, 0.0, 1.0]),
        )
    ]
