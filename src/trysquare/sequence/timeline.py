"""When things happen in an order: when a piece comes, what it then stands with, when a screw is turned."""

from __future__ import annotations

from collections.abc import Mapping

from trysquare.machine.values import Machine
from trysquare.sequence.reach import Reach
from trysquare.sequence.state import Event, Tightness, apply, reached
from trysquare.sequence.walk import Walk


def advance(walk: Walk, event: Event) -> None:
    """Moves a walk's state past one event with all that it brings together, judging nothing."""
    state = walk.state
    for piece in event.pieces:
        state.present.setdefault(piece.id, event.at)
    for piece in event.pieces:
        for other in _stands_with(walk, piece.id):
            if other in state.present:
                state.link(piece.id, other, event.at)
    apply(state, event)


def _stands_with(walk: Walk, piece: str) -> list[str]:
    """What a piece stands with as soon as both are there: its seat, its rail or its carriages; for a part
    that no joint holds the first one it touches."""
    if piece in walk.seat_of:
        return [walk.seat_of[piece]]
    if piece in walk.rail_of:
        return [walk.rail_of[piece]]
    carriages = [block for block, rail in walk.rail_of.items() if rail == piece]
    if carriages or piece in walk.joints_of_part:
        return carriages
    return [other for other in walk.touching(piece) if other in walk.state.present][:1]


class Timeline:
    """One order of one machine, walked once to its end. Events count from 0; without steps there are none.

    `comes`: piece -> event that brings it. `turned`: fastening -> its events and how tight each leaves
    it. `routed`: joint -> event at which its belt or cable is laid.
    """

    def __init__(self, machine: Machine, reach: Reach | None = None) -> None:
        self.machine = machine
        walk = Walk(machine, reach)
        self.walk = walk
        self.turned: dict[str, list[tuple[int, Tightness]]] = {}
        for event in walk.events:
            level = reached(event.action.verb)
            if level is not None:
                for fastening in event.screws:
                    self.turned.setdefault(fastening.id, []).append((event.at, level))
            advance(walk, event)
        self.comes: Mapping[str, int] = dict(walk.state.present)
        self.routed: Mapping[str, int] = dict(walk.state.routed)
        self._parent: dict[str, tuple[str, int]] = {}
        self._grow(walk.state.links)

    def _grow(self, links: list[tuple[int, str, str]]) -> None:
        """Keeps for every piece under whom it came, and when: never deep, for the smaller group goes
        under the larger."""
        size: dict[str, int] = {}

        def root(name: str) -> str:
            while name in self._parent:
                name = self._parent[name][0]
            return name

        for at, one, other in links:
            first, second = root(one), root(other)
            if first == second:
                continue
            if size.get(first, 1) < size.get(second, 1):
                first, second = second, first
            self._parent[second] = (first, at)
            size[first] = size.get(first, 1) + size.get(second, 1)

    def together(self, one: str, other: str) -> int | None:
        """The first event after which two pieces stand together; None when they never do."""
        if one not in self.comes or other not in self.comes:
            return None
        above: dict[str, int] = {one: 0}
        name, latest = one, 0
        while name in self._parent:
            name, at = self._parent[name]
            latest = max(latest, at)
            above[name] = latest
        name, latest = other, 0
        while name not in above:
            if name not in self._parent:
                return None
            name, at = self._parent[name]
            latest = max(latest, at)
        return max(latest, above[name], self.comes[one], self.comes[other])

    def step(self, event: int | None) -> int:
        """Number of the step an event belongs to, from 0; that after the last step for None."""
        return len(self.machine.steps) if event is None else self.walk.events[event].step

    def step_id(self, event: int | None) -> str:
        """Id of that step; "" for None."""
        return "" if event is None else self.walk.events[event].step_id

    def was_snug(self, fastening: str, before: int) -> bool:
        """Whether an event before this one left a screw at least snug."""
        return any(at < before and level >= Tightness.SNUG for at, level in self.turned.get(fastening, ()))

    def first_turn(self, fastening: str, after: int, least: Tightness = Tightness.STARTED) -> int | None:
        """The first event from `after` on that turns a screw at least so far. `after` itself when the
        screw was turned before and never again; None when no step turns it."""
        turns = [at for at, level in self.turned.get(fastening, ()) if level >= least]
        if not turns:
            return None
        return next((at for at in turns if at >= after), after)
