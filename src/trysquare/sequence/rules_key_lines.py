"""Rule of the keys: every screw that is turned must be reached by a straight key or a short arm."""

from __future__ import annotations

from trysquare.ground.findings import Finding
from trysquare.machine.values import Fastening
from trysquare.sequence.reach import SWING_WINDOWS
from trysquare.sequence.state import Event, reached
from trysquare.sequence.walk import Walk
from trysquare.sequence.ways_in import few, first_there, is_or_are


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
        seat = walk.seat_of[screws[0].screw]
        others = [name for name in names if name != seat and walk.state.met(name, seat) is not None]
        remedy = (
            f"{names[0]} covers its own screw from the first: compare its shape with its holes, or leave a "
            "way for the key."
        )
        if others:
            at, first = first_there(walk, seat, others)
            remedy = f"Turn it before step {walk.step_of(at)}, where {first} comes there."
        found.append(
            Finding(
                code="no-key-line",
                says=f"No key reaches {few([one.id for one in screws])} to {event.action.verb} it: "
                f"{few(names)} {is_or_are(names)} in the line of a {tool.size_mm:g} mm key, and a short "
                f"arm of {tool.short_mm:g} mm has no 60° to swing.",
                parts=(*(one.screw for one in screws), *names),
                joint=screws[0].joint,
                step=event.step_id,
                value=tool.size_mm,
                unit="mm",
                at_mm=screws[0].head_mm,
                remedy=remedy,
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
