"""Work of keys against published and closed-form optima; the table stands in ledger/keys.csv."""

import csv
import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import pytest

from trysquare.stock.key_tree import Split, Tree, huffman_work, least_work

pytestmark = pytest.mark.outside

with (Path(__file__).parent / "ledger" / "keys.csv").open(encoding="utf-8") as file:
    LEDGER = {row["id"]: row for row in csv.DictReader(file)}


def numbers(identity: str) -> tuple[float, ...]:
    return tuple(float(word) for word in LEDGER[identity]["expected"].split(";"))


def split(*cells: Iterable[int]) -> Split:
    """A look of cost 1 with these sorts in its cells."""
    masks = [sum(1 << sort for sort in cell) for cell in cells]

    def cut(mask: int) -> tuple[int, ...]:
        return tuple(mask & cell for cell in masks if mask & cell)

    return Split(cost=1.0, cells=cut)


def by(sorts: int, label: Callable[[int], int]) -> Split:
    """A look that shows a label for each sort."""
    labels = sorted({label(sort) for sort in range(sorts)})
    return split(*([sort for sort in range(sorts) if label(sort) == one] for one in labels))


def any_split(sorts: int) -> list[Split]:
    """Every way to cut the sorts in two."""
    rest = range(1, sorts)
    return [
        split(chosen, set(range(sorts)) - {*chosen})
        for count in range(1, sorts)
        for chosen in itertools.combinations(rest, count)
    ]


def work(weights: Sequence[float], splits: Sequence[Split]) -> float:
    plan = least_work(weights, splits)
    assert plan.optimal
    return plan.work


def depth(tree: Tree) -> int:
    return 1 + max(map(depth, tree.cells)) if tree.cells else 0


@pytest.mark.parametrize(
    ("identity", "weights"),
    [
        ("KEY-003", [7, 4, 4, 3, *[2] * 6, *[1] * 6]),
        ("KEY-004", [5, 4, 6, 2, 3]),
        ("KEY-005", [5, 2, 1, 1, 2]),
        ("KEY-006", [1 / 8, 1 / 8, 1 / 4, 1 / 2]),
        ("KEY-007", [2, 4, 1, 1]),
        ("KEY-018", [1] * 16),
    ],
)
def test_free_yes_or_no_looks_take_as_much_work_as_huffmans_joins(
    identity: str, weights: list[float]
) -> None:
    assert huffman_work(weights) == numbers(identity)[0]


@pytest.mark.parametrize(
    ("identity", "weights"),
    [("KEY-004", [5, 4, 6, 2, 3]), ("KEY-005", [5, 2, 1, 1, 2]), ("KEY-007", [2, 4, 1, 1])],
)
def test_the_search_finds_huffmans_work_when_any_look_may_be_made(
    identity: str, weights: list[float]
) -> None:
    assert work(weights, any_split(len(weights))) == numbers(identity)[0]


@pytest.mark.parametrize(
    ("identity", "sorts"), [("KEY-010", 4), ("KEY-011", 5), ("KEY-012", 6), ("KEY-013", 7), ("KEY-015", 9)]
)
def test_equal_sorts_take_the_least_external_path_length(identity: str, sorts: int) -> None:
    assert work([1] * sorts, any_split(sorts)) == numbers(identity)[0]


@pytest.mark.slow
def test_twelve_equal_sorts_with_every_look_take_44_looks() -> None:
    # Source: KEY-017; 2047 different looks at each of the reachable piles
    assert work([1] * 12, any_split(12)) == numbers("KEY-017")[0]


def test_the_longest_way_is_the_information_bound() -> None:
    # Source: KEY-019
    for sorts, expected in zip((6, 8, 9, 40), numbers("KEY-019"), strict=True):
        looks = [by(sorts, lambda sort, bit=bit: sort >> bit & 1) for bit in range(6)]
        assert depth(least_work([1] * sorts, looks).tree) == expected
        assert math.ceil(math.log2(sorts)) == expected


def test_looks_with_three_answers_reach_their_information_bound() -> None:
    # Source: KEY-020
    for sorts, expected in zip((9, 10, 27), numbers("KEY-020"), strict=True):
        looks = [by(sorts, lambda sort, trit=trit: sort // 3**trit % 3) for trit in range(3)]
        assert depth(least_work([1] * sorts, looks).tree) == expected


def test_three_given_features_tell_six_sorts_in_16_looks() -> None:
    # Source: KEY-022
    rows = [
        word.strip().partition("=")[2] for word in LEDGER["KEY-022"]["inputs"].removeprefix("rows").split(";")
    ]
    looks = [by(6, lambda sort, row=row: int(row[sort])) for row in rows]
    assert work([1] * 6, looks) == numbers("KEY-022")[0]


def test_asking_for_one_sort_at_a_time_takes_the_triangular_numbers() -> None:
    # Source: KEY-023
    for sorts, expected in zip(range(2, 7), numbers("KEY-023"), strict=True):
        looks = [split([one], set(range(sorts)) - {one}) for one in range(sorts)]
        assert work([1] * sorts, looks) == expected == sorts * (sorts + 1) / 2 - 1


def test_bits_and_trits_are_read_one_after_the_other() -> None:
    # Source: KEY-024, KEY-025
    assert work([1] * 8, [by(8, lambda s, b=b: s >> b & 1) for b in range(3)]) == numbers("KEY-024")[0]
    assert work([1] * 9, [by(9, lambda s, t=t: s // 3**t % 3) for t in range(2)]) == numbers("KEY-025")[0]


def test_thresholds_alone_take_the_work_of_the_best_alphabetic_tree() -> None:
    # Source: KEY-027; without the order it would be Huffman's 142
    weights = [1, 2, 23, 4, 3, 3, 5, 19]
    thresholds = [split(range(line), range(line, 8)) for line in range(1, 8)]
    assert work(weights, thresholds) == numbers("KEY-027")[0]
    assert huffman_work(weights) == 142


def test_no_key_goes_below_the_entropy() -> None:
    # Source: KEY-030
    weights = [45, 13, 12, 16, 9, 5]
    entropy = -sum(w / 100 * math.log2(w / 100) for w in weights)
    assert entropy == pytest.approx(numbers("KEY-030")[0], abs=1e-5)
    assert work(weights, any_split(6)) / 100 == pytest.approx(2.24)
