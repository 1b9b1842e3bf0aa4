"""The part-built machine after every action: what is there, how far each screw is, what is held.

Parts that nothing joins yet lie apart on the bench, whoever's unit they are: none is in another's
way. A joint brings what it joins together; then each piece of work must find a way to the largest.
What hangs together is a group, and only the parts of one group stand in each other's way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import IntEnum

from trysquare.machine.values import Action, Fastening, Host, Joint, Machine, PlacedPart
from trysquare.stock.bringing import Brought, bringing, joints_of


class Tightness(IntEnum):
    """How far a screw is."""

    ABSENT = 0
    STARTED = 1
    SNUG = 2
    FINAL = 3


_REACHES = {"start": Tightness.STARTED, "snug": Tightness.SNUG, "tighten": Tightness.FINAL}


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One action of one step with what it brings; `at` counts all actions of the order from 0."""

    at: int
    step: int
    step_id: str
    action: Action
    pieces: tuple[PlacedPart, ...]
    again: tuple[str, ...]
    joints: tuple[Joint, ...]
    screws: tuple[Fastening, ...]  # those it turns
    last_of_step: bool


@dataclass(slots=True)
class State:
    """The part-built machine. `tight` by fastening id, `held` part id -> means,
    `reads` characteristic -> events at which it was read."""

    present: dict[str, int] = field(default_factory=dict)  # part id -> event that brought it
    tight: dict[str, Tightness] = field(default_factory=dict)
    tight_at: dict[tuple[str, Tightness], int] = field(default_factory=dict)
    held: dict[str, str] = field(default_factory=dict)
    reads: dict[str, list[int]] = field(default_factory=dict)
    routed: dict[str, int] = field(default_factory=dict)
    crimped: dict[str, int] = field(default_factory=dict)
    up: str = "+z"
    groups: dict[str, set[str]] = field(default_factory=dict)  # part id -> all that hangs together with it
    links: list[tuple[int, str, str]] = field(default_factory=list)  # event, and the two it linked

    def group(self, identity: str) -> set[str]:
        """Everything that hangs together with a part, itself included; shared, not a copy."""
        return self.groups.setdefault(identity, {identity})

    def met(self, one: str, other: str) -> int | None:
        """The event at which two parts came to hang together; None when they do not yet."""
        root: dict[str, str] = {}

        def find(name: str) -> str:
            while root.get(name, name) != name:
                name = root[name]
            return name

        for at, first, second in self.links:
            root[find(first)] = find(second)
            if find(one) == find(other):
                return at
        return None

    def link(self, one: str, other: str, at: int) -> None:
        """Makes two groups one, at this event."""
        first, second = self.group(one), self.group(other)
        if first is second:
            return
        self.links.append((at, one, other))
        if len(first) < len(second):
            first, second = second, first
        first |= second
        for identity in second:
            self.groups[identity] = first

    def tightness(self, fastening: str) -> Tightness:
        return self.tight.get(fastening, Tightness.ABSENT)


def carriers(machine: Machine) -> dict[str, str]:
    """For every piece a joint brings, the part it sits in or on: a nut in its slot's member, an insert
    in its part, a screw in the first part it passes (a blind joint's in its own member)."""
    found: dict[str, str] = {}
    for joint in machine.joints:
        for one in joint.fastenings:
            for piece, carrier in _seats(joint, one):
                if piece and piece not in found and carrier and piece != carrier:
                    found[piece] = carrier
        for brought in joint.brings:
            if brought.id not in found and joint.parts:
                found[brought.id] = joint.parts[0]
    return found


def _seats(joint: Joint, one: Fastening) -> Iterator[tuple[str, str]]:
    brought = {piece.id for piece in joint.brings}
    under_head = one.grips[0].part if one.grips else one.host_part
    yield one.screw, one.host_part if one.head_in_slot else under_head
    for washer in one.washers:
        yield washer, under_head
    if one.host_part in brought:
        inside = one.slot_member
        if one.host is Host.INSERT:
            inside = joint.parts[-1]
        if one.host is Host.NUT and one.grips:
            inside = one.grips[-1].part
        yield one.host_part, inside
    yield one.carrier, one.slot_member


