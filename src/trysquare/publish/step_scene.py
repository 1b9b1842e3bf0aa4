"""What a step's picture shows: what is there, what comes and along which way, which screws are turned.

Each coming part is drawn away from its place along its true way in: a screw along its axis, a slot nut out
of the slot's open end or its mouth, a part along the first direction in which it meets nothing. Units that
were built apart and meet in this step come as one.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from trysquare.catalogue.values import RailSize, SlotNut
from trysquare.ground.placement import DIRECTIONS, Array, Placement
from trysquare.machine.slots import Channel
from trysquare.machine.values import Fastening, Host, Machine, PlacedPart, Step
from trysquare.publish.known import Known
from trysquare.sequence.reach import joint_directions
from trysquare.sequence.slot_ledger import SlotRow
from trysquare.sequence.state import Event
from trysquare.solid.drawing import NEW, OLD, Piece, Scene
from trysquare.solid.shapes import makes_solid, solid_of
from trysquare.stock.bringing import sort_of

GAP_SHARE = 0.045  # of the work's size: what lies between a part drawn away and its place
LEAST_GAP_MM, MOST_GAP_MM = 6.0, 32.0
MOST_AWAY_MM = 110.0  # no part is drawn farther away than this, unless a slot is longer
QUEUE_MM = 3.0  # between nuts that wait before a slot's end
MOST_TO_MOVE = 60  # pieces of a unit that comes as a whole; larger ones stand already joined
_AXES = tuple(np.asarray(DIRECTIONS[name]) for name in ("+z", "-y", "+y", "-x", "+x", "-z"))
_NO_MOVE = np.zeros(3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Away:
    """A part drawn away from its place by `offset_mm` (3,). `lead_mm`: array (n, 3), the path of one of its
    points from where it is drawn to where it goes; empty where another part's path says the same."""

    offset_mm: Array
    lead_mm: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turn:
    """A screw that the step turns. `head_mm`, `axis` as drawn; `key_mm`: its key's size."""

    fastening: str
    screw: str
    head_mm: Array
    axis: Array
    key_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Setting:
    """An offset to be set: from the datum end of a member to the nearest end of a part on it."""

    datum_mm: Array
    to_mm: Array
    out: Array  # away from the member's face, for the dimension line
    value_mm: float
    member: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StepScene:
    """One step's scene. Everything is in the machine frame as the work lies in this step.

    `new`: ids drawn strong; `sorts`: what each call-out of a letter points at; `threads`: belts and cables
    as lines (n, 3) with their names; `turned`: the side that is up, when it is not the top.
    """

    scene: Scene
    new: tuple[str, ...]
    away: Mapping[str, Away]
    turns: tuple[Turn, ...]
    settings: tuple[Setting, ...]
    empty_holes_mm: Array
    empty_diameters_mm: Array
    threads: tuple[tuple[str, Array], ...]
    reads: Mapping[str, str]  # characteristic -> a part it is read on
    up: str = "+z"
    turned_now: bool = False
    moving: tuple[str, ...] = field(default=())  # structural parts that come as one unit

    @property
    def is_empty(self) -> bool:
        """Nothing of this step can be drawn."""
        return not self.new and not self.threads

    def facts(self) -> list[bytes]:
        """All that a picture of it follows from, as bytes."""
        rows = facts_of(self.scene)
        for name, away in self.away.items():
            rows.append(name.encode("utf-8", "surrogatepass") + _rounded(away.offset_mm) + _rounded(away.lead_mm))
        for turn in self.turns:
            rows.append(f"{turn.fastening}{turn.key_mm}".encode() + _rounded(turn.head_mm) + _rounded(turn.axis))
        for one in self.settings:
            rows.append(_rounded(one.datum_mm) + _rounded(one.to_mm) + _rounded(one.out))
        rows += [_rounded(self.empty_holes_mm), _rounded(self.empty_diameters_mm), *(name.encode() + _rounded(points) for name, points in self.threads)]
        rows.append(repr((sorted(self.reads.items()), self.up, self.turned_now, self.moving)).encode())
        return rows


