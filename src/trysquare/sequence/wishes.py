"""What the trade's order asks of a machine beyond what its joints and solids force.

The base plane is squared before anything stands on it, what stands on it from below upwards, the whole
frame before its rails, the rails before the gantry, free motion before the belts, and squareness is read
again with the belts on. Panels come last.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from trysquare.machine.values import Characteristic, Joint
from trysquare.sequence.side_up import floor_of, side_for
from trysquare.sequence.truths import GEOMETRY, Truths

HANDY, LIGHT, USUAL, HEAVY = 1, 5, 50, 5000
"""How much a wish weighs: what is handy, and given up without a word; what saves work; what truing needs;
what a rule of every order asks, too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """`first` comes before `after`, each a verb and what it is done to.

    Verbs: "start"; "join", the first turn that brings the parts together; "snug", which is final where
    nothing is left snug; "tighten"; "read", "again" (the second reading, with the belts on); "route".
    `firm`: without it the order would make no sense; others are given up, with a word, where no order
    can keep them: of several the lightest `weight`.
    """

    first: tuple[str, str]
    after: tuple[str, str]
    reason: str
    weight: int = USUAL
    firm: bool = False


def wishes_of(truths: Truths) -> Iterator[Wish]:
    """All that the trade's order asks of a machine."""
    return _Wishes(truths).all()


