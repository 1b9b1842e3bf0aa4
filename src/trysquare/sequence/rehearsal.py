"""An order walked once, with the holding that it lacks: tape on carriages, a clamp where it would tip."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from trysquare.ground.findings import Finding, Weight, finding_kinds
from trysquare.machine.values import Action, Machine, Step
from trysquare.sequence.check import check_order
from trysquare.sequence.reach import Reach
from trysquare.sequence.rules_hold import holding
from trysquare.sequence.rules_way_in import way_in
from trysquare.sequence.state import Event, apply
from trysquare.sequence.walk import Walk

_TAPE, _CLAMP = "tape", "clamp"


def is_stop(finding: Finding) -> bool:
    """Whether a finding forbids to go on. A code nobody has weighed yet does."""
    kind = finding_kinds().get(finding.code)
    return kind is None or kind.weight is Weight.STOP


def stops_of(machine: Machine, steps: Iterable[Step], reach: Reach) -> tuple[Finding, ...]:
    """The findings of an order that forbid to go on."""
    return tuple(one for one in check_order(replace(machine, steps=tuple(steps)), reach) if is_stop(one))


def with_holding(machine: Machine, steps: tuple[Step, ...], reach: Reach) -> tuple[Step, ...]:
    """The same steps with holds where a carriage could run off or the work would tip over, and with
    releases as soon as that is over. Before a run the carriages are let go, and held again after it."""
    return _Rehearsal(replace(machine, steps=steps), reach).play()


@dataclass(slots=True)
class _Held:
    """What the rehearsal holds: part -> means."""

    parts: dict[str, str]


class _Rehearsal:
    def __init__(self, machine: Machine, reach: Reach) -> None:
        self.machine = machine
        self.walk = Walk(machine, reach)
        self.held = _Held({})
        self.runs = {one.id for one in machine.characteristics if one.sort == "free-motion"}
        self.added: dict[int, list[Action]] = {}  # event -> actions after it
        self.ahead: dict[int, list[Action]] = {}  # event -> actions before it

    def play(self) -> tuple[Step, ...]:
        for event in self.walk.events:
            way_in(self.walk, event)  # keeps what hangs together up to date
            if self.held.parts and event.action.verb == "read" and self.runs & set(event.action.reads):
                taped = self._taped_on(event)
                if taped:
                    self.ahead.setdefault(event.at, []).append(Action(verb="release", parts=taped))
                    self.added.setdefault(event.at, []).append(Action(verb="hold", parts=taped, means=_TAPE))
            apply(self.walk.state, event)
            turning = event.action.verb == "turn"
            if turning or event.last_of_step:
                self._hold(event, turning)  # first: asking marks what was said
                self._let_go(event)
        return self._steps()

    def _taped_on(self, event: Event) -> tuple[str, ...]:
        """Taped carriages that run when this is read."""
        reads = self.runs & set(event.action.reads)
        of = {part for one in self.machine.characteristics if one.id in reads for part in one.of}
        return tuple(
            part
            for part, means in self.held.parts.items()
            if means == _TAPE
            and not of.isdisjoint({self.walk.rail_of.get(part, part), *self.walk.moves_with(part)})
        )

    def _hold(self, event: Event, turning: bool) -> None:
        for _ in range(3):  # one finding may hide another
            found = [
                one
                for one in holding(self.walk, event)
                if one.code in ("carriage-can-run-off", "cannot-stand")
            ]
            if not found:
                return
            for one in found:
                means = _TAPE if one.code == "carriage-can-run-off" else _CLAMP
                part = next((name for name in one.parts if not self.machine.part[name].joint), one.parts[0])
                self.held.parts[part] = means
                self.walk.state.held[part] = means
                hold = Action(verb="hold", parts=(part,), means=means)
                # Before turning over everything loose must be held already.
                where = self.ahead if turning and means == _TAPE else self.added
                where.setdefault(event.at, []).append(hold)
            self.walk.said_unstable = False

    def _let_go(self, event: Event) -> None:
        """Takes holds away that nothing needs any more."""
        for part, means in list(self.held.parts.items()):
            self.walk.state.held.pop(part, None)
            self.walk.said_carriage.discard(part)
            # Whether it would tip is asked only of what keeps it from tipping: that question is slow.
            self.walk.said_unstable = means == _TAPE
            still = any(
                part in one.parts[:1] or one.code == "cannot-stand" for one in holding(self.walk, event)
            )
            self.walk.said_carriage.discard(part)
            self.walk.said_unstable = False
            if still:
                self.walk.state.held[part] = means
                continue
            del self.held.parts[part]
            self.added.setdefault(event.at, []).append(Action(verb="release", parts=(part,)))

    def _steps(self) -> tuple[Step, ...]:
        actions: dict[int, list[Action]] = {}
        for event in self.walk.events:
            mine = actions.setdefault(event.step, [])
            mine += _merged(self.ahead.get(event.at, ()))
            mine.append(event.action)
            mine += _merged(self.added.get(event.at, ()))
        return tuple(
            replace(step, actions=tuple(actions.get(index, ())))
            for index, step in enumerate(self.machine.steps)
        )


def _merged(actions: Iterable[Action]) -> list[Action]:
    """Neighbouring holds and releases of one sort as one action."""
    found: list[Action] = []
    for action in actions:
        last = found[-1] if found else None
        if last is not None and (last.verb, last.means) == (action.verb, action.means):
            found[-1] = replace(last, parts=(*last.parts, *action.parts))
        else:
            found.append(action)
    return found
