"""Bars against their limits."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from trysquare.publish.limits_plot import MOST_BARS, Bar, Bars, limits_page


def drawn(*parts: float, name: str = "run") -> str:
    bars = tuple(Bar(name=f"{name} {at}", part=part, says=f"{part:g}") for at, part in enumerate(parts))
    plot = limits_page("Wiring", "What it says.", (Bars(title="Current", limit="planned", bars=bars),))
    assert plot is not None
    return plot.wide


def widths(svg: str) -> list[tuple[str, float]]:
    return [
        (kind, float(wide)) for kind, wide in re.findall(r'class="(bar|over)"[^>]* width="([\d.]+)"', svg)
    ]


def test_the_worst_stands_first_and_what_is_beyond_its_limit_is_dark() -> None:
    found = widths(drawn(0.2, 1.1, 0.5))
    assert [kind for kind, _ in found] == ["over", "bar", "bar"]
    longest, middle, shortest = (wide for _, wide in found)
    # Bars are as long as their part of the limit: the drawing says nothing else than the numbers.
    assert abs(longest / middle - 1.1 / 0.5) < 0.01
    assert abs(middle / shortest - 0.5 / 0.2) < 0.01


def test_a_bar_far_beyond_its_limit_stays_on_the_paper() -> None:
    (far,), (near,) = widths(drawn(80.0)), widths(drawn(1.0))
    assert far[1] < 1.5 * near[1]


def test_many_bars_are_bounded_and_the_others_are_counted() -> None:
    svg = drawn(*(0.01 * at for at in range(40)))
    assert len(widths(svg)) == MOST_BARS
    assert f"and {40 - MOST_BARS} more" in svg


def test_names_from_the_machine_are_text() -> None:
    svg = drawn(0.5, name="<script>&")
    ET.fromstring(svg)
    assert "<script" not in svg
