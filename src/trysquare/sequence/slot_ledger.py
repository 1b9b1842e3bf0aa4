"""The slot ledger: every slot of every member, what must be in it, by which end, and until when.

A slot is a channel with two ends and a mouth. What lies in it are intervals from end a. An end is open
while the slot's own cross-section, pushed out by a nut's length, meets nothing that stands there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
from manifold3d import CrossSection

from trysquare.catalogue.values import Profile, SlotNut
from trysquare.ground.placement import Array, Placement, side
from trysquare.machine.slots import Channel
from trysquare.machine.values import Fastening, Host, Machine, PlacedPart
from trysquare.sequence.reach import Reach
from trysquare.sequence.timeline import Timeline
from trysquare.solid.bodies import prism_x
from trysquare.solid.broad import Crowd, candidates_against, crowd_of, crowd_of_one
from trysquare.solid.overlap import crossings
from trysquare.solid.profiles import slot_outline
from trysquare.solid.shapes import Solid, makes_solid, solid_from, solid_of
from trysquare.solid.shared import any_shared

END_ROOM_MM = 20.0  # before a slot's end: a nut's length, half of it and some play, as the order rules ask
SLACK_MM = 0.05  # taken off the slot's section all round, so that what only touches it closes nothing
APART_MM = 1e-6  # two pieces whose intervals share less than this lie side by side


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotEnd:
    """One end of a slot. `looks`: the side of the machine it looks to ("" when askew). `closed_in`: the
    step that closes it, `closed_by` the part that does; both "" for an end that stays open. Without steps
    `closed_in` is "" and `closed_by` says what closes it in the finished machine."""

    name: str  # "a" or "b"
    looks: str
    closed_in: str = ""
    closed_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotPiece:
    """A nut, bar, screw head, set screw or carrier that must lie in a slot, as an interval from end a.

    `step`: where the order puts it in ("" for nowhere). `ways`: the ends open to it then, "a", "b" and
    "mouth"; without steps those that are open between the finished machine's other parts. `closed_in`,
    `closed_by`: the step and part that shut its last way; "" while one stays open.
    """

    part: str
    part_type: str
    sort: str  # "nut", "bar", "head", "set screw", "carrier"
    joint: str
    from_mm: float
    at_mm: float
    to_mm: float
    step: str = ""
    ways: tuple[str, ...] = ()
    closed_in: str = ""
    closed_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotRow:
    """One slot of one member. `looks`: the side of the machine it opens to. `step`: where the member comes.
    `others`: parts that reach into the slot though no joint puts them there."""

    member: str
    slot: str  # "+y", or "+y.2" where a face has several
    looks: str
    length_mm: float
    step: str
    ends: tuple[SlotEnd, SlotEnd]
    pieces: tuple[SlotPiece, ...] = ()
    others: tuple[str, ...] = ()

    @property
    def counts(self) -> Mapping[str, int]:
        """How many pieces of each part type, nuts and screw heads alike."""
        found: dict[str, int] = {}
        for piece in self.pieces:
            found[piece.part_type] = found.get(piece.part_type, 0) + 1
        return found


def slot_ledger(machine: Machine, reach: Reach | None = None) -> tuple[SlotRow, ...]:
    """All slots of all members in the machine's order, empty ones too."""
    ledger = _Ledger(machine, reach or Reach(machine))
    return tuple(ledger.row(channel) for channel in ledger.reach.channels.channels)


@dataclass(slots=True)
class _Lying:
    """A piece in a slot while the ledger is made. `event`: when it comes to lie there."""

    piece: SlotPiece
    event: int | None
    own: frozenset[str]  # what comes with it or through it, which is never in its way
    fastening: Fastening | None = None


@dataclass(frozen=True, slots=True)
class _Block:
    """Something in the way, from an event on; None when no event brings it there."""

    part: str
    event: int | None


@dataclass(slots=True)
class _Round:
    """What stands round one slot: at each end, and reaching in between from .. to."""

    ends: dict[str, list[str]] = field(default_factory=lambda: {"a": [], "b": []})
    inside: list[tuple[str, float, float]] = field(default_factory=list)


