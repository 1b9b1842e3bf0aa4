"""Plots of tuning on a phone: the narrow sheet's letters are readable, and nothing leaves it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np

from trysquare.publish.chart import NARROW_MM, Chart, Plot, chart_page, letters_mm
from trysquare.publish.limits_plot import Bar, Bars, limits_page
from trysquare.publish.surface_plot import surface_plot
from trysquare.tuning.surface import Screw, look_at_surface

PHONE_PX, EDGES_PX = 360, 34  # a small phone, and the page's edges and the picture's frame
READABLE_PX = 11
SVG = "{http://www.w3.org/2000/svg}"


def chart() -> Plot:
    one = Chart(
        title="x: what is left of the swing at 52.2 Hz when its frequency is off by some per cent",
        across="commanded, mm",
        up="% left",
        across_limits=(-1000.0, 1000.0),
        up_limits=(-60.0, 6.0),
    )
    for style in ("strong", "quiet", "dashed", "dotted"):
        one.line(np.array([-1000.0, 1000.0]), np.array([-60.0, 6.0]), style, f"Cohen and Coon, {style}")
    one.band(-100, 100, "frequency off by up to 10 %")
    one.mark(-1000, "55.5 Hz")
    one.mark(1000, "astray +94 µm")
    drawn = chart_page("Resonance", "It swings.", [one, one])
    assert drawn is not None
    return drawn


def bars() -> Plot:
    rows = tuple(
        Bar(name=f"Screws of frame and motion, number {at}: hours", part=at / 10, says="89.4 h of 20 h")
        for at in range(20)
    )
    drawn = limits_page("Maintenance", "Due.", (Bars(title="Since it was done", limit="due", bars=rows),))
    assert drawn is not None
    return drawn


def bed() -> Plot:
    grid = np.array([(x, y, 0.001 * x * (-1) ** y) for x in range(0, 181, 20) for y in range(0, 181, 20)])
    screws = (
        Screw(name="front-left-point", x_mm=5, y_mm=0, pitch_mm=0.7),
        Screw(name="front-right-point", x_mm=180, y_mm=0, pitch_mm=0.7),
        Screw(name="back-middle-point", x_mm=90, y_mm=180, pitch_mm=0.7),
    )
    return surface_plot(grid, look_at_surface(grid, screws), screws)


def texts(svg: str) -> list[tuple[str, float, float, float]]:
    """Each text with where it begins and ends across, and its height, in mm."""
    root = ET.fromstring(svg)
    middle_by_style = "text-anchor:middle" in svg
    found = []
    for text in root.iter(f"{SVG}text"):
        words, size, x = text.text or "", float(text.get("font-size", "0")), float(text.get("x", "0"))
        wide = letters_mm(words, size)
        anchor = text.get("text-anchor", "middle" if middle_by_style else "start")
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[anchor]
        found.append((words, left, left + wide, size))
    return found


def test_every_letter_of_a_narrow_plot_is_readable_on_a_phone() -> None:
    for plot in (chart(), bars(), bed()):
        for words, _, _, size in texts(plot.narrow):
            assert size * (PHONE_PX - EDGES_PX) / NARROW_MM >= READABLE_PX, words


def test_no_words_leave_a_narrow_plot() -> None:
    for plot in (chart(), bars(), bed()):
        assert re.search(rf'viewBox="0 0 {NARROW_MM:g} ', plot.narrow)
        for words, left, right, _ in texts(plot.narrow):
            assert left >= 0, words
            assert right <= NARROW_MM, words


def test_figures_of_a_narrow_bed_that_would_run_into_each_other_are_left_out_and_discs_stay() -> None:
    plot = bed()
    assert plot.narrow.count("<circle") == plot.wide.count("<circle") == 100
    assert plot.narrow.count("<text") < plot.wide.count("<text")
    assert ">+90<" in plot.narrow


def test_nothing_to_draw_is_no_plot() -> None:
    assert chart_page("Drives", "", []) is None
    assert limits_page("Maintenance", "", (Bars(title="Since it was done", limit="due", bars=()),)) is None
