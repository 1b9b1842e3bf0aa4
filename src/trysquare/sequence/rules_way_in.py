"""Rules of the way in: parts, nuts, screws, inserts, carriages and belts must reach their places."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from trysquare.catalogue.values import SlotNut
from trysquare.ground.findings import Finding
from trysquare.ground.placement import DIRECTIONS, Array
from trysquare.machine.slots import Channel
from trysquare.machine.values import Fastening, Joint, PlacedPart
from trysquare.sequence.reach import SWING_WINDOWS, Probe, joint_directions
from trysquare.sequence.state import Event, Tightness, joined, reached
from trysquare.sequence.swept_boxes import SweptBoxes
from trysquare.sequence.walk import Walk
from trysquare.stock.bringing import sort_of

TWO_LEG_MM = (15.0, 40.0)  # first leg of a way in round a corner
SCREW_ROOM_MM = 15.0  # fingers or a key behind the head; common practice, no source


def way_in(walk: Walk, event: Event) -> list[Finding]:
    """Findings of one event, judged on the state before it; pieces come in one after another.

    Groups are brought up to date on the way.
    """
    state = walk.state
    found: list[Finding] = []
    coming: set[str] = set()
    for piece in event.pieces:
        if not piece.joint:
            found += _part(walk, event, piece, coming)
            coming.add(piece.id)
    found += _groups_meet(walk, event)
    for piece in event.pieces:
        if piece.joint and piece.id in walk.seat_of and piece.id in walk.slot_of:
            continue  # a nut joins its slot's member only after its way in was judged
        if piece.joint and piece.id in walk.seat_of and sort_of(piece) == "bracket":
            state.link(piece.id, walk.seat_of[piece.id], event.at)
    found += _slot_nuts(walk, event)
    blocked: dict[tuple[str, ...], list[Fastening]] = {}
    for piece in event.pieces:
        if not piece.joint:
            continue
        seat = walk.seat_of.get(piece.id)
        near = (state.group(seat) if seat else set()) - {piece.id}
        if sort_of(piece) == "screw":
            blockers = _in_screws_way(walk, piece, near)
            if blockers:
                blocked.setdefault(tuple(blockers), []).append(walk.screw[piece.id])
        elif piece.id not in walk.slot_of:
            found += _piece(walk, event, piece, near)
        if seat:
            state.link(piece.id, seat, event.at)
    found += [_screws_shut_out(walk, event, names, screws) for names, screws in blocked.items()]
    return found


# -- structural parts -------------------------------------------------------------------------------


def _part(walk: Walk, event: Event, part: PlacedPart, coming: set[str]) -> list[Finding]:
    """A part lies apart until a joint takes it, save a carriage, which goes onto its rail at once, and a
    part that no joint holds, which goes in among what it touches."""
    state = walk.state
    if part.id in walk.rail_of and walk.rail_of[part.id] in state.present:
        rail = walk.rail_of[part.id]
        found = _carriage_on(walk, event, part, state.group(rail) - {rail, part.id})
        found += _over_started_screws(walk, event, part, rail)
        state.link(part.id, rail, event.at)
        return found
    for block, rail in walk.rail_of.items():
        if rail == part.id and block in state.present:
            state.link(block, rail, event.at)
    if part.id in walk.joints_of_part:
        return []
    there = coming | set(state.present)
    touched = [other for other in walk.touching(part.id) if other in there]
    if not touched:
        return []
    near: set[str] = set().union(*(state.group(other) for other in touched)) - {part.id}
    seat = _longest_there(walk, touched)
    blocked = _best_way(walk, event, {part.id}, _ways(walk, event, part.id), near, seat)
    for other in touched[:1]:
        state.link(part.id, other, event.at)
    return [] if blocked is None else [_no_way(walk, event, part.id, blocked, seat)]


def _ways(walk: Walk, event: Event, identity: str) -> list[Array]:
    if event.action.toward:
        named = DIRECTIONS.get(event.action.toward)
        if named is not None:
            return [np.asarray(named)]
        return [np.array([float(number) for number in event.action.toward.split(",")])]
    return joint_directions(walk.machine, identity, walk.joints_of_part.get(identity, ()))


def _longest_there(walk: Walk, names: Iterable[str]) -> str:
    """Of some parts the one that has been there longest; those not there yet come last."""
    present = walk.state.present
    return min(names, key=lambda name: (present.get(name, len(walk.events)), name))


def _best_way(
    walk: Walk, event: Event, moving: set[str], ways: Sequence[Array], near: set[str], seat: str
) -> list[tuple[str, str]] | None:
    """None when some way is free, straight or round one corner; else what blocks the way that was open
    longest to `seat`, the part the moving ones go to: there the order is mended most easily."""
    reach, boxes, rest = walk.reach, SweptBoxes(walk.reach), near - moving
    for way in boxes.clearest_first(moving, rest, ways):
        if reach.group_is_free(boxes.in_doubt(list(moving), rest, way), way, rest):
            return None
    if any(reach.turns_a_corner(moving, first, leg, ways, near) for first in ways for leg in TWO_LEG_MM):
        return None
    options = [reach.group_blockers(moving, way, near) for way in ways]
    return max(
        options,
        key=lambda pairs: (min(_came(walk, event, other, seat) for _, other in pairs), -len(pairs)),
    )


def _came(walk: Walk, event: Event, other: str, seat: str) -> int:
    """The event at which something came to a place's seat; -1 for the seat itself, which is always there."""
    if other == seat:
        return -1
    met = walk.state.met(other, seat)
    return met if met is not None else event.at


