"""Along which way each part of a step comes, and how far from its place it is drawn.

A screw along its axis, a slot nut out of the slot's open end or its mouth, a part along the first direction
in which it meets nothing. Units that were built apart and meet in this step come as one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

import numpy as np

from trysquare.catalogue.values import RailSize, SlotNut
from trysquare.ground.placement import DIRECTIONS, Array
from trysquare.machine.slots import Channel
from trysquare.machine.values import Fastening, Host, Machine, PlacedPart
from trysquare.sequence.directions import joint_directions
from trysquare.sequence.slot_ledger import SlotRow
from trysquare.sequence.state import Event
from trysquare.sequence.walk import Walk
from trysquare.solid.shapes import makes_solid, solid_of
from trysquare.stock.bringing import sort_of

GAP_SHARE = 0.045  # of the work's size: what lies between a part drawn away and its place
LEAST_GAP_MM, MOST_GAP_MM = 6.0, 32.0
MOST_AWAY_MM = 110.0  # no part is drawn farther away than this, unless a slot is longer
QUEUE_MM = 3.0  # between nuts that wait before a slot's end
MOST_TO_MOVE = 60  # pieces of a unit that comes as a whole; larger ones stand already joined


class Groups:
    """What hangs together, grown link by link."""

    def __init__(self, over: dict[str, str] | None = None) -> None:
        self.over = over or {}

    def copy(self) -> Groups:
        """The same groups, to be grown apart from these."""
        return Groups(dict(self.over))

    def root(self, name: str) -> str:
        top = name
        while top in self.over:
            top = self.over[top]
        while name != top:  # so that the next who asks has a short way
            self.over[name], name = top, self.over[name]
        return top

    def join(self, one: str, other: str) -> None:
        """Makes the groups of two one."""
        first, second = self.root(one), self.root(other)
        if first != second:
            self.over[second] = first


class Ways:
    """The ways of one step's parts. `moves`: how far each is drawn from its place; `leads`: paths to draw.

    `units`: parts of units that come as a whole. `gap_mm`: what is left between a part and where it goes.
    """

    def __init__(
        self, machine: Machine, walk: Walk, slot_row: Mapping[tuple[str, str], SlotRow],
        of_piece: Mapping[str, Fastening], events: Sequence[Event], old: set[str], before: Groups,
        after: Groups,
    ) -> None:  # fmt: skip
        self.machine, self.walk, self.reach = machine, walk, walk.reach
        self.slot_row, self.of_piece, self.events = slot_row, of_piece, events
        self.old, self.before, self.after = old, before, after
        self.coming = [piece for event in events for piece in event.pieces]
        self.new = {piece.id for piece in self.coming}
        self.moves: dict[str, Array] = {}
        self.leads: dict[str, Array] = {}
        self.gap_mm = self._gap()
        self.units = self._units_meet()
        self._structural()
        self._pieces()

    def _gap(self) -> float:
        """Seen as clearly on a small piece of work as on a large one."""
        roots = {self.after.root(name) for name in self.new}
        crowd = self.reach.standing.crowd
        rows = [
            self.reach.row[name] for name in self.reach.row
            if (name in self.new or name in self.old) and self.after.root(name) in roots
        ]  # fmt: skip
        if not rows:
            return LEAST_GAP_MM
        size = crowd.box_mm[rows, 3:].max(axis=0) - crowd.box_mm[rows, :3].min(axis=0)
        return float(np.clip(GAP_SHARE * float(np.linalg.norm(size)), LEAST_GAP_MM, MOST_GAP_MM))

    # -- units that meet ------------------------------------------------------------------------

    def _units_meet(self) -> set[str]:
        """Units built before that a joint of this step brings to another: drawn away as one."""
        by_after: dict[str, dict[str, list[str]]] = {}
        for name in self.machine.part:
            if name in self.old:
                by_after.setdefault(self.after.root(name), {}).setdefault(self.before.root(name), []).append(
                    name
                )
        moved: set[str] = set()
        for groups in by_after.values():
            units = sorted(groups.values(), key=lambda names: (-len(names), names[0]))
            standing = set(units[0])
            for unit in units[1:]:
                if len(unit) <= MOST_TO_MOVE and self._move_unit(unit, standing):
                    moved |= set(unit)
                standing |= set(unit)
        return moved

    def _move_unit(self, unit: Sequence[str], standing: set[str]) -> bool:
        single = [name for name in unit if not self.machine.part[name].joint]
        lead = max(single or unit, key=lambda name: self.reach.bulk.get(name, 0.0))
        joints = [
            joint.id for event in self.events for joint in event.joints
            if joint.fastenings and set(joint.parts) & set(unit) and set(joint.parts) & standing
        ]  # fmt: skip
        for way in self._ways(lead, joints):
            if self.reach.group_is_free(set(unit), way, standing):
                offset = way * self._far(unit, way, standing)
                for name in unit:
                    self.moves[name] = offset
                self.leads[lead] = self._lead(lead, offset)
                return True
        return False

    # -- parts ----------------------------------------------------------------------------------

    def _structural(self) -> None:
        there = set(self.old)
        for event in self.events:
            for piece in event.pieces:
                if piece.joint and sort_of(piece) != "bracket":
                    continue
                if not makes_solid(piece.type):
                    continue
                root = self.after.root(piece.id)
                near = {name for name in there if self.after.root(name) == root and name != piece.id}
                near = {name for name in near if not self.machine.part[name].joint or name in self.old}
                there.add(piece.id)
                if not near:
                    continue
                way = self._way_in(piece, event, near)
                if way is not None:
                    offset = way * self._far([piece.id], way, near) + self._carried(piece, near)
                    self.moves[piece.id] = offset
                    self.leads[piece.id] = self._lead(piece.id, offset)

    def _carried(self, piece: PlacedPart, near: set[str]) -> Array:
        """How far the part it goes to is drawn away itself: a part goes along with a unit that comes."""
        touched = [name for name in self.walk.touching(piece.id) if name in near and name in self.moves]
        held = [
            name for joint in self.walk.joints_of_part.get(piece.id, ())
            for name in self.machine.joint[joint].parts if name in self.moves and name in near
        ]  # fmt: skip
        names = held or touched
        return self.moves[names[0]] if names else np.zeros(3)

    def _way_in(self, piece: PlacedPart, event: Event, near: set[str]) -> Array | None:
        if piece.id in self.walk.rail_of:
            rail = self.machine.part[self.walk.rail_of[piece.id]]
            if rail.id in near:
                along = rail.placement.turn[:, 0]
                ways = [along, -along]
                size = rail.type.standard
                length = size.length_mm if isinstance(size, RailSize) else rail.type.length_mm
                at = float(rail.placement.back(piece.placement.origin_mm)[0])
                ways.sort(key=lambda way: length - at if float(way @ along) > 0 else at)
                return next(
                    (
                        way
                        for way in ways
                        if self.reach.is_free(self.reach.path(piece.id, way), near, {rail.id})
                    ),
                    ways[0],
                )
        named = DIRECTIONS.get(event.action.toward) if event.action.verb == "place" else None
        ways = (
            [np.asarray(named)]
            if named is not None
            else self._ways(piece.id, self.walk.joints_of_part.get(piece.id, ()))
        )
        return next((way for way in ways if self.reach.is_free(self.reach.path(piece.id, way), near)), None)

    def _ways(self, identity: str, joints: Iterable[str]) -> list[Array]:
        return joint_directions(self.machine, identity, joints)

    def _far(self, moving: Sequence[str], way: Array, near: Collection[str]) -> float:
        """How far to draw away so that moving and standing parts no longer overlap along the way."""
        crowd = self.reach.standing.crowd
        rows = [self.reach.row[name] for name in moving if name in self.reach.row]
        others = [self.reach.row[name] for name in near if name in self.reach.row]
        if not rows or not others:
            return 0.0
        low, high = crowd.box_mm[rows, :3].min(axis=0), crowd.box_mm[rows, 3:].max(axis=0)
        boxes = crowd.box_mm[others]
        axis = int(np.argmax(np.abs(way)))
        side = [n for n in range(3) if n != axis]
        beside = (boxes[:, side] < high[side] - 0.1).all(axis=1) & (
            boxes[:, [n + 3 for n in side]] > low[side] + 0.1
        ).all(axis=1)
        ahead = boxes[beside]
        if not len(ahead):
            return self.gap_mm
        clear = ahead[:, axis + 3].max() - low[axis] if way[axis] > 0 else high[axis] - ahead[:, axis].min()
        return float(np.clip(clear, 0.0, MOST_AWAY_MM)) + self.gap_mm

    def _lead(self, name: str, offset: Array) -> Array:
        """From the middle of the part where it is drawn to where it goes."""
        row = self.reach.row.get(name)
        middle = self.machine.part[name].placement.origin_mm
        if row is not None:
            box = self.reach.standing.crowd.box_mm[row]
            middle = (box[:3] + box[3:]) / 2
        return np.stack([middle + offset, middle])

    # -- fasteners ------------------------------------------------------------------------------

    def _pieces(self) -> None:
        in_slots: dict[tuple[str, str], list[PlacedPart]] = {}
        for piece in self.coming:
            if not piece.joint or sort_of(piece) == "bracket" or not makes_solid(piece.type):
                continue
            if piece.id in self.walk.slot_of:
                channel = self.walk.slot_of[piece.id]
                in_slots.setdefault((channel.member, channel.name), []).append(piece)
                continue
            one = self.of_piece.get(piece.id)
            if one is not None:
                self._fastener(piece, one)
        for (member, slot), pieces in in_slots.items():
            self._slot_pieces(self.reach.channel[(member, slot)], pieces)

    def _fastener(self, piece: PlacedPart, one: Fastening) -> None:
        axis = np.asarray(one.axis)
        under = one.grips[0].part if one.grips else one.host_part
        base = self.moves.get(under, np.zeros(3))
        head = np.asarray(one.head_mm)
        if piece.id == one.screw:
            if (
                one.head_in_slot
                and self.after.root(one.slot_member) == self.after.root(one.host_part)
                and one.slot_member in (self.old | self.new)
            ):
                self.moves[piece.id] = self.moves.get(one.host_part, np.zeros(3))
                return
            seat = self.moves.get(one.host_part, np.zeros(3)) if one.head_in_slot else base
            room = self.gap_mm * (0.6 + 0.3 * len(one.washers))
            far = min(one.screw_type.length_mm + room, MOST_AWAY_MM)
            self.moves[piece.id] = seat + axis * far
            tip = head - axis * one.screw_type.length_mm
            self.leads[piece.id] = np.stack([tip + self.moves[piece.id], head + seat])
        elif piece.id in one.washers:
            self.moves[piece.id] = base + axis * self.gap_mm * 0.3 * (1 + one.washers.index(piece.id))
        elif one.host is Host.INSERT and piece.id == one.host_part:
            out = piece.placement.turn[:, 2]
            seat = self.moves.get(self.walk.seat_of.get(piece.id, ""), np.zeros(3))
            self.moves[piece.id] = seat + out * (self.gap_mm * 0.5 + 6.0)
            self.leads[piece.id] = np.stack(
                [piece.placement.origin_mm + self.moves[piece.id], piece.placement.origin_mm + seat]
            )
        elif piece.id == one.host_part:
            last = one.grips[-1].part if one.grips else under
            seat = self.moves.get(last, np.zeros(3))
            far = self.gap_mm * 0.6 + max(0.0, one.screw_type.length_mm - one.thread_from_mm)
            self.moves[piece.id] = seat - axis * min(far, MOST_AWAY_MM)
            at = head - axis * one.thread_from_mm
            self.leads[piece.id] = np.stack([at + self.moves[piece.id], at + seat])

    def _slot_pieces(self, channel: Channel, pieces: Sequence[PlacedPart]) -> None:
        """Nuts and bars before their slot: through the mouth if they can, else in a queue before an end."""
        base = self.moves.get(channel.member, np.zeros(3))
        row = self.slot_row.get((channel.member, channel.name))
        ways = {piece.part: piece.ways for piece in row.pieces} if row is not None else {}
        by_end: dict[str, list[tuple[float, float, PlacedPart]]] = {"a": [], "b": []}
        for piece in pieces:
            low, high = self._span(channel, piece)
            standard = piece.type.standard
            if isinstance(standard, SlotNut) and standard.insertable:
                self.moves[piece.id] = base + channel.out * (channel.profile.depth_mm + self.gap_mm * 0.6)
                at = piece.placement.origin_mm
                self.leads[piece.id] = np.stack([at + self.moves[piece.id], at + base])
                continue
            open_ends = [end for end in ways.get(piece.id, ("a", "b")) if end in by_end] or ["a", "b"]
            end = min(open_ends, key=lambda name: low if name == "a" else channel.length_mm - high)
            by_end[end].append((low, high, piece))
        for end, waiting in by_end.items():
            # the first to go in, which goes in farthest, waits nearest to the end
            waiting.sort(key=lambda each: -each[0] if end == "a" else each[0])
            reach = self.gap_mm * 0.4
            carried: dict[str, Array] = {}
            for low, high, piece in waiting:
                goes_with = next(
                    (name for name in self.walk.carrier_of.get(piece.id, ()) if name in carried), ""
                )
                if goes_with:
                    self.moves[piece.id] = carried[goes_with]
                    continue
                far = high + reach if end == "a" else channel.length_mm - low + reach
                way = -channel.along if end == "a" else channel.along
                self.moves[piece.id] = carried[piece.id] = base + way * far
                reach += high - low + QUEUE_MM
            if waiting:
                begin = channel.point(0.0 if end == "a" else channel.length_mm)
                way = -channel.along if end == "a" else channel.along
                deepest = waiting[0][2]
                inner = channel.point((waiting[0][0] + waiting[0][1]) / 2)
                self.leads[deepest.id] = np.stack([begin + way * reach, inner]) + base

    def _span(self, channel: Channel, piece: PlacedPart) -> tuple[float, float]:
        points = piece.placement.point(solid_of(piece.type, self.machine.folder).points_mm)
        along = (points - channel.start_mm) @ channel.along
        return float(along.min()), float(along.max())
