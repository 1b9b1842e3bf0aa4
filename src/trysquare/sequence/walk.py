"""A walk through an order: the machine, its state, and what the rules look up again and again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trysquare.catalogue.values import LeadScrew, RailSize
from trysquare.ground.placement import Array
from trysquare.ground.tolerances import CARRIAGE_OVER_END_MM
from trysquare.machine.slots import Channel
from trysquare.machine.values import Characteristic, Fastening, Host, Joint, Machine, PlacedPart
from trysquare.sequence.reach import Probe, Reach
from trysquare.sequence.state import Event, State, carriers, events_of
from trysquare.solid.shapes import solid_of

TOUCH_MM = 0.1  # boxes this near count as touching


@dataclass(slots=True)
class Curing:
    """Something that cures on a part: what, since which step, and how long it still takes."""

    what: str
    step: int
    minutes: float


class Walk:
    """One order of one machine, walked event by event. `reach` may be shared between orders of one
    machine: its answers do not depend on the order."""

    def __init__(self, machine: Machine, reach: Reach | None = None) -> None:
        self.machine = machine
        self.reach = reach or Reach(machine)
        self.events: tuple[Event, ...] = events_of(machine)
        self.state = State()
        # what was said once is not said again at every later step
        self.said_unread: set[str] = set()
        self.said_cracks: set[str] = set()
        self.said_twists: set[str] = set()
        self.said_absent: set[str] = set()
        self.greased: dict[str, str] = {}  # a rail or part, and the first grease on it
        self.said_carriage: set[str] = set()
        self.let_go: dict[str, str] = {}  # part -> the step that released it last
        self.said_unstable = False
        self.curing: dict[str, Curing] = {}  # part -> what still cures on it
        self.kept_among: dict[str, tuple[int, int, int]] = {}  # what stood round a carriage that was kept
        # gram, and x, y, z of its centre, of each part once asked for
        self.weighed: dict[str, tuple[float, float, float, float]] = {}
        self.pending_rereads: dict[str, tuple[int, str]] = {}
        self._lowest: dict[str, dict[str, float]] = {}

    def rank(self, group: Iterable[str]) -> tuple[int, int]:
        """Sorts groups: the larger first, of equal ones that with the machine's first part, so that the
        answer is always one and does not hang on what parts are called."""
        names = list(group)
        return -len(names), min(self._number[name] for name in names)

    @cached_property
    def _number(self) -> Mapping[str, int]:
        return {part.id: number for number, part in enumerate(self.machine.placed)}

    def step_of(self, event: int) -> str:
        """The id of the step an event belongs to."""
        return self.events[event].step_id if 0 <= event < len(self.events) else ""

    @cached_property
    def comes_in(self) -> Mapping[str, str]:
        """The step that brings each part; what no step brings is left out."""
        return {piece.id: event.step_id for event in reversed(self.events) for piece in event.pieces}

    @cached_property
    def characteristic(self) -> Mapping[str, Characteristic]:
        """What the machine has to be, by name."""
        return {one.id: one for one in self.machine.characteristics}

    @cached_property
    def screw(self) -> Mapping[str, Fastening]:
        """Fastenings by their screw's placed id."""
        return {one.screw: one for one in self.machine.fastening.values()}

    @cached_property
    def slot_of(self) -> Mapping[str, Channel]:
        """The channel each slot nut or bar lies in."""
        found: dict[str, Channel] = {}
        for one in self.machine.fastening.values():
            if one.host in (Host.SLOT_NUT, Host.BAR) and one.slot_member:
                found[one.host_part] = self.reach.channel[(one.slot_member, one.slot_face)]
        return found

    @cached_property
    def seat_of(self) -> Mapping[str, str]:
        """The part that each joint's piece sits in or on."""
        return carriers(self.machine)

    @cached_property
    def carrier_of(self) -> Mapping[str, tuple[str, ...]]:
        """For each nut its printed carrier, and for each carrier its nuts."""
        found: dict[str, tuple[str, ...]] = {}
        for one in self.machine.fastening.values():
            if one.carrier:
                found[one.host_part] = (one.carrier,)
                found[one.carrier] = (*found.get(one.carrier, ()), one.host_part)
        return found

    @cached_property
    def rail_of(self) -> Mapping[str, str]:
        """The rail each carriage runs on."""
        return {block: rail for joint in self.machine.joints for block, rail in joint.slides_on.items()}

    @cached_property
    def joints_of_part(self) -> Mapping[str, tuple[str, ...]]:
        """The joints that hold each structural part; a cable holds nothing."""
        found: dict[str, list[str]] = {}
        for joint in self.machine.joints:
            if joint.cable is not None:
                continue
            for part in joint.parts:
                found.setdefault(part, []).append(joint.id)
        return {part: tuple(joints) for part, joints in found.items()}

    def rail_ways(self, block: PlacedPart, rail: PlacedPart) -> Iterator[tuple[str, Probe | None]]:
        """The space a carriage sweeps off each end of its rail."""
        size = rail.type.standard
        length = size.length_mm if isinstance(size, RailSize) else rail.type.length_mm
        at = float(rail.placement.back(block.placement.origin_mm)[0])
        along = rail.placement.turn[:, 0]
        half = float(getattr(block.type.standard, "length_mm", 20.0)) / 2
        yield "a", self.reach.path(block.id, -along, at + half)
        yield "b", self.reach.path(block.id, along, length - at + half)

    def over_ends(self, block: PlacedPart, rail: PlacedPart) -> Iterator[tuple[str, Probe | None]]:
        """The space a carriage sweeps until it hangs over each end of its rail so far that balls fall out."""
        size = rail.type.standard
        length = size.length_mm if isinstance(size, RailSize) else rail.type.length_mm
        at = float(rail.placement.back(block.placement.origin_mm)[0])
        along = rail.placement.turn[:, 0]
        run = CARRIAGE_OVER_END_MM - float(getattr(block.type.standard, "length_mm", 20.0)) / 2
        yield "a", self.reach.path(block.id, -along, max(at + run, 0.01))
        yield "b", self.reach.path(block.id, along, max(length - at + run, 0.01))

    @cached_property
    def aligned(self) -> Mapping[str, tuple[Joint, ...]]:
        """Joints by the characteristic that must be read between snug and final."""
        found: dict[str, list[Joint]] = {}
        for joint in self.machine.joints:
            if joint.align:
                found.setdefault(joint.align, []).append(joint)
        return {name: tuple(joints) for name, joints in found.items()}

    @cached_property
    def tied_rails(self) -> tuple[tuple[str, str, tuple[str, ...]], ...]:
        """Pairs of parallel rails whose carriages one gantry ties: the two rails' own joints and the
        joints that tie the carriages."""
        rail_joint = {
            joint.parts[0]: joint.id for joint in self.machine.joints if joint.recipe == "rail-on-slot"
        }
        carried: dict[str, set[str]] = {}  # rail -> parts its carriages' joints join
        ties: dict[str, set[str]] = {}
        for joint in self.machine.joints:
            for block, rail in joint.slides_on.items():
                carried.setdefault(rail, set())
                for other in self.joints_of_part.get(block, ()):
                    parts = set(self.machine.joint[other].parts) - {rail, *self.rail_of}
                    carried[rail] |= parts
                    if parts:
                        ties.setdefault(rail, set()).add(other)
        pairs: list[tuple[str, str, tuple[str, ...]]] = []
        rails = [rail for rail in carried if rail in rail_joint]
        for index, first in enumerate(rails):
            for second in rails[index + 1 :]:
                along = self.machine.part[first].placement.turn[:, 0]
                parallel = abs(float(along @ self.machine.part[second].placement.turn[:, 0])) > 1 - 1e-6
                shared = self._tied_through(carried[first], carried[second])
                if parallel and shared is not None:
                    tie = sorted(ties[first] | ties[second] | shared)
                    pairs.append((rail_joint[first], rail_joint[second], tuple(tie)))
        return tuple(pairs)

    def _tied_through(self, first: set[str], second: set[str]) -> set[str] | None:
        """Joints that tie the parts on one rail to those on the other: none needed when one plate sits on
        both, else those of one member between them; None when nothing ties them."""
        if first & second:
            return set()
        for joint in self.machine.joints:
            parts = set(joint.parts)
            if parts & first and parts & second and joint.fastenings:
                return {joint.id}
        near_first = {
            part: name
            for one in first
            for name in self.joints_of_part.get(one, ())
            for part in self.machine.joint[name].parts
            if self.machine.joint[name].fastenings
        }
        for other in second:
            for name in self.joints_of_part.get(other, ()):
                for part in self.machine.joint[name].parts:
                    fixed = self.machine.joint[name].fastenings
                    if fixed and part in near_first and part not in self.rail_of and part != other:
                        return {near_first[part], name}
        return None

    def touching(self, part: str) -> list[str]:
        """Parts whose boxes touch a part's box in the finished machine."""
        crowd = self.reach.standing.crowd
        row = self.reach.row.get(part)
        if row is None:
            return []
        low, high = crowd.box_mm[row, :3] - TOUCH_MM, crowd.box_mm[row, 3:] + TOUCH_MM
        near = ((crowd.box_mm[:, 3:] >= low) & (crowd.box_mm[:, :3] <= high)).all(axis=1)
        return [self.reach.standing.ids[i] for i in np.flatnonzero(near) if i != row]

    def tied_members(self, joint: Joint) -> set[str]:
        """Members that a joint ties to each other: by a blind joint, or by one part screwed to several."""
        by_part: dict[str, set[str]] = {}
        for one in joint.fastenings:
            holds = {one.slot_member, one.host_part, *(grip.part for grip in one.grips)}
            members = {name for name in holds if name and self.machine.part[name].type.profile is not None}
            first = one.grips[0].part if one.grips else one.host_part
            by_part.setdefault(first, set()).update(members)
        tied: set[str] = set()
        for members in by_part.values():
            if len(members) > 1:
                tied |= members
        return tied

    def moves_with(self, block: str) -> set[str]:
        """Present parts fixed to a carriage, which run with it."""
        group, todo = {block}, [block]
        while todo:
            for name in self.joints_of_part.get(todo.pop(), ()):
                joint = self.machine.joint[name]
                made = any(self.state.tightness(one.id) for one in joint.fastenings)
                if not made:
                    continue
                rails = set(joint.slides_on.values())
                for part in (*joint.parts, *(piece.id for piece in joint.brings)):
                    if part not in group and part not in rails:
                        group.add(part)
                        if part in self.machine.part and not self.machine.part[part].joint:
                            todo.append(part)
        there = set(self.state.present)
        group &= there
        for part, near in self._loose.items():  # what lies between parts of the carriage goes with them
            others = there.intersection(near)
            if part in there and others and others <= group:
                group.add(part)
        return group

    @cached_property
    def _loose(self) -> Mapping[str, frozenset[str]]:
        """Parts that no joint holds, each with the parts that it touches."""
        return {
            part.id: frozenset(self.touching(part.id))
            for part in self.machine.placed
            if not part.joint and part.id not in self.joints_of_part and part.id not in self.rail_of
        }

    @cached_property
    def carried_by_axis(self) -> Mapping[str, set[str]]:
        """For each axis the joints' pieces that sit in or on what it moves."""
        found: dict[str, set[str]] = {}
        for axis in self.machine.axes:
            moving = set(axis.moves)
            found[axis.id] = {piece for piece, seat in self.seat_of.items() if seat in moving}
        return found

    def is_tied(self, block: str) -> bool:
        """Whether a belt that was laid, or a lead screw through a nut that runs with it, keeps a carriage."""
        group = self.moves_with(block)
        for joint in self.machine.joints:
            if joint.belt is not None and joint.id in self.state.routed and group & set(joint.parts):
                return True
        return any(
            other in self.state.present and other in self._lead_screws
            for part in group
            if not self.machine.part[part].joint
            for other in self.touching(part)
        )

    @cached_property
    def _lead_screws(self) -> frozenset[str]:
        return frozenset(part.id for part in self.machine.placed if isinstance(part.type.standard, LeadScrew))

    def lead_screws_there(self) -> int:
        """How many lead screws have come by now."""
        return sum(name in self.state.present for name in self._lead_screws)

    def lowest(self, up: str, way: Array, parts: Iterable[str]) -> Mapping[str, float]:
        """How low parts reach with this side up, those asked for and maybe others."""
        known = self._lowest.get(up)
        if known is None:
            known = self._lowest[up] = self._lowest_by_their_boxes(way)
        for part in parts:
            if part not in known:
                placed = self.machine.part[part]
                points = solid_of(placed.type, self.machine.folder).points_mm
                known[part] = float((placed.placement.point(points) @ way).min())
        return known

    def _lowest_by_their_boxes(self, way: Array) -> dict[str, float]:
        """How low those parts reach that stand with an axis of their own along the way: their boxes say it,
        and no mesh need be made."""
        crowd = self.reach.standing.crowd
        along = np.abs(np.einsum("nij,i->nj", crowd.turn, way))
        low = crowd.centre_mm @ way - (along * crowd.half_mm).sum(axis=1)
        square = along.max(axis=1, initial=0.0) > 1 - 1e-12
        named = zip(self.reach.standing.ids, low.tolist(), square.tolist(), strict=True)
        return {name: height for name, height, is_square in named if is_square}
