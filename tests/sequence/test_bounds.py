"""The bound under every arrangement's cost, against all arrangements of small ones."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator

import pytest

from trysquare.sequence.bounds import fewest_boxes, fewest_steps, least_cost, most_steps
from trysquare.sequence.bundles import COST_STEP, MOST_PARTS, Bundle, Bundling
from trysquare.sequence.moving_steps import Steps, moved
from trysquare.sequence.solving import cost_of, solve


def random_bundling(seed: int, count: int = 5) -> Bundling:
    """A few bundles of two units and two kinds, with needs that go forward."""
    rng = random.Random(seed)
    bundles = tuple(
        Bundle(
            number=number,
            operations=(number,),
            unit=rng.choice("pq"),
            kind=rng.choice(("nuts", "build")),
            up=rng.choice(("", "", "+z", "-z")),
            tools=frozenset(rng.sample(("key 2", "key 3", "spanner"), rng.randint(0, 2))),
            pieces=rng.choice((0, 2, 5, 7, 14)),
        )
        for number in range(count)
    )
    before = {
        after: frozenset(first for first in range(after) if rng.random() < 0.35) for after in range(count)
    }
    feeds = tuple((first, after) for after in before for first in before[after] if rng.random() < 0.5)
    return Bundling(bundles=bundles, before=before, feeds=feeds)


def arrangements(bundling: Bundling) -> Iterator[Steps]:
    """Every arrangement in steps that keeps needs, unit, kind, side and size."""
    numbers = range(len(bundling.bundles))
    for order in itertools.permutations(numbers):
        place = {number: at for at, number in enumerate(order)}
        if any(place[first] > place[after] for after in numbers for first in bundling.before[after]):
            continue
        for cuts in itertools.product((False, True), repeat=len(order) - 1):
            steps: list[list[int]] = [[order[0]]]
            for number, cut in zip(order[1:], cuts, strict=True):
                steps += [[number]] if cut else []
                steps[-1] += [] if cut else [number]
            if all(is_step([bundling.bundles[one] for one in step]) for step in steps):
                yield tuple(map(tuple, steps))


def is_step(step: list[Bundle]) -> bool:
    alike = len({(one.unit, one.kind) for one in step}) == 1 and len({one.up for one in step} - {""}) < 2
    return alike and sum(min(one.pieces, MOST_PARTS) for one in step) <= MOST_PARTS


@pytest.mark.parametrize("seed", range(25))
def test_no_arrangement_costs_less_than_the_bound_or_has_fewer_steps(seed: int) -> None:
    bundling = random_bundling(seed)
    known = list(arrangements(bundling))
    best = min(cost_of(bundling, steps) for steps in known)
    assert least_cost(bundling) <= best
    assert fewest_steps(bundling) <= min(len(steps) for steps in known)
    cheap = [len(steps) for steps in known if cost_of(bundling, steps) == best]
    assert max(cheap) <= most_steps(bundling, best)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_the_solver_finds_and_proves_the_cheapest_of_all_arrangements(seed: int) -> None:
    bundling = random_bundling(seed)
    each_alone = tuple((number,) for number in range(len(bundling.bundles)))
    solved = solve(bundling, each_alone, 20.0)
    assert solved.optimal
    assert solved.cost == min(cost_of(bundling, steps) for steps in arrangements(bundling))


@pytest.mark.parametrize("seed", range(12))
def test_single_moves_never_cost_more_and_keep_every_need(seed: int) -> None:
    bundling = random_bundling(seed, 8)
    each_alone = tuple((number,) for number in range(8))
    steps, cost = moved(bundling, each_alone, lambda steps: cost_of(bundling, steps))
    assert cost == cost_of(bundling, steps) <= cost_of(bundling, each_alone)
    where = {number: at for at, step in enumerate(steps) for number in step}
    assert all(where[first] <= where[after] for after in where for first in bundling.before[after])
    assert all(is_step([bundling.bundles[one] for one in step]) for step in steps)


def test_moving_stops_when_somebody_says_so() -> None:
    bundling = random_bundling(1)
    each_alone = tuple((number,) for number in range(5))
    assert moved(bundling, each_alone, lambda _: COST_STEP, stop=lambda: True)[0] == each_alone


@pytest.mark.parametrize(
    ("sizes", "steps"),
    [
        ([], 1),
        ([0, 0], 1),
        ([12, 1], 2),
        ([7, 7, 7], 3),  # 21 pieces would fill two, but no two of them share one
        ([7, 7, 5, 5], 2),
        ([7, 7, 6, 6], 3),
        ([30, 30], 2),  # what is too large stands alone
    ],
)
def test_fewest_steps_for_pieces_are_those_of_packing_them(sizes: list[int], steps: int) -> None:
    # Source: counted by hand.
    assert fewest_boxes(sizes) == steps
