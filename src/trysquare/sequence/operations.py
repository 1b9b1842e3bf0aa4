"""All there is to do to a finished machine, as single operations, and what each plainly needs before it.

An operation is the least that an order moves as one: placing a part, putting a joint's nuts into one
member, starting the screws of one loose member, snugging or tightening a joint, reading a
characteristic, laying a belt. What stands in whose way is another question (`undoing`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from trysquare.catalogue.values import BlockSize
from trysquare.machine.values import Axis, Fastening, Host, Joint, Kind, Machine, PlacedPart
from trysquare.sequence.reach import Reach
from trysquare.sequence.rules_listing import head_gap_mm
from trysquare.sequence.side_up import floor_of, side_for
from trysquare.sequence.truths import Truths
from trysquare.sequence.walk import Walk
from trysquare.sequence.wishes import HEAVY, wishes_of
from trysquare.stock.bringing import sort_of

Reason = str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Operation:
    """One thing to do. `verb` is an action's verb; `pieces` are the ids it brings, in coming order.

    `of` is the part, joint or characteristic it is done to; `fastenings` name single screws where not
    the whole joint is meant; `fast` are all the screws it turns or feeds.
    """

    number: int
    verb: str
    of: str
    unit: str
    pieces: tuple[str, ...] = ()
    fast: tuple[Fastening, ...] = ()
    fastenings: tuple[str, ...] = ()
    gap_mm: float | None = None
    sort: str = ""  # of insert: "slot" or "free" nuts, "bracket"; of read: "again"
    up: str = ""  # the side that must lie up for a key: "+z", "-z", or "" when either will do

    @property
    def name(self) -> str:
        """How an operation is called in words: "tighten frame/corners"."""
        what = f"{self.of} ({', '.join(name.rpartition('.')[2] for name in self.fastenings)})"
        return f"{self.verb} {what if self.fastenings else self.of}"


@dataclass(slots=True)
class Work:
    """A machine's operations. `needs[b][a]` is the reason why a must come before b; those in `soft`, as
    (a, b), are given up, with a word, when nothing else works, the lightest first."""

    machine: Machine
    walk: Walk
    operations: list[Operation] = field(default_factory=list)
    needs: dict[int, dict[int, Reason]] = field(default_factory=dict)
    soft: dict[tuple[int, int], int] = field(default_factory=dict)  # and how much each weighs
    bringer: dict[str, int] = field(default_factory=dict)  # piece -> operation that brings it
    asides: dict[str, tuple[frozenset[str], frozenset[str]]] = field(default_factory=dict)

    @property
    def reach(self) -> Reach:
        return self.walk.reach

    def aside(self, axis: Axis) -> tuple[frozenset[str], frozenset[str]]:
        """All that an axis moves, and all that stands still meanwhile."""
        if axis.id not in self.asides:
            moving = frozenset(axis.moves) | self.walk.carried_by_axis[axis.id]
            self.asides[axis.id] = moving, frozenset(self.machine.part) - moving
        return self.asides[axis.id]

    def followers(self) -> dict[int, dict[int, Reason]]:
        """`needs` turned round."""
        found: dict[int, dict[int, Reason]] = {one.number: {} for one in self.operations}
        for after, firsts in self.needs.items():
            for first, reason in firsts.items():
                found[first][after] = reason
        return found

    def need(self, after: Operation | None, first: Operation | None, reason: Reason) -> None:
        """Says that `first` comes before `after`; nothing when one of them does not exist."""
        if after is not None and first is not None and after is not first:
            self.needs[after.number].setdefault(first.number, reason)


def work_of(
    machine: Machine, reach: Reach | None = None, *, split: Iterable[str] = (), trade: bool = False
) -> Work:
    """Every operation of a machine. `split`: joints whose screws are started and fed one by one.

    `trade`: also what good practice asks of a whole order, most of it softly (`wishes`). Without it only
    what joints and solids force is needed: enough to ask whether something can be done at all.
    """
    bare = Walk(machine, reach)
    work = Work(machine=machine, walk=bare)
    maker = _Maker(work, frozenset(split), Truths(bare) if trade else None)
    maker.make()
    return work


class _Maker:
    """Collects operations joint by joint."""

    def __init__(self, work: Work, split: frozenset[str], truths: Truths | None) -> None:
        self.work, self.machine, self.split, self.truths = work, work.machine, split, truths
        self.floor_mm = floor_of(work.reach)
        self.place: dict[str, Operation] = {}
        self.final: dict[str, Operation] = {}
        self.snugged: dict[str, Operation] = {}
        self.starts: dict[str, list[Operation]] = {}
        self.read: dict[str, Operation] = {}
        self.again: dict[str, Operation] = {}
        self.routes: dict[str, Operation] = {}
        tied = work.walk.tied_rails
        runs = any(one.sort == "free-motion" for one in work.machine.characteristics)
        self.snugged_first = {name for _, other, tie in tied for name in (other, *tie)} if runs else set()
        if truths is not None:
            self.snugged_first |= truths.snug_first

    def make(self) -> None:
        for part in self.machine.placed:
            if not part.joint and part.type.kind is not Kind.JIG:
                self.place[part.id] = self._add("place", part.id, part.unit, pieces=(part.id,))
        for joint in self.machine.joints:
            self._joint(joint)
        for block, rail in self.work.walk.rail_of.items():
            self.work.need(self.place.get(block), self.place.get(rail), f"{block} runs on {rail}")
        self._readings()
        self._tied_rails()
        if self.truths is not None:
            self._as_the_trade_does(self.truths)

    def _add(self, verb: str, of: str, unit: str, **more: object) -> Operation:
        fast: tuple[Fastening, ...] = more.get("fast", ())  # type: ignore[assignment]
        in_hand = verb == "start" and bool(fast) and fast[0].head_in_slot  # its member lies on the bench
        up = side_for(fast, self.floor_mm) if verb in ("start", "snug", "tighten") and not in_hand else ""
        one = Operation(number=len(self.work.operations), verb=verb, of=of, unit=unit, up=up, **more)  # type: ignore[arg-type]
        self.work.operations.append(one)
        self.work.needs[one.number] = {}
        for piece in one.pieces:
            self.work.bringer.setdefault(piece, one.number)
        return one

    # -- joints ---------------------------------------------------------------------------------

    def _joint(self, joint: Joint) -> None:
        before_start = [self._presses(joint), self._brackets(joint)]
        feeds = self._feeds(joint)
        if joint.fastenings:
            self._screws(joint, before_start, feeds)
        if joint.belt is not None or joint.cable is not None:
            route = self._add("route", joint.id, joint.unit, pieces=_pieces(joint, ("belt",)))
            self.routes[joint.id] = route
            self._parts_first(route, joint, joint.parts)
            if joint.cable is not None and joint.cable.plug_mm > 0:
                crimp = self._add("crimp", joint.id, joint.unit)
                self.work.need(crimp, route, "a cable is laid before its connector is fitted")

    def _presses(self, joint: Joint) -> Operation | None:
        inserts = _pieces(joint, ("insert",))
        if not inserts:
            return None
        press = self._add("press", joint.id, joint.unit, pieces=inserts)
        self._parts_first(press, joint, joint.parts[-1:])
        return press

    def _brackets(self, joint: Joint) -> Operation | None:
        brackets = _pieces(joint, ("bracket",))
        if not brackets:
            return None
        bring = self._add("place", joint.id, joint.unit, pieces=brackets, sort="bracket")
        self._parts_first(bring, joint, joint.parts)
        return bring

    def _feeds(self, joint: Joint) -> list[Operation]:
        """Nuts, bars and their carriers: one operation for each member they go into."""
        groups: dict[str, list[Fastening]] = {}
        for one in joint.fastenings:
            if one.head_in_slot or one.host not in (Host.SLOT_NUT, Host.BAR, Host.NUT):
                continue
            where = one.slot_member if one.host is not Host.NUT else ""
            key = f"{where} {one.id}" if joint.id in self.split and one.host is not Host.BAR else where
            groups.setdefault(key, []).append(one)
        brackets = bool(_pieces(joint, ("bracket",)))
        feeds: list[Operation] = []
        for group in groups.values():
            free = group[0].host is Host.NUT
            pieces = [name for one in group for name in (one.host_part, one.carrier) if name]
            whole = len(groups) == 1 and not brackets
            feed = self._add(
                "insert",
                joint.id,
                joint.unit,
                pieces=tuple(dict.fromkeys(pieces)),
                fast=tuple(group),
                fastenings=() if whole else tuple(one.id for one in group),
                sort="free" if free else "slot",
            )
            if not free:
                self.work.need(
                    feed, self.place.get(group[0].slot_member), f"its slot is {group[0].slot_member}'s"
                )
            else:
                self._parts_first(feed, joint, [one.grips[-1].part for one in group if one.grips][:1])
            feeds.append(feed)
        return feeds

    def _screws(self, joint: Joint, first: list[Operation | None], feeds: list[Operation]) -> None:
        groups: dict[str, list[Fastening]] = {}
        for one in joint.fastenings:
            key = one.host_part if one.head_in_slot else ""
            groups.setdefault(f"{key} {one.id}" if joint.id in self.split else key, []).append(one)
        starts = [self._start(joint, group, len(groups) == 1) for group in groups.values()]
        self.starts[joint.id] = starts
        for start in starts:
            for operation in first:
                self.work.need(start, operation, "the screws go through or into it")
            names = {one.id for one in start.fast}
            for feed in feeds:
                if names & {one.id for one in feed.fast}:
                    self.work.need(start, feed, "a screw needs its nut")
        needs_snug = bool(joint.align) or joint.id in self.snugged_first
        levels = ["snug", "tighten"] if needs_snug else ["tighten"]
        before = starts
        for verb in levels:
            turn = self._add(verb, joint.id, joint.unit, fast=joint.fastenings)
            self._parts_first(turn, joint, joint.parts)
            for earlier in before:
                self.work.need(turn, earlier, "started, then snug, then final")
            before = [turn]
            (self.snugged if verb == "snug" else self.final)[joint.id] = turn

    def _start(self, joint: Joint, group: list[Fastening], whole: bool) -> Operation:
        names = {one.id for one in group}
        pieces: list[str] = []
        for one in group:
            pieces += [*one.washers, one.screw]
        if whole:  # what nothing else brings, such as washers under nuts
            known = {*pieces, *self.work.bringer}
            pieces = [
                *(piece.id for piece in joint.brings if piece.id not in known and _comes(piece)),
                *pieces,
            ]
        gap = head_gap_mm(group[0], self.machine)
        start = self._add(
            "start",
            joint.id,
            joint.unit,
            pieces=tuple(dict.fromkeys(pieces)),
            fast=tuple(group),
            fastenings=() if whole else tuple(sorted(names, key=lambda name: int(name.rpartition(".")[2]))),
            gap_mm=None if gap is None else round((gap[0] + gap[1]) / 2, 1),
        )
        if group[0].head_in_slot:
            self._parts_first(start, joint, [one.host_part for one in group])
        elif whole:
            self._parts_first(start, joint, joint.parts)
        else:
            needed = [grip.part for one in group for grip in one.grips]
            needed += [name for one in group for name in (one.host_part, one.slot_member, one.room_part)]
            self._parts_first(start, joint, [name for name in needed if name in joint.parts])
        return start

    def _parts_first(self, operation: Operation, joint: Joint, parts: Iterable[str]) -> None:
        for part in dict.fromkeys(parts):
            bring = self.place.get(part)
            self.work.need(operation, bring, f"{joint.id} joins {part}")

    # -- truth ----------------------------------------------------------------------------------

    def _readings(self) -> None:
        for characteristic in self.machine.characteristics:
            aligned = self.work.walk.aligned.get(characteristic.id, ())
            about = self.truths.about[characteristic.id] if self.truths is not None else aligned
            unit = about[0].unit if about else self._unit_of(characteristic.of)
            read = self._add("read", characteristic.id, unit)
            self.read[characteristic.id] = read
            for part in characteristic.of:
                self.work.need(read, self.place.get(part), f"{characteristic.id} is read on {part}")
            for joint in aligned:
                if joint.id in self.final:
                    self.work.need(read, self.snugged[joint.id], "what is read before it is snug will move")
                    self.work.need(
                        self.final[joint.id], read, f"{characteristic.id} is read before it is final"
                    )
            if self.truths is None and not aligned and characteristic.sort != "free-motion":
                for name in {
                    name for part in characteristic.of for name in self.work.walk.joints_of_part.get(part, ())
                }:
                    self.work.need(
                        read, self.final.get(name), f"{characteristic.id} is read on what is final"
                    )

    def _unit_of(self, parts: tuple[str, ...]) -> str:
        return self.machine.part[parts[-1]].unit if parts else ""

    def _tied_rails(self) -> None:
        """Reference rail final, gantry tied, run, and only then the follower rail final."""
        runs = [one for one in self.machine.characteristics if one.sort == "free-motion"]
        if not runs:
            return
        for reference, follower, tie in self.work.walk.tied_rails:
            rails = {*self.machine.joint[reference].parts, *self.machine.joint[follower].parts}
            near = [one for one in runs if set(one.of) & self._carried(rails)]
            run = self.read[(near or runs)[0].id]
            last = self.final.get(follower)
            reason = f"{follower} follows: the gantry runs on both rails before it is final"
            if last is None:
                continue
            self._softly(last, run, reason)
            self._softly(run, self.snugged.get(follower), reason)
            self._softly(run, self.final.get(reference), f"{reference} is the reference rail")
            for name in tie:
                self._softly(run, self.snugged.get(name) or self.final.get(name), f"{name} ties the gantry")

    def _as_the_trade_does(self, truths: Truths) -> None:
        for one in truths.read_again:
            first = self.read[one.id]
            again = self.again[one.id] = self._add("read", one.id, first.unit, sort="again")
            self.work.need(again, first, "it is read once more")
        for wish in wishes_of(truths):
            for after in self._done_by(wish.after):
                for first in self._done_by(wish.first):
                    if wish.firm:
                        self.work.need(after, first, wish.reason)
                    else:
                        self._softly(after, first, wish.reason, wish.weight)

    def _done_by(self, doing: tuple[str, str]) -> list[Operation]:
        """The operations that a wish speaks of; none when the machine has no such."""
        verb, of = doing
        started = self.starts.get(of, [])
        turned = self.snugged.get(of) or self.final.get(of)
        if verb == "start":
            return started
        if verb == "join" and started and not any(one.head_in_slot for one in started[0].fast):
            return started
        found = {
            "join": turned,
            "snug": turned,
            "tighten": self.final.get(of),
            "read": self.read.get(of),
            "again": self.again.get(of),
            "route": self.routes.get(of),
        }[verb]
        return [] if found is None else [found]

    def _softly(self, after: Operation, first: Operation | None, reason: Reason, weight: int = HEAVY) -> None:
        if first is None or after is first:
            return
        pair = (first.number, after.number)
        if first.number not in self.work.needs[after.number]:
            self.work.need(after, first, reason)
            self.work.soft[pair] = weight
        elif pair in self.work.soft:
            self.work.soft[pair] = max(weight, self.work.soft[pair])

    def _carried(self, rails: set[str]) -> set[str]:
        blocks = {block for block, rail in self.work.walk.rail_of.items() if rail in rails}
        return blocks | rails | {
            part for block in blocks for name in self.work.walk.joints_of_part.get(block, ())
            for part in self.machine.joint[name].parts
        }  # fmt: skip


def is_carriage(part: PlacedPart) -> bool:
    """Whether a part is a block of a guide."""
    return isinstance(part.type.standard, BlockSize)


def _pieces(joint: Joint, sorts: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(piece.id for piece in joint.brings if sort_of(piece) in sorts)


def _comes(piece: PlacedPart) -> bool:
    return sort_of(piece) not in ("insert", "belt", "bracket", "nut", "bar", "carrier")