def _no_way(
    walk: Walk, event: Event, identity: str, blocked: Sequence[tuple[str, str]], seat: str
) -> Finding:
    names = list(dict.fromkeys(other for _, other in blocked))
    carried = [moving for moving, _ in blocked if moving != identity]
    first = min(names, key=lambda name: _came(walk, event, name, seat))
    came = _came(walk, event, first, seat)
    remedy = f"Bring it in before step {walk.step_of(came)}, where {first} comes there."
    if came < 0:
        remedy = (
            f"No order helps, for it goes to {first}: look for another way in, or for a part turned round."
        )
    what = f"{identity} (with {_few(list(dict.fromkeys(carried)))} on it)" if carried else identity
    return Finding(
        code="no-way-in",
        says=f"{what} has no way into its place: {_few(names)} {_is(names)} in the way.",
        parts=(identity, *names),
        step=event.step_id,
        remedy=remedy,
    )


def _groups_meet(walk: Walk, event: Event) -> list[Finding]:
    """What a joint brings together: every piece of work must have a way to the largest, one after another,
    in whichever order goes."""
    found: list[Finding] = []
    state = walk.state
    for joint, parts in joined(state, event):
        groups = {id(state.group(part)): state.group(part) for part in parts}
        waiting = sorted(groups.values(), key=lambda group: (-len(group), min(group)))
        standing = set(waiting.pop(0))
        went = True
        while waiting and went:
            went = False
            for group in list(waiting):
                if _group_way(walk, event, joint, group, standing) is None:
                    standing |= group
                    waiting.remove(group)
                    went = True
        for group in waiting:
            blocked = _group_way(walk, event, joint, group, standing)
            assert blocked is not None  # it has just been found to have no way
            single = [part for part in group if not walk.machine.part[part].joint]
            lead = next((part for part in joint.parts if part in group), min(group))
            finding = _no_way(walk, event, lead, blocked, _seat(walk, joint, standing))
            if len(single) <= 1:
                found.append(replace(finding, joint=joint.id))
                continue
            found.append(
                Finding(
                    code="unit-has-no-way-in",
                    says=f"What hangs on {min(single or group)} cannot be brought to its place as it "
                    f"is built: {finding.says}",
                    parts=finding.parts,
                    joint=joint.id,
                    step=event.step_id,
                    remedy=finding.remedy,
                )
            )
        for part in parts[1:]:
            state.link(parts[0], part, event.at)
    return found


