"""The part-built machine after a step: what is held, what can still move and whereto, what is open.

A part is *held* when a snug or final screw, tape or a tie keeps it; *captive* when it cannot leave
but may still shift; *free* when it can leave at least one way. Ways are found by probing small moves
among the parts that hang together with it, and then the whole way out. The table is not probed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import SlotNut
from trysquare.ground.errors import ReadingError, nearest
from trysquare.ground.placement import Array, Triple, side
from trysquare.machine.values import Fastening, Host, Joint, Machine, PlacedPart
from trysquare.sequence.reach import Reach
from trysquare.sequence.slot_ledger import SlotPiece, SlotRow, slot_ledger
from trysquare.sequence.state import Tightness
from trysquare.sequence.timeline import advance
from trysquare.sequence.walk import Walk
from trysquare.solid.shapes import makes_solid
from trysquare.stock.bringing import sort_of

PROBE_MM = 1.0  # a part that cannot go this far is taken for fixed in that direction
LEVELS = {level: level.name.lower() for level in Tightness}


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A direction in which a part can still move, machine frame. `looks`: the side it goes to, "" when
    askew; `along`: what guides it there, in words; `out`: it can leave the machine that way."""

    direction: Triple
    looks: str
    along: str
    out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PartState:
    """How much a part is held. `by`: joints that hold it or are started on it, or the means, such as "tape".
    A free part without ways lies apart: nothing joins it to anything yet."""

    part: str
    state: str  # "held", "captive", "free"
    by: tuple[str, ...] = ()
    ways: tuple[Way, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class JointState:
    """How far a joint is: `level` is that of its loosest screw, `screws` counts them by level. A belt or
    cable is "laid" or "absent"; a joint that only guides has no screws and is "no screws"."""

    joint: str
    level: str  # "absent", "started", "snug", "final", "laid", "no screws"
    screws: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotState:
    """What lies in a slot now, from end a on, and which of its ends are open."""

    member: str
    slot: str
    looks: str
    pieces: tuple[str, ...]
    open_ends: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RailState:
    """The carriages on a rail now, the ends at which they can run off, and what keeps them all the same."""

    rail: str
    blocks: tuple[str, ...]
    open_ends: tuple[str, ...]
    kept: str  # "tape", "stop" …, "belt or lead screw", "" for nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignmentState:
    """A characteristic: the step that read it last ("" for none), whether that reading still holds, and
    the joints that are not yet snug for it."""

    characteristic: str
    read_in: str
    holds: bool
    waits: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StateReport:
    """The part-built machine after a step. `works`: the pieces of work that lie apart, largest first."""

    step: str
    up: str
    parts: tuple[PartState, ...]
    joints: tuple[JointState, ...]
    slots: tuple[SlotState, ...]
    rails: tuple[RailState, ...]
    alignments: tuple[AlignmentState, ...]
    works: tuple[tuple[str, ...], ...]


def state_after(machine: Machine, step_id: str, reach: Reach | None = None) -> StateReport:
    """The machine after all actions of a step. Raises ReadingError when there is no such step."""
    index = next((number for number, step in enumerate(machine.steps) if step.id == step_id), None)
    if index is None:
        raise ReadingError(
            where="steps",
            read=step_id,
            expected="the id of a step",
            remedy=nearest(step_id, [step.id for step in machine.steps]),
        )
    walk = Walk(machine, reach)
    for event in walk.events:
        if event.step > index:
            break
        advance(walk, event)
    look = _Look(walk, index)
    return StateReport(
        step=step_id,
        up=walk.state.up,
        parts=tuple(look.parts()),
        joints=tuple(look.joint(joint) for joint in machine.joints),
        slots=tuple(look.slots()),
        rails=tuple(look.rails()),
        alignments=tuple(look.alignments()),
        works=tuple(look.works()),
    )


class _Look:
    """A look at one state."""

    def __init__(self, walk: Walk, index: int) -> None:
        self.walk, self.machine, self.reach, self.state = walk, walk.machine, walk.reach, walk.state
        done = {step.id for step in self.machine.steps[: index + 1]}
        self.rows: list[tuple[SlotRow, list[SlotPiece], list[str]]] = []
        for row in slot_ledger(self.machine, self.reach):
            if row.member in self.state.present:
                lying = [piece for piece in row.pieces if piece.step in done]
                ends = [end.name for end in row.ends if not (end.closed_in and end.closed_in in done)]
                self.rows.append((row, lying, ends))
        self.seated: dict[str, list[str]] = {}
        for piece, seat in walk.seat_of.items():
            if piece in self.state.present:
                self.seated.setdefault(seat, []).append(piece)
        self.of_piece: dict[str, Fastening] = {}
        self.on: dict[str, list[Fastening]] = {}  # structural part -> screws that hold it
        for joint in self.machine.joints:
            for one in joint.fastenings:
                for piece in (one.screw, one.host_part, one.carrier, *one.washers):
                    if piece and piece in self.machine.part and self.machine.part[piece].joint:
                        self.of_piece.setdefault(piece, one)
                for part in _held_by(joint, one):
                    self.on.setdefault(part, []).append(one)

    # -- parts ----------------------------------------------------------------------------------

    def parts(self) -> Iterator[PartState]:
        """Structural parts and brackets in the machine's order, then what lies in slots."""
        for part in self.machine.placed:
            if part.id in self.state.present and (not part.joint or sort_of(part) == "bracket"):
                yield self._part(part)
        for row, lying, ends in self.rows:
            for piece in lying:
                if piece.sort in ("nut", "bar"):
                    yield self._in_slot(row, piece, lying, ends)

    def _part(self, part: PlacedPart) -> PartState:
        if part.id in self.state.held:
            return PartState(part=part.id, state="held", by=(self.state.held[part.id],))
        made = [one for one in self.on.get(part.id, ()) if self._level(one) > Tightness.ABSENT]
        snug = [one for one in made if self._level(one) >= Tightness.SNUG]
        if part.id in self.walk.rail_of:
            return self._carriage(part, snug)
        if snug:
            return PartState(part=part.id, state="held", by=_names(snug))
        if not makes_solid(part.type):
            return PartState(part=part.id, state="captive" if made else "free", by=_names(made))
        moving = self._moving(part.id)
        if not self.state.group(part.id) - moving:
            return PartState(part=part.id, state="free", by=_names(made))
        ways = tuple(self._ways(part, moving, _axes(part), made))
        state = "free" if any(way.out for way in ways) else "captive"
        return PartState(part=part.id, state=state, by=_names(made), ways=ways)

    def _carriage(self, block: PlacedPart, snug: list[Fastening]) -> PartState:
        """A carriage runs along its rail whatever is screwed on it."""
        rail = self.machine.part[self.walk.rail_of[block.id]]
        if rail.id not in self.state.present:
            return PartState(part=block.id, state="held" if snug else "free", by=_names(snug))
        if self.walk.is_tied(block.id):
            return PartState(part=block.id, state="held", by=("belt or lead screw",))
        along = rail.placement.turn[:, 0]
        moving = self._runs_with(block.id)
        ways = tuple(self._ways(block, moving, [along, -along], [], f"along {rail.id}"))
        state = "free" if any(way.out for way in ways) else "captive"
        return PartState(part=block.id, state=state, by=(rail.id,), ways=ways)

    def _moving(self, part: str) -> set[str]:
        """A loose part with what goes where it goes: what waits in it, its blind screws, its carriages."""
        moving = {part}
        for piece in self.seated.get(part, ()):
            one = self.of_piece.get(piece)
            waits = one is None or self._level(one) is Tightness.ABSENT or one.host is Host.INSERT
            own = one is not None and one.head_in_slot and one.host_part == part
            if own or (waits and piece != (one.screw if one is not None else "")):
                moving.add(piece)
        for block, rail in self.walk.rail_of.items():
            if rail == part and block in self.state.present:
                moving |= self._runs_with(block)
        return moving

    def _runs_with(self, block: str) -> set[str]:
        """A carriage with all that runs with it, also what merely lies between its parts."""
        moving = self.walk.moves_with(block) | {block}
        for part in self.state.group(block) - moving:
            free = not self.machine.part[part].joint and part not in self.walk.joints_of_part
            if free and moving.intersection(self.walk.touching(part)):
                moving.add(part)
        return moving

    def _ways(
        self,
        part: PlacedPart,
        moving: set[str],
        directions: Iterable[Array],
        made: Iterable[Fastening],
        along: str = "",
    ) -> Iterator[Way]:
        near = self.state.group(part.id) - moving
        for way in directions:
            if not self._clear(moving, way, near, PROBE_MM):
                continue
            out = self._clear(moving, way, near, None)
            guide = along or _guide(made, way, self.machine)
            yield Way(direction=_triple(way), looks=side(way), along=guide, out=out)

    def _clear(self, moving: set[str], way: Array, near: set[str], far_mm: float | None) -> bool:
        return all(
            self.reach.is_free(self.reach.path(one, way, far_mm), near, moving) for one in sorted(moving)
        )

    def _in_slot(self, row: SlotRow, piece: SlotPiece, lying: list[SlotPiece], ends: list[str]) -> PartState:
        """A nut or bar: along its slot as far as its neighbours let it, and out by an end or the mouth."""
        one = self.of_piece[piece.part]
        if self._level(one) >= Tightness.SNUG:
            return PartState(part=piece.part, state="held", by=(one.joint,))
        if self._level(one) is Tightness.STARTED:
            return PartState(part=piece.part, state="captive", by=(one.joint,))
        channel = self.reach.channel[(row.member, row.slot)]
        own = {one.carrier, piece.part}
        others = [each for each in lying if each.part not in own]
        before = max((each.to_mm for each in others if each.at_mm < piece.at_mm), default=None)
        after = min((each.from_mm for each in others if each.at_mm > piece.at_mm), default=None)
        ways: list[Way] = []
        for end, way, next_mm, room in (
            ("a", -channel.along, before, piece.from_mm - (before if before is not None else 0.0)),
            ("b", channel.along, after, (after if after is not None else row.length_mm) - piece.to_mm),
        ):
            out = next_mm is None and end in ends and not row.others
            if out or room >= PROBE_MM:
                along = f"along slot {row.slot} of {row.member}"
                ways.append(Way(direction=_triple(way), looks=side(way), along=along, out=out))
        part = self.machine.part[piece.part]
        if isinstance(part.type.standard, SlotNut) and part.type.standard.insertable:
            near = self.state.group(row.member) - own
            if self.reach.is_free(self.reach.mouth_way(part, channel), near, {row.member, *own}):
                mouth = f"through the mouth of slot {row.slot} of {row.member}"
                looks = side(channel.out)
                ways.append(Way(direction=_triple(channel.out), looks=looks, along=mouth, out=True))
        state = "free" if any(way.out for way in ways) else "captive"
        return PartState(part=piece.part, state=state, ways=tuple(ways))

    # -- joints, slots, rails, alignments -------------------------------------------------------

    def _level(self, one: Fastening) -> Tightness:
        return self.state.tightness(one.id)

    def joint(self, joint: Joint) -> JointState:
        """How far a joint is."""
        if joint.belt is not None or joint.cable is not None:
            laid = joint.id in self.state.routed
            return JointState(joint=joint.id, level="laid" if laid else "absent", screws={})
        levels = [self._level(one) for one in joint.fastenings]
        counts = {LEVELS[level]: levels.count(level) for level in Tightness if level in levels}
        level = LEVELS[min(levels)] if levels else "no screws"
        return JointState(joint=joint.id, level=level, screws=counts)

    def slots(self) -> Iterator[SlotState]:
        """The slots of the members that are there."""
        for row, lying, ends in self.rows:
            pieces = tuple(piece.part for piece in lying)
            yield SlotState(
                member=row.member, slot=row.slot, looks=row.looks, pieces=pieces, open_ends=tuple(ends)
            )

    def rails(self) -> Iterator[RailState]:
        """The rails that are there and that a carriage runs on some time."""
        blocks: dict[str, list[str]] = {}
        for block, rail in self.walk.rail_of.items():
            if rail in self.state.present:
                blocks.setdefault(rail, []).append(block)
        for rail, all_blocks in blocks.items():
            here = tuple(block for block in all_blocks if block in self.state.present)
            yield RailState(
                rail=rail,
                blocks=here,
                open_ends=self._open_ends(rail, all_blocks),
                kept=self._kept(rail, here),
            )

    def _open_ends(self, rail: str, blocks: list[str]) -> tuple[str, ...]:
        """The ends over which a carriage can go, the carriages themselves not counted."""
        near = self.state.group(rail) - {rail, *blocks}
        for block in blocks:
            near -= self._runs_with(block)
        ends: set[str] = set()
        for block in blocks:
            ways = self.walk.over_ends(self.machine.part[block], self.machine.part[rail])
            ends |= {end for end, probe in ways if self.reach.is_free(probe, near)}
        return tuple(sorted(ends))

    def _kept(self, rail: str, blocks: tuple[str, ...]) -> str:
        if rail in self.state.held:
            return self.state.held[rail]
        kept = [
            self.state.held.get(block) or ("belt or lead screw" if self.walk.is_tied(block) else "")
            for block in blocks
        ]
        return kept[0] if kept and all(kept) else ""

    def alignments(self) -> Iterator[AlignmentState]:
        """All characteristics, read or not."""
        for characteristic in self.machine.characteristics:
            joints = self.walk.aligned.get(characteristic.id, ())
            reads = self.state.reads.get(characteristic.id, [])
            screws = [one for joint in joints for one in joint.fastenings]
            loose = [one for one in screws if self._level(one) < Tightness.SNUG]
            snug_at = max(
                (self.state.tight_at.get((one.id, Tightness.SNUG), -1) for one in screws), default=-1
            )
            yield AlignmentState(
                characteristic=characteristic.id,
                read_in=self.walk.step_of(reads[-1]) if reads else "",
                holds=bool(reads) and not loose and reads[-1] > snug_at,
                waits=_names(loose),
            )

    def works(self) -> Iterator[tuple[str, ...]]:
        """Structural parts by what they hang together with."""
        groups = {id(group): group for group in (self.state.group(name) for name in self.state.present)}
        found = [
            tuple(part.id for part in self.machine.placed if part.id in group and not part.joint)
            for group in groups.values()
        ]
        yield from sorted((work for work in found if work), key=lambda work: (-len(work), work[0]))


def _held_by(joint: Joint, one: Fastening) -> set[str]:
    """The parts and brackets that one screw holds together; of a screw that only presses, all its joint's."""
    parts = {grip.part for grip in one.grips} | {one.slot_member, one.host_part} - {""}
    if one.host is Host.INSERT:
        parts.add(joint.parts[-1])
    return parts if len(parts) > 1 else {*joint.parts, *parts}


def _axes(part: PlacedPart) -> list[Array]:
    """A part's own six directions in the machine frame."""
    return [part.placement.turn[:, axis] * sign for axis in range(3) for sign in (1.0, -1.0)]


def _guide(made: Iterable[Fastening], way: Array, machine: Machine) -> str:
    """What guides a loose part that way: the slot its started heads lie in, or its started screws."""
    for one in made:
        if one.head_in_slot and one.slot_member in machine.part:
            slot = machine.part[one.slot_member].placement.turn[:, 0]
            if abs(float(slot @ way)) > 1 - 1e-6:
                return f"along slot {one.slot_face} of {one.slot_member}"
        if abs(float(np.asarray(one.axis) @ way)) > 1 - 1e-6:
            return f"along the screws of {one.joint}"
    return ""


def _names(fastenings: Iterable[Fastening]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.joint for one in fastenings))


def _triple(way: Array) -> Triple:
    x, y, z = (np.round(way, 9) + 0.0).tolist()
    return (x, y, z)
