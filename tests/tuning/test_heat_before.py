"""Before the power is on: resistance, warm-up, sensors, and the power that holds."""

from __future__ import annotations

import pytest

from trysquare.ground.errors import ReadingErrors
from trysquare.tuning.heat_before import Heater, Plate, heater_part, sensor_part, warm_up_part
from trysquare.tuning.heat_file import parse_holds, parse_record
from trysquare.tuning.heat_hold import hold_part
from trysquare.tuning.sensor_words import sensor_of, table_rows


@pytest.mark.parametrize(
    ("ohm", "within", "verdict"),
    [
        (None, 0.4, "told"),
        (3.6, 0.1, "good"),
        (3.6, 0.4, "cannot tell"),
        (3.25, 0.1, "cannot tell"),
        (14.4, 0.1, "bad"),
        (0.0, 0.4, "bad"),
        (5e6, 0.4, "bad"),
    ],
)
def test_a_heater_s_resistance_is_judged_within_the_meter(
    ohm: float | None, within: float, verdict: str
) -> None:
    part = heater_part(Heater(name="bed", watt=160, volt=24, read_ohm=ohm, read_within_ohm=within))
    assert part.verdict == verdict


def test_a_heater_of_another_voltage_is_named() -> None:
    part = heater_part(Heater(name="bed", watt=40, volt=24, read_ohm=3.6, read_within_ohm=0.1))
    assert "40 W at 12 V" in part.says[0]


def test_ten_kilowatts_on_24_volts_are_refused_in_words() -> None:
    part = heater_part(Heater(name="bed", watt=10_000, volt=24, read_ohm=0.0576))
    assert part.verdict == "bad"
    assert "417 A" in part.says[0]


def test_mains_heaters_defer_to_licensed_practice() -> None:
    part = heater_part(Heater(name="bed", watt=600, volt=230))
    assert "licensed" in part.doubts[0][1]


def plate(loss: float | None = None) -> Plate:
    return Plate(
        name="plate", joule_per_kelvin=400, losing_m2=0.08, heated_cm2=400, loss_watt_per_kelvin=loss
    )


def test_a_plate_that_cannot_get_there_is_bad_and_one_that_may_not_cannot_be_told() -> None:
    weak = Heater(name="bed", watt=40, volt=24)
    assert warm_up_part(weak, plate(1.0), 20, 90).verdict == "bad"
    assert warm_up_part(Heater(name="bed", watt=70, volt=24), plate(), 20, 90).verdict == "cannot tell"
    assert warm_up_part(Heater(name="bed", watt=160, volt=24), plate(), 20, 90).verdict == "told"


@pytest.mark.parametrize(
    ("sensor", "ohm", "verdict"),
    [
        ("pt100", 108.6, "good"),
        ("pt1000", 108.6, "bad"),
        ("ntc:100000:3950", 112000, "good"),
        ("ntc:100000:3950", 10000, "bad"),
        ("ntc:100000:3950", 0, "bad"),
        ("pt100", 1e7, "bad"),
    ],
)
def test_a_sensor_is_known_by_what_it_reads_at_room_temperature(
    sensor: str, ohm: float, verdict: str
) -> None:
    assert sensor_part(sensor_of(sensor), 22, 2, ohm).verdict == verdict


@pytest.mark.parametrize("text", ["", "ntc", "ntc:0:3950", "ntc:1:2:3:4", "ntc:x:y", "pt50", "pt100:3"])
def test_a_sensor_that_nobody_knows_is_refused_with_examples(text: str) -> None:
    with pytest.raises(ValueError, match="ntc:100000:3950"):
        sensor_of(text)


def test_a_table_has_a_row_for_each_step() -> None:
    rows = table_rows(sensor_of("pt100"), 0, 100, 25)
    assert [row[0] for row in rows] == ["0", "25", "50", "75", "100"]
    assert rows[0][1] == "100.00"


HOLDS = "when;power_percent;temperature_celsius;room_celsius\n"


def test_a_hold_power_that_has_grown_by_half_says_look_at_the_sensor() -> None:
    text = HOLDS + "1;20;60;22\n2;20,4;60;22\n3;30;60;22\n4;31;60;22\n"
    part = hold_part(parse_holds(text, "hold.csv"), "bed")
    assert part.verdict == "bad"
    assert "sensor" in part.says[0]


def test_the_room_is_taken_out_of_the_hold_power() -> None:
    text = HOLDS + "1;20;60;22\n2;25;60;12.5\n"
    assert hold_part(parse_holds(text, "hold.csv"), "bed").verdict == "good"


def test_one_hold_or_an_unsure_one_is_not_good_by_default() -> None:
    assert hold_part(parse_holds(HOLDS + "1;20;60;22\n", "h.csv"), "bed").verdict == "cannot tell"
    text = "when,power_watt,temperature_celsius\n1,20,60\n2,25,60\n"
    assert hold_part(parse_holds(text, "h.csv"), "bed").verdict == "cannot tell"


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("time_s,temperature_celsius\n" + "1,20\n" * 12, ""),
        ("time_s,power_percent,temperature_celsius\n1,0,20\n1,0,20\n", "time_s"),
        ("time_s,power_percent,temperature_celsius\n1,150,20\n", "power_percent"),
        ("time_s,power_percent,temperature_celsius\n1,50,nan\n", "temperature_celsius"),
        ("time_s,power_watt,temperature_celsius\n1,50,20\n", ""),
    ],
)
def test_faults_of_a_record_are_told_by_line_and_column(text: str, key: str) -> None:
    with pytest.raises(ReadingErrors) as told:
        parse_record(text, "bed.csv", None)
    where = told.value.problems[0].where
    assert "bed.csv" in str(where)
    assert key in str(where)
