"""What `tune heat` and `tune wiring` say against published rows: by row id."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from rtd_sensor import pt100, pt1000

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Wire
from trysquare.machine.values import CableRun
from trysquare.tuning.heat_before import Heater, Plate, heater_part, warm_up_part
from trysquare.tuning.sensor_words import sensor_of, table_rows
from trysquare.tuning.thermometers import platinum_tolerance_kelvin
from trysquare.tuning.warming import MATERIALS, plate_joule_per_kelvin
from trysquare.tuning.wiring import resistance_ohm, ways

pytestmark = pytest.mark.outside

with (Path(__file__).parent / "ledger" / "electrical.csv").open(encoding="utf-8", newline="") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}


def expected(name: str) -> list[float]:
    return [float(one) for one in ROWS[name]["expected"].split(";")]


def run_of(wire: str) -> CableRun:
    return CableRun(
        joint="j", wire=wire, cores=2, label="", from_terminal="", to_terminal="", ampere=10, volt=24,
        length_mm=2000, points_mm=(), through=(), openings_mm=(), plug_mm=0, role="heater",
    )  # fmt: skip


@pytest.mark.parametrize(("name", "wire"), [("ELE-056", "wire AWG 16"), ("ELE-057", "wire 1.5 mm2")])
def test_a_run_of_two_metres_loses_what_the_ledger_says_cold(name: str, wire: str) -> None:
    # Source: 2·L·R·I with 17.241 Ω mm²/km, and IEC 60228 class 5 maximum
    run, copper = run_of(wire), lookup(wire)
    assert isinstance(copper, Wire)
    volt = ways(run) * resistance_ohm(run, copper, celsius=20) * run.ampere
    assert [volt, 100 * volt / run.volt] == pytest.approx(expected(name), rel=1e-4)


def test_a_heater_part_has_the_ledger_s_current_and_resistance() -> None:
    # Source: P = V²/R, ELE-061
    data = heater_part(Heater(name="bed", watt=200, volt=24)).data
    assert [data["ampere"], data["expected_ohm"]] == pytest.approx(expected("ELE-061"), abs=5e-4)


def test_a_warm_up_part_takes_as_long_as_the_ledger_says() -> None:
    # Source: lumped capacitance, ELE-063 and ELE-065
    heat = plate_joule_per_kelvin(MATERIALS["aluminium"], 0.09, 0.006)
    assert heat == pytest.approx(expected("ELE-063")[0])
    plate = Plate(name="", joule_per_kelvin=heat, losing_m2=0.18, heated_cm2=900, loss_watt_per_kelvin=1.8)
    part = warm_up_part(Heater(name="bed", watt=200, volt=24), plate, 20, 100)
    assert part.data["warm_up_second"] == pytest.approx(expected("ELE-065")[0], abs=0.06)


def test_platinum_tables_are_those_of_another_program() -> None:
    # Source: IEC 60751 by rtd-sensor
    for word, other in (("pt100", pt100), ("pt1000", pt1000)):
        sensor = sensor_of(word)
        for celsius in (-100, -50, 0, 25, 110, 400):
            assert sensor.ohm(celsius) == pytest.approx(other.celsius_to_resistance(celsius), rel=1e-9)


@pytest.mark.parametrize(("name", "celsius"), [("ELE-067", -50), ("ELE-069", 50), ("ELE-071", 100)])
def test_platinum_rows_read_as_printed(name: str, celsius: float) -> None:
    # Source: IEC 60751 table
    row = table_rows(sensor_of("pt100"), celsius, celsius + 1, 1)[0]
    assert float(row[1]) == pytest.approx(expected(name)[0], abs=0.006)


def test_the_table_s_tolerance_is_class_b_s() -> None:
    # Source: IEC 60751:2008, ELE-083
    row = table_rows(sensor_of("pt100"), 100, 101, 1)[0]
    assert float(row[2]) == pytest.approx(expected("ELE-083")[0], abs=0.051)
    assert platinum_tolerance_kelvin(100, "B") == pytest.approx(expected("ELE-083")[0])


@pytest.mark.parametrize(("name", "celsius"), [("ELE-089", 0), ("ELE-093", 110), ("ELE-094", 200)])
def test_thermistors_by_beta_have_the_ledger_s_resistance(name: str, celsius: float) -> None:
    # Source: R = R25·exp(β(1/T − 1/298.15))
    assert sensor_of("ntc:100000:3950").ohm(celsius) == pytest.approx(expected(name)[0], rel=1e-6)


def test_thermistors_by_a_b_c_have_the_ledger_s_temperature() -> None:
    # Source: Steinhart and Hart 1968, ELE-088
    sensor = sensor_of("ntc:1.009249522e-3,2.378405444e-4,2.019202697e-7")
    assert sensor.celsius(10000) == pytest.approx(expected("ELE-088")[0], abs=1e-6)
