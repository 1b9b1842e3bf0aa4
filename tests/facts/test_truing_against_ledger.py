"""Uncertainty, verdicts, diagonals, flatness and warmth against the ledger's rows, and against GTC."""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path

import GTC
import numpy as np
import pytest
from scipy import stats

from trysquare.truing.instruments import usual_gauge
from trysquare.truing.positioning import positioning
from trysquare.truing.rectangle import corner_angle_rad, lean_rad, lean_uncertainty_rad
from trysquare.truing.sweeps import flatness, straightness
from trysquare.truing.thermal import Bar, bow_mm, growth_mm, pair_curvature_per_mm
from trysquare.truing.uncertainty import (
    Shape,
    acceptance_limit,
    conformance_probability,
    coverage_factor,
    effective_degrees_of_freedom,
    standard_uncertainty,
)
from trysquare.truing.verdicts import Verdict, judge

pytestmark = pytest.mark.outside

LEDGER = Path(__file__).parent / "ledger"
ROWS: dict[str, dict[str, str]] = {}
for name in ("metrology", "structures"):
    with (LEDGER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        ROWS |= {row["id"]: row for row in csv.DictReader(file)}


def expected(row: str, part: int = 0) -> object:
    """A row's value, or one of several, within its own tolerance."""
    value = float(ROWS[row]["expected"].split(";")[part])
    words = ROWS[row]["tolerance"]
    if found := re.match(r"rel ([0-9.e-]+)", words):
        return pytest.approx(value, rel=float(found[1]), abs=0)
    return pytest.approx(value, rel=0, abs=float(re.match(r"[0-9.e-]+", words)[0]))  # type: ignore[index]


# --- uncertainty and verdicts


@pytest.mark.parametrize(
    ("row", "half_width", "shape"),
    [
        ("MET-123", 0.05, Shape.RECTANGULAR),
        ("MET-124", 0.05, Shape.TRIANGULAR),
        ("MET-125", 0.5, Shape.ARCSINE),
    ],
)
def test_half_widths_become_standard_uncertainties(row: str, half_width: float, shape: Shape) -> None:
    assert standard_uncertainty(half_width, shape) == expected(row)


@pytest.mark.parametrize(("row", "freedom"), [("MET-116", 1), ("MET-121", 16), ("MET-122", 24)])
def test_student_s_factors_are_those_of_the_table(row: str, freedom: int) -> None:
    assert coverage_factor(freedom) == expected(row)


def gauge_block() -> GTC.lib.UncertainReal:
    """The same through GTC, as its own documentation has it. Source: JCGM 100:2008, H.1."""
    standard = GTC.ureal(50_000_623, 25, df=18)
    difference = GTC.ureal(215, 5.8, df=24) + GTC.ureal(0, 3.9, df=5) + GTC.ureal(0, 6.7, df=8)
    spread = GTC.ureal(0, 1e-6 / math.sqrt(3), df=50)
    mean, swing = GTC.ureal(-0.1, 0.2), GTC.ureal(0, 0.5 / math.sqrt(2))
    expansion = GTC.ureal(11.5e-6, 2e-6 / math.sqrt(3))
    warmer = GTC.ureal(0, 0.05 / math.sqrt(3), df=2)
    return standard + difference - standard * (spread * (mean + swing) + expansion * warmer)


def test_degrees_of_freedom_go_together_as_in_the_gauge_block_of_the_gum() -> None:
    """Welch and Satterthwaite over the parts of the budget, against GTC and the guide's own 16.75."""
    whole = gauge_block()
    length = 50_000_623
    warmth = length * 11.5e-6 * 0.05 / math.sqrt(3)
    metal = length * 1e-6 / math.sqrt(3) * 0.1
    parts, freedom = [25.0, 5.8, 3.9, 6.7, warmth, metal], [18.0, 24.0, 5.0, 8.0, 2.0, 50.0]
    together = effective_degrees_of_freedom(parts, freedom)
    assert GTC.uncertainty(whole) == expected("MET-002")
    assert math.sqrt(sum(part**2 for part in parts)) == pytest.approx(GTC.uncertainty(whole), rel=1e-6)
    assert together == pytest.approx(GTC.dof(whole), rel=1e-6)
    assert int(together) == float(ROWS["MET-003"]["expected"])
    assert coverage_factor(int(together), 0.99) * GTC.uncertainty(whole) == expected("MET-004")


@pytest.mark.parametrize("row", ["MET-104", "MET-106", "MET-107", "MET-108"])
def test_chances_of_conformance_are_those_of_the_guide_s_equations(row: str) -> None:
    given = dict(part.split("=") for part in ROWS[row]["inputs"].split("; "))
    lower = -math.inf if given["TL"] == "-" else float(given["TL"])
    found = conformance_probability(float(given["y"]), float(given["u"]), lower, float(given["TU"]))
    assert found == expected(row)


def test_guard_bands_are_those_of_the_standards() -> None:
    assert acceptance_limit(0.100, 0.020) == pytest.approx(float(ROWS["MET-114"]["expected"]))
    assert acceptance_limit(0.100, 0.020, stats.norm.ppf(0.95)) == expected("MET-115")
    assert stats.norm.ppf(0.8) == expected("MET-109")


def test_a_value_at_the_guard_band_s_edge_is_good_and_beyond_it_open() -> None:
    # Source: ledger MET-114, limit 0.100, u 0.020: accepted up to 0.06
    assert judge(0.0599, 0.02, 0.1).verdict is Verdict.GOOD
    assert judge(0.0601, 0.02, 0.1).verdict is Verdict.CANNOT_TELL
    assert judge(-0.1399, 0.02, 0.1).verdict is Verdict.CANNOT_TELL
    assert judge(-0.1401, 0.02, 0.1).verdict is Verdict.BAD


# --- diagonals


def test_a_frame_leans_by_its_diagonals_as_the_parallelogram_law_says() -> None:
    lean = lean_rad(400, 300, 500.5, 499.5)
    assert math.degrees(lean) == expected("MET-128")
    assert 300 * math.sin(lean) == expected("MET-129")
    spread = lean_uncertainty_rad(400, 300, 500.5, 499.5, 0.1, 0.1)
    assert math.degrees(spread) == expected("MET-131")
    first, second = (float(part) for part in ROWS["MET-132"]["expected"].split(";"))
    assert math.degrees(lean_rad(400, 300, first, second)) == pytest.approx(0.2, abs=1e-6)
    assert math.degrees(corner_angle_rad(400, 300, 500.4)) == expected("MET-134")


@pytest.mark.parametrize(("x", "y", "first", "second"), [(400, 300, 500.5, 499.5), (350, 350, 494.6, 495.2)])
def test_the_uncertainty_of_a_lean_is_gtc_s(x: float, y: float, first: float, second: float) -> None:
    u = usual_gauge("tape").reading_uncertainty_mm
    a, b = GTC.ureal(x, 0.2), GTC.ureal(y, 0.2)
    d1, d2 = GTC.ureal(first, u), GTC.ureal(second, u)
    theirs = GTC.asin((d1 * d1 - d2 * d2) / (4 * a * b))
    assert lean_rad(x, y, first, second) == pytest.approx(GTC.value(theirs), rel=1e-12)
    assert lean_uncertainty_rad(x, y, first, second, 0.2, u) == pytest.approx(
        GTC.uncertainty(theirs), rel=1e-9
    )


# --- straight and flat


def test_straightness_by_three_reference_lines() -> None:
    found = straightness(range(0, 501, 100), [0, 0.012, 0.018, 0.015, 0.008, 0.010])
    assert found.least_squares == expected("MET-143", 0)
    assert found.minimum_zone == expected("MET-143", 1)
    assert found.ends == expected("MET-143", 2)


def test_flatness_by_two_reference_planes() -> None:
    points = re.findall(r"\(([\d.]+),([\d.]+),([\d.]+)\)", ROWS["MET-140"]["inputs"])
    found = flatness(np.array(points, dtype=float))
    assert found.least_squares == expected("MET-140")
    assert found.minimum_zone == expected("MET-141")


# --- positioning of an axis


def test_an_axis_run_five_times_both_ways() -> None:
    text = ROWS["MET-145"]["inputs"]
    targets = [float(part) for part in re.search(r"targets ([\d.,]+);", text)[1].split(",")]  # type: ignore[index]
    runs = {}
    for way in ("forward", "backward"):
        found = re.search(rf"{way} ([\d.,| ]+)", text)
        assert found is not None
        runs[way] = [[float(part) for part in row.split(",")] for row in found[1].split(" | ")]
    axis = positioning(targets, runs["forward"], runs["backward"])
    assert axis.reversal == expected("MET-145")
    assert axis.systematic_backward == expected("MET-150")
    assert axis.mean_bidirectional == expected("MET-151")
    assert axis.accuracy_backward == expected("MET-153")
    assert axis.accuracy == expected("MET-154")
    assert axis.systematic == expected("MET-156")


# --- warmth


def test_two_strips_of_one_metal_s_stiffness_bend_as_timoshenko_says() -> None:
    one = Bar(modulus_mpa=1.0, expansion_per_kelvin=1e-5, area_mm2=1.0, moment_mm4=1 / 12)
    other = Bar(modulus_mpa=1.0, expansion_per_kelvin=0.0, area_mm2=1.0, moment_mm4=1 / 12)
    assert pair_curvature_per_mm(one, other, 1.0, 10.0) == expected("STR-032")


def test_a_steel_rail_bows_its_aluminium_member() -> None:
    """The ledger's own profile section; moduli those of the row's arithmetic."""
    member = Bar(modulus_mpa=70_000, expansion_per_kelvin=11.7e-6, area_mm2=160, moment_mm4=7000)
    rail = Bar(modulus_mpa=200_000, expansion_per_kelvin=0.0, area_mm2=9 * 6.5, moment_mm4=9 * 6.5**3 / 12)
    curvature = pair_curvature_per_mm(member, rail, 13.25, 30)
    assert curvature == pytest.approx(float(ROWS["STR-034"]["expected"].split(";")[0]), rel=1e-6)
    assert bow_mm(curvature, 300) == pytest.approx(float(ROWS["STR-034"]["expected"].split(";")[1]), rel=1e-5)


def test_a_plate_grows_by_its_metal_s_expansion() -> None:
    # Source: ledger STR-028, 23.4e-6 per kelvin; 300 mm by 80 K
    assert growth_mm(300, float(ROWS["STR-028"]["expected"].split(";")[1]), 80) == pytest.approx(0.5616)
    assert growth_mm(1, float(ROWS["STR-029"]["expected"]), 1) == pytest.approx(11.5e-6)
