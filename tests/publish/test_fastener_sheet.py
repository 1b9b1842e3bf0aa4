"""The sheet to lay screws on: exact in its numbers, and exact as a viewer shows it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from publish.machines import SCREWS_MM, listed
from publish.paper import DOT_MM, paths_of, pixels_of, text_of
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Screw
from trysquare.machine.values import Machine
from trysquare.publish.fastener_drawing import screw_side
from trysquare.publish.fastener_sheet import fastener_sheet_pdf, fasteners_of
from trysquare.publish.sorts import Labelled, labelled_sorts

EXACT_MM = 0.005  # numbers in a PDF are rounded to about a thousandth of a point


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_bar_is_100_mm_in_the_file(fasteners: dict[str, bytes], paper: str) -> None:
    bars = [one for one in paths_of(fasteners[paper]) if one.height_mm < EXACT_MM and one.width_mm > 90]
    lengths = sorted(bar.width_mm for bar in bars if bar.width_mm < 120)
    expected = [100.0] if paper == "a4" else [100.0, 4 * 25.4]
    assert lengths == pytest.approx(expected, abs=EXACT_MM)


def test_the_bar_is_100_mm_in_pixels(fasteners: dict[str, bytes]) -> None:
    picture = pixels_of(fasteners["a4"])
    top = picture[: round(36 / DOT_MM)] < 128  # above the first thread
    row = max(top, key=longest_run)
    assert longest_run(row) == pytest.approx(100 / DOT_MM, abs=4)  # both ends have a pen of 0.22 mm
    ends = np.flatnonzero(row)
    # From the middle of the first mark to the middle of the last: the pen falls out.
    assert middle_of_mark(top, ends[0]) == pytest.approx(middle_of_mark(top, ends[-1]) - 100 / DOT_MM, abs=1)


def longest_run(row: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(int), [0]))))
    return int(max(edges[1::2] - edges[::2], default=0))


def middle_of_mark(dark: np.ndarray[tuple[int, int], np.dtype[np.bool_]], near: int) -> float:
    """The middle, in pixels, of the upright mark that stands near a column."""
    columns = range(max(0, near - 5), near + 6)
    heights = np.array([longest_run(dark[:, column]) for column in columns])
    thick = [column for column, height in zip(columns, heights, strict=True) if height > 0.8 * heights.max()]
    return float(np.mean(thick))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_screw_is_as_long_and_thick_as_the_catalogue_says(
    fasteners: dict[str, bytes], paper: str
) -> None:
    drawn = paths_of(fasteners[paper])
    for name, length_mm in SCREWS_MM.items():
        screw = lookup(name)
        assert isinstance(screw, Screw)
        thick = screw.head_diameter_mm if screw.standard == "ISO 10642" else screw.thread.diameter_mm
        assert any(
            one.width_mm == pytest.approx(length_mm, abs=EXACT_MM)
            and one.height_mm == pytest.approx(thick, abs=EXACT_MM)
            for one in drawn
        ), name


def test_a_screw_is_as_long_in_pixels(tmp_path: Path) -> None:
    machine = listed(tmp_path / "one", "[part]\n", {"ISO 4762 M5x40": 1})
    pdf = fastener_sheet_pdf(machine, labelled_sorts(machine), "a4").pdf
    picture = pixels_of(pdf) < 128
    (shank,) = (one for one in paths_of(pdf) if abs(one.width_mm - 40) < EXACT_MM)
    middle = round((297 - (shank.bottom_mm + shank.top_mm) / 2) / DOT_MM)
    band = picture[middle - 10 : middle + 10, : round((shank.right_mm + 1) / DOT_MM)]
    upright = np.flatnonzero(band.all(axis=0))  # columns dark all over: head, bearing face, tip
    faces = [upright[abs(upright - at / DOT_MM) < 4].mean() for at in (shank.left_mm, shank.right_mm)]
    assert faces[1] - faces[0] == pytest.approx(40 / DOT_MM, abs=1)


def test_nuts_washers_and_inserts_are_drawn_to_size(fasteners: dict[str, bytes]) -> None:
    boxes = {(round(one.width_mm, 2), round(one.height_mm, 2)) for one in paths_of(fasteners["a4"])}
    assert (2.4, 5.5) in boxes  # ISO 4032 M3 from the side: height, across flats
    assert (10.0, 10.0) in boxes  # ISO 7089 M5, outer diameter
    assert any(abs(width - 5.7) < 0.01 for width, _ in boxes)  # the insert's length


def test_fasteners_stand_by_thread_and_length(sorts: tuple[Labelled, ...]) -> None:
    assert [sort.part for sort in fasteners_of(sorts)] == [
        "ISO 4026 M3x6", "ISO 4762 M3x8", "ISO 4032 M3", "heat-set insert M3x5.7", "ISO 7380-1 M4x16",
        "ISO 10642 M5x16", "ISO 4762 M5x50", "ISO 7089 M5", "slide-in nut slot 6 M5",
    ]  # fmt: skip


def test_bearing_faces_of_one_thread_stand_on_one_line(tmp_path: Path) -> None:
    counts = {f"ISO {standard} M3x{length}": 1 for standard in ("4762", "7380-1") for length in (8, 12)}
    machine = listed(tmp_path / "four", "[part]\n", counts)
    drawn = paths_of(fastener_sheet_pdf(machine, labelled_sorts(machine), "a4").pdf)
    shanks = [
        one for one in drawn if round(one.width_mm, 2) in (8.0, 12.0) and abs(one.height_mm - 3) < EXACT_MM
    ]
    assert len(shanks) == 4
    columns = {round(one.left_mm, 2) for one in shanks}
    assert len(columns) == 2  # two columns on the sheet


def test_counts_and_designations_stand_beside_the_drawings(
    fasteners: dict[str, bytes], sorts: tuple[Labelled, ...]
) -> None:
    text = text_of(fasteners["a4"]).replace("\xa0", " ")
    for sort in fasteners_of(sorts):
        assert f"{sort.letter} {sort.part} × {sort.pieces}" in text
    assert "Print at 100 %" in text


def test_a_machine_without_fasteners_gets_a_page_that_says_so(tmp_path: Path) -> None:
    machine = listed(tmp_path / "none", counts={"plate": 1})
    pages = fastener_sheet_pdf(machine, labelled_sorts(machine), "a4")
    assert pages.count == 1
    assert "no screws" in text_of(pages.pdf)


def test_a_countersunk_screw_counts_from_the_top_of_its_head_and_a_set_screw_over_all() -> None:
    for name in ("ISO 10642 M5x16", "ISO 4026 M3x6"):
        screw = lookup(name)
        assert isinstance(screw, Screw)
        view = screw_side(screw)
        assert (view.left_mm, view.right_mm) == (0.0, screw.length_mm)


def test_the_whole_sheet_is_told_by_thread(machine: Machine, fasteners: dict[str, bytes]) -> None:
    words = text_of(fasteners["a4"]).split()
    assert next(word for word in words if word in ("M3", "M4", "M5")) == "M3"
    assert machine.name in words[0]
