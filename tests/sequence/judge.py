"""A slow judge of orders, for the tests: the same meaning as the order rules, found another way.

Every way in, key line and run-off is one exact boolean of a swept body with each part that is there. The
bodies are the hulls of each forward triangle with itself moved on, united. Nothing of the rules' own
geometry, state or memory is used; only the machine, its parts' solids and the tables of keys.

What an order's step does to the build is booked here a second time, from the meaning of the findings.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import Any

import numpy as np
from manifold3d import CrossSection, Manifold, OpType
from scipy.spatial import Delaunay, QhullError

from sequence.folders import Said
from trysquare.catalogue.keys import hex_key
from trysquare.catalogue.values import BlockSize, LeadScrew, RailSize, SlotNut
from trysquare.ground.placement import DIRECTIONS, Array, facing
from trysquare.ground.tolerances import CONTACT_MM, OVERLAP_MM3
from trysquare.machine.slots import member_channels
from trysquare.machine.values import Action, Fastening, Host, Joint, Machine, PlacedPart, Step
from trysquare.solid.shapes import makes_solid, solid_of

OUT, STARTED, SNUG, FINAL = range(4)
LEVELS = {"start": STARTED, "snug": SNUG, "tighten": FINAL}
CRACKS = {"ABS", "ASA", "PC", "PMMA", "ACRYLIC", "POLYCARBONATE"}
Body = Manifold
Ends = dict[str, list[str]]


class Bodies:
    """Bodies in the machine frame, and whether they cross; `plain` asks everything anew each time."""

    def __init__(self, machine: Machine, *, plain: bool = False) -> None:
        self.machine, self.plain = machine, plain
        self.body: dict[str, Body] = {}
        self.mesh: dict[str, tuple[Array, Any]] = {}
        for part in machine.placed:
            if makes_solid(part.type):
                solid = solid_of(part.type, machine.folder)
                self.body[part.id] = solid.manifold.transform(part.placement.matrix())
                self.mesh[part.id] = (part.placement.point(solid.points_mm), solid.triangles)
        self.box = {
            name: np.array([points.min(axis=0), points.max(axis=0)])
            for name, (points, _) in self.mesh.items()
        }
        low = np.array([box[0] for box in self.box.values()]).min(axis=0)
        high = np.array([box[1] for box in self.box.values()]).max(axis=0)
        self.far_mm = float(math.ceil(np.linalg.norm(high - low) / 50.0) * 50.0)
        self._made: dict[Hashable, Body] = {}
        self._crosses: dict[tuple[Hashable, str], bool] = {}

    def sweep(self, name: str, way: Array, far_mm: float, begin: Array | None = None) -> Hashable | None:
        """What a part passes through on a straight way beyond its own place; from `begin` on with its place
        there. None for a part without a solid."""
        if name not in self.mesh:
            return None
        points, triangles = self.mesh[name]
        way = way / np.linalg.norm(way)
        start = np.zeros(3) if begin is None else begin
        key = ("sweep", name, tuple(np.round(way, 6)), round(far_mm, 3), tuple(np.round(start, 6)))

        def make() -> Body:
            corner = points[triangles] + start
            normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
            ahead = normal @ way > 1e-6 * np.linalg.norm(normal, axis=1)
            prisms = [Manifold.hull_points(np.vstack([c, c + way * far_mm])) for c in corner[ahead]]
            if begin is not None:
                prisms.append(self.body[name].translate(tuple(start)))
            return Manifold.batch_boolean(prisms, OpType.Add)

        return self._keep(key, make)

    def line(self, start: Array, out: Array, size_mm: float, long_mm: float) -> Hashable:
        """A round line: a key's arm, a hot iron."""
        key = ("line", tuple(np.round(start, 6)), tuple(np.round(out, 6)), size_mm, long_mm)
        return self._keep(key, lambda: _stand(Manifold.cylinder(long_mm, size_mm / 2, -1, 64), start, out))

    def swing(self, start: Array, out: Array, size_mm: float, window: int) -> Hashable:
        """A short arm in its socket, the long arm swinging 60° from the window's beginning."""
        key = ("swing", tuple(np.round(start, 6)), tuple(np.round(out, 6)), size_mm, window)

        def make() -> Body:
            tool = hex_key(size_mm)
            angles = math.radians(30.0) * window + np.radians(np.arange(0.0, 61.0, 10.0))
            fan = [(0.0, 0.0), *((tool.long_mm * math.cos(a), tool.long_mm * math.sin(a)) for a in angles)]
            flat = CrossSection([fan]).offset(tool.corners_mm / 2)
            arm = Manifold.extrude(flat, tool.corners_mm).translate((0, 0, tool.short_mm - tool.corners_mm))
            return _stand(Manifold.cylinder(tool.short_mm, tool.corners_mm / 2, -1, 64) + arm, start, out)

        return self._keep(key, make)

    def _keep(self, key: Hashable, make: Callable[[], Body]) -> Hashable:
        if key not in self._made or self.plain:
            self._made[key] = make()
        return key

    def crosses(self, key: Hashable, other: str) -> bool:
        if other not in self.body:
            return False
        if self.plain:
            return _is_more_than_contact(self._made[key] ^ self.body[other])
        if (key, other) not in self._crosses:
            x0, y0, z0, x1, y1, z1 = self._made[key].bounding_box()
            low, high = self.box[other]
            apart = (high < (x0, y0, z0)).any() or (low > (x1, y1, z1)).any()
            self._crosses[(key, other)] = not apart and _is_more_than_contact(
                self._made[key] ^ self.body[other]
            )
        return self._crosses[(key, other)]

    def blockers(self, key: Hashable | None, present: Iterable[str]) -> list[str]:
        return [] if key is None else [name for name in sorted(present) if self.crosses(key, name)]


