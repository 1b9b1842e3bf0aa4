"""What a wrong count means."""

from __future__ import annotations

import itertools
import math

import pytest

from trysquare.ground.errors import ReadingError
from trysquare.stock.features import Features, Size
from trysquare.stock.key import Key, Sort, sorting_key
from trysquare.stock.miscount import _rates, explain_counts, off_by_one, read_found


def key() -> Key:
    """Three bars of one length that differ by holes, and a shorter one."""

    def bar(letter: str, pieces: int, length: float, holes: int) -> Sort:
        return Sort(
            letter=letter,
            name=letter,
            parts={letter.lower(): pieces},
            features=Features(
                form="bar",
                sizes={"length": Size(value=length, spread=0.2)},
                seen={"hole_count": f"{holes} holes" if holes else "no hole"},
            ),
        )

    return sorting_key([bar("A", 4, 380, 0), bar("B", 2, 380, 1), bar("C", 1, 380, 2), bar("D", 6, 300, 0)])


def test_right_counts_need_no_explanation() -> None:
    rows = explain_counts(key(), {"A": 4, "B": 2, "C": 1, "D": 6})
    assert all(not row.explanations and not row.difference for row in rows)


def test_one_too_few_and_one_too_many_elsewhere_is_one_piece_in_the_wrong_pile() -> None:
    rows = {row.pile: row for row in explain_counts(key(), {"A": 3, "B": 3, "C": 1, "D": 6})}
    assert rows["A"].explanations[0].says == "one of A lies in B"
    assert rows["A"].explanations[0].probability > 0.95
    assert rows["B"].explanations[0].says == "one of A lies in B"


def test_one_too_few_with_all_other_piles_right_is_missing_or_miscounted() -> None:
    rows = {row.pile: row for row in explain_counts(key(), {"A": 3, "B": 2, "C": 1, "D": 6})}
    assert [one.sort for one in rows["A"].explanations] == ["missing", "counted wrong"]
    assert sum(one.probability for one in rows["A"].explanations) == pytest.approx(1)


def test_a_pile_that_was_not_counted_may_hold_the_piece() -> None:
    rows = {row.pile: row for row in explain_counts(key(), {"A": 3})}
    ranked = rows["A"].explanations
    assert {one.other for one in ranked} == {"B", "C", ""}
    assert [one.probability for one in ranked] == sorted((one.probability for one in ranked), reverse=True)
    alone = next(one for one in off_by_one(key()) if one.pile == "A")
    assert {(one.sort, one.other): pytest.approx(one.probability) for one in ranked} == {
        (one.sort, one.other): one.probability for one in alone.too_few
    }


def test_probabilities_agree_with_adding_up_all_combinations_of_events() -> None:
    """Two of A lacking, one too many in B and in C: every combination of up to three events each, by hand."""
    counts = {"A": 2, "B": 3, "C": 2, "D": 6}
    rates = _rates(key())
    number = {name: index for index, name in enumerate(rates.piles)}
    a, b, c = number["A"], number["B"], number["C"]
    events = [  # effect on A, B, C and how often it is expected
        ((-1, 1, 0), rates.moved[a, b]),
        ((-1, 0, 1), rates.moved[a, c]),
        ((-1, 0, 0), rates.missing[a]),
        ((-1, 0, 0), rates.wrong[a]),
        ((0, 1, 0), rates.too_many[b]),
        ((0, 1, 0), rates.wrong[b]),
        ((0, 0, 1), rates.too_many[c]),
        ((0, 0, 1), rates.wrong[c]),
    ]
    whole = into_b = 0.0
    for often in itertools.product(range(3), repeat=len(events)):
        effect = tuple(
            sum(n * change[axis] for n, (change, _) in zip(often, events, strict=True)) for axis in range(3)
        )
        if effect == (-2, 1, 1):
            weight = math.prod(
                rate**n / math.factorial(n) for n, (_, rate) in zip(often, events, strict=True)
            )
            whole += weight
            into_b += weight * (often[0] > 0)
    rows = {row.pile: row for row in explain_counts(key(), counts)}
    found = next(one.probability for one in rows["A"].explanations if one.other == "B")
    assert found == pytest.approx(into_b / whole)


def test_sorts_that_cannot_be_told_are_counted_together() -> None:
    one, other, *_ = key().sorts
    twin = Sort(letter="E", name="twin", parts={"e": 3}, features=one.features)
    made = sorting_key([one, other, twin])
    assert made.untold == (("A", "E"),)
    assert {row.pile: row.difference for row in explain_counts(made, {"A+E": 6, "B": 2})} == {
        "A+E": -1,
        "B": 0,
    }
    assert {row.pile: row.found for row in explain_counts(made, {"A": 3, "E": 3})} == {"A+E": 6, "B": None}
    with pytest.raises(ReadingError, match="cannot be told"):
        explain_counts(made, {"A": 4})


def test_very_many_wrong_piles_at_once_are_still_answered() -> None:
    rows = explain_counts(key(), {"A": 0, "B": 900_000, "C": 900_000, "D": 900_000})
    assert all(0 <= one.probability <= 1 for row in rows for one in row.explanations)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("A=-1", "0 or more"),
        ("A=1.5", "whole number"),
        ("A=1,000", "as A=3"),
        ("A", "as A=3"),
        ("", "as A=3"),
        ("Q=3", "a letter of this machine"),
        ("A=3,A=4", "each pile once"),
        ("A=1e3", "whole number"),
        ("A=99999999", "whole number"),
        ("A=٣", "whole number"),
    ],
)
def test_counts_that_are_none_are_refused_with_what_to_write(text: str, says: str) -> None:
    with pytest.raises(ReadingError, match=says) as caught:
        read_found(text, ["A", "B"])
    assert caught.value.remedy


def test_counts_are_read_whatever_the_case_and_order() -> None:
    assert read_found(" b = 4 ; a+ B=3", ["A", "B"]) == {"B": 4, "A+B": 3}
