"""Episodes: the order cut into parts of a wished length, each ending where the work can be left alone.

Where the work can be left is a question to the state of the build after each step. Which of those places to
take is found by dynamic programming: the sum of all deviations from the wished length, and of what speaks
against each cut, is as small as it can be.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.values import Machine
from trysquare.publish.durations import StepDuration
from trysquare.sequence.rules_hold import holding
from trysquare.sequence.state import State, Tightness
from trysquare.sequence.timeline import advance
from trysquare.sequence.walk import Walk

HELD_BY_HAND = "hold"  # what the state says of a part that is held by nothing but an action's word
# What speaks against a cut, in squares of relative deviation: 0.25 is an episode half too long or too short.
# Ours, by trial on our demo machines.
INSIDE_UNIT, SNUG_ONLY, LIES_APART, TURNED, TAPED = 0.15, 0.05, 0.02, 0.05, 0.03
SAFE = (
    "nothing is held by hand, no carriage can run off, no joint is merely started, no wait runs, "
    "it stands by itself"
)
MOST_COUNTED = 4  # more snug joints or loose pieces make a cut no worse


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """What it means to stop after a step. `unsafe`: why the work cannot be left; empty when it can.

    `weak`: what speaks against it, with its cost. `unit_ends`: the next step works on another unit.
    """

    step: str
    next_step: str
    unsafe: tuple[str, ...]
    weak: tuple[tuple[str, float], ...]
    unit_ends: bool

    @property
    def cost(self) -> float:
        return sum(cost for _, cost in self.weak)


@dataclass(frozen=True, slots=True, kw_only=True)
class Episode:
    """Steps that are filmed in one go. `ends`: why it ends here; `passed`: nearer stops that were not taken,
    with the reason. The last one ends with the order."""

    number: int
    steps: tuple[str, ...]
    titles: tuple[str, ...]
    seconds: float
    ends: tuple[str, ...]
    weak: tuple[str, ...] = ()
    passed: tuple[tuple[str, str], ...] = ()


def stops_of(machine: Machine) -> tuple[Stop, ...]:
    """What it means to stop after each step, the last one included."""
    walk = Walk(machine)
    found: list[Stop] = []
    at = 0
    for index, step in enumerate(machine.steps):
        unsafe: list[str] = []
        while at < len(walk.events) and walk.events[at].step == index:
            event = walk.events[at]
            advance(walk, event)
            at += 1
            if event.last_of_step:
                # The rules of an order say a thing once; here each stop is asked for itself.
                walk.said_carriage.clear()
                walk.said_unstable = False
                unsafe += [finding.says for finding in holding(walk, event)]
        following = machine.steps[index + 1] if index + 1 < len(machine.steps) else None
        unsafe += _unsafe(machine, walk.state)
        if following is not None and following.actions and following.actions[0].verb == "wait":
            unsafe.append(f"{following.id} begins with a wait, which already runs")
        unit_ends = following is None or following.unit != step.unit
        weak = list(_weak(machine, walk.state))
        if not unit_ends:
            weak.insert(0, (f"unit {step.unit} goes on", INSIDE_UNIT))
        found.append(
            Stop(
                step=step.id,
                next_step=following.id if following else "",
                unsafe=tuple(unsafe),
                weak=tuple(weak),
                unit_ends=unit_ends,
            )
        )
    return tuple(found)


def _unsafe(machine: Machine, state: State) -> Iterable[str]:
    held = sorted(part for part, means in state.held.items() if means == HELD_BY_HAND)
    if held:
        yield f"held by hand only: {_named(held)}"
    started = [
        joint.id
        for joint in machine.joints
        if any(state.tightness(one.id) is Tightness.STARTED for one in joint.fastenings)
    ]
    if started:
        yield f"started but not snug: {_named(started)}"


def _weak(machine: Machine, state: State) -> Iterable[tuple[str, float]]:
    snug = [
        joint.id
        for joint in machine.joints
        if any(state.tightness(one.id) is Tightness.SNUG for one in joint.fastenings)
    ]
    if snug:
        yield f"only snug: {_named(snug)}", SNUG_ONLY * min(MOST_COUNTED, len(snug))
    groups = {
        id(state.group(part.id)): part.id
        for part in machine.placed
        if part.id in state.present and not part.joint
    }
    if len(groups) > 1:
        yield f"{len(groups)} pieces of work lie apart", LIES_APART * min(MOST_COUNTED, len(groups) - 1)
    if state.up != "+z":
        yield f"it lies with {state.up} up", TURNED
    taped = sorted(f"{part} ({means})" for part, means in state.held.items() if means != HELD_BY_HAND)
    if taped:
        yield f"held for now: {_named(taped)}", TAPED


def _named(names: Sequence[str]) -> str:
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")


def episodes(
    planned: Sequence[StepDuration], stops: Sequence[Stop], wished_seconds: float
) -> tuple[Episode, ...]:
    """The best cuts. `planned` and `stops` go step by step together.

    Lengths are those of a film, without waits. The work is never left where it is unsafe, however long an
    episode becomes; with no safe stop there is one episode. Costs: ((length − wished) / wished)² for each
    episode, and each cut's own.
    """
    if not (math.isfinite(wished_seconds) and wished_seconds > 0):
        raise ReadingError(
            where=Where(file="episodes"),
            read=wished_seconds,
            expected="a length of more than 0",
            remedy="Say how long one part of the film should be.",
        )
    if len(planned) != len(stops):
        raise ReadingError(
            where=Where(file="episodes"),
            read=f"{len(stops)} stops for {len(planned)} steps",
            expected="one for each step",
            remedy="Ask for both of the same machine.",
        )
    if not planned:
        return ()
    at = [0.0]
    for step in planned:
        at.append(at[-1] + step.film_seconds)
    cuts = _best_cuts(at, stops, wished_seconds)
    return tuple(
        _episode(number, begin, end, planned, stops, at, wished_seconds)
        for number, (begin, end) in enumerate(zip([0, *cuts], [*cuts, len(planned)], strict=True), 1)
    )


def deviation(seconds: float, wished_seconds: float) -> float:
    """What an episode's length costs."""
    return ((seconds - wished_seconds) / wished_seconds) ** 2


