"""The arrangement in steps made better by a constraint solver, with a proof or a gap.

Each bundle goes into one step. A step is of one unit, one kind of action and one side up, and brings
at most a dozen parts (a bundle larger than that stands alone). What is paid: steps, turns of the work,
changes of unit and of tools, and nuts that lie in their slots long before their screws come.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from trysquare.sequence.bundles import (
    COST_LATE_NUTS,
    COST_STEP,
    COST_TOOL,
    COST_TURN,
    COST_UNIT,
    MOST_PARTS,
    Bundling,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """`gap`: how much less the best conceivable arrangement could cost, as a part of this one's cost."""

    steps: tuple[tuple[int, ...], ...]
    cost: int
    bound: float
    optimal: bool

    @property
    def gap(self) -> float:
        return 0.0 if self.optimal or self.cost <= 0 else max(0.0, (self.cost - self.bound) / self.cost)


def solve(
    bundling: Bundling,
    hint: Sequence[Sequence[int]],
    seconds: float,
    *,
    better: Callable[[int, float], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Solved | None:
    """The best arrangement found within the time, at least as good as `hint`; None when there was no time
    to find any. `better` is told each better cost and the bound."""
    from ortools.sat.python import cp_model  # noqa: PLC0415  # heavy, and only wanted here

    model = _Model(cp_model, bundling, hint)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(0.1, seconds)
    solver.parameters.num_workers = 8
    solver.parameters.random_seed = 1

    class Watcher(cp_model.CpSolverSolutionCallback):  # type: ignore[misc, name-defined]
        """Tells of better arrangements and listens whether to stop."""

        def on_solution_callback(self) -> None:
            if better is not None:
                better(int(self.objective_value), float(self.best_objective_bound))
            if stop is not None and stop():
                self.stop_search()

    if stop is not None:
        asked = stop

        def heard(_: float) -> None:
            if asked():
                solver.stop_search()

        solver.best_bound_callback = heard
    status = solver.solve(model.model, Watcher())
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    steps: list[list[int]] = [[] for _ in hint]
    for number, where in enumerate(model.where):
        steps[int(solver.value(where))].append(number)
    return Solved(
        steps=tuple(tuple(step) for step in steps if step),
        cost=int(solver.objective_value),
        bound=float(solver.best_objective_bound),
        optimal=status == cp_model.OPTIMAL,
    )


class _Model:
    """Variables and constraints. `hint` gives as many steps as there may be."""

    def __init__(self, cp_model: Any, bundling: Bundling, hint: Sequence[Sequence[int]]) -> None:
        self.bundling, self.model = bundling, cp_model.CpModel()
        self.count = len(hint)
        self.hinted = {number: step for step, numbers in enumerate(hint) for number in numbers}
        self.earliest, self.latest = self._windows()
        model = self.model
        self.inside: list[dict[int, Any]] = []
        self.where: list[Any] = []
        for bundle in bundling.bundles:
            low, high = self.earliest[bundle.number], self.latest[bundle.number]
            choices = {step: model.new_bool_var(f"in {bundle.number} {step}") for step in range(low, high + 1)}
            model.add_exactly_one(choices.values())
            where = model.new_int_var(low, high, f"where {bundle.number}")
            model.add(where == sum(step * chosen for step, chosen in choices.items()))
            for step, chosen in choices.items():
                model.add_hint(chosen, step == self.hinted[bundle.number])
            model.add_hint(where, self.hinted[bundle.number])
            self.inside.append(choices)
            self.where.append(where)
        for after, firsts in bundling.before.items():
            for first in firsts:
                model.add(self.where[first] <= self.where[after])
        self.costs: list[Any] = []
        self._capacity()
        self._classes()
        self._sides()
        self._tools()
        for first, after in bundling.feeds:
            self.costs.append(COST_LATE_NUTS * (self.where[after] - self.where[first]))
        model.minimize(sum(self.costs))

    def _windows(self) -> tuple[list[int], list[int]]:
        """Steps that a bundle could be in: all. Kept narrow only by what is certain."""
        size = len(self.bundling.bundles)
        return [0] * size, [self.count - 1] * size

    def _capacity(self) -> None:
        for step in range(self.count):
            terms = [
                (min(bundle.pieces, MOST_PARTS), self.inside[bundle.number][step])
                for bundle in self.bundling.bundles
                if step in self.inside[bundle.number]
            ]
            self.model.add(sum(weight * chosen for weight, chosen in terms if weight) <= MOST_PARTS)

    def _classes(self) -> None:
        """One unit and one kind for each step; a step that is used costs, empty ones come last."""
        model, bundles = self.model, self.bundling.bundles
        classes = sorted({(bundle.unit, bundle.kind) for bundle in bundles})
        units = sorted({bundle.unit for bundle in bundles})
        before: dict[str, Any] | None = None
        was_used: Any = None
        hinted = [bundles[next(n for n in self.hinted if self.hinted[n] == step)] for step in range(self.count)]
        for step in range(self.count):
            used = model.new_bool_var(f"used {step}")
            model.add_hint(used, True)
            here = {one: model.new_bool_var(f"class {step} {one}") for one in classes}
            for one, chosen in here.items():
                model.add_hint(chosen, one == (hinted[step].unit, hinted[step].kind))
            model.add(sum(here.values()) == used)
            for bundle in bundles:
                if step in self.inside[bundle.number]:
                    model.add_implication(self.inside[bundle.number][step], here[(bundle.unit, bundle.kind)])
            unit = {name: sum(chosen for one, chosen in here.items() if one[0] == name) for name in units}
            if was_used is not None:
                model.add_implication(used, was_used)
            if before is not None:
                changed = model.new_bool_var(f"unit changes {step}")
                for name in units:
                    model.add(changed >= unit[name] - before[name])
                self.costs.append(COST_UNIT * changed)
            self.costs.append(COST_STEP * used)
            before, was_used = unit, used

    def _sides(self) -> None:
        """The work lies upright or upside down in a step; it begins and ends upright."""
        if not any(bundle.up == "-z" for bundle in self.bundling.bundles):
            return
        model = self.model
        previous: Any = 0
        for step in range(self.count):
            over = model.new_bool_var(f"over {step}")
            for bundle in self.bundling.bundles:
                if bundle.up and step in self.inside[bundle.number]:
                    chosen = self.inside[bundle.number][step]
                    model.add_implication(chosen, over if bundle.up == "-z" else over.Not())
            turned = model.new_bool_var(f"turned {step}")
            model.add(turned >= over - previous)
            model.add(turned >= previous - over)
            self.costs.append(COST_TURN * turned)
            previous = over
        self.costs.append(COST_TURN * previous)

    def _tools(self) -> None:
        model = self.model
        for tool in sorted({tool for bundle in self.bundling.bundles for tool in bundle.tools}):
            previous: Any = 0
            for step in range(self.count):
                taken = model.new_bool_var(f"{tool} {step}")
                for bundle in self.bundling.bundles:
                    if tool in bundle.tools and step in self.inside[bundle.number]:
                        model.add_implication(self.inside[bundle.number][step], taken)
                fetched = model.new_bool_var(f"fetched {tool} {step}")
                model.add(fetched >= taken - previous)
                self.costs.append(COST_TOOL * fetched)
                previous = taken
