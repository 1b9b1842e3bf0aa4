"""What the judge knows of a machine and books as a build goes on: what is there, what hangs together."""

from __future__ import annotations

from collections.abc import Sequence

from sequence.folders import Said
from sequence.judge_bodies import Bodies
from trysquare.catalogue.values import BlockSize
from trysquare.machine.values import Action, Fastening, Host, Joint, Machine, PlacedPart, Step

OUT, STARTED, SNUG, FINAL = range(4)
LEVELS = {"start": STARTED, "snug": SNUG, "tighten": FINAL}


class Known:
    """What follows from the machine alone."""

    def __init__(self, machine: Machine, *, plain: bool = False) -> None:
        self.machine = machine
        self.bodies = Bodies(machine, plain=plain)
        self.place = {part.id: number for number, part in enumerate(machine.placed)}
        self.weight_gram: dict[str, float] = {}
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

    def rank(self, group: set[str]) -> tuple[int, int]:
        """The larger group first; of equal ones that with the machine's first part."""
        return -len(group), min(self.place[name] for name in group)

    def _sits(self, piece: str, seat: str) -> None:
        if piece and seat and piece != seat:
            self.seat.setdefault(piece, seat)


class Booking:
    """One build as it goes on."""

    def __init__(self, known: Known, steps: Sequence[Step]) -> None:
        self.known, self.machine, self.bodies = known, known.machine, known.bodies
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

    def _first(self, what: str, name: str) -> bool:
        if (what, name) in self.once:
            return False
        self.once.add((what, name))
        return True

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
                fits = wanted is None or sort_of(piece) in wanted
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
            if self._needs(action, joint) - set(self.there):
                self.say("joint-before-its-parts", joint.id)
            if action.gap_mm is not None and action.verb in LEVELS:
                heads = [one for one in joint.fastenings if one.head_in_slot]
                if not all(gap_slides(self.machine, one, action.gap_mm) for one in heads):
                    self.say("head-gap-wrong", joint.id)
            if action.verb == "route" and joint.cable and joint.id in self.crimped:
                holes = [hole for hole in joint.cable.openings_mm if hole]
                if joint.cable.plug_mm and any(joint.cable.plug_mm > hole for hole in holes):
                    self.say("plug-larger-than-hole", joint.id)
        if action.verb == "release":
            self._release(action)

    def _needs(self, action: Action, joint: Joint) -> set[str]:
        """The parts that must be there before this is done to a joint."""
        whole = joint.id in action.joints
        named = [one for one in joint.fastenings if whole or one.id in action.fastenings]
        if action.verb == "route":
            return set(joint.parts)
        if joint.cable is not None:
            return set()
        if action.verb == "press":
            inserted = any(one.host_part in self.machine.part for one in named)
            return {joint.parts[-1]} if inserted else set()
        if action.verb not in LEVELS:
            return set()
        blind = {one.host_part for one in named if one.head_in_slot}
        if action.verb == "start" and blind:
            return blind
        return set(joint.parts) & (set(joint.parts) if whole else {p for one in named for p in touched(one)})

    def _release(self, action: Action) -> None:
        for part in action.parts:
            if part not in self.held:
                self.say("released-but-not-held", part)
            elif isinstance(self.machine.part[part].type.standard, BlockSize):
                self.once.discard(("carriage", part))


def sort_of(piece: PlacedPart) -> str:
    return piece.id.rpartition("/")[2].partition(".")[0]


def touched(one: Fastening) -> set[str]:
    return {*(grip.part for grip in one.grips), one.host_part, one.slot_member, one.room_part}


def held_by(one: Fastening) -> set[str]:
    return {*(grip.part for grip in one.grips), one.host_part, one.slot_member}


def gap_slides(machine: Machine, one: Fastening, gap_mm: float) -> bool:
    """Over the lip with 0.2 mm to spare, and 0.1 mm off the slot's floor."""
    slot = machine.part[one.slot_member].type.profile
    if slot is None:
        return True
    return slot.lip_mm + 0.2 - 1e-9 <= gap_mm <= slot.depth_mm - one.screw_type.head_height_mm - 0.1 + 1e-9
