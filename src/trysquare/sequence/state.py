"""The part-built machine after every action: what is there, how far each screw is, what is held.

Parts are built up where they will stand in the finished machine. Units are built apart from each
other: a part is in the way only of parts of its own place of work. The first joint between two
units brings them together, and then the smaller one must find a way in.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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
    place_of: dict[str, str] = field(default_factory=dict)  # unit -> the place of work it is at
    unit_of: Mapping[str, str] = field(default_factory=dict)  # piece -> unit of what carries it

    def home(self, unit: str) -> str:
        """The place of work of a unit."""
        root = unit
        while self.place_of.get(root, root) != root:
            root = self.place_of[root]
        return root

    def tightness(self, fastening: str) -> Tightness:
        return self.tight.get(fastening, Tightness.ABSENT)

    def home_of(self, identity: str) -> str:
        """The place of work of a placed part or of a joint's piece."""
        return self.home(self.unit_of[identity])

    def at_home(self, home: str) -> set[str]:
        """Ids of present parts at one place of work."""
        homes = {unit: self.home(unit) for unit in set(self.unit_of.values())}
        return {identity for identity in self.present if homes[self.unit_of[identity]] == home}


def carrying_units(machine: Machine) -> dict[str, str]:
    """For every piece the unit of what it sits in or on: a nut goes where its slot's member goes, though
    its joint be another unit's."""
    units = {part.id: part.unit for part in machine.placed}
    for joint in machine.joints:
        for one in joint.fastenings:
            carrier = one.slot_member if one.slot_member and not one.head_in_slot else ""
            carrier = carrier or (one.host_part if one.host_part in machine.part else "")
            if one.host in (Host.INSERT, Host.NUT):
                carrier = next((grip.part for grip in reversed(one.grips)), joint.parts[0])
                if one.host is Host.INSERT:
                    carrier = joint.parts[-1]
            if carrier:
                for piece in (one.host_part, one.carrier):
                    if piece in units and machine.part[piece].joint == joint.id:
                        units[piece] = machine.part[carrier].unit
            holder = one.host_part if one.head_in_slot else next((grip.part for grip in one.grips), "")
            if holder in machine.part:
                for piece in (one.screw, *one.washers):
                    units[piece] = machine.part[holder].unit
    return units


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


def united(state: State, event: Event) -> list[tuple[str, str]]:
    """Pairs of places of work that this event brings together: the parts of its joints, as far as
    they are there. Only turning screws or laying belts joins; preloading nuts does not."""
    pairs: list[tuple[str, str]] = []
    if event.action.verb not in (*_REACHES, "route"):
        return pairs
    for joint in event.joints:
        if joint.cable is not None:
            continue
        homes: list[str] = []
        for part in joint.parts:
            if part in state.present:
                home = state.home_of(part)
                if home not in homes:
                    homes.append(home)
        pairs += [(homes[0], other) for other in homes[1:]]
    return pairs


def apply(state: State, event: Event) -> None:
    """Moves the state past one event."""
    action = event.action
    for piece in event.pieces:
        state.present.setdefault(piece.id, event.at)
    for one, other in united(state, event):
        state.place_of[state.home(other)] = state.home(one)
    level = reached(action.verb)
    if level is not None:
        for fastening in event.screws:
            state.tight[fastening.id] = level
            state.tight_at[(fastening.id, level)] = event.at
    if action.verb in ("align", "read"):
        for name in action.reads:
            state.reads.setdefault(name, []).append(event.at)
    if action.verb == "hold":
        for part in action.parts:
            state.held[part] = action.means or "hold"
    if action.verb == "release":
        for part in action.parts:
            state.held.pop(part, None)
    if action.verb == "route":
        for joint in event.joints:
            state.routed.setdefault(joint.id, event.at)
    if action.verb == "crimp":
        for joint in event.joints:
            state.crimped.setdefault(joint.id, event.at)
    if action.verb == "turn" and action.toward:
        state.up = action.toward
