"""What is to be true of a machine, and which joints hold it: its frame, rails, stops, panels.

Nothing is known by its name: a frame is what stands still and is joined to itself, a rail what a carriage
runs on, a stop what a carriage would run into, a panel what spans two of the frame's members.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import cached_property
from itertools import chain

from trysquare.machine.values import Characteristic, Joint, Machine
from trysquare.sequence.walk import Walk

GEOMETRY = frozenset(
    {"squareness", "twist", "parallelism", "offset", "flatness", "flush", "height-difference", "centring"}
)
"""Sorts of characteristics that a joint holds once it is final."""


def ties_of(machine: Machine, joint: Joint) -> list[frozenset[str]]:
    """What each screw of a joint holds together; the screws of one bracket count as one."""
    by_bracket: dict[str, set[str]] = {}
    found: list[frozenset[str]] = []
    for one in joint.fastenings:
        names = {one.slot_member, one.host_part, *(grip.part for grip in one.grips)} & machine.part.keys()
        under = one.grips[0].part if one.grips else ""
        placed = {name for name in names if not machine.part[name].joint}
        if under in machine.part and machine.part[under].joint:
            by_bracket.setdefault(under, set()).update(placed)
        else:
            found.append(frozenset(placed))
    return list(dict.fromkeys([*found, *map(frozenset, by_bracket.values())]))


class Truths:
    """What is to be true of one machine, and by which joints it is held."""

    def __init__(self, walk: Walk) -> None:
        self.walk, self.machine = walk, walk.machine
        self.ties = {joint.id: ties_of(walk.machine, joint) for joint in walk.machine.joints}

    @cached_property
    def guides(self) -> frozenset[str]:
        """Rails and carriages."""
        return frozenset({*self.walk.rail_of, *self.walk.rail_of.values()})

    @cached_property
    def moving(self) -> frozenset[str]:
        """What an axis moves, and what is fixed to a carriage."""
        found = {part for axis in self.machine.axes for part in axis.moves} | self.walk.rail_of.keys()
        for block, rail in self.walk.rail_of.items():
            for name in self.walk.joints_of_part.get(block, ()):
                found |= set(self.machine.joint[name].parts) - {rail}
        return frozenset(found)

    @cached_property
    def about(self) -> Mapping[str, tuple[Joint, ...]]:
        """For each characteristic the joints that hold it: those that name it, else those that tie two of
        the parts it is read on, else those of the rail it is read on."""
        return {one.id: tuple(self._about(one)) for one in self.machine.characteristics}

    def _about(self, one: Characteristic) -> Iterable[Joint]:
        if self.walk.aligned.get(one.id):
            return self.walk.aligned[one.id]
        if one.sort not in GEOMETRY and one.sort != "free-motion":
            return ()
        of = set(one.of)
        if one.sort == "free-motion":  # a carriage stands for the rail it runs on
            of |= {block for block, rail in self.walk.rail_of.items() if rail in of}
        tied = [
            joint for joint in self.machine.joints if any(len(tie & of) > 1 for tie in self.ties[joint.id])
        ]
        return tied or [joint for joint in self.rail_joints if joint.parts[0] in of]

    @cached_property
    def rail_joints(self) -> tuple[Joint, ...]:
        """Joints that fix a rail to what it lies on; the rail is their first part."""
        rails = set(self.walk.rail_of.values())
        return tuple(
            joint
            for joint in self.machine.joints
            if joint.fastenings and not joint.slides_on and joint.parts[0] in rails
        )

    @cached_property
    def frame(self) -> tuple[Characteristic, ...]:
        """Characteristics of the frame: of parts that stand still, held by joints among such."""
        return tuple(
            one
            for one in self.machine.characteristics
            if one.sort in GEOMETRY
            and len(one.of) > 1
            and self.about[one.id]
            and all(self.still(part) for part in one.of)
            and all(self.still(part) for joint in self.about[one.id] for part in joint.parts)
        )

    def still(self, part: str) -> bool:
        """Whether a part neither moves nor guides what does."""
        return part not in self.moving and part not in self.guides

    @cached_property
    def under(self) -> Mapping[str, tuple[str, ...]]:
        """For each of the frame's characteristics those that it stands on: its joints hold it to their
        parts and not the other way round; of two that hold on to each other the lower."""
        reach = {one.id: self._beyond(one) for one in self.frame}
        return {
            one.id: tuple(
                other.id
                for other in self.frame
                if reach[one.id] & set(other.of)
                and (not reach[other.id] & set(one.of) or self._height(other) < self._height(one))
            )
            for one in self.frame
        }

    def _beyond(self, one: Characteristic) -> set[str]:
        """Parts that a characteristic's joints hold besides its own."""
        return {part for joint in self.about[one.id] for part in joint.parts} - set(one.of)

    def _height(self, one: Characteristic) -> float:
        return min(float(self.machine.part[part].placement.origin_mm[2]) for part in one.of)

    @cached_property
    def frame_joints(self) -> tuple[Joint, ...]:
        """Joints that hold the frame true, and those by which other still members are tied to it."""
        members = {part for one in self.frame for part in one.of}
        held = {joint.id for one in self.frame for joint in self.about[one.id]}
        return tuple(
            joint
            for joint in self.machine.joints
            if joint.id in held or any(self._is_beam_tie(tie, members) for tie in self.ties[joint.id])
        )

    def _is_beam_tie(self, tie: frozenset[str], members: set[str]) -> bool:
        beams = all(self.is_beam(part) and self.still(part) for part in tie)
        return beams and len(tie) > 1 and not tie.isdisjoint(members)

    def below(self, parts: Collection[str]) -> list[Characteristic]:
        """The frame's characteristics that parts belong to, and all that these stand on."""
        found = {one.id for one in self.frame if set(parts) & set(one.of)}
        todo = list(found)
        while todo:
            new = set(self.under[todo.pop()]) - found
            found |= new
            todo += new
        return [one for one in self.frame if one.id in found]

    def base(self) -> list[Characteristic]:
        """The frame's characteristics that stand on no other."""
        return [one for one in self.frame if not self.under[one.id]]

    @cached_property
    def panels(self) -> tuple[Joint, ...]:
        """Joints by which a part that is no member spans two of the frame's: it shuts what lies between."""
        members = {part for one in self.frame for part in one.of}
        held = {joint.id for one in self.machine.characteristics for joint in self.about[one.id]}
        return tuple(
            joint
            for joint in self.machine.joints
            if joint.id not in held and self._spans(joint, members) and not self.guides & set(joint.parts)
        )

    def _spans(self, joint: Joint, members: set[str]) -> bool:
        reached: dict[str, set[str]] = {}
        for tie in self.ties[joint.id]:
            for part in tie - members:
                if not self.is_beam(part) and self.still(part):
                    reached.setdefault(part, set()).update(tie & members)
        return any(len(several) > 1 for several in reached.values())

    @cached_property
    def stops(self) -> Mapping[str, tuple[str, ...]]:
        """For each rail the joints of what keeps its carriages from running off."""
        still = {
            part.id
            for part in self.machine.placed
            if not part.joint and self.still(part.id) and not self.is_beam(part.id)
        }
        found: dict[str, dict[str, None]] = {}
        for block, rail in self.walk.rail_of.items():
            for _, probe in self.walk.over_ends(self.machine.part[block], self.machine.part[rail]):
                for part in self.walk.reach.blockers(probe, still):
                    found.setdefault(rail, {}).update(dict.fromkeys(self.held_by((part,))))
        return {rail: tuple(names) for rail, names in found.items()}

    @cached_property
    def read_again(self) -> tuple[Characteristic, ...]:
        """Squareness that the pull of belts can spoil: of what moves, else of the frame."""
        if not any(joint.belt is not None for joint in self.machine.joints):
            return ()
        square = [one for one in self.machine.characteristics if one.sort == "squareness"]
        moved = [one for one in square if not self.moving.isdisjoint(one.of)]
        return tuple(moved or [one for one in square if one in self.frame])

    @cached_property
    def snug_first(self) -> frozenset[str]:
        """Joints that stay snug until what they hold was read."""
        return frozenset(
            joint.id
            for one in self.machine.characteristics
            if one.sort in GEOMETRY
            for joint in self.about[one.id]
        )

    def held_by(self, parts: Iterable[str]) -> list[str]:
        """All joints that hold parts."""
        names = chain.from_iterable(self.walk.joints_of_part.get(part, ()) for part in parts)
        return list(dict.fromkeys(names))

    def is_beam(self, part: str) -> bool:
        """Whether a part is a member with slots."""
        return self.machine.part[part].type.profile is not None

    def is_base(self, part: str) -> bool:
        """Whether something is no part of a unit that is built on the bench, but what such units go on."""
        return self.is_beam(part) or part in self.guides
