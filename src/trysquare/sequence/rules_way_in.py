"""Rules of the way in: parts, groups of parts and carriages must reach their places."""

from __future__ import annotations

from dataclasses import replace

from trysquare.ground.findings import Finding
from trysquare.machine.values import Fastening, Joint, PlacedPart
from trysquare.sequence.rules_way_in_pieces import (
    in_screws_way,
    piece_ways_in,
    screws_shut_out,
    slot_nut_ways_in,
)
from trysquare.sequence.state import Event, Tightness, joined
from trysquare.sequence.walk import Walk
from trysquare.sequence.ways_in import best_way, few, first_there, is_or_are, longest_there, no_way, ways_of
from trysquare.stock.bringing import sort_of


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
    found += slot_nut_ways_in(walk, event)
    blocked: dict[tuple[str, ...], list[Fastening]] = {}
    for piece in event.pieces:
        if not piece.joint:
            continue
        seat = walk.seat_of.get(piece.id)
        near = (state.group(seat) if seat else set()) - {piece.id}
        if sort_of(piece) == "screw":
            blockers = in_screws_way(walk, piece, near)
            if blockers:
                blocked.setdefault(tuple(blockers), []).append(walk.screw[piece.id])
        elif piece.id not in walk.slot_of:
            found += piece_ways_in(walk, event, piece, near)
        if seat:
            state.link(piece.id, seat, event.at)
    found += [screws_shut_out(walk, event, names, screws) for names, screws in blocked.items()]
    return found


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
    seat = longest_there(walk, touched)
    blocked = best_way(walk, event, {part.id}, ways_of(walk, event, part.id), near, seat)
    for other in touched[:1]:
        state.link(part.id, other, event.at)
    return [] if blocked is None else [no_way(walk, event, part.id, blocked, seat)]


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
            finding = no_way(walk, event, lead, blocked, _seat(walk, joint, standing))
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
    return best_way(walk, event, group, ways_of(walk, event, lead), standing, _seat(walk, joint, standing))


def _seat(walk: Walk, joint: Joint, standing: set[str]) -> str:
    """The part that whatever a joint brings together goes to."""
    return longest_there(walk, [part for part in joint.parts if part in standing] or standing)


def _comes_over(walk: Walk, event: Event, rail: PlacedPart, end: str) -> bool:
    """Whether a carriage may come over this rail end: any end, unless the action says where it comes from."""
    if not event.action.toward:
        return True
    along = rail.placement.turn[:, 0] * (-1.0 if end == "a" else 1.0)
    return float(ways_of(walk, event, rail.id)[0] @ along) > 0.7


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
    closed = {end: first_there(walk, rail.id, ahead) for end, ahead in blockers.items()}
    last = max(closed, key=lambda end: closed[end][0])
    closed_at, closer = closed[last]
    return [
        Finding(
            code="no-open-rail-end",
            says=f"{block.id} cannot go onto {rail.id}: {few(names)} {is_or_are(names)} at its ends.",
            parts=(block.id, rail.id, *dict.fromkeys(names)),
            step=event.step_id,
            remedy=f"Push the carriage on before step {walk.step_of(closed_at)}, where {closer} closes "
            f"end {last}.",
        )
    ]
