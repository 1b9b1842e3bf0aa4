"""An arrangement in steps made better by moving single bundles and whole steps, far or near.

Quick and blind to what needs several moves at once: for that there is the constraint solver, which sees
only a stretch at a time. So the two take turns.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from trysquare.sequence.bundles import MOST_PARTS, Bundle, Bundling

Steps = tuple[tuple[int, ...], ...]
Cost = Callable[[Steps], int]


def moved(
    bundling: Bundling, steps: Steps, cost: Cost, *, stop: Callable[[], bool] | None = None
) -> tuple[Steps, int]:
    """Steps that no single move makes cheaper, and what they cost. Bundles keep their needs, steps their
    unit, kind, side and size."""
    return _Moving(bundling, steps, cost, stop).run()


class _Moving:
    def __init__(self, bundling: Bundling, steps: Steps, cost: Cost, stop: Callable[[], bool] | None) -> None:
        self.bundling, self.steps, self.measure, self.stop = bundling, steps, cost, stop
        self.cost = cost(steps)
        self.after: dict[int, list[int]] = {bundle.number: [] for bundle in bundling.bundles}
        for number, firsts in bundling.before.items():
            for first in firsts:
                self.after[first].append(number)

    def run(self) -> tuple[Steps, int]:
        better = True
        while better:
            better = False
            for bundle in self.bundling.bundles:
                if self.stop is not None and self.stop():
                    return self.steps, self.cost
                better |= self._try(self._bundle_moves(bundle))
            for index in range(len(self.steps)):
                if self.stop is not None and self.stop():
                    return self.steps, self.cost
                if index < len(self.steps):
                    better |= self._try(self._step_moves(index))
        return self.steps, self.cost

    def _try(self, moves: Iterator[Steps]) -> bool:
        """Takes the cheapest of some moves, if it is cheaper than staying."""
        best, cost = self.steps, self.cost
        for steps in moves:
            new = self.measure(steps)
            if new < cost:
                best, cost = steps, new
        better = cost < self.cost
        self.steps, self.cost = best, cost
        return better

    def _bundle_moves(self, bundle: Bundle) -> Iterator[Steps]:
        """The bundle in every other step that takes it; an empty step goes."""
        where = {number: at for at, step in enumerate(self.steps) for number in step}
        here = where[bundle.number]
        low = max((where[first] for first in self.bundling.before[bundle.number]), default=0)
        high = min((where[after] for after in self.after[bundle.number]), default=len(self.steps) - 1)
        for to in range(low, high + 1):
            if to == here or not self._takes(self.steps[to], bundle):
                continue
            steps = list(self.steps)
            steps[here] = tuple(number for number in steps[here] if number != bundle.number)
            steps[to] = tuple(sorted((*steps[to], bundle.number)))
            yield tuple(step for step in steps if step)

    def _takes(self, step: tuple[int, ...], bundle: Bundle) -> bool:
        others = [self.bundling.bundles[number] for number in step]
        if (others[0].unit, others[0].kind) != (bundle.unit, bundle.kind):
            return False
        if len({one.up for one in (*others, bundle)} - {""}) > 1:
            return False
        return sum(min(one.pieces, MOST_PARTS) for one in (*others, bundle)) <= MOST_PARTS

    def _step_moves(self, index: int) -> Iterator[Steps]:
        """The step at every other place that its needs allow."""
        where = {number: at for at, step in enumerate(self.steps) for number in step}
        mine = self.steps[index]
        low = max(
            (where[one] for number in mine for one in self.bundling.before[number] if one not in mine),
            default=-1,
        )
        high = min(
            (where[one] for number in mine for one in self.after[number] if one not in mine),
            default=len(self.steps),
        )
        rest = (*self.steps[:index], *self.steps[index + 1 :])
        for to in range(low + 1, high):
            if to != index:
                yield (*rest[:to], mine, *rest[to:])