def _group_way(
    walk: Walk, event: Event, joint: Joint, group: set[str], standing: set[str]
) -> list[tuple[str, str]] | None:
    lead = next((part for part in joint.parts if part in group), min(group))
    return _best_way(walk, event, group, _ways(walk, event, lead), standing, _seat(walk, joint, standing))


def _seat(walk: Walk, joint: Joint, standing: set[str]) -> str:
    """The part that whatever a joint brings together goes to."""
    return _longest_there(walk, [part for part in joint.parts if part in standing] or standing)


def _comes_over(walk: Walk, event: Event, rail: PlacedPart, end: str) -> bool:
    """Whether a carriage may come over this rail end: any end, unless the action says where it comes from."""
    if not event.action.toward:
        return True
    along = rail.placement.turn[:, 0] * (-1.0 if end == "a" else 1.0)
    return float(_ways(walk, event, rail.id)[0] @ along) > 0.7


def _over_started_screws(walk: Walk, event: Event, block: PlacedPart, rail: str) -> list[Finding]:
    """Rail screws that are only started stand above the rail where the carriage must pass."""
    loose = [
        joint
        for joint in walk.joints_of_part.get(rail, ())
        if any(
            walk.state.tightness(one.id) is Tightness.STARTED for one in walk.machine.joint[joint].fastenings
        )
    ]
    if not loose:
        return []
    return [
        Finding(
            code="carriage-over-started-screws",
            says=f"{block.id} goes onto {rail} while the screws of {loose[0]} are only started: their heads "
            "stand in its way.",
            parts=(block.id, rail),
            joint=loose[0],
            step=event.step_id,
            remedy=f"Snug {loose[0]} first.",
        )
    ]


def _carriage_on(walk: Walk, event: Event, block: PlacedPart, near: set[str]) -> list[Finding]:
    """A carriage goes on only from an open rail end."""
    rail = walk.machine.part[walk.rail_of[block.id]]
    blockers: dict[str, list[str]] = {}
    for end, probe in walk.rail_ways(block, rail):
        if not _comes_over(walk, event, rail, end):
            continue
        ahead = walk.reach.blockers(probe, near)
        if not ahead:
            return []
        blockers[end] = ahead
    if not blockers:
        return [
            Finding(
                code="no-open-rail-end",
                says=f"{block.id} comes from {event.action.toward}, and {rail.id} has no end on that side.",
                parts=(block.id, rail.id),
                step=event.step_id,
                remedy="A carriage goes on along the rail: write the direction of an end, or leave it out.",
            )
        ]
    names = [name for ahead in blockers.values() for name in ahead]
    closed = {end: _first_there(walk, rail.id, ahead) for end, ahead in blockers.items()}
    last = max(closed, key=lambda end: closed[end][0])
    closed_at, closer = closed[last]
    return [
        Finding(
            code="no-open-rail-end",
            says=f"{block.id} cannot go onto {rail.id}: {_few(names)} {_is(names)} at its ends.",
            parts=(block.id, rail.id, *dict.fromkeys(names)),
            step=event.step_id,
            remedy=f"Push the carriage on before step {walk.step_of(closed_at)}, where {closer} closes "
            f"end {last}.",
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
        seat = walk.seat_of.get(piece.id, piece.id)
        blocked = _best_way(walk, event, {piece.id}, ways, near, seat)
        return [] if blocked is None else [_no_way(walk, event, piece.id, blocked, seat)]
    if sort == "belt":
        return _belt(walk, event, joint, piece, near)
    return []


def _slot_nuts(walk: Walk, event: Event) -> list[Finding]:
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
    closed = {end: _first_there(walk, channel.member, blockers) for end, blockers in ends.items()}
    last = max(closed, key=lambda end: closed[end][0])
    closed_at, closer = closed[last]
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
        remedy=f"Put {'it' if len(nuts) == 1 else 'them'} in before step {walk.step_of(closed_at)}, "
        f"where {closer} closes {'the mouth' if last == 'mouth' else 'end ' + last}.",
    )


def _first_there(walk: Walk, seat: str, blockers: Sequence[str]) -> tuple[int, str]:
    """Of what stands in the way of a place, what came there first, and when."""
    came = {
        other: walk.state.met(other, seat) if walk.state.met(other, seat) is not None else 0
        for other in blockers
    }
    first = min(blockers, key=lambda other: came[other] or 0)
    return came[first] or 0, first


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
    at, first = _first_there(walk, walk.seat_of[screws[0].screw], blockers)
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
        remedy=f"{hint}: before step {walk.step_of(at)}, where {first} comes there.",
    )


