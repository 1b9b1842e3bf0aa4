"""How long each step is planned to take: from its actions, from the papers, or from what was learned.

The table of action times is our own and common practice without a source. A film and a build log know
better: what they say goes before it.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache

from trysquare.catalogue.rows import rows
from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.values import Machine, Step
from trysquare.sequence.state import Event, events_of
from trysquare.stock.bringing import sort_of

SAID, MEASURED, ESTIMATED = "said", "measured", "estimated"
LEAST_PACED = 3  # measured steps from which a builder's pace is told
SLOWEST = 10.0  # a pace beyond it says that the clock ran on, not that the work did


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionTime:
    """One row of the table: `seconds` for each `per` ("screw", "part", "metre" …) of a `doing`."""

    doing: str
    per: str
    seconds: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What a build log says of times, in seconds; everything above 0.

    `steps`: whole steps by id, as they were measured. `each`: doing and per, as the table names them
    (("start", "screw")), with the time one of them took. `pace`: how much longer than the table this builder
    takes; it stretches every estimate, and no wait.
    """

    steps: Mapping[str, float] = field(default_factory=dict)
    each: Mapping[tuple[str, str], float] = field(default_factory=dict)
    pace: float = 1.0

    def __post_init__(self) -> None:
        known = action_times()
        for name, seconds in (*self.steps.items(), *self.each.items(), ("pace", self.pace)):
            if not (math.isfinite(seconds) and seconds > 0):
                raise ReadingError(
                    where=Where(file="learned times", key=str(name)),
                    read=seconds,
                    expected="seconds, more than 0",
                    remedy="Leave out what was not measured.",
                )
        for pair in self.each:
            if pair not in known:
                raise ReadingError(
                    where=Where(file="learned times"),
                    read=" per ".join(pair),
                    expected="a row of the table of action times",
                    remedy=f"Known: {', '.join(' per '.join(row) for row in known)}.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionDuration:
    """One action's share of its step. `counts`: how many of what were counted; empty for a wait.

    `shown_seconds`: how long a film shows it, which of a wait is only that one waits.
    """

    verb: str
    seconds: float
    shown_seconds: float
    counts: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepDuration:
    """A step's planned time. `basis`: "measured" (the log), "said" (the papers' minutes) or "estimated".

    `actions` are estimates in any case, and together with the time to begin (`begin_seconds`) they add up
    to `seconds` only when the step is estimated.
    """

    step: str
    title: str
    unit: str
    seconds: float
    basis: str
    begin_seconds: float
    actions: tuple[ActionDuration, ...]

    @property
    def waiting_seconds(self) -> float:
        """How much of the step is waiting, which nobody films."""
        return sum(action.seconds - action.shown_seconds for action in self.actions)

    @property
    def film_seconds(self) -> float:
        """How long the step is in a film: without its waits, and never less than it takes to begin."""
        return max(self.begin_seconds, self.seconds - self.waiting_seconds)


@cache
def action_times() -> Mapping[tuple[str, str], ActionTime]:
    """The table, by doing and per."""
    return {
        (row["doing"], row["per"]): ActionTime(
            doing=row["doing"], per=row["per"], seconds=float(row["seconds"]), source=row["source"]
        )
        for row in rows("action_times")
    }


def durations(machine: Machine, learned: Learned | None = None) -> tuple[StepDuration, ...]:
    """The planned time of each step, in the order of the steps."""
    learned = learned or Learned()
    of_step: dict[int, list[Event]] = {}
    for event in events_of(machine):
        of_step.setdefault(event.step, []).append(event)
    return tuple(
        _step(machine, step, of_step.get(index, []), learned) for index, step in enumerate(machine.steps)
    )


def learned_from(machine: Machine, seconds: Mapping[str, float]) -> Learned:
    """What measured steps say of the others. `seconds`: of whole steps, by id; those of other machines, and
    those that are not above 0, are left out.

    The pace is the median of measured to estimated time, waits left out of both, once `LEAST_PACED` steps
    are measured: one step that was interrupted for a day does not stretch the rest. It stays within
    `SLOWEST` either way. The method is our own, common practice without a source.
    """
    known = {step.id for step in machine.steps}
    steps = {name: took for name, took in seconds.items() if name in known and 0 < took < math.inf}
    ratios = sorted(
        max(steps[one.step] - one.waiting_seconds, 0.0) / worked
        for one in durations(machine)
        if one.step in steps
        and (
            worked := one.begin_seconds + sum(action.seconds for action in one.actions) - one.waiting_seconds
        )
        > 0
    )
    pace = statistics.median(ratios) if len(ratios) >= LEAST_PACED else 1.0
    return Learned(steps=steps, pace=min(max(pace, 1 / SLOWEST), SLOWEST))


def _step(machine: Machine, step: Step, events: list[Event], learned: Learned) -> StepDuration:
    begin = _each("begin", "step", learned)
    actions = tuple(_action(machine, event, learned) for event in events)
    seconds, basis = begin + sum(action.seconds for action in actions), ESTIMATED
    if step.minutes > 0:
        seconds, basis = step.minutes * 60, SAID
    if step.id in learned.steps:
        seconds, basis = learned.steps[step.id], MEASURED
    return StepDuration(
        step=step.id,
        title=step.title,
        unit=step.unit,
        seconds=seconds,
        basis=basis,
        begin_seconds=begin,
        actions=actions,
    )


def _each(doing: str, per: str, learned: Learned) -> float:
    said = learned.each.get((doing, per))
    return action_times()[(doing, per)].seconds * learned.pace if said is None else said


def _action(machine: Machine, event: Event, learned: Learned) -> ActionDuration:
    verb = event.action.verb
    base = _each("action", "action", learned)
    if verb == "wait":
        wait = event.action.minutes * 60
        return ActionDuration(verb=verb, seconds=wait, shown_seconds=min(wait, base), counts={})
    counts: dict[str, float] = {}
    for per, number in _counts(machine, event):
        counts[per] = counts.get(per, 0.0) + number
    seconds = base + sum(number * _each(verb, per, learned) for per, number in counts.items())
    return ActionDuration(verb=verb, seconds=seconds, shown_seconds=seconds, counts=counts)


def _counts(machine: Machine, event: Event) -> Iterator[tuple[str, float]]:
    """What an action does how often, in the table's words."""
    action = event.action
    if action.verb in ("place", "insert"):
        # A part that is placed although it is there already is picked up again all the same.
        yield from ((_sort(event.action.verb, piece.id, bool(piece.joint)), 1.0) for piece in event.pieces)
        yield from (("part", 1.0) for _ in event.again)
    elif action.verb in ("start", "snug", "tighten"):
        yield "screw", float(len(event.screws))
    elif action.verb == "press":
        yield "insert", float(sum(sort_of(piece) == "insert" for piece in event.pieces))
    elif action.verb == "read":
        yield "characteristic", float(max(1, len(action.reads)))
    elif action.verb == "crimp":
        yield "contact", float(sum(joint.cable.cores for joint in event.joints if joint.cable))
    elif action.verb == "route":
        yield "belt or cable", float(len(event.joints))
        for joint in event.joints:
            run = joint.belt or joint.cable
            yield "metre", run.length_mm / 1000 if run else 0.0
    elif (action.verb, "part") in action_times():
        joined = {part for joint in event.joints for part in joint.parts if part in machine.part}
        yield "part", float(max(1, len({*action.parts, *joined})))
    else:
        yield "action", 1.0


def _sort(verb: str, piece: str, of_joint: bool) -> str:
    """A piece in the table's words: "part" for what is placed, "nut", "bar" … for what a joint brings."""
    if not of_joint:
        return "part"
    sort = piece.rpartition("/")[2].partition(".")[0]
    return sort if (verb, sort) in action_times() else {"place": "part", "insert": "nut"}[verb]