class _Ledger:
    def __init__(self, machine: Machine, reach: Reach) -> None:
        self.machine, self.reach = machine, reach
        self.timeline = Timeline(machine, reach)
        self.lying = self._all_lying()
        self.round = self._all_round()

    def row(self, channel: Channel) -> SlotRow:
        here = self.lying.get((channel.member, channel.name), [])
        around = self.round[(channel.member, channel.name)]
        ends = {end: self._blocks(channel, around.ends[end]) for end in ("a", "b")}
        return SlotRow(
            member=channel.member,
            slot=channel.name,
            looks=side(channel.out),
            length_mm=channel.length_mm,
            step=self.timeline.step_id(self.timeline.comes.get(channel.member)),
            ends=(
                self._end("a", -channel.along, ends["a"]),
                self._end("b", channel.along, ends["b"]),
            ),
            pieces=tuple(self._piece(channel, one, here, around, ends) for one in here),
            others=tuple(dict.fromkeys(part for part, _, _ in around.inside)),
        )

    # -- what lies in it ------------------------------------------------------------------------

    def _all_lying(self) -> dict[tuple[str, str], list[_Lying]]:
        found: dict[tuple[str, str], dict[str, _Lying]] = {}
        for one in self.machine.fastening.values():
            if (one.slot_member, one.slot_face) not in self.reach.channel:
                continue
            slot = found.setdefault((one.slot_member, one.slot_face), {})
            channel = self.reach.channel[(one.slot_member, one.slot_face)]
            for lying in self._of_fastening(channel, one):
                known = slot.get(lying.piece.part)
                if known is None:
                    slot[lying.piece.part] = lying
                else:  # a bar takes several screws
                    known.own |= lying.own
        return {key: sorted(slot.values(), key=lambda one: one.piece.from_mm) for key, slot in found.items()}

    def _of_fastening(self, channel: Channel, one: Fastening) -> Iterator[_Lying]:
        comes = self.timeline.comes
        if one.head_in_slot:
            half = one.screw_type.head_diameter_mm / 2
            event = self.timeline.together(channel.member, one.host_part)
            yield self._lying(one, one.screw, "head", half, event, {one.host_part, one.screw})
            return
        if one.host not in (Host.SLOT_NUT, Host.BAR):
            half = one.screw_type.thread.diameter_mm / 2
            own = {one.screw, one.host_part}
            yield self._lying(one, one.screw, "set screw", half, comes.get(one.screw), own)
            return
        own = {one.screw, one.host_part, one.carrier, *one.washers} - {""}
        sort = "nut" if one.host is Host.SLOT_NUT else "bar"
        for part, name in ((one.host_part, sort), (one.carrier, "carrier")):
            if part:
                span = self._span(channel, self.machine.part[part])
                lying = self._lying(one, part, name, 0.0, comes.get(part), own)
                middle = one.slot_at_mm if name != "bar" else sum(span) / 2
                lying.piece = replace(lying.piece, from_mm=span[0], at_mm=middle, to_mm=span[1])
                yield lying

    def _lying(
        self, one: Fastening, part: str, sort: str, half_mm: float, event: int | None, own: Iterable[str]
    ) -> _Lying:
        piece = SlotPiece(
            part=part,
            part_type=self.machine.part[part].type.id,
            sort=sort,
            joint=one.joint,
            from_mm=one.slot_at_mm - half_mm,
            at_mm=one.slot_at_mm,
            to_mm=one.slot_at_mm + half_mm,
            step=self.timeline.step_id(event),
        )
        return _Lying(piece, event, frozenset(own), one)

    def _span(self, channel: Channel, part: PlacedPart) -> tuple[float, float]:
        """How far a part reaches along the slot, from end a."""
        if not makes_solid(part.type):
            at = float((part.placement.origin_mm - channel.start_mm) @ channel.along)
            return at, at
        points = part.placement.point(solid_of(part.type, self.machine.folder).points_mm)
        along = (points - channel.start_mm) @ channel.along
        return float(along.min()), float(along.max())

    # -- what stands round it -------------------------------------------------------------------

    def _all_round(self) -> dict[tuple[str, str], _Round]:
        """All ends and insides asked at once: most meet nothing but what their own joints put there."""
        channels = self.reach.channels.channels
        found = {(channel.member, channel.name): _Round() for channel in channels}
        probes: list[tuple[Channel, str, Solid, Placement]] = []
        for channel in channels:
            for name, begins, length in (
                ("a", -END_ROOM_MM, END_ROOM_MM),
                ("b", channel.length_mm, END_ROOM_MM),
                ("", 0.0, channel.length_mm),
            ):
                turn = np.column_stack([channel.along, np.cross(channel.out, channel.along), channel.out])
                place = Placement(turn, channel.point(begins))
                probes.append((channel, name, _slug(channel.profile, length), place))
        if not probes:
            return found
        standing = self.reach.standing
        crowd = _crowd(self.machine, probes)
        for i, j in candidates_against(crowd, standing.crowd):
            channel, name, solid, place = probes[i]
            other = standing.ids[j]
            if other == channel.member or self._put_there(channel, other, inside=not name):
                continue
            around = found[(channel.member, channel.name)]
            if not any_shared(crowd_of_one(solid, place), standing.crowd, np.array([(0, j)])):
                continue
            if name:
                around.ends[name].append(other)
            else:
                around.inside.append((other, *self._reaches_in(channel, solid, place, other)))
        return found

    def _put_there(self, channel: Channel, other: str, *, inside: bool) -> bool:
        """Whether a joint puts this piece into the slot, or into its mouth: those are listed already."""
        own = self.lying.get((channel.member, channel.name), [])
        return (inside or bool(self.machine.part[other].joint)) and any(other in one.own for one in own)

    def _reaches_in(
        self, channel: Channel, solid: Solid, place: Placement, other: str
    ) -> tuple[float, float]:
        shared = crossings("slot", solid, place, self.reach.standing, {other})
        corners = np.array([corner for one in shared for corner in (one.low_mm, one.high_mm)])
        along = (corners - channel.start_mm) @ channel.along
        return float(along.min()), float(along.max())

    def _blocks(self, channel: Channel, parts: Iterable[str]) -> list[_Block]:
        return [_Block(part, self.timeline.together(channel.member, part)) for part in parts]

    # -- ways -----------------------------------------------------------------------------------

    def _end(self, name: str, way: Array, blocks: list[_Block]) -> SlotEnd:
        first = self._first(blocks)
        if first is None:
            return SlotEnd(name=name, looks=side(way))
        return SlotEnd(
            name=name,
            looks=side(way),
            closed_in=self.timeline.step_id(first.event),
            closed_by=first.part,
        )

    def _first(self, blocks: Iterable[_Block]) -> _Block | None:
        """What closes a way first; of things of one step rather the part than a screw that comes with it.
        Without steps anything closes it, with steps only what comes some time."""
        known = [one for one in blocks if one.event is not None or not self.machine.steps]

        def when(one: _Block) -> tuple[int, bool, int]:
            loose = bool(self.machine.part[one.part].joint)
            return (self.timeline.step(one.event), loose, -1 if one.event is None else one.event)

        return min(known, key=when, default=None)

    def _piece(
        self,
        channel: Channel,
        one: _Lying,
        here: list[_Lying],
        around: _Round,
        ends: Mapping[str, list[_Block]],
    ) -> SlotPiece:
        if one.piece.sort == "set screw":
            return one.piece  # comes through its bracket, not along the slot
        ways = {end: [*ends[end], *self._between(channel, one, here, around, end)] for end in ("a", "b")}
        mouth = self._mouth(channel, one)
        if mouth is not None:
            ways["mouth"] = mouth
        ways = {
            name: [block for block in blocks if block.part not in one.own] for name, blocks in ways.items()
        }
        now = tuple(
            name for name, blocks in ways.items() if not any(self._shuts(each, one) for each in blocks)
        )
        firsts = [
            self._first(block for block in blocks if self._counts(block, one)) for blocks in ways.values()
        ]
        shut = [first for first in firsts if first is not None]
        if len(shut) < len(firsts):
            return replace(one.piece, ways=now)
        last = max(shut, key=lambda first: -1 if first.event is None else first.event)
        closed_in = self.timeline.step_id(last.event)
        return replace(one.piece, ways=now, closed_in=closed_in, closed_by=last.part)

    def _shuts(self, block: _Block, one: _Lying) -> bool:
        """Whether a block is there when the piece comes; for a piece that no step puts in, at the end.

        A part that the same action joins is there first; what lies in the slot and comes with it is not.
        Without steps parts are there, loose pieces of the same slot are not: they go in one by one.
        """
        part = not self.machine.part[block.part].joint
        if not self.machine.steps:
            return part
        if block.event is None or one.event is None:
            return block.event is not None
        return block.event < one.event or (part and block.event == one.event and one.piece.sort != "head")

    def _counts(self, block: _Block, one: _Lying) -> bool:
        """Whether a block ever closes a way: nuts of one action do not, they are entered as they lie."""
        together = block.event == one.event and bool(self.machine.part[block.part].joint)
        return not together and (self.machine.steps != () or not self.machine.part[block.part].joint)

    def _between(
        self, channel: Channel, one: _Lying, here: list[_Lying], around: _Round, end: str
    ) -> Iterator[_Block]:
        """What lies in the slot between a piece and an end."""

        def ahead(from_mm: float, to_mm: float) -> bool:
            if end == "a":
                return to_mm <= one.piece.from_mm + APART_MM
            return from_mm >= one.piece.to_mm - APART_MM

        for other in here:
            if other is not one and ahead(other.piece.from_mm, other.piece.to_mm):
                yield _Block(other.piece.part, other.event)
        for part, from_mm, to_mm in around.inside:
            if ahead(from_mm, to_mm):
                yield _Block(part, self.timeline.together(channel.member, part))

    def _mouth(self, channel: Channel, one: _Lying) -> list[_Block] | None:
        """What lies over the mouth where an insertable nut goes in; None for other pieces."""
        part = self.machine.part[one.piece.part]
        if not isinstance(part.type.standard, SlotNut) or not part.type.standard.insertable:
            return None
        over = self.reach.blockers(
            self.reach.mouth_way(part, channel), self.reach.row, {channel.member, *one.own}
        )
        return self._blocks(channel, over)


@cache
def _slug(profile: Profile, length_mm: float) -> Solid:
    """A slot's own cross-section, a hair smaller, from x = 0 to its length; z = 0 is the member's face."""
    outline = [(across, -depth) for across, depth in slot_outline(profile)]
    return solid_from(prism_x(CrossSection([outline]).offset(-SLACK_MM), 0.0, length_mm))


def _crowd(machine: Machine, probes: Iterable[tuple[Channel, str, Solid, Placement]]) -> Crowd:
    rows = list(probes)
    placed = [replace(machine.part[channel.member], placement=place) for channel, _, _, place in rows]
    return crowd_of(placed, [solid for _, _, solid, _ in rows])