def _iron(walk: Walk, event: Event, piece: PlacedPart, near: set[str]) -> list[Finding]:
    blockers = walk.reach.blockers(walk.reach.iron(piece.id), near)
    if not blockers:
        return []
    at, first = _first_there(walk, walk.seat_of[piece.id], blockers)
    return [
        Finding(
            code="iron-cannot-reach",
            says=f"The hot iron cannot reach {piece.id}: {_few(blockers)} {_is(blockers)} in its way.",
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
    names = max(ways, key=lambda side: _first_there(walk, joint.parts[0], side)[0])
    at, first = _first_there(walk, joint.parts[0], names)
    return [
        Finding(
            code="closed-belt-shut-out",
            says=f"The closed belt {piece.id} cannot be laid: {_few(names)} {_is(names)} on both sides "
            "of its shafts.",
            parts=(piece.id, *names),
            joint=joint.id,
            step=event.step_id,
            remedy=f"Lay it over its pulleys before step {walk.step_of(at)}, where {first} comes there.",
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
    blocked: dict[tuple[str, ...], list[Fastening]] = {}
    for fastening in event.screws:
        if fastening.screw_type.key_mm <= 0 or fastening.screw not in walk.state.present:
            continue
        near = walk.state.group(fastening.screw)
        names = tuple(_in_keys_way(walk, fastening, near))
        if not names:
            continue
        blocked.setdefault(names, []).append(fastening)
    for names, screws in blocked.items():
        tool = walk.reach.key_for(screws[0])
        # Counted from the part the screw sits in: that stood there before the screw came.
        at, first = _first_there(walk, walk.seat_of[screws[0].screw], names)
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
                remedy=f"Turn it before step {walk.step_of(at)}, where {first} comes there.",
            )
        )
    return found


def _in_keys_way(walk: Walk, fastening: Fastening, near: set[str]) -> list[str]:
    """What keeps every key away; empty when one reaches. What runs on a rail is run aside first."""
    reach = walk.reach
    ignoring = {fastening.screw}
    straight = reach.straight_key(fastening)
    if reach.is_free(straight, near, ignoring):
        return []
    if any(reach.is_free(reach.short_key(fastening, w), near, ignoring) for w in range(SWING_WINDOWS)):
        return []
    names = reach.blockers(straight, near, ignoring)
    for axis in walk.machine.axes:
        moving = set(axis.moves) | walk.carried_by_axis[axis.id]
        runs = [name for name in names if name in moving]
        if not runs or len(runs) < len(names) or fastening.screw in moving:
            continue
        for shift in (-axis.at_mm, axis.travel_mm - axis.at_mm):
            aside = reach.key_beside(fastening, axis.direction, shift)
            if reach.is_free(aside, near & moving, ignoring):
                return []
    return names


def _few(names: Iterable[str]) -> str:
    listed = list(names)
    if len(listed) > 3:
        return f"{', '.join(listed[:2])} and {len(listed) - 2} more"
    return " and ".join(listed) if listed else "nothing"


def _is(names: Sequence[str]) -> str:
    return "is" if len(set(names)) == 1 else "are"
