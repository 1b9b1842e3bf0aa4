"""Standard uncertainties, repeats and coverage, against the GUM's own tables and examples."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.truing.uncertainty import (
    coverage_factor,
    effective_degrees_of_freedom,
    scatter_of_mean,
    standard_uncertainty,
)


def test_one_reading_has_the_scatter_that_experience_knows() -> None:
    assert scatter_of_mean([420.1], known=0.02) == 0.02


def test_repeats_that_agree_do_not_make_a_reading_perfect() -> None:
    assert scatter_of_mean([420.1, 420.1, 420.1, 420.1], known=0.02) == pytest.approx(0.01, rel=0.1)


def test_repeats_that_scatter_as_experience_says_are_pooled_with_it() -> None:
    assert scatter_of_mean([420.0, 420.03], known=0.02) == pytest.approx(0.02 / math.sqrt(2), rel=0.1)


def test_repeats_that_scatter_far_more_than_experience_says_are_believed() -> None:
    values = [420.0, 420.3, 419.7, 420.2, 419.8]
    assert scatter_of_mean(values, known=0.02) == scatter_of_mean(values)


def test_without_experience_few_repeats_are_widened_by_student() -> None:
    # Source: JCGM 100:2008, table G.2: t for 4 degrees of freedom is 2.776 (2.78 as printed)
    values = [1.0, 2.0, 3.0, 4.0, 5.0]
    assert scatter_of_mean(values) == pytest.approx(math.sqrt(2.5 / 5) * 2.776 / 2, rel=1e-3)


@given(st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=20), st.floats(-100, 100))
def test_where_the_zero_lies_does_not_change_the_scatter(values: list[float], shift: float) -> None:
    moved = [value + shift for value in values]
    assert scatter_of_mean(moved) == pytest.approx(scatter_of_mean(values), rel=1e-6, abs=1e-9)


def test_known_uncertainties_have_no_end_of_degrees_of_freedom() -> None:
    assert math.isinf(effective_degrees_of_freedom([1.0, 2.0], [math.inf, math.inf]))
    assert coverage_factor(math.inf) == pytest.approx(1.95996, abs=5e-6)


def test_an_unsure_half_width_is_never_surer_than_a_rectangle_allows() -> None:
    assert standard_uncertainty(0.03) == pytest.approx(0.03 / math.sqrt(3))
