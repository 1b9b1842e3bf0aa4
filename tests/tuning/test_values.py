"""How a measured value is written: with the digits that its uncertainty lets count."""

from __future__ import annotations

import pytest

from trysquare.tuning.values import Measured, value_words


@pytest.mark.outside
@pytest.mark.parametrize(
    ("value", "expanded", "words"),
    [(0.827, 0.119, "0.83 ± 0.12"), (0.827, 0.367, "0.8 ± 0.4")],
)
def test_digits_are_those_of_the_particle_data_group(value: float, expanded: float, words: str) -> None:
    # Source: Particle Data Group, Review of Particle Physics, introduction, 5.3: 0.827 ± 0.119 becomes
    # 0.83 ± 0.12, while 0.827 ± 0.367 becomes 0.8 ± 0.4.
    assert value_words(value, expanded) == words


@pytest.mark.parametrize(
    ("value", "expanded", "words"),
    [
        (1.52265, 0.00099, "1.5227 ± 0.0010"),
        (590.7, 0.5, "590.7 ± 0.5"),
        (112000, 1293, "112000 ± 1300"),
        (11.6, 2.0, "11.6 ± 2.0"),
        (-1e-9, 0.01, "0.000 ± 0.010"),
        (1.00083, 0.00014, "1.00083 ± 0.00014"),
    ],
)
def test_no_more_digits_are_written_than_count(value: float, expanded: float, words: str) -> None:
    assert value_words(value, expanded) == words


def test_what_is_only_reckoned_has_four_digits_and_no_plus_minus() -> None:
    assert str(Measured(value=1131.3708, standard_uncertainty=0.0, unit="mm/s")) == "1131 mm/s"
    assert value_words(0.0, 0.0) == "0.000"
