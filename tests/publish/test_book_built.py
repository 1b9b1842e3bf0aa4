"""The book's as-built sheet: every characteristic has a row, read or to be filled."""

from __future__ import annotations

from pathlib import Path

import pytest

from publish.paper import text_of
from trysquare.machine.load import load_machine
from trysquare.publish.book import book_pdf
from trysquare.publish.book_built import Built, as_built, value_words
from trysquare.publish.known import Known, known_of

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="module")
def reed_known() -> Known:
    return known_of(load_machine(DEMO / "reed-joints", []))


def test_every_characteristic_has_a_row_in_the_order_of_its_steps(reed_known: Known) -> None:
    rows = as_built(reed_known, {})
    assert len(rows) == len(reed_known.machine.characteristics)
    numbers = [row["step"] or 999 for row in rows]
    assert numbers == sorted(numbers)
    assert {row["value"] for row in rows} == {""}


def test_what_was_read_stands_in_the_sheet_with_its_doubt_and_its_instrument(reed_known: Known) -> None:
    built = {
        "rail-parallel": Built(
            value=-0.0312, expanded=0.0221, verdict="good", date="2031-05-04", instruments=("caliper",)
        )
    }
    text = text_of(book_pdf(reed_known, "a4", built=built).pdf)
    assert "As built" in text
    assert "\u22120.031 ± 0.022" in text
    assert "2031-05-04" in text


@pytest.mark.parametrize(
    ("value", "expanded", "words"),
    [(0.2349, 0.0221, "0.235 ± 0.022"), (-0.0001, 0.03, "0.000 ± 0.030"), (12.3, 2.4, "12.3 ± 2.4"),
     (120.4, 31.0, "120 ± 31"), (2.5, 0.0, "2.5")],
)  # fmt: skip
def test_a_value_has_the_digits_that_its_uncertainty_lets_count(
    value: float, expanded: float, words: str
) -> None:
    """Source: GUM (JCGM 100:2008) 7.2.6, at most two digits of an uncertainty, the value to match."""
    assert value_words(value, expanded) == words
