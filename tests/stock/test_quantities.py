"""What a cell says of how many."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.stock.quantities import NotACount, Quantity, number, read_quantity


@pytest.mark.parametrize(
    ("text", "pieces"),
    [
        ("24", 24), ("0", 0), (" 24 pcs ", 24), ("24 x", 24),
        ("x24", 24), ("50 pieces", 50), ("12 Stück", 12),
        ("1 000", 1000), ("1'000", 1000), ("1\u202f000", 1000), ("12.0", 12), (24.0, 24), (7, 7),
        ("1,000", 1000), ("1,234,567", 1234567), ("1.000.000", 1000000),
        ("2 packs of 50", 100), ("2 bags à 25", 50), ("3 x 10", 30), ("3×10 pcs", 30), ("2 boxes / 20", 40),
        ("pack of 50", 50), ("bag of 12 pcs", 12),
    ],
)  # fmt: skip
def test_a_count_is_read_as_a_person_reads_it(text: object, pieces: int) -> None:
    assert read_quantity(text).pieces == pieces


def test_where_the_comma_is_the_decimal_mark_the_point_parts_thousands() -> None:
    assert read_quantity("1.000", decimal_comma=True).pieces == 1000
    assert number("12,5", decimal_comma=True) == 12.5


@pytest.mark.parametrize(("text", "comma"), [("1.000", False), ("1,000", True), ("12.500", False)])
def test_a_number_that_reads_two_ways_is_not_guessed(text: str, comma: bool) -> None:
    with pytest.raises(NotACount, match="one way"):
        read_quantity(text, decimal_comma=comma)


@pytest.mark.parametrize("text", ["-3", "−3", "(3)", "- 12 pcs", -3, -0.5])
def test_a_negative_count_is_refused(text: object) -> None:
    with pytest.raises(NotACount, match="0 or more"):
        read_quantity(text)


@pytest.mark.parametrize("text", ["2.5", "0.5", 2.5, "2,5"])
def test_half_a_piece_is_refused(text: object) -> None:
    with pytest.raises(NotACount, match="whole number"):
        read_quantity(text)


@pytest.mark.parametrize("text", ["about 50", "~50", "ca. 20", "50+", ">10", "at least 4"])
def test_a_count_nobody_made_is_refused(text: str) -> None:
    with pytest.raises(NotACount, match="exact"):
        read_quantity(text)


@pytest.mark.parametrize(
    "cell",
    [
        "",
        "a few",
        "n/a",
        "#REF!",
        "1e3",
        "50 g",
        dt.date(2024, 3, 8),
        True,
        float("nan"),
        float("inf"),
        "9" * 30,
    ],
)
def test_what_is_no_count_is_refused(cell: object) -> None:
    with pytest.raises(NotACount):
        read_quantity(cell)


def test_packs_without_a_size_are_packs_and_no_pieces_yet() -> None:
    assert read_quantity("2 packs") == Quantity(pieces=0, packs=2)


@pytest.mark.parametrize(
    ("text", "pieces", "length_mm"),
    [
        ("5 m", 1, 5000), ("2.5 m", 1, 2500), ("2,5 m", 1, 2500), ("3000 mm", 1, 3000), ("40 cm", 1, 400),
        ("2 x 1.5 m", 2, 1500), ("2 rolls of 5 m", 2, 5000), ("1 roll of 10 metres", 1, 10000),
    ],
)  # fmt: skip
def test_lengths_may_have_fractions(text: str, pieces: int, length_mm: float) -> None:
    assert read_quantity(text) == Quantity(pieces=pieces, length_mm=length_mm)


@given(st.integers(0, 999_999_999))
def test_a_number_is_read_back_however_its_thousands_are_marked(count: int) -> None:
    for mark in (",", " ", "'", ""):
        assert read_quantity(f"{count:,}".replace(",", mark)).pieces == count
    if count > 999:
        assert read_quantity(f"{count:,}".replace(",", "."), decimal_comma=True).pieces == count


@given(st.text(max_size=60))
def test_any_text_is_a_quantity_or_refused(text: str) -> None:
    try:
        found = read_quantity(text)
    except NotACount:
        return
    assert found.pieces >= 0
