"""A slow judge of orders, for the tests: the same meaning as the order rules, found another way.

Every way in, key line and run-off is one exact boolean of a swept body with each part that is there.
Nothing of the rules' own geometry, state or memory is used; only the machine, its parts' solids and the
tables of keys. What a step does to the build is booked here a second time, from the meaning of the findings.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence

import numpy as np

from sequence.folders import Said
from sequence.judge_booking import LEVELS, STARTED, Known, held_by, sort_of
from sequence.judge_holding import Holding
from sequence.judge_truth import Truth
from trysquare.catalogue.keys import hex_key
from trysquare.catalogue.values import SlotNut
from trysquare.ground.placement import DIRECTIONS, Array
from trysquare.machine.slots import member_channels
from trysquare.machine.values import Action, Fastening, Joint, PlacedPart, Step
from trysquare.solid.shapes import solid_of

Ends = dict[str, list[str]]


class Judge(Known):
    """Judges orders of one machine, one after another."""

    def judge(self, steps: Sequence[Step]) -> set[Said]:
        """Code, step and subject of everything that is wrong with an order."""
        return _Build(self, steps).run() if steps else set()


class _Build(Truth, Holding):
    """One build, action by action."""

    def run(self) -> set[Said]:
        for step in self.steps:
            for number, action in enumerate(step.actions):
                self.step = step.id
                self.last_step[self.now] = step.id
                self._do(action, last=number == len(step.actions) - 1)
                self.now += 1
        self._at_the_end()
        self._read_of_what_comes_later()
        return self.found

    def _do(self, action: Action, *, last: bool) -> None:
        names = dict.fromkeys([*action.joints, *(name.rpartition(".")[0] for name in action.fastenings)])
        joints = [self.machine.joint[name] for name in names]
        turned = [
            one
            for joint in joints
            for one in joint.fastenings
            if action.verb in LEVELS and (joint.id in action.joints or one.id in action.fastenings)
        ]
        pieces = self._pieces(action, joints)
        self._list(action, joints)
        self._way_in(action, joints, turned, pieces)
        self._truth(action, joints, turned)
        self._book(action, joints, turned, pieces)
        self._keys(turned)
        if last or action.verb == "turn":
            self._carriages()
        if last:
            self._stands()

    def _way_in(
        self,
        action: Action,
        joints: Sequence[Joint],
        turned: Sequence[Fastening],
        pieces: Sequence[PlacedPart],
    ) -> None:
        coming: set[str] = set()
        for piece in pieces:
            if not piece.joint:
                self._part(action, piece, coming)
                coming.add(piece.id)
        self._come_together(action, joints, turned)
        for piece in pieces:
            if piece.joint and sort_of(piece) == "bracket" and piece.id in self.known.seat:
                self.link(piece.id, self.known.seat[piece.id])
        self._nuts(action, pieces)
        shut: dict[frozenset[str], str] = {}
        for piece in pieces:
            if not piece.joint:
                continue
            seat = self.known.seat.get(piece.id, "")
            near = (self.group(seat) if seat else set()) - {piece.id}
            if sort_of(piece) == "screw":
                one = self.known.screw[piece.id]
                way = self.bodies.sweep(piece.id, np.asarray(one.axis), one.screw_type.length_mm + 15.0)
                blockers = frozenset(self.bodies.blockers(way, near))
                if blockers and blockers not in shut:
                    shut[blockers] = one.joint
            elif piece.id not in self.known.slot:
                self._joint_piece(piece, near)
            if seat:
                self.link(piece.id, seat)
        for joint in shut.values():
            self.say("screw-cannot-get-in", joint)

    def _coming_over(self, action: Action, block: str, rail: str) -> list[Hashable | None]:
        """The ways over the rail's ends, all of them or those on the side the action names."""
        ways = self._off_the_rail(block, whole=True)
        if not action.toward:
            return list(ways.values())
        named = DIRECTIONS.get(action.toward) or tuple(float(n) for n in action.toward.split(","))
        along = self.machine.part[rail].placement.turn[:, 0]
        lean = float(np.dot(named, along)) / float(np.linalg.norm(named))
        return [way for end, way in ways.items() if (-lean if end == "a" else lean) > 0.7]

    def _part(self, action: Action, part: PlacedPart, coming: set[str]) -> None:
        rail = self.known.rail.get(part.id, "")
        if rail in self.there:
            near = self.group(rail) - {rail, part.id}
            if all(self.bodies.blockers(way, near) for way in self._coming_over(action, part.id, rail)):
                self.say("no-open-rail-end", part.id)
            for joint in self.known.joints_of.get(rail, ()):
                if any(self.level.get(one.id) == STARTED for one in joint.fastenings):
                    self.say("carriage-over-started-screws", joint.id)
                    break
            self.link(part.id, rail)
            return
        for block, under in self.known.rail.items():
            if under == part.id and block in self.there:
                self.link(block, under)
        if part.id in self.known.joints_of or part.id not in self.bodies.box:
            return
        beside = self.bodies.touching(part.id) & (coming | set(self.there))
        touched = [name for name in self.bodies.box if name in beside]
        near = {one for name in touched for one in self.group(name)} - {part.id}
        if touched and not self._comes_in(action, part.id, {part.id}, near):
            self.say("no-way-in", part.id)
        if touched:
            self.link(part.id, touched[0])

    def _comes_in(self, action: Action | None, lead: str, moving: set[str], standing: set[str]) -> bool:
        ways = self._ways(lead, self.known.joints_of.get(lead, []))
        if action is not None and action.toward:
            named = DIRECTIONS.get(action.toward)
            ways = [np.array(named or [float(word) for word in action.toward.split(",")])]
        return self._any_way(ways, moving, standing)

    def _ways(self, lead: str, joints: Iterable[Joint]) -> list[Array]:
        """Along the screws of the joints, along the slot a head slides in, along own and machine's axes."""
        ways: list[Array] = [*np.eye(3), *self.machine.part[lead].placement.turn.T]
        for joint in joints:
            for one in joint.fastenings[:1]:
                ways.append(np.asarray(one.axis))
                if one.head_in_slot:
                    ways.append(self.machine.part[one.slot_member].placement.turn[:, 0])
        distinct = {tuple(np.round(sign * way, 6) + 0.0) for way in ways for sign in (1.0, -1.0)}
        return [np.array(way) for way in sorted(distinct)]

    def _any_way(self, ways: Sequence[Array], moving: set[str], standing: set[str]) -> bool:
        bodies = self.bodies
        rest = standing - moving
        goes = sorted(moving, key=bodies.bulk)

        def free(way: Array, far_mm: float, begin: Array | None = None) -> bool:
            return not any(
                bodies.any_in_the_way(bodies.sweep(name, way, far_mm, begin), rest) for name in goes
            )

        if any(free(way, bodies.far_mm) for way in ways):
            return True
        return any(
            free(first, leg)
            and any(free(way, bodies.far_mm, first * leg) for way in ways if abs(first @ way) < 0.9)
            for first in ways
            for leg in (15.0, 40.0)
        )

    def _come_together(self, action: Action, joints: Sequence[Joint], turned: Sequence[Fastening]) -> None:
        if action.verb not in (*LEVELS, "route"):
            return
        meeting: list[tuple[Joint, list[str]]] = []
        for joint in joints:
            waits = action.verb == "start" and any(one.head_in_slot for one in joint.fastenings)
            if joint.cable is not None or waits:
                continue
            here = [part for part in joint.parts if part in self.there]
            if action.fastenings and joint.id not in action.joints and joint.fastenings:
                held = {part for one in turned if one.joint == joint.id for part in held_by(one)}
                here = [part for part in here if part in held]
            if len({id(self.group(part)) for part in here}) > 1:
                meeting.append((joint, here))
        for joint, here in meeting:
            groups = list({id(self.group(part)): self.group(part) for part in here}.values())
            groups.sort(key=lambda group: (-len(group), min(group)))
            standing, waiting = set(groups[0]), groups[1:]
            while True:
                gone = [g for g in waiting if self._comes_in(action, self._lead(joint, g), g, standing)][:1]
                if not gone:
                    break
                standing |= gone[0]
                waiting.remove(gone[0])
            for group in waiting:
                own = [name for name in group if not self.machine.part[name].joint]
                self.say("no-way-in" if len(own) <= 1 else "unit-has-no-way-in", joint.id)
            for part in here[1:]:
                self.link(here[0], part)

    def _lead(self, joint: Joint, group: set[str]) -> str:
        return next((part for part in joint.parts if part in group), min(group))

    def _nuts(self, action: Action, pieces: Sequence[PlacedPart]) -> None:
        coming = {piece.id for piece in pieces}
        by_slot: dict[tuple[str, str, str], list[PlacedPart]] = {}
        for piece in pieces:
            if piece.id in self.known.slot:
                by_slot.setdefault((piece.joint, *self.known.slot[piece.id]), []).append(piece)
        for (joint, member, face), nuts in by_slot.items():
            if member not in self.there:
                if action.verb == "insert":
                    self.say("slot-not-there", joint)
                continue
            near = self.group(member) - coming - {member}
            for nut in nuts:
                ends = self._nut_ends(nut, member, face, near)
                if all(ends.values()):
                    here = {name for name, slot in self.known.slot.items() if slot == (member, face)}
                    code = "mouth-covered" if "mouth" in ends else "nut-shut-out"
                    if any(set(names) <= here for names in ends.values()):
                        code = "nuts-would-pass"
                    self.say(code, joint)
                    break

    def _nut_ends(self, nut: PlacedPart, member: str, face: str, near: set[str]) -> Ends:
        (channel,) = [c for c in member_channels(self.machine.part[member]) if c.name == face]
        at = float((nut.placement.origin_mm - channel.start_mm) @ channel.along)
        long = 10.0
        if nut.id in self.bodies.mesh:
            own = solid_of(nut.type, self.machine.folder)
            long = float(own.high_mm[0] - own.low_mm[0])
        rest = near - self.known.carrier.get(nut.id, set())
        ways = {
            "a": (-channel.along, at + long + 5.0),
            "b": (channel.along, channel.length_mm - at + long + 5.0),
        }
        if isinstance(nut.type.standard, SlotNut) and nut.type.standard.insertable:
            ways["mouth"] = (channel.out, channel.profile.depth_mm + 12.0)
        return {
            end: self.bodies.blockers(self.bodies.sweep(nut.id, way, far), rest)
            for end, (way, far) in ways.items()
        }

    def _joint_piece(self, piece: PlacedPart, near: set[str]) -> None:
        joint = self.machine.joint[piece.joint]
        sort = sort_of(piece)
        if sort == "insert":
            iron = self.bodies.line(piece.placement.origin_mm, piece.placement.turn[:, 2], 8.0, 60.0)
            if self.bodies.blockers(iron, near):
                self.say("iron-cannot-reach", joint.id)
        if sort in ("nut", "bracket") and not self._any_way(self._ways(piece.id, [joint]), {piece.id}, near):
            self.say("no-way-in", piece.id)
        if sort == "belt" and joint.belt is not None and joint.belt.closed:
            axis = piece.placement.turn[:, 2]
            sides = [self.bodies.sweep(piece.id, sign * axis, 60.0) for sign in (1.0, -1.0)]
            if all(self.bodies.blockers(side, near - set(joint.parts)) for side in sides):
                self.say("closed-belt-shut-out", joint.id)

    def _keys(self, turned: Sequence[Fastening]) -> None:
        unreached: dict[frozenset[str], str] = {}
        for one in turned:
            if one.screw_type.key_mm > 0 and one.screw in self.there:
                names = self._in_the_keys_way(one)
                if names:
                    unreached.setdefault(frozenset(names), one.joint)
        for joint in unreached.values():
            self.say("no-key-line", joint)

    def _in_the_keys_way(self, one: Fastening) -> list[str]:
        tool = hex_key(one.screw_type.key_mm)
        out = np.asarray(one.axis)
        sunk = one.screw_type.standard in ("ISO 10642", "DIN 7991")
        start = np.asarray(one.head_mm) + out * (0.05 + (0.0 if sunk else one.screw_type.head_height_mm))
        near = self.group(one.screw) - {one.screw}
        names = self.bodies.blockers(self.bodies.line(start, out, tool.corners_mm, tool.long_mm), near)
        if not names:
            return []
        for window in range(12):
            swing = self.bodies.swing(start, out, tool.size_mm, window)
            if not self.bodies.any_in_the_way(swing, near):
                return []
        for axis in self.machine.axes:
            moving = set(axis.moves) | {p for p, seat in self.known.seat.items() if seat in axis.moves}
            if one.screw in moving or not set(names) <= moving:
                continue
            way = np.asarray(axis.direction) / np.linalg.norm(axis.direction)
            for shift in (-axis.at_mm, axis.travel_mm - axis.at_mm):
                aside = self.bodies.line(start - way * shift, out, tool.corners_mm, tool.long_mm)
                if not self.bodies.blockers(aside, near & moving):
                    return []
        return names
