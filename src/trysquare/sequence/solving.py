"""The arrangement in steps made better by a constraint solver, with a proof or a gap.

Each bundle goes into one step. A step is of one unit, one kind of action and one side up, and brings
at most a dozen parts (a bundle larger than that stands alone). What is paid: steps, turns of the work,
changes of unit and of tools, nuts that lie in their slots long before their screws come, and screws
that stay loose.

A small machine is arranged as a whole, which often ends with a proof. A large one is arranged a stretch
of steps at a time, again and again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from trysquare.sequence.bounds import fewest_steps, least_cost, most_steps
from trysquare.sequence.bundles import (
    COST_STEP,
    COST_TOOL,
    COST_TURN,
    COST_UNIT,
    COST_WAIT,
    MOST_PARTS,
    Bundling,
)
from trysquare.sequence.moving_steps import Steps, moved

WHOLE = 1500  # bundles × steps up to which the whole is one question
STRETCH = 24  # bundles in a stretch
STRETCH_SECONDS = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """`bound`: no arrangement can cost less."""

    steps: Steps
    cost: int
    bound: float
    optimal: bool

    @property
    def gap(self) -> float:
        """How much less the best conceivable arrangement could cost, as a part of this one's cost."""
        return 0.0 if self.optimal or self.cost <= 0 else max(0.0, (self.cost - self.bound) / self.cost)


def cost_of(bundling: Bundling, steps: Sequence[Sequence[int]]) -> int:
    """What an arrangement costs. Empty steps cost nothing."""
    filled = [step for step in steps if step]
    where = {number: at for at, step in enumerate(filled) for number in step}
    cost = COST_STEP * len(filled)
    unit, side, tools = "", "+z", frozenset[str]()
    for at, step in enumerate(filled):
        bundles = [bundling.bundles[number] for number in step]
        cost += COST_UNIT * (at > 0 and bundles[0].unit != unit)
        unit = bundles[0].unit
        up = next((bundle.up for bundle in bundles if bundle.up), side)
        cost += COST_TURN * (up != side)
        side = up
        here = frozenset().union(*(bundle.tools for bundle in bundles))
        cost += COST_TOOL * len(here - tools)
        tools = here
    cost += COST_TURN * (side != "+z")
    return cost + COST_WAIT * sum(where[after] - where[first] for first, after in bundling.feeds)


