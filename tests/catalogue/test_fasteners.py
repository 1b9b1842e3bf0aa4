"""Screws, nuts, washers, inserts, holes and strengths."""

from __future__ import annotations

import pytest

from trysquare.catalogue.holes import FITS, clearance_hole_mm
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.rows import rows
from trysquare.catalogue.screws import (
    length_tolerance_mm,
    screw,
    screw_standards,
    sold_lengths_mm,
    standard_lengths_mm,
)
from trysquare.catalogue.strengths import strength, strength_names
from trysquare.catalogue.threads import thread, thread_names
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Head, Insert, Nut

SCREWS = [(row["standard"], row["thread"]) for row in rows("screws")]


@pytest.mark.parametrize(("nominal_mm", "half_mm"), [(6, 0.24), (8, 0.29), (12, 0.35)])
def test_screws_are_delivered_as_much_longer_or_shorter_as_maker_sheets_say(
    nominal_mm: float, half_mm: float
) -> None:
    part = screw("ISO 7380-1", "M3", nominal_mm)
    assert (part.length_plus_mm, part.length_minus_mm) == (half_mm, half_mm)


def test_a_length_without_tolerance_is_refused() -> None:
    for length_mm in (0.0, -3.0, 500.0, float("nan")):
        with pytest.raises(UnknownDesignation):
            length_tolerance_mm(length_mm)


@pytest.mark.parametrize(("standard", "name"), SCREWS)
def test_every_screw_row_has_lengths_inside_its_standards_series(standard: str, name: str) -> None:
    lengths_mm = standard_lengths_mm(standard, name)
    assert len(lengths_mm) >= 4
    assert list(lengths_mm) == sorted(lengths_mm)
    assert set(lengths_mm) <= set(sold_lengths_mm(standard, name))


@pytest.mark.parametrize(("standard", "name"), SCREWS)
def test_the_key_fits_inside_the_screw(standard: str, name: str) -> None:
    for length_mm in sold_lengths_mm(standard, name):
        part = screw(standard, name, length_mm)
        width_mm = part.head_diameter_mm or part.thread.diameter_mm
        corners_mm = part.key_mm * 2 / 3**0.5
        assert corners_mm < width_mm
        deepest_mm = part.length_mm if part.head in (Head.NONE, Head.COUNTERSUNK) else part.head_height_mm
        assert 0 < part.key_depth_mm < deepest_mm


def test_a_length_that_only_dealers_sell_says_so() -> None:
    assert 5.0 not in standard_lengths_mm("ISO 7380-1", "M3")
    assert "common practice" in screw("ISO 7380-1", "M3", 5).source
    assert "common practice" not in screw("ISO 7380-1", "M3", 6).source


def test_a_short_set_screw_has_a_shallower_socket() -> None:
    assert screw("ISO 4026", "M3", 3).key_depth_mm == 1.2
    assert screw("ISO 4026", "M3", 5).key_depth_mm == 2.0


def test_set_screws_differ_by_their_point() -> None:
    assert screw("ISO 4026", "M4", 6).point == "flat"
    assert screw("ISO 4029", "M4", 6).point == "cup"
    assert screw("ISO 4762", "M4", 6).point == ""


@pytest.mark.parametrize("standard", screw_standards())
def test_every_class_that_a_standard_allows_is_known(standard: str) -> None:
    (allowed,) = (row["strengths"].split() for row in rows("screw_standards") if row["standard"] == standard)
    assert set(allowed) <= set(strength_names())


def test_every_class_that_a_nut_may_have_is_known() -> None:
    assert {word for row in rows("nuts") for word in row["strengths"].split()} <= set(strength_names())


def test_a_class_promises_more_at_break_than_at_yield() -> None:
    for name in strength_names():
        promised = strength(name)
        if promised.yield_mpa:
            assert 0 < promised.yield_mpa < promised.ultimate_mpa
            assert promised.proof_mpa < promised.yield_mpa


def test_a_hole_is_wider_than_its_screw_and_wider_by_each_fit() -> None:
    for name in thread_names():
        holes = [clearance_hole_mm(name, fit) for fit in FITS]
        assert thread(name).diameter_mm < holes[0] < holes[1] < holes[2]


def test_a_tap_drill_lies_between_the_nut_threads_core_and_the_screw() -> None:
    for name in thread_names():
        item = thread(name)
        assert item.root_diameter_mm < item.minor_diameter_mm < item.tap_drill_mm < item.diameter_mm


@pytest.mark.parametrize("unknown", ["M7", "M", "", "3", "m3x0.5", "M10"])
def test_an_unknown_thread_names_the_known_ones(unknown: str) -> None:
    with pytest.raises(UnknownDesignation) as raised:
        thread(unknown)
    assert "M3" in raised.value.expected


def test_an_unknown_fit_and_class_are_refused_with_the_known_ones() -> None:
    with pytest.raises(UnknownDesignation, match="medium"):
        clearance_hole_mm("M3", "meduim")
    with pytest.raises(UnknownDesignation) as raised:
        strength("A2-7O")
    assert raised.value.suggestions[0] == "A2-70"


def test_a_square_nut_is_as_wide_as_the_hexagon_nut_of_its_thread() -> None:
    for name in ("M3", "M4", "M5"):
        thin, usual = lookup(f"DIN 562 {name}"), lookup(f"ISO 4032 {name}")
        assert isinstance(thin, Nut)
        assert isinstance(usual, Nut)
        assert thin.across_flats_mm == usual.across_flats_mm
        assert thin.height_mm < usual.height_mm


def test_an_inserts_hole_holds_it_and_its_boss_holds_the_hole() -> None:
    for row in rows("inserts"):
        part = lookup(f"heat-set insert {row['thread']}x{row['length_mm']}")
        assert isinstance(part, Insert)
        assert part.thread.diameter_mm < part.hole_mm < part.outer_mm < part.boss_mm
