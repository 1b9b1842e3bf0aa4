"""What an operation asks of the solids: ways in, slot ends, key lines, room for a hot iron.

Each question has several choices and one free choice is enough; a choice is free when none of its
swept bodies crosses anything that stands at the same place of work. These are the same bodies that
the order rules hold into the machine, so both give the same verdict.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import SlotNut
from trysquare.ground.placement import DIRECTIONS, Array
from trysquare.machine.values import Fastening
from trysquare.sequence.directions import joint_directions
from trysquare.sequence.operations import Operation, Work
from trysquare.sequence.reach import SWING_WINDOWS, Probe, Reach
from trysquare.sequence.rules_way_in_pieces import SCREW_ROOM_MM
from trysquare.sequence.ways_in import TWO_LEG_MM
from trysquare.stock.bringing import sort_of

BELT_SIDE_MM = 60.0  # how far beside its pulleys a closed belt is held before it goes on

Body = Callable[[], Probe | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One way to do it. `bodies` are made when somebody asks: sweeping is not cheap."""

    says: str  # "from +z", "through end a", "with a straight key"
    bodies: tuple[Body, ...]
    ignoring: frozenset[str] = frozenset()
    only: tuple[frozenset[str] | None, ...] = ()  # for each body what alone can close it; none: all can

    def held_in(self, present: Collection[str]) -> Iterator[tuple[Body, Collection[str]]]:
        """Each body with those present pieces that can close it."""
        for index, body in enumerate(self.bodies):
            only = self.only[index] if self.only else None
            yield body, present if only is None else only.intersection(present)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing an operation needs: at least one of its choices must be free.

    `piece`: whose place of work counts. `not_yet`: the operation's own pieces that come after this
    question. `bends`: further choices, asked only when no straight one is free.
    """

    piece: str
    asks: str  # "a way in for frame/beam"
    choices: tuple[Choice, ...]
    not_yet: frozenset[str] = frozenset()
    bends: Callable[[], Iterator[Choice]] | None = None


def questions_of(work: Work, operation: Operation) -> tuple[Question, ...]:
    """Everything an operation asks. Readings and cables ask nothing."""
    verb = operation.verb
    if verb == "place":
        return tuple(_comes(work, operation))
    if verb == "insert":
        return tuple(_slots(work, operation) if operation.sort == "slot" else _comes(work, operation))
    if verb == "press":
        return tuple(_irons(work, operation))
    if verb == "start":
        return (*_screws(work, operation), *_keys(work, operation))
    if verb in ("snug", "tighten"):
        return tuple(_keys(work, operation))
    if verb == "route":
        return tuple(_belts(work, operation))
    return ()


def direction_name(way: Array) -> str:
    """The name of a direction of the machine frame, +z, or the three numbers of any other."""
    for name, direction in DIRECTIONS.items():
        if float(np.abs(way - np.asarray(direction)).max()) < 1e-6:
            return name
    return ",".join(f"{number:.3g}" for number in way)


def near(choice: Choice, present: Collection[str], not_yet: Collection[str]) -> list[str]:
    """Present pieces that could close a choice: those near one of its bodies."""
    ignoring = choice.ignoring.union(not_yet)
    found: dict[str, None] = {}
    for body, there in choice.held_in(present):
        probe = body()
        if probe is not None:
            found |= dict.fromkeys(one for one in probe.near if one in there and one not in ignoring)
    return list(found)


def blockers(work: Work, choice: Choice, present: Collection[str], not_yet: Collection[str]) -> list[str]:
    """Present pieces that close a choice; empty when it is free."""
    ignoring = choice.ignoring.union(not_yet)
    found: dict[str, None] = {}
    for body, there in choice.held_in(present):
        found |= dict.fromkeys(work.reach.blockers(body(), there, ignoring))
    return list(found)


def first_blocker(
    work: Work, choice: Choice, present: Collection[str], not_yet: Collection[str]
) -> str | None:
    """One present piece that closes a choice, None when it is free; quicker than all of them."""
    ignoring = choice.ignoring.union(not_yet)
    for body, there in choice.held_in(present):
        found = met_first(work.reach, body(), there, ignoring)
        if found is not None:
            return found
    return None


def met_first(
    reach: Reach, probe: Probe | None, present: Collection[str], ignoring: Collection[str]
) -> str | None:
    """A present piece that a probe crosses, None when it is free."""
    if probe is None:
        return None
    there = [other for other in probe.near if other in present and other not in ignoring]
    for other in there:
        if probe.verdict.get(other):
            return other
    there.sort(key=lambda other: -reach.bulk[other])
    for other in there[:2]:  # what is large is in the way most often
        if reach.blockers(probe, (other,)):
            return other
    if reach.is_free(probe, present, ignoring):
        return None
    # Something is in the way: which? The pairs' verdicts are kept, so that asking one by one is cheap.
    return next(other for other in there if reach.blockers(probe, (other,)))


def _comes(work: Work, operation: Operation) -> Iterator[Question]:
    walk = work.walk
    for index, piece in enumerate(operation.pieces):
        not_yet = frozenset(operation.pieces[index:])
        placed = work.machine.part[piece]
        rail = walk.rail_of.get(piece)
        if rail is not None and not placed.joint:
            ends = walk.rail_ways(placed, work.machine.part[rail])
            choices = tuple(
                Choice(says=f"over end {end} of {rail}", bodies=(_known(probe),), ignoring=frozenset({rail}))
                for end, probe in ends
            )
            yield Question(
                piece=piece, asks=f"an open rail end for {piece}", choices=choices, not_yet=not_yet
            )
            continue
        if not placed.joint and piece in walk.joints_of_part:
            continue  # it lies apart until a joint takes it
        joints = (placed.joint,) if placed.joint else walk.joints_of_part.get(piece, ())
        ways = joint_directions(work.machine, piece, joints)
        yield Question(
            piece=piece,
            asks=f"a way in for {piece}",
            choices=tuple(
                Choice(says=f"from {direction_name(way)}", bodies=(_path(work, piece, way),)) for way in ways
            ),
            not_yet=not_yet,
            bends=lambda piece=piece, ways=ways: bends_of(work, piece, ways),  # type: ignore[misc]
        )


def bends_of(work: Work, piece: str, ways: list[Array]) -> Iterator[Choice]:
    """Ways round one corner."""
    for first in ways:
        for leg in TWO_LEG_MM:
            for second in ways:
                if abs(float(first @ second)) < 0.9:
                    yield Choice(
                        says=f"from {direction_name(second)}, then {leg:g} mm from {direction_name(first)}",
                        bodies=(_path(work, piece, first, leg), _corner(work, piece, first, leg, second)),
                    )


def _slots(work: Work, operation: Operation) -> Iterator[Question]:
    coming = frozenset(operation.pieces)
    for piece in operation.pieces:
        channel = work.walk.slot_of.get(piece)
        if channel is None:  # a carrier goes where its nuts go
            continue
        nut = work.machine.part[piece]
        ignoring = frozenset({channel.member, *work.walk.carrier_of.get(piece, ())})
        ways = [
            Choice(
                says=f"through end {end} of {channel.member}",
                bodies=(lambda nut=nut, channel=channel, end=end: work.reach.slot_way(nut, channel, end),),  # type: ignore[misc]
                ignoring=ignoring,
            )
            for end in ("a", "b")
        ]
        if isinstance(nut.type.standard, SlotNut) and nut.type.standard.insertable:
            ways.append(
                Choice(
                    says=f"through the mouth of slot {channel.name} of {channel.member}",
                    bodies=(lambda nut=nut, channel=channel: work.reach.mouth_way(nut, channel),),  # type: ignore[misc]
                    ignoring=ignoring,
                )
            )
        asks = f"a way for {piece} into slot {channel.name} of {channel.member}"
        yield Question(piece=piece, asks=asks, choices=tuple(ways), not_yet=coming)


def _irons(work: Work, operation: Operation) -> Iterator[Question]:
    for index, piece in enumerate(operation.pieces):
        yield Question(
            piece=piece,
            asks=f"room for the hot iron over {piece}",
            choices=(Choice(says="straight from above the hole", bodies=(_iron(work, piece),)),),
            not_yet=frozenset(operation.pieces[index:]),
        )


def _screws(work: Work, operation: Operation) -> Iterator[Question]:
    by_screw = {one.screw: one for one in operation.fast}
    for index, piece in enumerate(operation.pieces):
        if piece not in by_screw or sort_of(work.machine.part[piece]) != "screw":
            continue
        one = by_screw[piece]
        far = one.screw_type.length_mm + SCREW_ROOM_MM
        way = Choice(says="along its own axis", bodies=(_path(work, piece, np.asarray(one.axis), far),))
        not_yet = frozenset(operation.pieces[index:])
        yield Question(piece=piece, asks=f"a way in for screw {one.id}", choices=(way,), not_yet=not_yet)


def _keys(work: Work, operation: Operation) -> Iterator[Question]:
    for one in operation.fast:
        if one.screw_type.key_mm > 0:
            yield key_question(work, one)


def key_question(work: Work, one: Fastening) -> Question:
    """A straight key to a screw, or a short arm with room to swing."""
    itself = frozenset({one.screw})
    straight = Choice(
        says="with a straight key", bodies=(lambda: work.reach.straight_key(one),), ignoring=itself
    )
    swings = tuple(
        Choice(
            says="with a short arm",
            bodies=(lambda window=window: work.reach.short_key(one, window),),  # type: ignore[misc]
            ignoring=itself,
        )
        for window in range(SWING_WINDOWS)
    )
    aside = tuple(_axes_aside(work, one, itself))
    return Question(piece=one.screw, asks=f"a key line to {one.id}", choices=(straight, *swings, *aside))


def _axes_aside(work: Work, one: Fastening, itself: frozenset[str]) -> Iterator[Choice]:
    """A straight key with an axis moved to one end of its travel, out of the way."""
    for axis in work.machine.axes:
        moving, still = work.aside(axis)
        if one.screw in moving:
            continue
        for shift in (-axis.at_mm, axis.travel_mm - axis.at_mm):
            yield Choice(
                says=f"with a straight key and axis {axis.id} at the end of its travel",
                bodies=(
                    lambda: work.reach.straight_key(one),
                    lambda axis=axis, shift=shift: work.reach.key_beside(one, axis.direction, shift),  # type: ignore[misc]
                ),
                ignoring=itself,
                only=(still, moving),
            )


def _belts(work: Work, operation: Operation) -> Iterator[Question]:
    joint = work.machine.joint[operation.of]
    if joint.belt is None or not joint.belt.closed:
        return
    pulleys = frozenset(joint.parts)
    for piece in operation.pieces:
        axis = work.machine.part[piece].placement.turn[:, 2]
        yield Question(
            piece=piece,
            asks=f"a way for the closed belt {piece} over its pulleys",
            choices=tuple(
                Choice(
                    says=f"from {direction_name(side)}",
                    bodies=(_path(work, piece, side, BELT_SIDE_MM),),
                    ignoring=pulleys,
                )
                for side in (axis, -axis)
            ),
            not_yet=frozenset({piece}),
        )


def _iron(work: Work, piece: str) -> Body:
    return lambda: work.reach.iron(piece)


def _known(probe: Probe | None) -> Body:
    return lambda: probe


def _path(work: Work, piece: str, way: Array, far_mm: float | None = None) -> Body:
    return lambda: work.reach.path(piece, way, far_mm)


def _corner(work: Work, piece: str, first: Array, leg_mm: float, second: Array) -> Body:
    return lambda: work.reach.corner(piece, first, leg_mm, second)