class _Wishes:
    def __init__(self, truths: Truths) -> None:
        self.truths, self.machine, self.walk = truths, truths.machine, truths.walk
        self.floor_mm = floor_of(truths.walk.reach)

    def all(self) -> Iterator[Wish]:
        yield from self._readings()
        yield from self._frame_upwards()
        yield from self._on_the_frame()
        yield from self._on_the_bench()
        yield from self._rails()
        yield from self._gantry()
        yield from self._belts()
        yield from self._panels_last()

    def _readings(self) -> Iterator[Wish]:
        for one in self.machine.characteristics:
            read = ("read", one.id)
            if one.sort in GEOMETRY:
                for joint in self.truths.about[one.id]:
                    yield Wish(
                        first=("snug", joint.id),
                        after=read,
                        reason="what is read before it is snug will move",
                    )
                    yield Wish(
                        first=read, after=("tighten", joint.id), reason=f"{one.id} is read before it is final"
                    )
                if not self.truths.about[one.id]:
                    yield from self._when_final(one)
            elif one.sort == "free-motion":
                for joint in self.truths.about[one.id]:
                    yield Wish(first=("snug", joint.id), after=read, reason=f"{one.id} needs {joint.id}")
            else:
                yield from self._when_final(one)
                for joint in self.machine.joints:
                    laid = joint.belt is not None or joint.cable is not None
                    if laid and set(joint.parts) & set(one.of):
                        reason = f"{one.id} is read on {joint.id}"
                        yield Wish(first=("route", joint.id), after=read, reason=reason)
                        for name in self.truths.held_by(joint.parts) if joint.belt is not None else ():
                            yield Wish(first=("tighten", name), after=read, reason=reason)

    def _when_final(self, one: Characteristic) -> Iterator[Wish]:
        for name in self.truths.held_by(one.of):
            yield Wish(
                first=("tighten", name), after=("read", one.id), reason=f"{one.id} is read on what is final"
            )

    def _frame_upwards(self) -> Iterator[Wish]:
        base = {one.id for one in self.truths.base()}
        for one in self.truths.frame:
            for name in self.truths.under[one.id]:
                reason = f"{one.id} stands on {name}"
                for below in self.truths.about[name]:
                    if name not in base:
                        yield Wish(first=("tighten", below.id), after=("read", one.id), reason=reason)
                        continue
                    for joint in self.truths.about[one.id]:
                        if not self._beyond_is_free(joint, name):
                            yield Wish(first=("tighten", below.id), after=("join", joint.id), reason=reason)

    def _beyond_is_free(self, joint: Joint, name: str) -> bool:
        """Whether a joint does not reach a characteristic's parts."""
        of = next(one.of for one in self.truths.frame if one.id == name)
        return not set(joint.parts) & set(of)

    def _on_the_frame(self) -> Iterator[Wish]:
        """What is fixed to the frame comes when that part of it is true."""
        own = {joint.id for one in self.truths.frame for joint in self.truths.about[one.id]}
        for joint in self.machine.joints:
            if joint.id in own or not joint.fastenings:
                continue
            for one in self.truths.frame:
                if set(joint.parts) & set(one.of):
                    yield from self._true_before(one, ("join", joint.id), f"{joint.id} goes on what is true")

    def _on_the_bench(self) -> Iterator[Wish]:
        """What is fixed to a part goes on it before the part is fixed to a beam: in the hand every side of it
        can lie up."""
        for joint in self.machine.joints:
            if not joint.fastenings or any(self.truths.is_base(part) for part in joint.parts):
                continue
            for name in self.truths.held_by(joint.parts):
                if any(self.truths.is_beam(part) for part in self.machine.joint[name].parts):
                    reason = f"{joint.id} is done on the bench"
                    yield Wish(first=("tighten", joint.id), after=("join", name), reason=reason, weight=HANDY)

    def _true_before(
        self, one: Characteristic, after: tuple[str, str], reason: str, weight: int = USUAL
    ) -> Iterator[Wish]:
        for joint in self.truths.about[one.id]:
            yield Wish(first=("tighten", joint.id), after=after, reason=reason, weight=weight)
        yield Wish(first=("read", one.id), after=after, reason=reason, weight=weight)

    def _rails(self) -> Iterator[Wish]:
        """The whole frame before the rails that lie on it; the work is turned over before that, too."""
        for rail in self.truths.rail_joints:
            carrying = self.truths.below(rail.parts)
            if not carrying:
                continue
            start = ("start", rail.id)
            reason = "the frame is true before its rails"
            for one in self.truths.frame:
                yield from self._true_before(one, start, reason, USUAL if one in carrying else LIGHT)
            for joint in self.truths.frame_joints:
                yield Wish(first=("tighten", joint.id), after=start, reason=reason, weight=LIGHT)
            true = {part for one in carrying for part in one.of}
            for joint in self.machine.joints:
                if self._upside_down(joint) and not true.isdisjoint(joint.parts) and joint is not rail:
                    reason = "the work is turned over before its rails are on"
                    yield Wish(first=("tighten", joint.id), after=start, reason=reason, weight=LIGHT)

    def _upside_down(self, joint: Joint) -> bool:
        """Whether the work must lie upside down for a joint."""
        outside = [one for one in joint.fastenings if not one.head_in_slot]
        return side_for(outside, self.floor_mm) == "-z"

    def _gantry(self) -> Iterator[Wish]:
        for reference, follower, tie in self.walk.tied_rails:
            on_carriages = [
                name for name in tie if set(self.machine.joint[name].parts) & self.walk.rail_of.keys()
            ]
            tied = {part for name in tie for part in self.machine.joint[name].parts} - self.truths.guides
            rails = (self.machine.joint[reference].parts[0], self.machine.joint[follower].parts[0])
            for name in on_carriages:
                for stop in dict.fromkeys(
                    chain.from_iterable(self.truths.stops.get(rail, ()) for rail in rails)
                ):
                    reason = f"{stop} keeps the carriages on their rails"
                    yield Wish(first=("tighten", stop), after=("join", name), reason=reason, weight=LIGHT)
                reason = f"{reference} is the reference rail: the gantry goes on what is final"
                yield Wish(first=("tighten", reference), after=("join", name), reason=reason)
                for rail in self.truths.rail_joints:
                    if rail.id not in (reference, follower) and set(rail.parts) & tied:
                        reason = f"{rail.id} is true before its beam is part of the gantry"
                        yield Wish(
                            first=("tighten", rail.id), after=("join", name), reason=reason, weight=LIGHT
                        )

    def _belts(self) -> Iterator[Wish]:
        tied = {name for _, _, tie in self.walk.tied_rails for name in tie}
        straight = {joint.id for one in self.truths.frame for joint in self.truths.about[one.id]}
        straight |= tied | {joint.id for joint in self.truths.rail_joints}
        for belt in self.machine.joints:
            if belt.belt is None:
                continue
            for one in self.machine.characteristics:
                if one.sort == "free-motion":
                    yield Wish(
                        first=("read", one.id), after=("route", belt.id), reason="drag is felt without belts"
                    )
            for name in sorted(straight | self._bearing(belt)):
                yield Wish(
                    first=("tighten", name), after=("route", belt.id), reason="belts pull on what is final"
                )
            for again in self.truths.read_again:
                reason = f"{again.id} once more with the belts on"
                yield Wish(first=("route", belt.id), after=("again", again.id), reason=reason, firm=True)
                for name in self.truths.held_by(belt.parts):
                    yield Wish(first=("tighten", name), after=("again", again.id), reason=reason)

    def _bearing(self, belt: Joint) -> set[str]:
        """Joints that carry what a belt runs over, as far as a member or a guide; an open belt's clamps are
        closed when it lies in them."""
        spans = belt.belt.spans if belt.belt is not None else ()
        ends = {spans[0].begins, spans[-1].ends} if spans and belt.belt and not belt.belt.closed else set()
        found: set[str] = set()
        todo = [part for part in belt.parts if part not in ends]
        seen = set(todo)
        while todo:
            for name in self.walk.joints_of_part.get(todo.pop(), ()):
                joint = self.machine.joint[name]
                if not joint.fastenings:
                    continue
                found.add(name)
                for part in joint.parts:
                    if part not in seen and part not in ends and not self.truths.is_base(part):
                        seen.add(part)
                        todo.append(part)
        return found

    def _panels_last(self) -> Iterator[Wish]:
        for panel in self.truths.panels:
            after = ("join", panel.id)
            for joint in self.machine.joints:
                if joint.belt is not None:
                    yield Wish(
                        first=("route", joint.id), after=after, reason="panels come last", weight=LIGHT
                    )
            for one in self.machine.characteristics:
                if one.sort == "free-motion":
                    yield Wish(first=("read", one.id), after=after, reason="panels come last", weight=LIGHT)
            for one in self.truths.read_again:
                yield Wish(first=("again", one.id), after=after, reason="panels come last", weight=LIGHT)