def _best_cuts(at: Sequence[float], stops: Sequence[Stop], wished: float) -> list[int]:
    """How many steps stand before each cut. Of equally good ways the one with fewer, earlier cuts."""
    count = len(stops)
    safe = [0, *(end for end in range(1, count) if not stops[end - 1].unsafe), count]
    best: dict[int, tuple[float, int]] = {0: (0.0, 0)}
    came: dict[int, int] = {}
    for place, end in enumerate(safe[1:], 1):
        own = stops[end - 1].cost if end < count else 0.0
        found: tuple[float, int] | None = None
        for begin in reversed(safe[:place]):
            seconds = at[end] - at[begin]
            alone = deviation(seconds, wished) + own
            if found is not None and seconds > wished and alone > found[0]:
                break  # from here on episodes only get longer, and every cost is 0 or more
            before, cuts = best[begin]
            # Rounded: sums that differ only by their rounding must not decide.
            cost = (round(before + alone, 9), cuts + (end < count))
            if found is None or cost <= found:
                found, came[end] = cost, begin
        best[end] = found or (math.inf, 0)
    cuts_found: list[int] = []
    end = came[count]
    while end > 0:
        cuts_found.append(end)
        end = came[end]
    return cuts_found[::-1]


def _episode(
    number: int,
    begin: int,
    end: int,
    planned: Sequence[StepDuration],
    stops: Sequence[Stop],
    at: Sequence[float],
    wished: float,
) -> Episode:
    stop = stops[end - 1]
    weak: tuple[str, ...] = ()
    passed: tuple[tuple[str, str], ...] = ()
    if end == len(planned):
        ends: tuple[str, ...] = ("the order ends",)
    else:
        unit = f"unit {planned[end - 1].unit} is left for {planned[end].unit}"
        ends = (unit, SAFE) if stop.unit_ends else (SAFE,)
        weak = tuple(says for says, _ in stop.weak)
        passed = tuple(_passed(begin, end, planned, stops, at, wished))
    return Episode(
        number=number,
        steps=tuple(step.step for step in planned[begin:end]),
        titles=tuple(step.title for step in planned[begin:end]),
        seconds=at[end] - at[begin],
        ends=ends,
        weak=weak,
        passed=passed,
    )


def _passed(
    begin: int,
    end: int,
    planned: Sequence[StepDuration],
    stops: Sequence[Stop],
    at: Sequence[float],
    wished: float,
) -> Iterable[tuple[str, str]]:
    """Stops nearer to the wished length than the one that was taken, and why they were not."""
    off = abs(at[end] - at[begin] - wished)
    for other in range(begin + 1, len(planned)):
        if other == end or abs(at[other] - at[begin] - wished) >= off:
            continue
        stop = stops[other - 1]
        if stop.unsafe:
            why = "; ".join(stop.unsafe)
        elif stop.cost > stops[end - 1].cost:
            why = "; ".join(says for says, _ in stop.weak)
        else:
            why = "the other parts come nearer to the wished length this way"
        yield stop.step, why