def facts_of(scene: Scene) -> list[bytes]:
    """What stands where in a scene, as bytes."""
    return [
        f"{piece.id} {piece.role} {piece.says} ".encode("utf-8", "surrogatepass")
        + piece.body.digest + _rounded(piece.placement.turn) + _rounded(piece.placement.origin_mm)
        for piece in scene.pieces
    ]  # fmt: skip


def _rounded(values: Array) -> bytes:
    """To a tenth of a micrometre."""
    return np.rint(np.asarray(values) * 1e4).astype(np.int64).tobytes()


class StepScenes:
    """The scenes of all steps of one machine, made one after another when asked for."""

    def __init__(self, known: Known) -> None:
        self.known = known
        self.machine: Machine = known.machine
        self.walk = known.timeline.walk
        self.reach = self.walk.reach
        self.comes = known.timeline.comes
        self.slot_row: dict[tuple[str, str], SlotRow] = {(row.member, row.slot): row for row in known.ledger}
        self.of_piece: dict[str, Fastening] = {}
        for one in self.machine.fastening.values():
            for piece in (one.screw, one.host_part, one.carrier, *one.washers):
                if piece and piece in self.machine.part and self.machine.part[piece].joint:
                    self.of_piece.setdefault(piece, one)

    def __iter__(self) -> Iterator[tuple[Step, StepScene]]:
        """Each step with its scene, in order; links between parts are followed along the way."""
        groups = _Groups()
        links = sorted(self.walk.state.links)
        at, up = 0, "+z"
        for step in self.machine.steps:
            events = self.known.events_of[step.id]
            last = events[-1].at if events else -1
            before = groups.copy()
            while at < len(links) and links[at][0] <= last:
                groups.join(links[at][1], links[at][2])
                at += 1
            tops = [event.action.toward for event in events if event.action.verb == "turn" and event.action.toward]
            shown_up = next((top for top in tops if top != "+z"), tops[-1] if tops else up)
            making = _Making(self, step, events, before, groups.copy())
            yield step, making.scene(shown_up if shown_up in DIRECTIONS else up, turned_now=bool(tops) or shown_up != up)
            up = tops[-1] if tops and tops[-1] in DIRECTIONS else up

    def of(self, step_id: str) -> StepScene:
        """The scene of one step."""
        return next(scene for step, scene in self if step.id == step_id)

    def finished(self) -> Scene:
        """The whole machine, everything drawn as new."""
        pieces = (self.piece(part, NEW) for part in self.machine.placed)
        return Scene(tuple(piece for piece in pieces if piece is not None))

    def piece(self, part: PlacedPart, role: str, offset: Array = _NO_MOVE) -> Piece | None:
        """A placed part as a piece of a picture; None without a solid."""
        if not makes_solid(part.type):
            return None
        place = part.placement
        moved = Placement(place.turn, place.origin_mm + offset) if offset is not _NO_MOVE else place
        letter = self.known.letter(part.type.id)
        says = f"{letter} {part.type.name}".strip()
        return Piece(id=part.id, body=solid_of(part.type, self.machine.folder), placement=moved, role=role, says=says)

    @cached_property
    def used_holes(self) -> frozenset[tuple[str, str]]:
        """Holes (part, hole) that some screw passes or bites in."""
        found: set[tuple[str, str]] = set()
        for one in self.machine.fastening.values():
            head, axis = np.asarray(one.head_mm), np.asarray(one.axis)
            for name in {*(grip.part for grip in one.grips), one.host_part}:
                part = self.machine.part.get(name)
                if part is None or part.joint:
                    continue
                for hole in part.type.holes:
                    off = part.placement.point(hole.at_mm) - head
                    if float(np.linalg.norm(off - axis * float(off @ axis))) < 0.6:
                        found.add((name, hole.name))
        return frozenset(found)


