"""The error limits of an instrument that count while nobody vouches for those written down."""

from __future__ import annotations

import pytest

from trysquare.catalogue.instruments import instrument_kinds
from trysquare.machine.values import Instrument


def owned(sort: str, half_width_mm: float, reach_mm: float, *, marked: bool) -> Instrument:
    return Instrument(
        id="i", sort=sort, half_width_mm=half_width_mm, reach_mm=reach_mm, source="", marked=marked
    )


def test_an_unmarked_square_is_as_wide_as_the_table_says_and_no_finer_than_written() -> None:
    # 0.05 mm per 100 mm while unmarked: common practice, no source.
    assert owned("square", 0.01, 150.0, marked=False).trusted_half_width_mm == pytest.approx(0.075)
    assert owned("square", 0.2, 150.0, marked=False).trusted_half_width_mm == 0.2
    assert owned("square", 0.01, 150.0, marked=True).trusted_half_width_mm == 0.01


def test_a_levels_limits_are_per_metre_whatever_its_length() -> None:
    level = instrument_kinds()["level"]
    assert owned("level", 0.1, 300.0, marked=False).trusted_half_width_mm == level.unmarked_mm_per_100


def test_an_instrument_of_a_sort_that_we_do_not_know_has_the_limits_written() -> None:
    assert owned("divining-rod", 3.0, 0.0, marked=False).trusted_half_width_mm == 3.0
