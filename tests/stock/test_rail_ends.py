"""Rails whose two end distances a text says."""

from __future__ import annotations

import pytest

from trysquare.stock.row_text import understand


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("rail 9x280 G1=5 G2=15", "rail 9x280 ends 5/15"),
        ("rail 9x280 G1 5 G2 15", "rail 9x280 ends 5/15"),
        ("linear rail 9 mm, 280 mm long, G1: 5 mm, G2: 15 mm", "rail 9x280 ends 5/15"),
        ("rail 9x280 G1/G2 = 5/15", "rail 9x280 ends 5/15"),
        ("rail 12x330 ends 5/25", "rail 12x330 ends 5/25"),
        ("rail 9x280 G1=10 G2=10", "rail 9x280"),
        ("Linearschiene 9x280 G1=15 G2=5", "rail 9x280 ends 15/5"),
    ],
)
def test_a_rail_with_both_ends_said_is_that_rail(text: str, part: str) -> None:
    # Source: maker sheets' ordering codes, L = G1 + T·(z − 1) + G2 with T = 20 mm of 9 mm rails and 25 mm of
    # 12 mm rails; from memory
    certain = understand(text).certain
    assert certain is not None, understand(text)
    assert certain.designation == part


@pytest.mark.parametrize("text", ["rail 9x280 G1=5", "rail 9x280 G1=5 G2=8"])
def test_a_rail_with_one_end_said_or_ends_that_do_not_fit_is_asked(text: str) -> None:
    read = understand(text)
    assert read.certain is None
    assert read.readings[0].designation == "rail 9x280"
