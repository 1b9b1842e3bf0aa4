"""Rules of the way in for what joints bring: nuts, bars, screws, inserts and belts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trysquare.catalogue.values import SlotNut
from trysquare.ground.findings import Finding
from trysquare.ground.placement import Array
from trysquare.machine.slots import Channel
from trysquare.machine.values import Fastening, Joint, PlacedPart
from trysquare.sequence.directions import joint_directions
from trysquare.sequence.reach import Probe
from trysquare.sequence.state import Event
from trysquare.sequence.walk import Walk
from trysquare.sequence.ways_in import best_way, few, first_there, is_or_are, no_way
from trysquare.stock.bringing import sort_of

SCREW_ROOM_MM = 15.0  # fingers or a key behind the head; common practice, no source


def piece_ways_in(walk: Walk, event: Event, piece: PlacedPart, near: set[str]) -> list[Finding]:
    """Findings of a piece that a joint brings and that goes into no slot; screws are told together."""
    sort = sort_of(piece)
    joint = walk.machine.joint[piece.joint]
    if sort == "insert":
        return _iron(walk, event, piece, near)
    if sort in ("nut", "bracket"):
        ways = joint_directions(walk.machine, piece.id, (joint.id,))
        seat = walk.seat_of.get(piece.id, piece.id)
        blocked = best_way(walk, event, {piece.id}, ways, near, seat)
        return [] if blocked is None else [no_way(walk, event, piece.id, blocked, seat)]
    if sort == "belt":
        return _belt(walk, event, joint, piece, near)
    return []


def slot_nut_ways_in(walk: Walk, event: Event) -> list[Finding]:
    """Nuts and bars that go into slots, slot by slot. Those of one action do not stand in each other's
    way: a builder enters them in the order in which they lie."""
    by_slot: dict[tuple[str, str, str], list[PlacedPart]] = {}
    for piece in event.pieces:
        if piece.id in walk.slot_of:
            channel = walk.slot_of[piece.id]
            by_slot.setdefault((piece.joint, channel.member, channel.name), []).append(piece)
    coming = {piece.id for piece in event.pieces}
    found: list[Finding] = []
    for nuts in by_slot.values():
        channel = walk.slot_of[nuts[0].id]
        if channel.member not in walk.state.present:
            if event.action.verb != "insert":  # of a joint that is turned the list says so
                continue
            found.append(
                Finding(
                    code="slot-not-there",
                    says=f"{_counted(nuts)} {_have(nuts)} no slot to go into: {channel.member} comes later.",
                    parts=(*(nut.id for nut in nuts), channel.member),
                    joint=nuts[0].joint,
                    step=event.step_id,
                    remedy=f"Place {channel.member} first.",
                )
            )
            continue
        shut: list[tuple[PlacedPart, dict[str, list[str]]]] = []
        for nut in nuts:
            near = walk.state.group(channel.member) - coming
            ends = _closed_ends(walk, nut, channel, near)
            if ends:
                shut.append((nut, ends))
        if shut:
            found.append(_shut_out(walk, event, [nut for nut, _ in shut], channel, shut[0][1]))
    return found


def _closed_ends(walk: Walk, nut: PlacedPart, channel: Channel, near: set[str]) -> dict[str, list[str]]:
    """What closes each way into the slot; empty when one way is open."""
    # What slides along with the nut (its carrier) and what it slides in are not in its way.
    ignoring = {channel.member, *walk.carrier_of.get(nut.id, ())}
    reach = walk.reach
    insertable = isinstance(nut.type.standard, SlotNut) and nut.type.standard.insertable
    ways: dict[str, Probe | None] = {}
    for end in ("mouth", "a", "b") if insertable else ("a", "b"):
        ways[end] = reach.mouth_way(nut, channel) if end == "mouth" else reach.slot_way(nut, channel, end)
        if reach.is_free(ways[end], near, ignoring):
            return {}
    return {end: reach.blockers(way, near, ignoring) for end, way in ways.items()}


def _shut_out(
    walk: Walk, event: Event, nuts: Sequence[PlacedPart], channel: Channel, ends: dict[str, list[str]]
) -> Finding:
    def lies_here(other: str) -> bool:
        slot = walk.slot_of.get(other)
        return slot is not None and (slot.member, slot.name) == (channel.member, channel.name)

    code = "mouth-covered" if "mouth" in ends else "nut-shut-out"
    if any(all(lies_here(other) for other in blockers) for blockers in ends.values()):
        code = "nuts-would-pass"
    closed = {end: first_there(walk, channel.member, blockers) for end, blockers in ends.items()}
    last = max(closed, key=lambda end: closed[end][0])
    closed_at, closer = closed[last]
    names = list(dict.fromkeys(other for blockers in ends.values() for other in blockers))
    says = "; ".join(f"{_end(end)} {few(blockers)}" for end, blockers in ends.items())
    return Finding(
        code=code,
        says=f"{_counted(nuts)} cannot get into slot {channel.name} of {channel.member}: {says}.",
        parts=(*(nut.id for nut in nuts), channel.member, *names),
        joint=nuts[0].joint,
        step=event.step_id,
        value=float(len(nuts)),
        limit=0.0,
        unit="pieces",
        at_mm=_point(channel.point(channel.length_mm / 2)),
        remedy=f"Put {'it' if len(nuts) == 1 else 'them'} in before step {walk.step_of(closed_at)}, "
        f"where {closer} closes {'the mouth' if last == 'mouth' else 'end ' + last}.",
    )


def _point(point: Array) -> tuple[float, float, float]:
    return (float(point[0]), float(point[1]), float(point[2]))


def _counted(pieces: Sequence[PlacedPart]) -> str:
    if len(pieces) == 1:
        return f"{pieces[0].id} ({pieces[0].type.name})"
    return f"{len(pieces)} × {pieces[0].type.name} of {pieces[0].joint}"


def _have(pieces: Sequence[PlacedPart]) -> str:
    return "has" if len(pieces) == 1 else "have"


def _end(end: str) -> str:
    return "over the mouth lies" if end == "mouth" else f"at end {end} stands"


def in_screws_way(walk: Walk, piece: PlacedPart, near: set[str]) -> list[str]:
    """What stands where a screw must come along its own axis."""
    fastening = walk.screw[piece.id]
    axis = np.asarray(fastening.axis)
    return walk.reach.blockers(
        walk.reach.path(piece.id, axis, fastening.screw_type.length_mm + SCREW_ROOM_MM), near
    )


def screws_shut_out(
    walk: Walk, event: Event, blockers: Sequence[str], screws: Sequence[Fastening]
) -> Finding:
    """One finding for all the screws that the same things shut out."""
    at, first = first_there(walk, walk.seat_of[screws[0].screw], blockers)
    hint = (
        "Start a blind joint's screws in their own member before the neighbour comes"
        if screws[0].head_in_slot
        else "Put it in before it is covered"
    )
    name = screws[0].id if len(screws) == 1 else f"{len(screws)} screws of {screws[0].joint}"
    return Finding(
        code="screw-cannot-get-in",
        says=f"{name} ({screws[0].screw_type.designation}) cannot be put in: "
        f"{few(blockers)} {is_or_are(blockers)} in the way.",
        parts=(*(one.screw for one in screws), *blockers),
        joint=screws[0].joint,
        step=event.step_id,
        at_mm=screws[0].head_mm,
        remedy=f"{hint}: before step {walk.step_of(at)}, where {first} comes there.",
    )


def _iron(walk: Walk, event: Event, piece: PlacedPart, near: set[str]) -> list[Finding]:
    blockers = walk.reach.blockers(walk.reach.iron(piece.id), near)
    if not blockers:
        return []
    at, first = first_there(walk, walk.seat_of[piece.id], blockers)
    return [
        Finding(
            code="iron-cannot-reach",
            says=f"The hot iron cannot reach {piece.id}: {few(blockers)} {is_or_are(blockers)} in its way.",
            parts=(piece.id, *blockers),
            joint=piece.joint,
            step=event.step_id,
            remedy=f"Press the inserts in before step {walk.step_of(at)}, where {first} comes there.",
        )
    ]


def _belt(walk: Walk, event: Event, joint: Joint, piece: PlacedPart, near: set[str]) -> list[Finding]:
    """A closed belt goes over its pulleys sideways: nothing may stand there but the pulleys."""
    if joint.belt is None or not joint.belt.closed:
        return []
    pulleys = set(joint.parts)
    axis = piece.placement.turn[:, 2]
    ways = [
        walk.reach.blockers(walk.reach.path(piece.id, side, 60.0), near, pulleys) for side in (axis, -axis)
    ]
    if any(not blockers for blockers in ways):
        return []
    names = max(ways, key=lambda side: first_there(walk, joint.parts[0], side)[0])
    at, first = first_there(walk, joint.parts[0], names)
    return [
        Finding(
            code="closed-belt-shut-out",
            says=f"The closed belt {piece.id} cannot be laid: {few(names)} {is_or_are(names)} on both sides "
            "of its shafts.",
            parts=(piece.id, *names),
            joint=joint.id,
            step=event.step_id,
            remedy=f"Lay it over its pulleys before step {walk.step_of(at)}, where {first} comes there.",
        )
    ]