def _stand(body: Body, start: Array, out: Array) -> Body:
    return body.transform(np.hstack([facing(out), np.asarray(start)[:, None]]))


def _is_more_than_contact(common: Body) -> bool:
    """More volume than a facet's, and somewhere a ball of the contact's width fits in."""
    if common.is_empty() or common.volume() <= OVERLAP_MM3:
        return False
    if 2 * common.volume() > CONTACT_MM * common.surface_area():
        return True
    for piece in common.decompose():
        x0, y0, z0, x1, y1, z1 = piece.bounding_box()
        if min(x1 - x0, y1 - y0, z1 - z0) <= CONTACT_MM:
            continue
        moved = [
            piece.translate(tuple(CONTACT_MM / 2 * np.array(step) / np.linalg.norm(step)))
            for step in itertools.product((-1, 0, 1), repeat=3)
            if any(step)
        ]
        if Manifold.batch_boolean(moved, OpType.Intersect).volume() > 1e-6:
            return True
    return False


class Judge:
    """Judges orders of one machine, one after another."""

    def __init__(self, machine: Machine, *, plain: bool = False) -> None:
        self.machine = machine
        self.bodies = Bodies(machine, plain=plain)
        self.seat: dict[str, str] = {}
        self.slot: dict[str, tuple[str, str]] = {}
        self.carrier: dict[str, set[str]] = {}
        self.screw: dict[str, Fastening] = {}
        self.rail = {block: rail for joint in machine.joints for block, rail in joint.slides_on.items()}
        self.joints_of: dict[str, list[Joint]] = {}
        for joint in machine.joints:
            for part in joint.parts if joint.cable is None else ():  # a cable holds nothing
                self.joints_of.setdefault(part, []).append(joint)
            for one in joint.fastenings:
                self._seats(joint, one)
            for piece in joint.brings:
                if joint.parts and joint.parts[0] != piece.id:
                    self.seat.setdefault(piece.id, joint.parts[0])

    def _seats(self, joint: Joint, one: Fastening) -> None:
        self.screw[one.screw] = one
        head = one.grips[0].part if one.grips else one.host_part
        self._sits(one.screw, one.host_part if one.head_in_slot else head)
        for washer in one.washers:
            self._sits(washer, head)
        if any(piece.id == one.host_part for piece in joint.brings):
            inside = {Host.INSERT: joint.parts[-1], Host.NUT: one.grips[-1].part if one.grips else ""}
            self._sits(one.host_part, inside.get(one.host, one.slot_member))
        if one.carrier:
            self._sits(one.carrier, one.slot_member)
            self.carrier[one.host_part] = {one.carrier}
            self.carrier.setdefault(one.carrier, set()).add(one.host_part)
        if one.host in (Host.SLOT_NUT, Host.BAR) and one.slot_member:
            self.slot[one.host_part] = (one.slot_member, one.slot_face)

    def _sits(self, piece: str, seat: str) -> None:
        if piece and seat and piece != seat:
            self.seat.setdefault(piece, seat)

    def judge(self, steps: Sequence[Step]) -> set[Said]:
        """Code, step and subject of everything that is wrong with an order."""
        return _Build(self, steps).run() if steps else set()


