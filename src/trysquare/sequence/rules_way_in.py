"""Rules of the way in: parts, nuts, screws, inserts, carriages and belts must reach their places."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from trysquare.catalogue.values import SlotNut
from trysquare.ground.findings import Finding
from trysquare.ground.placement import DIRECTIONS, Array
from trysquare.machine.slots import Channel
from trysquare.machine.values import Fastening, Joint, PlacedPart
from trysquare.sequence.reach import joint_directions
from trysquare.sequence.state import Event, reached, united
from trysquare.sequence.walk import Walk
from trysquare.stock.bringing import sort_of

TWO_LEG_MM = (15.0, 40.0)  # first leg of a way in round a corner
SCREW_ROOM_MM = 15.0  # fingers or a key behind the head; common practice, no source


def way_in(walk: Walk, event: Event) -> list[Finding]:
    """Findings of one event, judged on the state before it; pieces come in one after another."""
    found: list[Finding] = []
    there = set(walk.state.present)
    for piece in event.pieces:
        if piece.joint:
            continue
        found += _part(walk, event, piece, there)
        there.add(piece.id)
    found += _units_meet(walk, event)
    found += _slot_nuts(walk, event, there)
    blocked: dict[tuple[str, ...], list[Fastening]] = {}
    for piece in event.pieces:
        if not piece.joint:
            continue
        near = _local(walk, piece.id, there, event)
        if sort_of(piece) == "screw":
            blockers = _in_screws_way(walk, piece, near)
            if blockers:
                blocked.setdefault(tuple(blockers), []).append(walk.screw[piece.id])
        elif piece.id not in walk.slot_of:
            found += _piece(walk, event, piece, near)
        there.add(piece.id)
    found += [_screws_shut_out(walk, event, names, screws) for names, screws in blocked.items()]
    return found


def _local(walk: Walk, identity: str, there: set[str], event: Event) -> set[str]:
    """Present parts at the place of work where this piece goes, joined units included."""
    state = walk.state
    homes = {state.home_of(identity)}
    for one, other in united(state, event):
        if state.home(one) in homes or state.home(other) in homes:
            homes |= {state.home(one), state.home(other)}
    return {other for other in there if state.home_of(other) in homes and other != identity}


# -- structural parts -------------------------------------------------------------------------------


def _part(walk: Walk, event: Event, part: PlacedPart, there: set[str]) -> list[Finding]:
    if part.id in walk.rail_of and walk.rail_of[part.id] in there:
        return _carriage_on(walk, event, part, there)
    near = _local(walk, part.id, there, event)
    if not near:
        return []
    carried = {part.id}
    ways = _ways(walk, event, part.id)
    blocked = _best_way(walk, carried, ways, near)
    if blocked is None:
        return []
    return [_no_way(walk, event, part.id, blocked)]


def _ways(walk: Walk, event: Event, identity: str) -> list[Array]:
    if event.action.toward:
        named = DIRECTIONS.get(event.action.toward)
        if named is not None:
            return [np.asarray(named)]
        return [np.array([float(number) for number in event.action.toward.split(",")])]
    return joint_directions(walk.machine, identity, walk.joints_of_part.get(identity, ()))


def _best_way(
    walk: Walk, moving: set[str], ways: Sequence[Array], near: set[str]
) -> list[tuple[str, str]] | None:
    """None when some way is free, straight or round one corner; else what blocks the least blocked way."""
    reach = walk.reach
    for way in ways:
        if reach.group_is_free(moving, way, near):
            return None
    if len(moving) == 1:
        identity = next(iter(moving))
        for first in ways:
            for leg in TWO_LEG_MM:
                if reach.is_free(reach.path(identity, first, leg), near):
                    for second in ways:
                        if abs(float(first @ second)) < 0.9 and reach.is_free(
                            reach.corner(identity, first, leg, second), near
                        ):
                            return None
    options = [reach.group_blockers(moving, way, near) for way in ways]
    return min(options, key=len)


def _no_way(walk: Walk, event: Event, identity: str, blocked: Sequence[tuple[str, str]]) -> Finding:
    names = list(dict.fromkeys(other for _, other in blocked))
    first = min((walk.state.present.get(name, event.at) for name in names), default=event.at)
    before = walk.step_of(first)
    return Finding(
        code="no-way-in",
        says=f"{identity} has no way into its place: {_few(names)} {_is(names)} in the way.",
        parts=(identity, *names),
        step=event.step_id,
        remedy=f"Place it before step {before}, where {names[0]} comes in; that is the latest place.",
    )


def _units_meet(walk: Walk, event: Event) -> list[Finding]:
    """Two places of work brought together: the smaller must have a way to the larger."""
    found: list[Finding] = []
    for one, other in united(walk.state, event):
        first, second = walk.state.at_home(walk.state.home(one)), walk.state.at_home(walk.state.home(other))
        moving, standing = (first, second) if len(first) < len(second) else (second, first)
        if not moving or walk.state.home(one) == walk.state.home(other):
            continue
        lead = next((part for part in event.joints[0].parts if part in moving), sorted(moving)[0])
        blocked = _best_way(walk, moving, _ways(walk, event, lead), standing)
        if blocked is not None:
            unit = walk.state.unit_of[lead]
            finding = _no_way(walk, event, blocked[0][0], blocked)
            found.append(
                Finding(
                    code="unit-has-no-way-in",
                    says=f"Unit {unit} cannot be brought in as it is built: {finding.says}",
                    parts=finding.parts,
                    joint=event.joints[0].id,
                    step=event.step_id,
                    remedy=finding.remedy,
                )
            )
    return found


def _carriage_on(walk: Walk, event: Event, block: PlacedPart, there: set[str]) -> list[Finding]:
    """A carriage goes on only from an open rail end."""
    rail = walk.machine.part[walk.rail_of[block.id]]
    near = _local(walk, block.id, there, event) - {rail.id}
    blockers: dict[str, list[str]] = {}
    for end, probe in walk.rail_ways(block, rail):
        ahead = walk.reach.blockers(probe, near)
        if not ahead:
            return []
        blockers[end] = ahead
    names = [name for ahead in blockers.values() for name in ahead]
    return [
        Finding(
            code="no-open-rail-end",
            says=f"{block.id} cannot go onto {rail.id}: {_few(names)} {_is(names)} at its ends.",
            parts=(block.id, rail.id, *dict.fromkeys(names)),
            step=event.step_id,
            remedy="Push the carriage on before the second end is closed.",
        )
    ]


# -- what joints bring ------------------------------------------------------------------------------


def _piece(walk: Walk, event: Event, piece: PlacedPart, near: set[str]) -> list[Finding]:
    sort = sort_of(piece)
    joint = walk.machine.joint[piece.joint]
    if sort == "insert":
        return _iron(walk, event, piece, near)
    if sort in ("nut", "bracket"):
        ways = joint_directions(walk.machine, piece.id, (joint.id,))
        blocked = _best_way(walk, {piece.id}, ways, near)
        return [] if blocked is None else [_no_way(walk, event, piece.id, blocked)]
    if sort == "belt":
        return _belt(walk, event, joint, piece, near)
    return []


def _slot_nuts(walk: Walk, event: Event, there: set[str]) -> list[Finding]:
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
        if channel.member not in walk.state.present and channel.member not in there:
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
            near = _local(walk, nut.id, there, event) - coming
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
    ways = {end: reach.slot_way(nut, channel, end) for end in ("a", "b")}
    if insertable:
        ways["mouth"] = reach.mouth_way(nut, channel)
    if any(reach.is_free(way, near, ignoring) for way in ways.values()):
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
    last = max(
        (min(walk.state.present.get(other, event.at) for other in blockers), end, blockers)
        for end, blockers in ends.items()
    )
    names = list(dict.fromkeys(other for blockers in ends.values() for other in blockers))
    says = "; ".join(f"{_end(end)} {_few(blockers)}" for end, blockers in ends.items())
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
        remedy=f"Put {'it' if len(nuts) == 1 else 'them'} in by step {walk.step_of(last[0])} at the latest, before "
        f"{_few(last[2])} closes {'the mouth' if last[1] == 'mouth' else 'end ' + last[1]}.",
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


def _in_screws_way(walk: Walk, piece: PlacedPart, near: set[str]) -> list[str]:
    fastening = walk.screw[piece.id]
    axis = np.asarray(fastening.axis)
    return walk.reach.blockers(
        walk.reach.path(piece.id, axis, fastening.screw_type.length_mm + SCREW_ROOM_MM), near
    )


def _screws_shut_out(
    walk: Walk, event: Event, blockers: Sequence[str], screws: Sequence[Fastening]
) -> Finding:
    first = min(walk.state.present.get(name, event.at) for name in blockers)
    hint = (
        "Start a blind joint's screws in their own member before the neighbour comes"
        if screws[0].head_in_slot
        else "Put it in before it is covered"
    )
    name = screws[0].id if len(screws) == 1 else f"{len(screws)} screws of {screws[0].joint}"
    return Finding(
        code="screw-cannot-get-in",
        says=f"{name} ({screws[0].screw_type.designation}) cannot be put in: "
        f"{_few(blockers)} {_is(blockers)} in the way.",
        parts=(*(one.screw for one in screws), *blockers),
        joint=screws[0].joint,
        step=event.step_id,
        at_mm=screws[0].head_mm,
        remedy=f"{hint}: before step {walk.step_of(first)}.",
    )


def _iron(walk: Walk, event: Event, piece: PlacedPart, near: set[str]) -> list[Finding]:
    blockers = walk.reach.blockers(walk.reach.iron(piece.id), near)
    if not blockers:
        return []
    first = min(walk.state.present.get(name, event.at) for name in blockers)
    return [
        Finding(
            code="iron-cannot-reach",
            says=f"The hot iron cannot reach {piece.id}: {_few(blockers)} {_is(blockers)} in its way.",
            parts=(piece.id, *blockers),
            joint=piece.joint,
            step=event.step_id,
            remedy=f"Press the inserts in before step {walk.step_of(first)}.",
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
    names = sorted(ways, key=len)[0]
    first = min(walk.state.present.get(name, event.at) for name in names)
    return [
        Finding(
            code="closed-belt-shut-out",
            says=f"The closed belt {piece.id} cannot be laid: {_few(names)} {_is(names)} on both sides of its shafts.",
            parts=(piece.id, *names),
            joint=joint.id,
            step=event.step_id,
            remedy=f"Lay it over its pulleys before step {walk.step_of(first)}.",
        )
    ]


# -- keys -------------------------------------------------------------------------------------------


def key_lines(walk: Walk, event: Event) -> list[Finding]:
    """Every screw this event turns must be reached by a straight key or a short arm with room to swing.

    Judged on the state after the event's pieces have come.
    """
    level = reached(event.action.verb)
    if level is None:
        return []
    found: list[Finding] = []
    here: dict[str, set[str]] = {}
    blocked: dict[tuple[str, ...], list[Fastening]] = {}
    for fastening in event.screws:
        if fastening.screw_type.key_mm <= 0 or fastening.screw not in walk.state.present:
            continue
        home = walk.state.home_of(fastening.screw)
        if home not in here:
            here[home] = walk.state.at_home(home)
        reach = walk.reach
        ignoring = {fastening.screw}
        straight = reach.straight_key(fastening)
        if reach.is_free(straight, here[home], ignoring):
            continue
        if any(reach.is_free(reach.short_key(fastening, w), here[home], ignoring) for w in range(12)):
            continue
        names = tuple(reach.blockers(straight, here[home], ignoring))
        blocked.setdefault(names, []).append(fastening)
    for names, screws in blocked.items():
        tool = walk.reach.key_for(screws[0])
        first = min((walk.state.present.get(name, event.at) for name in names), default=event.at)
        found.append(
            Finding(
                code="no-key-line",
                says=f"No key reaches {_few([one.id for one in screws])} to {event.action.verb} it: "
                f"{_few(names)} {_is(names)} in the line of a {tool.size_mm:g} mm key, and a short arm of "
                f"{tool.short_mm:g} mm has no 60° to swing.",
                parts=(*(one.screw for one in screws), *names),
                joint=screws[0].joint,
                step=event.step_id,
                value=tool.size_mm,
                unit="mm",
                at_mm=screws[0].head_mm,
                remedy=f"Turn it before step {walk.step_of(first)}, where {_few(names[:1])} comes in.",
            )
        )
    return found


def _few(names: Iterable[str]) -> str:
    listed = list(names)
    if len(listed) > 3:
        return f"{', '.join(listed[:2])} and {len(listed) - 2} more"
    return " and ".join(listed) if listed else "nothing"


def _is(names: Sequence[str]) -> str:
    return "is" if len(set(names)) == 1 else "are"