def solve(
    bundling: Bundling,
    hint: Sequence[Sequence[int]],
    seconds: float,
    *,
    better: Callable[[int, float], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Solved:
    """The best arrangement found within the time, at least as good as `hint`.

    `better` is told each better cost and the bound.
    """
    search = _Search(bundling, tuple(tuple(step) for step in hint if step), seconds, better, stop)
    if len(bundling.bundles) * len(search.steps) <= WHOLE:
        search.whole()
    else:
        search.stretches()
    return Solved(
        steps=search.steps, cost=search.cost, bound=search.bound, optimal=search.cost <= search.bound + 1e-6
    )


class _Search:
    """The best arrangement so far and the time that is left."""

    def __init__(
        self,
        bundling: Bundling,
        steps: Steps,
        seconds: float,
        better: Callable[[int, float], None] | None,
        stop: Callable[[], bool] | None,
    ) -> None:
        self.bundling, self.steps, self.left = bundling, steps, seconds
        self.better, self.stop = better, stop
        self.cost, self.bound = cost_of(bundling, steps), float(least_cost(bundling))

    def ended(self) -> bool:
        return self.left <= 0 or (self.stop is not None and self.stop())

    def whole(self) -> None:
        self._move()
        # Arrangements with more steps than these cannot cost less: so what is proven is proven for all.
        room = most_steps(self.bundling, self.cost) - len(self.steps)
        self.steps = (*self.steps, *[()] * room)
        answer = self._ask(0, len(self.steps), self.left)
        self.steps = tuple(step for step in self.steps if step)
        if answer is not None:
            self.bound = max(self.bound, answer)

    def stretches(self) -> None:
        """Stretch after stretch; when none gets better, longer ones."""
        size = STRETCH
        while not self.ended():
            self._move()
            before = self.cost
            for first, last in list(_windows(self.steps, size)):
                if self.ended() or last > len(self.steps):
                    break
                self._ask(first, last, min(self.left, STRETCH_SECONDS))
            if self.cost == before:
                size = size * 3 // 2
                if size > 2 * len(self.bundling.bundles):
                    return

    def _move(self) -> None:
        """Single moves, near and far, as long as they help."""
        steps, cost = moved(
            self.bundling, self.steps, lambda steps: cost_of(self.bundling, steps), stop=self.stop
        )
        if cost < self.cost:
            self.steps, self.cost = steps, cost
            if self.better is not None:
                self.better(cost, self.bound)

    def _ask(self, first: int, last: int, seconds: float) -> float | None:
        """Arranges the steps from `first` to before `last` anew; the bound found for the whole, if it is
        the whole that was asked."""
        from ortools.sat.python import cp_model  # noqa: PLC0415  # heavy, and only wanted here

        whole = first == 0 and last == len(self.steps)
        model = _Model(cp_model, self.bundling, self.steps, first, last)
        if whole:
            model.model.add(sum(model.costs) >= math.ceil(self.bound))
            model.model.add(sum(model.used) >= fewest_steps(self.bundling))
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = max(0.05, seconds)
        # One worker, and its own measure of time: equal questions get equal answers.
        solver.parameters.num_workers = 1
        # Nearly all constraints are of yes and no: a linear relaxation costs more time than it saves.
        solver.parameters.linearization_level = 0
        solver.parameters.max_deterministic_time = max(0.05, seconds)
        solver.parameters.random_seed = 1
        # A key pressed to stop reaches us between stretches; during the whole only the solver hears it.
        solver.parameters.catch_sigint_signal = whole
        if self.stop is not None:
            asked = self.stop

            def heard(_: float) -> None:
                if asked():
                    solver.stop_search()

            solver.best_bound_callback = heard
        status = solver.solve(model.model, _watcher(cp_model, self.stop))
        self.left -= float(solver.wall_time)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        middle: list[list[int]] = [[] for _ in range(first, last)]
        for number in model.free:
            middle[int(solver.value(model.where[number])) - first].append(number)
        steps = (*self.steps[:first], *(tuple(step) for step in middle if step), *self.steps[last:])
        cost = cost_of(self.bundling, steps)
        bound = float(solver.best_objective_bound) if whole else None
        if cost < self.cost:
            self.steps, self.cost = steps, cost
            if self.better is not None:
                self.better(cost, max(self.bound, bound or 0.0))
        return bound


def _windows(steps: Steps, size: int) -> Iterator[tuple[int, int]]:
    """Stretches of steps that hold about `size` bundles, each beginning in the middle of the last."""
    first = 0
    while first < len(steps):
        last, count = first, 0
        while last < len(steps) and (count + len(steps[last]) <= size or last < first + 3):
            count += len(steps[last])
            last += 1
        yield first, last
        if last == len(steps):
            return
        first += max(1, (last - first) // 2)


def _watcher(cp_model: Any, stop: Callable[[], bool] | None) -> Any:
    class Watcher(cp_model.CpSolverSolutionCallback):  # type: ignore[misc]
        """Listens whether to stop."""

        def on_solution_callback(self) -> None:
            if stop is not None and stop():
                self.stop_search()

    return Watcher()


class _Model:
    """Variables and constraints of a stretch of steps; the step before and the step after stand fixed."""

    def __init__(self, cp_model: Any, bundling: Bundling, steps: Steps, first: int, last: int) -> None:
        self.bundling, self.steps, self.model = bundling, steps, cp_model.CpModel()
        self.span = range(first, last)
        self.step_of = {number: at for at, step in enumerate(steps) for number in step}
        self.free = [number for step in steps[first:last] for number in step]
        self.inside: dict[int, list[Any]] = {}
        self.where: dict[int, Any] = {}
        self.costs: list[Any] = []
        self.used: list[Any] = []
        self._places()
        self._capacity()
        self._classes()
        self._sides()
        self._tools()
        self._waits()
        self.model.minimize(sum(self.costs))

    def _places(self) -> None:
        model, span = self.model, self.span
        for number in self.free:
            chosen = [model.new_bool_var(f"in {number} {step}") for step in span]
            model.add_exactly_one(chosen)
            where = model.new_int_var(span.start, span.stop - 1, f"where {number}")
            model.add(where == sum(step * one for step, one in zip(span, chosen, strict=True)))
            for step, one in zip(span, chosen, strict=True):
                model.add_hint(one, step == self.step_of[number])
            self.inside[number], self.where[number] = chosen, where
        free = set(self.free)
        for after in self.free:
            for first in free.intersection(self.bundling.before[after]):
                one, other = self.bundling.bundles[first], self.bundling.bundles[after]
                further = (one.unit, one.kind) != (other.unit, other.kind)  # never in one step
                model.add(self.where[first] + further <= self.where[after])

    def _at(self, number: int, step: int) -> Any:
        return self.inside[number][step - self.span.start]

    def _capacity(self) -> None:
        sizes = {number: min(self.bundling.bundles[number].pieces, MOST_PARTS) for number in self.free}
        for step in self.span:
            load = [size * self._at(number, step) for number, size in sizes.items() if size]
            if load:
                self.model.add(sum(load) <= MOST_PARTS)

    def _classes(self) -> None:
        """One unit and one kind for each step; a step that is used costs, an empty one takes any."""
        model = self.model
        bundles = {number: self.bundling.bundles[number] for number in self.free}
        classes = sorted({(one.unit, one.kind) for one in bundles.values()})
        units = sorted({one.unit for one in bundles.values()})
        before = self._fixed_unit(self.span.start - 1)
        earlier: tuple[Any, dict[Any, Any]] | None = None
        for step in self.span:
            used = model.new_bool_var(f"used {step}")
            here = {one: model.new_bool_var(f"class {step} {one}") for one in classes}
            model.add_exactly_one(here.values())
            for number, one in bundles.items():
                model.add_implication(self._at(number, step), here[(one.unit, one.kind)])
                model.add_implication(self._at(number, step), used)
            unit = {name: sum(chosen for one, chosen in here.items() if one[0] == name) for name in units}
            self._unit_change(step, before, unit)
            self.costs.append(COST_STEP * used)
            self.used.append(used)
            if earlier is not None:  # empty steps last, and of the class before: they are all alike
                model.add_implication(used, earlier[0])
                for name, chosen in here.items():
                    model.add(chosen == earlier[1][name]).only_enforce_if(used.Not())
            before, earlier = unit, (used, here)
        self._unit_change(self.span.stop, before, self._fixed_unit(self.span.stop))

    def _fixed_unit(self, step: int) -> dict[str, Any] | None:
        if not 0 <= step < len(self.steps):
            return None
        return {self.bundling.bundles[self.steps[step][0]].unit: 1}

    def _unit_change(self, step: int, before: dict[str, Any] | None, now: dict[str, Any] | None) -> None:
        if before is None or now is None:
            return
        changed = self.model.new_bool_var(f"unit changes {step}")
        for name, is_now in now.items():
            self.model.add(changed >= is_now - before.get(name, 0))
        self.costs.append(COST_UNIT * changed)

    def _side(self, last: int) -> int:
        """1 when the work lies upside down after the steps before `last`."""
        side = 0
        for step in self.steps[:last]:
            for number in step:
                side = {"+z": 0, "-z": 1}.get(self.bundling.bundles[number].up, side)
        return side

    def _next_side(self) -> int | None:
        """The side that the steps after the stretch want first; upright at the end of all."""
        for step in self.steps[self.span.stop :]:
            for number in step:
                if self.bundling.bundles[number].up:
                    return int(self.bundling.bundles[number].up == "-z")
        return 0

    def _sides(self) -> None:
        """The work lies upright or upside down in a step; it begins and ends upright."""
        if not any(bundle.up == "-z" for bundle in self.bundling.bundles):
            return
        previous: Any = self._side(self.span.start)
        for step in self.span:
            over = self.model.new_bool_var(f"over {step}")
            for number in self.free:
                up = self.bundling.bundles[number].up
                if up:
                    self.model.add_implication(self._at(number, step), over if up == "-z" else over.Not())
            self._turned(step, previous, over)
            previous = over
        self._turned(self.span.stop, previous, self._next_side())

    def _turned(self, step: int, before: Any, now: Any) -> None:
        turned = self.model.new_bool_var(f"turned {step}")
        self.model.add(turned >= now - before)
        self.model.add(turned >= before - now)
        self.costs.append(COST_TURN * turned)

    def _tools(self) -> None:
        names = {tool for number in self.free for tool in self.bundling.bundles[number].tools}
        for tool in sorted(names):
            previous: Any = self._fixed_tool(self.span.start - 1, tool)
            for step in self.span:
                taken = self.model.new_bool_var(f"{tool} {step}")
                users = [number for number in self.free if tool in self.bundling.bundles[number].tools]
                for number in users:
                    self.model.add_implication(self._at(number, step), taken)
                # A tool that nobody uses in a step is laid aside; it must be fetched anew.
                self.model.add(taken <= sum(self._at(number, step) for number in users))
                self._fetched(tool, step, previous, taken)
                previous = taken
            self._fetched(tool, self.span.stop, previous, self._fixed_tool(self.span.stop, tool))

    def _fixed_tool(self, step: int, tool: str) -> int:
        if not 0 <= step < len(self.steps):
            return 0
        return int(any(tool in self.bundling.bundles[number].tools for number in self.steps[step]))

    def _fetched(self, tool: str, step: int, before: Any, now: Any) -> None:
        fetched = self.model.new_bool_var(f"fetched {tool} {step}")
        self.model.add(fetched >= now - before)
        self.costs.append(COST_TOOL * fetched)

    def _waits(self) -> None:
        for first, after in self.bundling.feeds:
            if first in self.where or after in self.where:
                one = self.where.get(first, self.step_of[first])
                other = self.where.get(after, self.step_of[after])
                late = self.model.new_int_var(0, len(self.steps), f"late {first} {after}")
                self.model.add(late >= other - one)
                self.costs.append(COST_WAIT * late)