class _Build:
    """One build, action by action."""

    def __init__(self, judge: Judge, steps: Sequence[Step]) -> None:
        self.judge, self.machine, self.bodies = judge, judge.machine, judge.bodies
        self.steps = steps
        self.found: set[Said] = set()
        self.now, self.step = 0, ""
        self.there: dict[str, int] = {}
        self.brought: set[str] = set()
        self.with_it: dict[str, set[str]] = {}
        self.level: dict[str, int] = {}
        self.when: dict[tuple[str, int], int] = {}
        self.reads: dict[str, list[int]] = {}
        self.held: set[str] = set()
        self.laid: set[str] = set()
        self.crimped: set[str] = set()
        self.up = "+z"
        self.once: set[tuple[str, str]] = set()
        self.to_read_again: dict[str, tuple[int, str, str]] = {}
        self.last_step: dict[int, str] = {}

    def say(self, code: str, subject: str, step: str | None = None) -> None:
        self.found.add((code, self.step if step is None else step, subject))

    def run(self) -> set[Said]:
        for step in self.steps:
            for number, action in enumerate(step.actions):
                self.step = step.id
                self.last_step[self.now] = step.id
                self._do(action, last=number == len(step.actions) - 1)
                self.now += 1
        self._at_the_end()
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
        self._keys(action, turned)
        if last or action.verb == "turn":
            self._carriages()
        if last:
            self._stands()

    # what comes, and what is booked

    def _pieces(self, action: Action, joints: Sequence[Joint]) -> list[PlacedPart]:
        found: list[PlacedPart] = []
        if action.verb == "place":
            for name in action.parts:
                if name in self.brought:
                    self.say("placed-twice", name)
                else:
                    found.append(self.machine.part[name])
                    self.brought.add(name)
        sorts: dict[str, set[str] | None] = {
            "place": {"bracket"}, "press": {"insert"}, "route": {"belt"},
            "insert": {"nut", "bar", "carrier", "bracket"}, "start": None, "snug": None, "tighten": None,
        }  # fmt: skip
        if action.verb not in sorts:
            return found
        wanted = sorts[action.verb]
        for joint in joints:
            only: set[str] | None = None
            if action.fastenings and joint.id not in action.joints:
                named = [one for one in joint.fastenings if one.id in action.fastenings]
                only = {
                    piece for one in named for piece in (one.screw, one.host_part, one.carrier, *one.washers)
                }
            for piece in joint.brings:
                fits = wanted is None or _sort(piece) in wanted
                if fits and (only is None or piece.id in only) and piece.id not in self.brought:
                    found.append(piece)
                    self.brought.add(piece.id)
        return found

    def _book(
        self,
        action: Action,
        joints: Sequence[Joint],
        turned: Sequence[Fastening],
        pieces: Sequence[PlacedPart],
    ) -> None:
        for piece in pieces:
            self.there.setdefault(piece.id, self.now)
        for one in turned:
            self.level[one.id] = LEVELS[action.verb]
            self.when[(one.id, LEVELS[action.verb])] = self.now
        if action.verb in ("align", "read"):
            for name in action.reads:
                self.reads.setdefault(name, []).append(self.now)
        if action.verb == "hold":
            self.held |= set(action.parts)
        if action.verb == "release":
            self.held -= set(action.parts)
        if action.verb == "route":
            self.laid |= {joint.id for joint in joints}
        if action.verb == "crimp":
            self.crimped |= {joint.id for joint in joints}
        if action.verb == "turn" and action.toward:
            self.up = action.toward

    def group(self, name: str) -> set[str]:
        return self.with_it.setdefault(name, {name})

    def link(self, one: str, other: str) -> None:
        first, second = self.group(one), self.group(other)
        if first is not second:
            whole = first | second
            for name in whole:
                self.with_it[name] = whole

    # the list

    def _list(self, action: Action, joints: Sequence[Joint]) -> None:
        for joint in joints:
            named = [
                one for one in joint.fastenings if joint.id in action.joints or one.id in action.fastenings
            ]
            needed: set[str] = set()
            if action.verb == "route":
                needed = set(joint.parts)
            elif joint.cable is not None:
                needed = set()
            elif action.verb == "press":
                inserted = [one for one in named if one.host_part in self.machine.part]
                needed = {joint.parts[-1]} if inserted else set()
            elif action.verb in LEVELS:
                needed = set(joint.parts)
                if joint.id not in action.joints:
                    needed &= {part for one in named for part in _touched(one)}
                blind = {one.host_part for one in named if one.head_in_slot}
                if action.verb == "start" and blind:
                    needed = blind
            if needed - set(self.there):
                self.say("joint-before-its-parts", joint.id)
            if action.gap_mm is not None and action.verb in LEVELS:
                for one in joint.fastenings:
                    if one.head_in_slot and not _gap_slides(self.machine, one, action.gap_mm):
                        self.say("head-gap-wrong", joint.id)
            if action.verb == "route" and joint.cable and joint.id in self.crimped:
                holes = [hole for hole in joint.cable.openings_mm if hole]
                if joint.cable.plug_mm and any(joint.cable.plug_mm > hole for hole in holes):
                    self.say("plug-larger-than-hole", joint.id)
        if action.verb == "release":
            for part in action.parts:
                if part not in self.held:
                    self.say("released-but-not-held", part)
                elif isinstance(self.machine.part[part].type.standard, BlockSize):
                    self.once.discard(("carriage", part))

    # ways in

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
            if piece.joint and _sort(piece) == "bracket" and piece.id in self.judge.seat:
                self.link(piece.id, self.judge.seat[piece.id])
        self._nuts(action, pieces)
        shut: dict[frozenset[str], str] = {}
        for piece in pieces:
            if not piece.joint:
                continue
            seat = self.judge.seat.get(piece.id, "")
            near = (self.group(seat) if seat else set()) - {piece.id}
            if _sort(piece) == "screw":
                one = self.judge.screw[piece.id]
                way = self.bodies.sweep(piece.id, np.asarray(one.axis), one.screw_type.length_mm + 15.0)
                blockers = frozenset(self.bodies.blockers(way, near))
                if blockers and blockers not in shut:
                    shut[blockers] = one.joint
            elif piece.id not in self.judge.slot:
                self._joint_piece(piece, near)
            if seat:
                self.link(piece.id, seat)
        for joint in shut.values():
            self.say("screw-cannot-get-in", joint)

    def _part(self, action: Action, part: PlacedPart, coming: set[str]) -> None:
        rail = self.judge.rail.get(part.id, "")
        if rail in self.there:
            near = self.group(rail) - {rail, part.id}
            if all(self.bodies.blockers(way, near) for way in self._off_the_rail(part.id).values()):
                self.say("no-open-rail-end", part.id)
            self.link(part.id, rail)
            return
        for block, under in self.judge.rail.items():
            if under == part.id and block in self.there:
                self.link(block, under)
        if part.id in self.judge.joints_of or part.id not in self.bodies.box:
            return
        low, high = self.bodies.box[part.id]
        touched = [
            name
            for name, (its_low, its_high) in self.bodies.box.items()
            if name != part.id
            and (name in self.there or name in coming)
            and (its_low <= high + 0.1).all()
            and (its_high >= low - 0.1).all()
        ]
        near = {one for name in touched for one in self.group(name)} - {part.id}
        if touched and not self._comes_in(action, part.id, {part.id}, near):
            self.say("no-way-in", part.id)
        if touched:
            self.link(part.id, touched[0])

    def _comes_in(self, action: Action | None, lead: str, moving: set[str], standing: set[str]) -> bool:
        ways = self._ways(lead, self.judge.joints_of.get(lead, []))
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
        rest = standing - moving
        bodies = self.bodies

        def free(way: Array, far_mm: float, begin: Array | None = None) -> bool:
            return not any(
                bodies.crosses(key, other)
                for name in moving
                if (key := bodies.sweep(name, way, far_mm, begin)) is not None
                for other in rest
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
                held = {part for one in turned if one.joint == joint.id for part in _held_by(one)}
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
            if piece.id in self.judge.slot:
                by_slot.setdefault((piece.joint, *self.judge.slot[piece.id]), []).append(piece)
        for (joint, member, face), nuts in by_slot.items():
            if member not in self.there:
                if action.verb == "insert":
                    self.say("slot-not-there", joint)
                continue
            near = self.group(member) - coming - {member}
            for nut in nuts:
                ends = self._nut_ends(nut, member, face, near)
                if all(ends.values()):
                    here = {name for name, slot in self.judge.slot.items() if slot == (member, face)}
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
        rest = near - self.judge.carrier.get(nut.id, set())
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
        sort = _sort(piece)
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

    def _off_the_rail(self, block: str) -> dict[str, Hashable | None]:
        rail, part = self.machine.part[self.judge.rail[block]], self.machine.part[block]
        size = rail.type.standard
        long = size.length_mm if isinstance(size, RailSize) else rail.type.length_mm
        half = part.type.standard.length_mm / 2 if isinstance(part.type.standard, BlockSize) else 10.0
        along = rail.placement.turn[:, 0]
        at = float((part.placement.origin_mm - rail.placement.origin_mm) @ along)
        return {
            "a": self.bodies.sweep(block, -along, at + half),
            "b": self.bodies.sweep(block, along, long - at + half),
        }

    # keys

    def _keys(self, action: Action, turned: Sequence[Fastening]) -> None:
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
            if not any(self.bodies.crosses(swing, other) for other in near):
                return []
        for axis in self.machine.axes:
            moving = set(axis.moves) | {p for p, seat in self.judge.seat.items() if seat in axis.moves}
            if one.screw in moving or not set(names) <= moving:
                continue
            way = np.asarray(axis.direction) / np.linalg.norm(axis.direction)
            for shift in (-axis.at_mm, axis.travel_mm - axis.at_mm):
                aside = self.bodies.line(start - way * shift, out, tool.corners_mm, tool.long_mm)
                if not self.bodies.blockers(aside, near & moving):
                    return []
        return names

    # truth

    def loosest(self, joint: Joint) -> int:
        return min((self.level.get(one.id, OUT) for one in joint.fastenings), default=OUT)

    def _read_while_snug(self, joint: Joint) -> bool:
        snug = max((self.when.get((one.id, SNUG), -1) for one in joint.fastenings), default=-1)
        return all(self.level.get(one.id, OUT) >= SNUG for one in joint.fastenings) and any(
            at > snug for at in self.reads.get(joint.align, ())
        )

    def _truth(self, action: Action, joints: Sequence[Joint], turned: Sequence[Fastening]) -> None:
        if action.verb in ("align", "read"):
            for name in action.reads:
                early = [j for j in self.machine.joints if j.align == name and self.loosest(j) < SNUG]
                if early:
                    self.say("read-before-snug", early[0].id)
        if action.verb not in LEVELS:
            return
        level = LEVELS[action.verb]
        for joint in joints:
            own = [one for one in turned if one.joint == joint.id]
            read = self._read_while_snug(joint)
            if level == FINAL and joint.align and own and not read and self._first("unread", joint.id):
                self.say("final-before-read", joint.id)
            if level < FINAL and joint.align and any(self.level.get(one.id) == FINAL for one in own):
                self.say("loosened-after-truing", joint.id)
            locks = any("threadlocker" in word.lower() for word in action.using)
            if locks and level < FINAL and joint.align and not read:
                self.say("locked-before-truing", joint.id)
            if (locks or joint.locks) and level != STARTED:
                words = " ".join(self.machine.part[part].type.material for part in joint.parts)
                bad = CRACKS & set(words.replace("-", " ").replace("/", " ").upper().split())
                if bad and self._first("cracks", joint.id):
                    self.say("threadlocker-cracks-plastic", joint.id)
        if level == FINAL:
            self._rails(joints, turned)
            self._stated(action, joints)
            self._disturbs(joints)

    def _first(self, what: str, name: str) -> bool:
        if (what, name) in self.once:
            return False
        self.once.add((what, name))
        return True

    def _rails(self, joints: Sequence[Joint], turned: Sequence[Fastening]) -> None:
        after = {one.id for one in turned}
        for pair, tie in self._tied():
            was = [all(self.level.get(one.id) == FINAL for one in joint.fastenings) for joint in pair]
            will = [
                all(one.id in after or self.level.get(one.id) == FINAL for one in joint.fastenings)
                for joint in pair
            ]
            if not all(will) or all(was):
                continue
            ran = all(self.loosest(joint) >= SNUG for joint in tie)
            snug = max(
                (
                    min(self.when.get((one.id, level), 10**9) for level in (SNUG, FINAL))
                    for joint in tie
                    for one in joint.fastenings
                ),
                default=-1,
            )
            runs = [c.id for c in self.machine.characteristics if c.sort == "free-motion"]
            if not (ran and any(at > snug for name in runs for at in self.reads.get(name, ()))):
                self.say("rails-final-before-run", next(j.id for j in joints if j in pair))

    def _tied(self) -> list[tuple[list[Joint], list[Joint]]]:
        """Pairs of parallel rails that something ties, and the joints that tie them."""
        by_rail = {j.parts[0]: j for j in self.machine.joints if j.recipe == "rail-on-slot"}
        blocks = self.judge.rail
        carried: dict[str, set[str]] = {}
        ties: dict[str, list[Joint]] = {}
        for block, rail in blocks.items():
            carried.setdefault(rail, set())
            for joint in self.judge.joints_of.get(block, []):
                parts = set(joint.parts) - {rail} - set(blocks)
                carried[rail] |= parts
                ties.setdefault(rail, []).extend([joint] if parts else [])
        found = []
        rails = [rail for rail in carried if rail in by_rail]
        for index, one in enumerate(rails):
            for other in rails[index + 1 :]:
                x, y = (self.machine.part[rail].placement.turn[:, 0] for rail in (one, other))
                between = self._between(carried[one], carried[other])
                if abs(float(x @ y)) > 1 - 1e-6 and between is not None:
                    found.append(([by_rail[one], by_rail[other]], [*ties[one], *ties[other], *between]))
        return found

    def _between(self, first: set[str], second: set[str]) -> list[Joint] | None:
        """No joint where both share a part, else one that joins both, else two that meet on one member."""
        if first & second:
            return []
        made = [joint for joint in self.machine.joints if joint.fastenings]
        for joint in made:
            if set(joint.parts) & first and set(joint.parts) & second:
                return [joint]
        near = {
            p: j for one in first for j in self.judge.joints_of.get(one, []) if j in made for p in j.parts
        }
        for other in second:
            for joint in self.judge.joints_of.get(other, []):
                for part in joint.parts:
                    if joint in made and part in near and part not in self.judge.rail and part != other:
                        return [near[part], joint]
        return None

    def _stated(self, action: Action, joints: Sequence[Joint]) -> None:
        for joint in joints:
            stated = [name for name in action.order if name.rpartition(".")[0] == joint.id]
            row = [one.id for one in joint.fastenings]
            if not joint.from_centre or not stated:
                continue
            if set(row) - set(stated):
                self.say("screws-left-out", joint.id)
                continue
            places = [row.index(name) for name in stated]
            for count in range(1, len(places) + 1):
                final = sorted(places[:count])
                if final != list(range(final[0], final[0] + count)):
                    self.say("tightened-from-the-ends", joint.id)

    def _disturbs(self, joints: Sequence[Joint]) -> None:
        named = dict.fromkeys(j.align for j in self.machine.joints if j.align)
        for joint in joints:
            members = self._clamped_together(joint)
            if joint.align or joint.belt is not None or len(members) < 2:
                continue
            for name in named:
                true = [j for j in self.machine.joints if j.align == name]
                parts = {part for j in true for part in j.parts}
                if all(self.loosest(j) == FINAL for j in true) and members <= parts:
                    self.to_read_again.setdefault(name, (self.now, self.step, joint.id))

    def _clamped_together(self, joint: Joint) -> set[str]:
        """Members between which this joint makes a bond: a bracket on two of them, not a nut on each."""
        bonded: dict[str, set[str]] = {}
        for one in joint.fastenings:
            under_head = one.grips[0].part if one.grips else one.host_part
            for name in _held_by(one) - {""}:
                if self.machine.part[name].type.profile is not None:
                    bonded.setdefault(under_head, set()).add(name)
        return {name for members in bonded.values() if len(members) > 1 for name in members}

    # holding

    def _runs_with(self, block: str) -> set[str]:
        group, todo = {block}, [block]
        while todo:
            for joint in self.judge.joints_of.get(todo.pop(), []):
                if not any(self.level.get(one.id) for one in joint.fastenings):
                    continue
                rails = set(joint.slides_on.values())
                own = {*joint.parts, *(piece.id for piece in joint.brings)} - rails - group
                group |= own
                todo += [name for name in own if not self.machine.part[name].joint]
        return group & set(self.there)

    def _carriages(self) -> None:
        for block, rail in self.judge.rail.items():
            if not {block, rail} <= set(self.there) or {block, rail} & self.held:
                continue
            group = self._runs_with(block)
            near = self.group(rail) - {block, rail} - group
            ways = self._off_the_rail(block).values()
            if all(self.bodies.blockers(way, near) for way in ways) or self._is_tied(group):
                continue
            if self._first("carriage", block):
                self.say("carriage-can-run-off", block)

    def _is_tied(self, group: set[str]) -> bool:
        if any(j.belt and j.id in self.laid and group & set(j.parts) for j in self.machine.joints):
            return True
        own = [name for name in group if not self.machine.part[name].joint and name in self.bodies.box]
        for screw in self.there:
            if (
                not isinstance(self.machine.part[screw].type.standard, LeadScrew)
                or screw not in self.bodies.box
            ):
                continue
            low, high = self.bodies.box[screw]
            for name in own:
                its_low, its_high = self.bodies.box[name]
                near = (its_low <= high + 0.1).all() and (its_high >= low - 0.1).all()
                if name != screw and near:
                    return True
        return False

    def _largest(self, groups: Iterable[set[str]]) -> set[str]:
        return min(groups, key=lambda group: (-len(group), min(group)))

    def _stands(self) -> None:
        if not self.with_it or self.up not in DIRECTIONS or ("unstable", "") in self.once:
            return
        group = self._largest(self.with_it.values())
        solid = [self.machine.part[name] for name in sorted(group) if name in self.bodies.mesh]
        if sum(part.type.profile is not None for part in solid) < 3 or group & self.held:
            return
        up = np.asarray(DIRECTIONS[self.up])
        low = {part.id: float((self.bodies.mesh[part.id][0] @ up).min()) for part in solid}
        table = min(low.values())
        feet = [part.id for part in solid if low[part.id] - table <= 0.5]
        points = np.vstack([self.bodies.mesh[name][0] for name in feet])
        points = points[points @ up - table <= 0.5]
        weights = np.array([self._weight(part) for part in solid])
        centres = np.array([self.bodies.box[part.id].mean(axis=0) for part in solid])
        centre = (weights[:, None] * centres).sum(axis=0) / weights.sum()
        flat = np.delete(np.eye(3), int(np.argmax(np.abs(up))), axis=0)
        try:
            ground = Delaunay(points @ flat.T)
        except (QhullError, ValueError):
            ground = None
        angles = np.linspace(0, 2 * math.pi, 720)
        around = centre @ flat.T + np.column_stack([np.cos(angles), np.sin(angles)])
        if ground is None or (ground.find_simplex(around) < 0).any():
            self.once.add(("unstable", ""))
            self.say("cannot-stand", feet[0])

    def _weight(self, part: PlacedPart) -> float:
        densities = {"steel": 7.85e-3, "brass": 8.5e-3, "aluminium": 2.7e-3, "glass": 2.5e-3}
        known = (density for word, density in densities.items() if word in part.type.material.lower())
        volume = float(self.bodies.body[part.id].volume())
        return part.type.mass_gram or volume * next(known, 1.25e-3)

    # the end

    def _at_the_end(self) -> None:
        for name, (at, step, joint) in self.to_read_again.items():
            if not any(read > at for read in self.reads.get(name, ())):
                self.say("disturbed-after-truing", joint, step)
        for joint in self.machine.joints:
            levels = [self.level.get(one.id, OUT) for one in joint.fastenings]
            if levels and max(levels) == OUT:
                self.say("joint-never-made", joint.id, "")
            elif levels and min(levels) < FINAL:
                times = [
                    self.when.get((one.id, level), 0)
                    for one, level in zip(joint.fastenings, levels, strict=True)
                    if level < FINAL
                ]
                self.say("left-snug", joint.id, self.last_step.get(max(times), ""))
            if (joint.belt or joint.cable) and joint.id not in self.laid:
                self.say("never-routed", joint.id, "")
        self._left_apart()
        for part in self.machine.placed:
            if part.id not in self.brought and not part.joint and part.type.kind != "jig":
                self.say("never-placed", part.id, "")
        for step in self.steps:
            if not step.actions:
                self.say("empty-step", "", step.id)

    def _left_apart(self) -> None:
        groups = list({id(self.group(name)): self.group(name) for name in self.there}.values())
        if len(groups) < 2:
            return
        main = self._largest(groups)
        for group in groups:
            names = sorted(name for name in group if name in self.there)
            loose = [name for name in names if name in self.bodies.mesh]
            if group is not main and loose and not group & self.held:
                self.say("part-hangs-free", loose[0], self.last_step[max(self.there[name] for name in names)])


def _sort(piece: PlacedPart) -> str:
    return piece.id.rpartition("/")[2].partition(".")[0]


def _touched(one: Fastening) -> set[str]:
    return {*(grip.part for grip in one.grips), one.host_part, one.slot_member, one.room_part}


def _held_by(one: Fastening) -> set[str]:
    return {*(grip.part for grip in one.grips), one.host_part, one.slot_member}


def _gap_slides(machine: Machine, one: Fastening, gap_mm: float) -> bool:
    """Over the lip with 0.2 mm to spare, and 0.1 mm off the slot's floor."""
    slot = machine.part[one.slot_member].type.profile
    if slot is None:
        return True
    return slot.lip_mm + 0.2 - 1e-9 <= gap_mm <= slot.depth_mm - one.screw_type.head_height_mm - 0.1 + 1e-9
