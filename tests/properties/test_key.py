"""Laws of the key: never worse than any other order of looks, and as reliable as it says."""

from __future__ import annotations

from functools import cache
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from trysquare.stock.key_tree import EXACT_SORTS, Tree, bits, least_work
from trysquare.stock.looks import Look
from trysquare.stock.readings import ways


def look(chance: Random, sorts: int) -> Look:
    """A look of any sort: seen or measured, here and there unknown or absent, told or hardly told sizes."""
    way = ways()[chance.choice(sorted(ways()))]
    strange = chance.choice([0.0, 0.0, 0.05])
    if chance.random() < 0.6:
        labels = ["x", "y", "z"][: chance.choice([2, 2, 3])]
        seen = [None if chance.random() < strange else chance.choice(labels) for _ in range(sorts)]
        return Look(feature="head", way=way, shows=tuple(seen))
    most = chance.choice([3, 12, 40])
    sizes = [
        chance.choice([None, ""]) if chance.random() < strange else chance.randint(0, most)
        for _ in range(sorts)
    ]
    return Look(
        feature="length",
        way=way,
        shows=tuple(size if size is None else str(size) for size in sizes),
        values=tuple(float(size) if isinstance(size, int) else float("nan") for size in sizes),
        uncertainties=tuple(chance.choice([0.1, 0.4, 1.0]) for _ in range(sorts)),
    )


@st.composite
def questions(draw: st.DrawFn, least: int, most: int) -> tuple[list[float], list[Look]]:
    """Weights of the sorts, and looks at them."""
    sorts, count = draw(st.integers(least, most)), draw(st.integers(2, 9))
    chance = Random(draw(st.integers(0, 2**32)))
    weights = [float(chance.randint(1, 50)) for _ in range(sorts)]
    return weights, [look(chance, sorts) for _ in range(count)]


def exhaustive(weights: list[float], rows: list[Look], untold: float) -> float:
    """The least work by trying every look at every pile, without any bound."""

    @cache
    def least(pile: frozenset[int]) -> float:
        weight = sum(weights[sort] for sort in pile)
        found = []
        for row in rows:
            cells = told(row, pile)
            if len(cells) > 1:
                found.append(row.cost * weight + sum(map(least, cells)))
        return min(found, default=untold * weight if len(pile) > 1 else 0.0)

    return least(frozenset(range(len(weights))))


def told(look: Look, pile: frozenset[int]) -> list[frozenset[int]]:
    """The cells of a look, put together again from "cannot be told from": a cell is what hangs together."""
    if any(look.shows[sort] is None for sort in pile):
        return []
    left, cells = set(pile), []
    while left:
        cell, waiting = set(), [min(left)]
        while waiting:
            sort = waiting.pop()
            if sort in cell:
                continue
            cell.add(sort)
            waiting += [other for other in left - cell if not apart(look, sort, other)]
        left -= cell
        cells.append(frozenset(cell))
    return cells


def apart(look: Look, one: int, other: int) -> bool:
    if look.readable(one) and look.readable(other):
        reach = 3 * (look.uncertainties[one] + look.uncertainties[other])
        return abs(look.values[one] - look.values[other]) > reach
    if look.readable(one) or look.readable(other):
        return True
    return look.shows[one] != look.shows[other]


def walked(tree: Tree, weights: list[float], rows: list[Look], untold: float) -> float:
    """What a tree costs, added up on the way."""
    weight = sum(weights[sort] for sort in bits(tree.mask))
    if tree.look < 0:
        return untold * weight if tree.mask & (tree.mask - 1) else 0.0
    return rows[tree.look].cost * weight + sum(walked(cell, weights, rows, untold) for cell in tree.cells)


@settings(max_examples=300)
@given(questions(least=1, most=8))
def test_up_to_twelve_sorts_no_order_of_looks_takes_less_work(
    question: tuple[list[float], list[Look]],
) -> None:
    weights, rows = question
    plan = least_work(weights, [row.split for row in rows], untold=3600)
    best = exhaustive(weights, rows, 3600)
    assert plan.optimal
    assert abs(plan.work - best) <= 1e-6 * max(1.0, best)


@settings(max_examples=40)
@given(questions(least=9, most=EXACT_SORTS))
def test_that_holds_up_to_the_twelfth_sort(question: tuple[list[float], list[Look]]) -> None:
    weights, rows = question
    plan = least_work(weights, [row.split for row in rows], untold=3600)
    best = exhaustive(weights, rows, 3600)
    assert abs(plan.work - best) <= 1e-6 * max(1.0, best)


@settings(max_examples=60)
@given(questions(least=1, most=30), st.integers(0, 300))
def test_a_larger_key_costs_what_it_says_and_never_less_than_its_bound(
    question: tuple[list[float], list[Look]], steps: int
) -> None:
    weights, rows = question
    plan = least_work(weights, [row.split for row in rows], untold=3600, steps=steps)
    cost = walked(plan.tree, weights, rows, 3600)
    assert abs(plan.work - cost) <= 1e-6 * max(1.0, cost)
    assert plan.least <= plan.work * (1 + 1e-9)
    sorts = sorted(sort for leaf in plan.tree.leaves() for sort in bits(leaf.mask))
    assert sorts == list(range(len(weights)))
    exact = least_work(weights, [row.split for row in rows], untold=3600, steps=200_000)
    if exact.optimal:
        assert plan.least <= exact.work * (1 + 1e-9) + 1e-6
        assert exact.work <= plan.work * (1 + 1e-9) + 1e-6
