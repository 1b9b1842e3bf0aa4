"""Tables of accelerometers as people's sensors write them: odd separators, clocks, gaps and columns."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.tuning.acceleration_file import parse_acceleration
from trysquare.tuning.shakes import shake_of

RATE_HZ = 800.0
COUNT = 2400
GRAVITY = 9.81


def shaken(seed: int = 3, count: int = COUNT) -> NDArray[np.float64]:
    """x, y, z of a sensor that lies upright, m/s², shape (count, 3)."""
    random = np.random.default_rng(seed)
    return random.standard_normal((count, 3)) + np.array([0, 0, GRAVITY])


def rows(values: NDArray[np.float64], time: NDArray[np.float64], separator: str = ",") -> list[str]:
    return [
        separator.join([f"{at:.6f}", *(f"{one:.4f}" for one in row)])
        for at, row in zip(time.tolist(), values.tolist(), strict=True)
    ]


def times(rate_hz: float = RATE_HZ, count: int = COUNT) -> NDArray[np.float64]:
    return np.arange(count) / rate_hz


@pytest.mark.parametrize("rate_hz", [100.0, 401.7, 3200.0, 25600.0])
def test_any_rate_is_read_off_the_times(rate_hz: float) -> None:
    count = max(COUNT, int(rate_hz))
    text = "\n".join(["time,x,y,z", *rows(shaken(count=count), times(rate_hz, count))])
    shake = shake_of(parse_acceleration(text, "a.csv"))
    assert shake.rate_hz == pytest.approx(rate_hz, rel=1e-3)
    assert shake.axes == ("x", "y", "z")
    assert shake.seconds == pytest.approx(count / rate_hz, rel=1e-3)
    assert shake.jitter < 0.02


def test_times_in_whole_milliseconds_are_an_even_sensor_s() -> None:
    text = "\n".join(["time_ms,x,y,z", *rows(shaken(), np.floor(times(400.0) * 1000))])
    shake = shake_of(parse_acceleration(text, "a.csv"))
    assert shake.rate_hz == pytest.approx(400, rel=1e-3)
    assert shake.jitter == 0
    assert len(shake.stretches[0]) == COUNT


def test_a_recording_that_is_too_short_is_told() -> None:
    text = "\n".join(["time_s,x,y,z", *rows(shaken(count=300), times(3200.0, 300))])
    with pytest.raises(ReadingError, match="Record ten seconds or more"):
        shake_of(parse_acceleration(text, "a.csv"))


@pytest.mark.parametrize("separator", [",", ";", "\t", " "])
def test_any_separator_gives_the_same_numbers(separator: str) -> None:
    heading = separator.join(["time_s", "x", "y", "z"])
    found = parse_acceleration("\n".join([heading, *rows(shaken(), times(), separator)]), "a.csv")
    assert found.acceleration == pytest.approx(shaken(), abs=1e-4)


def test_a_decimal_comma_is_read() -> None:
    body = [row.replace(".", ",") for row in rows(shaken(), times(), ";")]
    found = parse_acceleration("\n".join(["time;x;y;z", *body]), "a.csv")
    assert found.acceleration == pytest.approx(shaken(), abs=1e-4)


def test_comments_between_rows_are_passed_over() -> None:
    body = rows(shaken(), times())
    body.insert(100, "# the fan went on")
    found = parse_acceleration("\n".join(["# sensor 2", "#time,x,y,z", *body, ""]), "a.csv")
    assert len(found.acceleration) == COUNT
    assert found.axes == ("x", "y", "z")


def test_rows_without_numbers_are_named_by_their_lines() -> None:
    body = rows(shaken(), times())
    body[9] = "lost"
    body[19] = body[19].rsplit(",", 1)[0] + ",nan"
    found = parse_acceleration("\n".join(["time,x,y,z", *body]), "a.csv")
    assert len(found.acceleration) == COUNT - 2
    assert any("line 11 of a.csv" in note for note in found.notes)
    assert any("NaN" in note and "line 21" in note for note in found.notes)


@pytest.mark.parametrize(
    ("heading", "unit"),
    [("time,x_g,y_g,z_g", "g"), ("time_s,x_m/s2,y_m/s2,z_m/s2", "m/s²"), ("time,x (mg),y (mg),z (mg)", "mg")],
)
def test_the_heading_s_unit_is_kept(heading: str, unit: str) -> None:
    assert parse_acceleration("\n".join([heading, *rows(shaken(), times())]), "a.csv").unit == unit


@pytest.mark.parametrize(("name", "factor"), [("time_ms", 1e3), ("time_us", 1e6), ("time", 1e3)])
def test_times_in_thousandths_and_millionths_are_known(name: str, factor: float) -> None:
    text = "\n".join([f"{name},x,y,z", *rows(shaken(), times() * factor)])
    assert shake_of(parse_acceleration(text, "a.csv")).rate_hz == pytest.approx(RATE_HZ, rel=1e-3)


def test_columns_may_stand_in_any_order() -> None:
    values = shaken()
    text = "\n".join(["z,y,x,time", *(
        f"{z:.4f},{y:.4f},{x:.4f},{at:.6f}" for at, (x, y, z) in zip(times(), values.tolist(), strict=True)
    )])  # fmt: skip
    found = parse_acceleration(text, "a.csv")
    assert found.axes == ("x", "y", "z")
    assert found.acceleration == pytest.approx(values, abs=1e-4)


def test_gravity_along_another_axis_is_told() -> None:
    text = "\n".join(["time,z,y,x", *rows(shaken(), times())])
    notes = shake_of(parse_acceleration(text, "a.csv")).notes
    assert any("Gravity lies along x" in note for note in notes)
    upright = "\n".join(["time,x,y,z", *rows(shaken(), times())])
    assert not shake_of(parse_acceleration(upright, "a.csv")).notes


def test_a_column_that_never_changes_is_named() -> None:
    values = shaken()
    values[:, 1] = 0.25
    shake = shake_of(parse_acceleration("\n".join(["time,x,y,z", *rows(values, times())]), "a.csv"))
    assert shake.still == ("y",)
    assert any("Column y never changes" in note for note in shake.notes)


def test_jitter_is_evened_out() -> None:
    random = np.random.default_rng(4)
    time = times() + random.uniform(-0.3, 0.3, COUNT) / RATE_HZ
    wave = np.sin(2 * np.pi * 40 * time)
    values = np.stack([wave, 0.1 * wave, GRAVITY + 0.1 * wave], axis=1)
    shake = shake_of(parse_acceleration("\n".join(["time,x,y,z", *rows(values, time)]), "a.csv"))
    assert 0.1 < shake.jitter < 0.5
    column = shake.stretches[0][:, 0]
    even = np.sin(2 * np.pi * 40 * (float(time.min()) + np.arange(len(column)) / shake.rate_hz))
    inner = slice(20, -20)
    assert np.corrcoef(column[inner], even[inner])[0, 1] > 0.999


def test_gaps_part_the_recording() -> None:
    time = times()
    time[1000:] += 0.4
    shake = shake_of(parse_acceleration("\n".join(["time,x,y,z", *rows(shaken(), time)]), "a.csv"))
    assert shake.gaps == 1
    assert [len(one) for one in shake.stretches] == [1000, COUNT - 1000]


def test_times_that_run_back_are_put_in_order_and_told() -> None:
    body = rows(shaken(), times())
    body[50], body[51] = body[51], body[50]
    shake = shake_of(parse_acceleration("\n".join(["time,x,y,z", *body]), "a.csv"))
    assert any("run back 1 times, first on line 53" in note for note in shake.notes)


def test_a_table_without_times_needs_a_rate() -> None:
    text = "\n".join(["x,y,z", *(row.split(",", 1)[1] for row in rows(shaken(), times()))])
    table = parse_acceleration(text, "a.csv")
    with pytest.raises(ReadingError) as told:
        shake_of(table)
    assert "--rate" in told.value.remedy
    assert shake_of(table, 800.0).rate_hz == 800.0


@pytest.mark.parametrize(
    "text", ["", "hello\nworld\n", "time,x,y,z\n", "time,x,y,z\n" + "0,1,2,3\n" * 5, "\0\0\0"]
)
def test_what_is_no_table_is_told_in_words(text: str) -> None:
    with pytest.raises(ReadingErrors) as told:
        parse_acceleration(text, "a.csv")
    assert "a.csv" in str(told.value)


def test_a_sensor_that_never_moved_and_a_clock_that_stands_are_told() -> None:
    still = np.ones((COUNT, 3))
    with pytest.raises(ReadingError, match="never change"):
        shake_of(parse_acceleration("\n".join(["time,x,y,z", *rows(still, times())]), "a.csv"))
    with pytest.raises(ReadingError, match="every row"):
        shake_of(parse_acceleration("\n".join(["time,x,y,z", *rows(shaken(), times() * 0)]), "a.csv"))


def test_time_and_one_axis_are_enough() -> None:
    text = "\n".join(["time_s,x", *rows(shaken()[:, :1], times())])
    assert shake_of(parse_acceleration(text, "a.csv")).axes == ("x",)


def test_absurd_accelerations_are_told() -> None:
    text = "\n".join(["time_s,x,y,z", *rows(shaken() * 1e12, times())])
    with pytest.raises(ReadingError, match="accelerations up to"):
        shake_of(parse_acceleration(text, "a.csv"))
