"""Wires, heaters and thermometers against rows that others published: by row id."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from pathlib import Path

import pytest
from rtd_sensor import pt100, pt1000

from trysquare.tuning.conductors import (
    awg_area_mm2,
    awg_diameter_mm,
    drop_volt,
    fuse_ampere,
    ohm_per_km,
    to_20_celsius_factor,
)
from trysquare.tuning.thermometers import (
    Thermistor,
    beta_kelvin,
    platinum_celsius,
    platinum_ohm,
    platinum_tolerance_kelvin,
    thermistor_by_beta,
    thermistor_through,
)
from trysquare.tuning.warming import MATERIALS, heater_ohm, plate_joule_per_kelvin, warm_up_second

pytestmark = pytest.mark.outside

with (Path(__file__).parent / "ledger" / "electrical.csv").open(encoding="utf-8", newline="") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}


def of_kind(pattern: str) -> list[str]:
    return [name for name, row in ROWS.items() if re.search(pattern, row["quantity"])]


def first(text: str) -> float:
    found = re.search(r"-?\d+(\.\d+)?", text)
    assert found is not None, text
    return float(found[0])


def expected(row: Mapping[str, str]) -> list[float]:
    return [float(one) for one in row["expected"].split(";")]


@pytest.mark.parametrize("name", of_kind("bare diameter"))
def test_a_gauge_has_the_diameter_of_the_ledger(name: str) -> None:
    # Source: ASTM B258 definition
    assert awg_diameter_mm(int(first(ROWS[name]["quantity"]))) == pytest.approx(
        expected(ROWS[name])[0], abs=5e-4
    )


@pytest.mark.parametrize("name", of_kind("resistance per km"))
def test_a_gauge_has_the_resistance_of_the_ledger(name: str) -> None:
    # Source: IACS annealed copper
    found = ohm_per_km(awg_area_mm2(int(first(ROWS[name]["quantity"]))))
    assert found == pytest.approx(expected(ROWS[name])[0], rel=0.005)


@pytest.mark.parametrize("name", of_kind("copper resistance at 20 degC, solid"))
def test_a_gauge_has_the_resistance_of_the_wire_table(name: str) -> None:
    # Source: wire table (Floyd, Electric Circuit Fundamentals, 2nd ed.), ohm for 1000 ft
    found = ohm_per_km(awg_area_mm2(int(first(ROWS[name]["quantity"])))) * 0.3048
    assert found == pytest.approx(expected(ROWS[name])[0], rel=0.01)


def test_a_warm_wire_is_brought_to_20_degrees_as_the_standard_does() -> None:
    # Source: IEC 60228 annex, ELE-051
    assert to_20_celsius_factor(40) == pytest.approx(expected(ROWS["ELE-051"])[0], abs=0.003)


def test_the_drop_of_a_two_wire_run_agrees_with_the_ledger() -> None:
    # Source: ledger electrical.csv ELE-056 and ELE-057, arithmetic
    drop, share = expected(ROWS["ELE-056"])
    found = drop_volt(2, ohm_per_km(awg_area_mm2(16)), 10)
    assert found == pytest.approx(drop, rel=1e-5)
    assert found / 24 * 100 == pytest.approx(share, rel=1e-5)
    assert drop_volt(2, 13.3, 10) == pytest.approx(expected(ROWS["ELE-057"])[0], rel=1e-9)


def test_the_fuse_of_a_heater_is_that_of_the_ledger() -> None:
    # common practice, no source: ELE-060, the next blade size above 1.25 × the load
    assert fuse_ampere(8.333) == expected(ROWS["ELE-060"])[0]


def test_a_heater_draws_what_the_ledger_says() -> None:
    # Source: P = V²/R, ELE-061
    ampere, ohm = expected(ROWS["ELE-061"])
    assert heater_ohm(200, 24) == pytest.approx(ohm)
    assert 24 / heater_ohm(200, 24) == pytest.approx(ampere)


def test_a_bed_takes_up_the_heat_of_the_ledger() -> None:
    # Source: m c ΔT, ELE-063
    capacity, energy = expected(ROWS["ELE-063"])
    found = plate_joule_per_kelvin(MATERIALS["aluminium"], 0.09, 0.006)
    assert found == pytest.approx(capacity)
    assert found * 80 == pytest.approx(energy)


def test_a_bed_warms_up_in_the_time_of_the_ledger() -> None:
    # Source: ELE-065, t = −τ ln(1 − ΔT hA / P)
    assert warm_up_second(200, 1312.2, 80, 1.8) == pytest.approx(expected(ROWS["ELE-065"])[0], rel=1e-5)


def test_a_bed_whose_losses_eat_the_power_never_warms_up() -> None:
    assert warm_up_second(100, 1312.2, 80, 1.8) == float("inf")


@pytest.mark.parametrize("name", of_kind(r"^Pt100 at"))
def test_platinum_agrees_with_the_printed_table(name: str) -> None:
    # Source: IEC 60751 table, printed to a hundredth of an ohm
    celsius = first(ROWS[name]["quantity"].removeprefix("Pt100"))
    assert platinum_ohm(celsius) == pytest.approx(expected(ROWS[name])[0], abs=0.005)


@pytest.mark.parametrize("name", of_kind(r"^Pt1000 at"))
def test_platinum_of_a_thousand_ohm_agrees_with_the_ledger(name: str) -> None:
    # Source: IEC 60751 polynomial
    celsius = first(ROWS[name]["quantity"].removeprefix("Pt1000"))
    assert platinum_ohm(celsius, 1000) == pytest.approx(expected(ROWS[name])[0], abs=1e-6)


@pytest.mark.parametrize("celsius", [-190.0, -40.0, 0.0, 25.0, 110.0, 300.0, 640.0])
def test_platinum_agrees_with_an_outside_library(celsius: float) -> None:
    # Source: the package rtd-sensor, IEC 60751
    assert platinum_ohm(celsius) == pytest.approx(pt100.celsius_to_resistance(celsius), abs=1e-9)
    assert platinum_ohm(celsius, 1000) == pytest.approx(pt1000.celsius_to_resistance(celsius), abs=1e-8)
    assert platinum_celsius(platinum_ohm(celsius)) == pytest.approx(celsius, abs=1e-8)


@pytest.mark.parametrize("name", of_kind("tolerance at 100"))
def test_platinum_is_as_far_off_as_its_class_allows(name: str) -> None:
    # Source: IEC 60751:2008, table 3
    tolerance_class = ROWS[name]["quantity"].split("class ")[1][0]
    assert platinum_tolerance_kelvin(100, tolerance_class) == pytest.approx(expected(ROWS[name])[0])


def test_the_curve_through_three_points_is_that_of_the_ledger() -> None:
    # Source: Steinhart–Hart, ELE-085 and ELE-086
    curve = thermistor_through(((32128, 0), (12262, 20), (3542, 50)))
    assert (curve.a, curve.b, curve.c) == pytest.approx(expected(ROWS["ELE-085"]), rel=1e-6)
    found = [curve.celsius(ohm) for ohm in (19549, 9814, 7908)]
    assert found == pytest.approx(expected(ROWS["ELE-086"]), abs=0.001)


def test_a_published_curve_gives_the_temperature_of_the_ledger() -> None:
    # Source: ELE-088
    curve = Thermistor(a=1.009249522e-3, b=2.378405444e-4, c=2.019202697e-7)
    assert curve.celsius(10000) == pytest.approx(expected(ROWS["ELE-088"])[0], abs=1e-6)
    assert curve.ohm(curve.celsius(10000)) == pytest.approx(10000, rel=1e-9)


@pytest.mark.parametrize("name", of_kind("NTC beta model"))
def test_the_beta_model_agrees_with_the_ledger(name: str) -> None:
    # Source: R = R25 exp(B (1/T − 1/298.15))
    celsius = first(ROWS[name]["quantity"].split(" at ")[1])
    found = thermistor_by_beta(100000, 3950).ohm(celsius)
    assert found == pytest.approx(expected(ROWS[name])[0], rel=1e-6)


def test_beta_from_two_points_is_that_of_the_ledger() -> None:
    # Source: ELE-095, B = ln(R1/R2) / (1/T1 − 1/T2)
    assert beta_kelvin(10000, 25, 1070, 85) == pytest.approx(expected(ROWS["ELE-095"])[0], abs=1e-3)


def test_copper_s_rise_with_temperature_is_the_ledger_s() -> None:
    # Source: ledger electrical.csv ELE-055, IEC 60028, from memory
    row = ROWS["ELE-055"]
    assert ohm_per_km(1.0, 21.0) / ohm_per_km(1.0, 20.0) - 1 == pytest.approx(
        float(row["expected"]), rel=0.01
    )
