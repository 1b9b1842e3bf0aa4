"""Which instrument reads a characteristic best, and what its error limits make of it."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Characteristic, Instrument, Machine
from trysquare.sequence.instruments import best_instrument, limits_of, spans_of

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(LARCH)


def named(machine: Machine, name: str) -> Characteristic:
    return next(one for one in machine.characteristics if one.id == name)


def owning(machine: Machine, *sorts: tuple[str, float, float]) -> Machine:
    owned = tuple(
        Instrument(id=sort, sort=sort, half_width_mm=limits, reach_mm=reach, source="")
        for sort, limits, reach in sorts
    )
    return replace(machine, instruments=owned)


@pytest.mark.parametrize(
    ("characteristic", "instrument"),
    [
        ("base-square", "pinch-rod"),  # two diagonals
        ("gantry-square", "square"),  # two parts have no diagonals
        ("base-twist", "feeler"),
        ("posts-parallel", "pinch-rod"),  # 200 mm apart: the caliper does not span them
        ("z-rails-parallel", "dial"),  # a carriage takes it along
        ("x-rail-straight", "dial"),
        ("left-rail-offset", "caliper"),
        ("earth-path", "multimeter"),
    ],
)
def test_the_printers_characteristics_get_the_instrument_that_a_builder_takes(
    characteristic: str, instrument: str, larch: Machine
) -> None:
    # Common practice, no source.
    best = best_instrument(larch, named(larch, characteristic))
    assert best is not None
    assert best.id == instrument


def test_an_instrument_that_does_not_reach_is_not_taken(larch: Machine) -> None:
    short = owning(larch, ("pinch-rod", 0.1, 500.0), ("tape", 0.5, 3000.0))
    best = best_instrument(short, named(short, "base-square"))
    assert best is not None
    assert best.id == "tape"
    assert best_instrument(owning(larch, ("pinch-rod", 0.1, 500.0)), named(larch, "base-square")) is None


def test_a_scale_for_grams_measures_no_offset(larch: Machine) -> None:
    assert best_instrument(owning(larch, ("scale", 2.0, 0.0)), named(larch, "left-rail-offset")) is None


@pytest.mark.parametrize("error_mm", [0.1, 0.5])
def test_the_limits_of_two_diagonals_are_those_of_a_leaning_frame(error_mm: float, larch: Machine) -> None:
    # Source: Euclid, Elements, II.12 and II.13: a parallelogram's diagonals from its sides and its lean.
    one = named(larch, "base-square")
    rod = Instrument(id="rod", sort="pinch-rod", half_width_mm=error_mm, reach_mm=3000.0, source="")
    wide, high, _ = spans_of(larch, one).sides_mm
    told = limits_of(one, rod, spans_of(larch, one))
    assert told is not None
    lean = told / 100.0
    long = math.sqrt(wide**2 + high**2 + 2 * wide * high * lean)
    short = math.sqrt(wide**2 + high**2 - 2 * wide * high * lean)
    assert long - short == pytest.approx(error_mm, rel=1e-3)


def test_a_square_tells_its_tips_error_over_its_blade(larch: Machine) -> None:
    square = Instrument(id="s", sort="square", half_width_mm=0.04, reach_mm=75.0, source="")
    one = named(larch, "gantry-square")
    assert limits_of(one, square, spans_of(larch, one)) == pytest.approx(0.04 / 75 * 100)


def test_a_square_that_nobody_vouches_for_counts_with_the_wide_default(larch: Machine) -> None:
    # Source: 0.05 mm per 100 mm while unmarked: common practice, no source.
    square = Instrument(id="s", sort="square", half_width_mm=0.01, reach_mm=75.0, source="", marked=False)
    one = named(larch, "gantry-square")
    assert limits_of(one, square, spans_of(larch, one)) == pytest.approx(0.05)


def test_a_marked_square_is_taken_before_a_finer_one_that_nobody_vouches_for(larch: Machine) -> None:
    unmarked = Instrument(id="u", sort="square", half_width_mm=0.01, reach_mm=75.0, source="", marked=False)
    marked = Instrument(id="m", sort="square", half_width_mm=0.03, reach_mm=75.0, source="")
    best = best_instrument(replace(larch, instruments=(unmarked, marked)), named(larch, "gantry-square"))
    assert best is not None
    assert best.id == "m"


@pytest.mark.parametrize("sort", ["rule", "scale"])
def test_a_rule_by_either_name_measures_an_offset(sort: str, larch: Machine) -> None:
    best = best_instrument(owning(larch, (sort, 0.3, 300.0)), named(larch, "left-rail-offset"))
    assert best is not None
    assert best.unit == "mm"


def test_a_pinch_rod_has_no_zero_to_measure_an_offset_from(larch: Machine) -> None:
    assert best_instrument(owning(larch, ("pinch-rod", 0.1, 700.0)), named(larch, "left-rail-offset")) is None


def test_a_force_gauge_tells_no_resistance(larch: Machine) -> None:
    assert best_instrument(owning(larch, ("force-gauge", 0.3, 0.0)), named(larch, "earth-path")) is None