class _Groups:
    """What hangs together, grown link by link."""

    def __init__(self, over: dict[str, str] | None = None) -> None:
        self.over = over or {}

    def copy(self) -> _Groups:
        return _Groups(dict(self.over))

    def root(self, name: str) -> str:
        top = name
        while top in self.over:
            top = self.over[top]
        while name != top:  # so that the next who asks has a short way
            self.over[name], name = top, self.over[name]
        return top

    def join(self, one: str, other: str) -> None:
        first, second = self.root(one), self.root(other)
        if first != second:
            self.over[second] = first


class _Making:
    """One step's scene while it is made."""

    def __init__(
        self, all_steps: StepScenes, step: Step, events: Sequence[Event], before: _Groups, after: _Groups
    ) -> None:
        self.all, self.step, self.events = all_steps, step, events
        self.machine, self.reach = all_steps.machine, all_steps.reach
        self.before, self.after = before, after
        first = events[0].at if events else 0
        self.old = {name for name, at in all_steps.comes.items() if at < first}
        self.coming = [piece for event in events for piece in event.pieces]
        self.new = {piece.id for piece in self.coming}
        self.moves: dict[str, Array] = {}
        self.leads: dict[str, Array] = {}
        self.gap_mm = self._gap()

    def scene(self, up: str, *, turned_now: bool) -> StepScene:
        """The whole scene, turned so that `up` is up."""
        unit_parts = self._units_meet()
        self._structural()
        self._pieces()
        shown = self._shown(unit_parts)
        solid = [name for name in shown if makes_solid(self.machine.part[name].type)]
        turn = _turn_of(up)
        pieces = []
        for name in self._old_shown(shown):
            piece = self.all.piece(self.machine.part[name], OLD)
            if piece is not None:
                pieces.append(piece)
        for name in solid:
            piece = self.all.piece(self.machine.part[name], NEW, self.moves.get(name, _NO_MOVE))
            if piece is not None:
                pieces.append(piece)
        away = {
            name: Away(offset_mm=turn @ self.moves[name], lead_mm=self.leads.get(name, np.zeros((0, 3))) @ turn.T)
            for name in solid
            if name in self.moves
        }
        empty = self._empty_holes(solid)
        return StepScene(
            scene=Scene(tuple(_turned(piece, turn) for piece in pieces)),
            new=tuple(solid),
            away=away,
            turns=tuple(self._turns(turn)),
            settings=tuple(self._settings(turn)),
            empty_holes_mm=empty[:, :3] @ turn.T,
            empty_diameters_mm=empty[:, 3],
            threads=tuple((name, points @ turn.T) for name, points in self._threads()),
            reads=self._reads(shown),
            up=up,
            turned_now=turned_now,
            moving=tuple(sorted(unit_parts)),
        )

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

    # -- what is shown --------------------------------------------------------------------------

    def _shown(self, unit_parts: set[str]) -> list[str]:
        """What is drawn strong: what comes; else the screws that are turned; else the parts that are named."""
        order = self.machine.part
        if self.new or unit_parts:
            return [name for name in order if name in self.new or name in unit_parts]
        screws = {one.screw for event in self.events for one in event.screws} & self.old
        if screws:
            return [name for name in order if name in screws]
        named = {name for event in self.events for name in event.action.parts} & self.old
        return [name for name in order if name in named]

    def _old_shown(self, shown: Sequence[str]) -> list[str]:
        """What is there already and hangs together with what is drawn strong, or lies in its neighbourhood."""
        threads = [joint for event in self.events for joint in event.joints if joint.belt or joint.cable]
        about = {*shown, *(part for joint in threads for part in joint.parts)}
        roots = {self.after.root(name) for name in about}
        strong = set(shown)
        return [
            name for name in self.machine.part
            if name in self.old and name not in strong and self.after.root(name) in roots
        ]  # fmt: skip

    # -- units that meet ------------------------------------------------------------------------

    def _units_meet(self) -> set[str]:
        """Units built before that a joint of this step brings to another: drawn away as one."""
        by_after: dict[str, dict[str, list[str]]] = {}
        for name in self.machine.part:
            if name in self.old:
                by_after.setdefault(self.after.root(name), {}).setdefault(self.before.root(name), []).append(name)
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
        touched = [name for name in self.all.walk.touching(piece.id) if name in near and name in self.moves]
        held = [
            name for joint in self.all.walk.joints_of_part.get(piece.id, ())
            for name in self.machine.joint[joint].parts if name in self.moves and name in near
        ]  # fmt: skip
        names = held or touched
        return self.moves[names[0]] if names else np.zeros(3)

    def _way_in(self, piece: PlacedPart, event: Event, near: set[str]) -> Array | None:
        if piece.id in self.all.walk.rail_of:
            rail = self.machine.part[self.all.walk.rail_of[piece.id]]
            if rail.id in near:
                along = rail.placement.turn[:, 0]
                ways = [along, -along]
                size = rail.type.standard
                length = size.length_mm if isinstance(size, RailSize) else rail.type.length_mm
                at = float(rail.placement.back(piece.placement.origin_mm)[0])
                ways.sort(key=lambda way: length - at if float(way @ along) > 0 else at)
                return next((way for way in ways if self.reach.is_free(self.reach.path(piece.id, way), near, {rail.id})), ways[0])
        named = DIRECTIONS.get(event.action.toward) if event.action.verb == "place" else None
        ways = [np.asarray(named)] if named is not None else self._ways(
            piece.id, self.all.walk.joints_of_part.get(piece.id, ())
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
        beside = (boxes[:, side] < high[side] - 0.1).all(axis=1) & (boxes[:, [n + 3 for n in side]] > low[side] + 0.1).all(axis=1)
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
            if piece.id in self.all.walk.slot_of:
                channel = self.all.walk.slot_of[piece.id]
                in_slots.setdefault((channel.member, channel.name), []).append(piece)
                continue
            one = self.of_piece.get(piece.id)
            if one is not None:
                self._fastener(piece, one)
        for (member, slot), pieces in in_slots.items():
            self._slot_pieces(self.reach.channel[(member, slot)], pieces)

    @property
    def of_piece(self) -> Mapping[str, Fastening]:
        return self.all.of_piece

    def _fastener(self, piece: PlacedPart, one: Fastening) -> None:
        axis = np.asarray(one.axis)
        under = one.grips[0].part if one.grips else one.host_part
        base = self.moves.get(under, np.zeros(3))
        head = np.asarray(one.head_mm)
        if piece.id == one.screw:
            if one.head_in_slot and self.after.root(one.slot_member) == self.after.root(one.host_part) and one.slot_member in (self.old | self.new):
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
            seat = self.moves.get(self.all.walk.seat_of.get(piece.id, ""), np.zeros(3))
            self.moves[piece.id] = seat + out * (self.gap_mm * 0.5 + 6.0)
            self.leads[piece.id] = np.stack([piece.placement.origin_mm + self.moves[piece.id], piece.placement.origin_mm + seat])
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
        row = self.all.slot_row.get((channel.member, channel.name))
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
                goes_with = next((name for name in self.all.walk.carrier_of.get(piece.id, ()) if name in carried), "")
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

    # -- marks ----------------------------------------------------------------------------------

    def _turns(self, turn: Array) -> Iterator[Turn]:
        seen: set[str] = set()
        for event in self.events:
            for one in event.screws:
                if one.screw in seen or one.screw_type.key_mm <= 0:
                    continue
                seen.add(one.screw)
                tall = one.screw_type.head_height_mm
                head = np.asarray(one.head_mm) + np.asarray(one.axis) * tall + self.moves.get(one.screw, _NO_MOVE)
                yield Turn(
                    fastening=one.id, screw=one.screw, head_mm=turn @ head, axis=turn @ np.asarray(one.axis),
                    key_mm=one.screw_type.key_mm,
                )  # fmt: skip

    def _settings(self, turn: Array) -> Iterator[Setting]:
        read = {name for event in self.events for name in event.action.reads}
        present = self.old | self.new
        for one in self.machine.characteristics:
            if one.id not in read or one.sort != "offset" or len(one.of) != 2:
                continue
            on, member = (self.machine.part.get(name) for name in one.of)
            if on is None or member is None or not {on.id, member.id} <= present or not member.type.length_mm:
                continue
            ends = member.placement.back(on.placement.point(solid_of(on.type, self.machine.folder).points_mm))[:, 0]
            first, last, length = float(ends.min()), float(ends.max()), member.type.length_mm
            from_a = first <= length - last + 1e-6
            datum, to = (0.0, first) if from_a else (length, last)
            out = on.placement.origin_mm - member.placement.point((float(np.clip((first + last) / 2, 0, length)), 0.0, 0.0))
            along = member.placement.turn[:, 0]
            out = out - along * float(out @ along)
            size = float(np.linalg.norm(out))
            out = out / size if size > 1e-6 else member.placement.turn[:, 2]
            edge = member.placement.point((datum, 0.0, 0.0)) + out * size
            base = self.moves.get(on.id, _NO_MOVE) * 0.0
            yield Setting(
                datum_mm=turn @ (edge + base), to_mm=turn @ (member.placement.point((to, 0.0, 0.0)) + out * size + base),
                out=turn @ out, value_mm=abs(to - datum), member=member.id,
            )  # fmt: skip

    def _empty_holes(self, shown: Sequence[str]) -> Array:
        """Array (n, 4), place and diameter: holes of coming parts that no screw ever uses though others of
        their group are used."""
        found = []
        for name in shown:
            part = self.machine.part[name]
            if part.joint or name not in self.new:
                continue
            for group, holes in itertools.groupby(part.type.holes, key=lambda hole: hole.group):
                members = [hole for hole in holes if not hole.access]
                used = [(name, hole.name) in self.all.used_holes for hole in members]
                if group and any(used) and not all(used):
                    offset = self.moves.get(name, _NO_MOVE)
                    found += [
                        np.append(part.placement.point(hole.at_mm) + offset, hole.diameter_mm)
                        for hole, is_used in zip(members, used, strict=True) if not is_used
                    ]  # fmt: skip
        return np.array(found).reshape(-1, 4)

    def _threads(self) -> Iterator[tuple[str, Array]]:
        told: set[str] = set()
        for event in self.events:
            if event.action.verb != "route":
                continue
            for joint in event.joints:
                if joint.id in told:
                    continue
                told.add(joint.id)
                if joint.belt is not None:
                    for span in joint.belt.spans:
                        yield joint.id, np.array([span.from_mm, span.to_mm])
                elif joint.cable is not None and len(joint.cable.points_mm) > 1:
                    yield joint.cable.label or joint.id, np.array(joint.cable.points_mm)

    def _reads(self, shown: Sequence[str]) -> dict[str, str]:
        present = self.old | self.new
        found: dict[str, str] = {}
        for event in self.events:
            for name in event.action.reads:
                of = next((one.of for one in self.machine.characteristics if one.id == name), ())
                on = [part for part in (*event.action.parts, *of) if part in present]
                solid = [part for part in on if makes_solid(self.machine.part[part].type)]
                if solid:
                    found.setdefault(name, solid[0])
        return found


def _turn_of(up: str) -> Array:
    """The rotation that brings a side of the machine up, turning it over to the right or about its length."""
    way = np.asarray(DIRECTIONS[up])
    if up == "+z":
        return np.eye(3)
    if up == "-z":
        return np.diag([1.0, -1.0, -1.0])
    axis = np.cross(way, (0.0, 0.0, 1.0))
    skew = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    return np.asarray(np.eye(3) + skew + skew @ skew)


def _turned(piece: Piece, turn: Array) -> Piece:
    if (turn == np.eye(3)).all():
        return piece
    return replace(piece, placement=Placement(turn @ piece.placement.turn, turn @ piece.placement.origin_mm))
