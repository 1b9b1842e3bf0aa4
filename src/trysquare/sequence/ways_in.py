"""The ways by which something comes to its place, what closes them, and the words for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from trysquare.ground.findings import Finding
from trysquare.ground.placement import DIRECTIONS, Array
from trysquare.sequence.directions import joint_directions
from trysquare.sequence.state import Event
from trysquare.sequence.swept_boxes import SweptBoxes
from trysquare.sequence.walk import Walk

TWO_LEG_MM = (15.0, 40.0)  # first leg of a way in round a corner


def ways_of(walk: Walk, event: Event, identity: str) -> list[Array]:
    """The directions in which a part may come to its place: the stated one, else those its joints allow."""
    if event.action.toward:
        named = DIRECTIONS.get(event.action.toward)
        if named is not None:
            return [np.asarray(named)]
        return [np.array([float(number) for number in event.action.toward.split(",")])]
    return joint_directions(walk.machine, identity, walk.joints_of_part.get(identity, ()))


def longest_there(walk: Walk, names: Iterable[str]) -> str:
    """Of some parts the one that has been there longest; those not there yet come last."""
    present = walk.state.present
    return min(names, key=lambda name: (present.get(name, len(walk.events)), name))


def best_way(
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


def no_way(walk: Walk, event: Event, identity: str, blocked: Sequence[tuple[str, str]], seat: str) -> Finding:
    """What is told of something that has no way in: pairs of what moves and what blocks it."""
    names = list(dict.fromkeys(other for _, other in blocked))
    carried = [moving for moving, _ in blocked if moving != identity]
    first = min(names, key=lambda name: _came(walk, event, name, seat))
    came = _came(walk, event, first, seat)
    remedy = f"Bring it in before step {walk.step_of(came)}, where {first} comes there."
    if came < 0:
        remedy = (
            f"No order helps, for it goes to {first}: look for another way in, or for a part turned round."
        )
    what = f"{identity} (with {few(list(dict.fromkeys(carried)))} on it)" if carried else identity
    return Finding(
        code="no-way-in",
        says=f"{what} has no way into its place: {few(names)} {is_or_are(names)} in the way.",
        parts=(identity, *names),
        step=event.step_id,
        remedy=remedy,
    )


def first_there(walk: Walk, seat: str, blockers: Sequence[str]) -> tuple[int, str]:
    """Of what stands in the way of a place, what came there first, and when."""
    came = {
        other: walk.state.met(other, seat) if walk.state.met(other, seat) is not None else 0
        for other in blockers
    }
    first = min(blockers, key=lambda other: came[other] or 0)
    return came[first] or 0, first


def few(names: Iterable[str]) -> str:
    """A few names in words, the rest of them counted."""
    listed = list(names)
    if len(listed) > 3:
        return f"{', '.join(listed[:2])} and {len(listed) - 2} more"
    return " and ".join(listed) if listed else "nothing"


def is_or_are(names: Sequence[str]) -> str:
    """The verb behind names."""
    return "is" if len(set(names)) == 1 else "are"
