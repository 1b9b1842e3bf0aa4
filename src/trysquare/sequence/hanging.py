"""What hangs on what: the pieces that an operation ties together, and what loose parts lie against."""

from __future__ import annotations

from trysquare.sequence.operations import Operation, Work

JOINS = frozenset({"start", "snug", "tighten", "route"})


def links_of(work: Work, operation: Operation) -> tuple[tuple[str, str], ...]:
    """Pairs of pieces that an operation makes hang together."""
    found: list[tuple[str, str]] = []
    walk = work.walk
    for piece in operation.pieces:
        if piece in walk.seat_of:
            found.append((walk.seat_of[piece], piece))
        elif piece in walk.rail_of:
            found.append((walk.rail_of[piece], piece))
        elif not work.machine.part[piece].joint and piece not in walk.joints_of_part:
            found += [(other, piece) for other in walk.touching(piece)]
    parts = joined_parts(work, operation)
    found += [(parts[0], other) for other in parts[1:]]
    return tuple(found)


def props_of(work: Work) -> dict[str, tuple[str, ...]]:
    """For every part that no joint holds what it lies against, on the way to what joints do hold."""
    loose = [
        part.id
        for part in work.machine.placed
        if not part.joint and part.id not in work.walk.joints_of_part and part.id in work.bringer
    ]
    touching = {part: [name for name in work.walk.touching(part) if name in work.bringer] for part in loose}
    found: dict[str, tuple[str, ...]] = {}
    held = set(work.bringer) - set(loose)
    while True:
        new = {
            part: props
            for part in loose
            if part not in found and (props := tuple(name for name in touching[part] if name in held))
        }
        if not new:
            return found
        found |= new
        held |= new.keys()


def joined_parts(work: Work, operation: Operation) -> tuple[str, ...]:
    """The parts an operation brings together. Starting a blind joint joins nothing yet: its screws wait
    in their own member."""
    if operation.verb not in JOINS:
        return ()
    joint = work.machine.joint[operation.of]
    if joint.cable is not None or (
        operation.verb == "start" and any(one.head_in_slot for one in joint.fastenings)
    ):
        return ()
    if operation.verb == "start" and operation.fastenings:
        held: set[str] = set()
        for one in operation.fast:
            held |= {grip.part for grip in one.grips} | {one.host_part, one.slot_member}
        return tuple(part for part in joint.parts if part in held)
    return joint.parts