def events_of(machine: Machine) -> tuple[Event, ...]:
    """All actions of the order as events."""
    found: list[Event] = []
    brought: Mapping[tuple[int, int], Brought] = {
        (entry.step, entry.action): entry for entry in bringing(machine)
    }
    for step_index, step in enumerate(machine.steps):
        for action_index, action in enumerate(step.actions):
            entry = brought[(step_index, action_index)]
            joints = joints_of(machine, action)
            found.append(
                Event(
                    at=len(found),
                    step=step_index,
                    step_id=step.id,
                    action=action,
                    pieces=entry.pieces,
                    again=entry.again,
                    joints=joints,
                    screws=tuple(_screws(joints, action)),
                    last_of_step=action_index == len(step.actions) - 1,
                )
            )
    return tuple(found)


def _screws(joints: Iterable[Joint], action: Action) -> Iterable[Fastening]:
    if action.verb not in _REACHES:
        return
    for joint in joints:
        for fastening in joint.fastenings:
            if joint.id in action.joints or fastening.id in action.fastenings:
                yield fastening


def reached(verb: str) -> Tightness | None:
    """The tightness a verb brings screws to; None for verbs that turn none."""
    return _REACHES.get(verb)


def joined(state: State, event: Event) -> list[tuple[Joint, list[str]]]:
    """What this event brings together: each joint with those of its parts that are there.

    Only turning screws or laying belts joins. Preloading nuts does not, nor does starting a blind
    joint, whose screws wait in their own member.
    """
    found: list[tuple[Joint, list[str]]] = []
    if event.action.verb not in (*_REACHES, "route"):
        return found
    for joint in event.joints:
        waits = event.action.verb == "start" and any(one.head_in_slot for one in joint.fastenings)
        if joint.cable is not None or waits:
            continue
        here = [part for part in joint.parts if part in state.present]
        if event.action.fastenings and joint.id not in event.action.joints:
            here = [part for part in here if part in _parts_of(event, joint)]
        if len({id(state.group(part)) for part in here}) > 1:
            found.append((joint, here))
    return found


def _parts_of(event: Event, joint: Joint) -> set[str]:
    """The parts that the single screws an event turns hold together."""
    parts: set[str] = set()
    for one in event.screws:
        if one.joint == joint.id:
            parts |= {grip.part for grip in one.grips} | {one.host_part, one.slot_member}
    return parts | {part for part in joint.parts if not joint.fastenings}


def apply(state: State, event: Event) -> None:
    """Moves the state past one event."""
    for piece in event.pieces:
        state.present.setdefault(piece.id, event.at)
    for _, parts in joined(state, event):
        for part in parts[1:]:
            state.link(parts[0], part, event.at)
    doing = _DOING.get(event.action.verb)
    if doing is not None:
        doing(state, event)


def _turn_screws(state: State, event: Event) -> None:
    level = _REACHES[event.action.verb]
    for fastening in event.screws:
        state.tight[fastening.id] = level
        state.tight_at[(fastening.id, level)] = event.at


def _read(state: State, event: Event) -> None:
    for name in event.action.reads:
        state.reads.setdefault(name, []).append(event.at)


def _hold(state: State, event: Event) -> None:
    for part in event.action.parts:
        state.held[part] = event.action.means or "hold"


def _release(state: State, event: Event) -> None:
    for part in event.action.parts:
        state.held.pop(part, None)


def _route(state: State, event: Event) -> None:
    for joint in event.joints:
        state.routed.setdefault(joint.id, event.at)


def _crimp(state: State, event: Event) -> None:
    for joint in event.joints:
        state.crimped.setdefault(joint.id, event.at)


def _turn_over(state: State, event: Event) -> None:
    state.up = event.action.toward or state.up


_DOING: Mapping[str, Callable[[State, Event], None]] = {
    "start": _turn_screws,
    "snug": _turn_screws,
    "tighten": _turn_screws,
    "align": _read,
    "read": _read,
    "hold": _hold,
    "release": _release,
    "route": _route,
    "crimp": _crimp,
    "turn": _turn_over,
}
