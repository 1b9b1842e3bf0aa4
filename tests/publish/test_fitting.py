"""Outlines laid as large as fits into a small space."""

from __future__ import annotations

import pytest

from trysquare.publish.fitting import MARGIN_MM, fitted


def test_a_tall_outline_is_turned_into_a_wide_space_and_fills_it() -> None:
    laid = fitted((0.0, 0.0), (10.0, 40.0), 80.0 + 2 * MARGIN_MM, 20.0 + 2 * MARGIN_MM)
    assert laid is not None
    assert laid.turned
    assert laid.scale == pytest.approx(2.0)
    assert laid.size_mm == pytest.approx((80.0 + 2 * MARGIN_MM, 20.0 + 2 * MARGIN_MM))


@pytest.mark.parametrize("space", [(100.0, 30.0), (30.0, 100.0)])
def test_an_outline_is_never_mirrored(space: tuple[float, float]) -> None:
    laid = fitted((-3.0, 2.0), (5.0, 6.0), *space)
    assert laid is not None
    (ax, ay), (bx, by), (cx, cy) = laid.at(-3.0, 2.0), laid.at(5.0, 2.0), laid.at(-3.0, 6.0)
    # y goes down on paper: an outline's left turn is a right turn in paper coordinates.
    assert (bx - ax) * (cy - ay) - (by - ay) * (cx - ax) < 0


def test_an_outline_without_an_area_is_not_laid() -> None:
    assert fitted((0.0, 0.0), (0.0, 5.0), 10.0, 10.0) is None
