"""Recordings of hours: read in pieces, the stretch that shook most kept, the rest passed over and told."""

from __future__ import annotations

import numpy as np
import pytest

from trysquare.tuning.acceleration_file import acceleration_of, parse_acceleration
from trysquare.tuning.acceleration_window import Window
from trysquare.tuning.shakes import shake_of
from tuning.test_acceleration_file import COUNT, RATE_HZ, rows, shaken, times


def pieces_of(lines: list[str], size: int) -> list[str]:
    """Texts of so many lines each."""
    return ["\n".join(lines[at : at + size]) + "\n" for at in range(0, len(lines), size)]


def test_pieces_give_the_same_table_as_the_whole() -> None:
    body = rows(shaken(), times())
    body[9] = "lost"
    body[700] = body[700].rsplit(",", 1)[0] + ",nan"
    body.insert(1200, "# the fan went on")
    lines = ["# sensor 2", "time_s,x_g,y_g,z_g", *body]
    whole = parse_acceleration("\n".join(lines), "a.csv")
    parts = acceleration_of(pieces_of(lines, 101), "a.csv")
    assert parts.notes == whole.notes
    assert (parts.unit, parts.axes) == (whole.unit, whole.axes)
    assert np.array_equal(parts.acceleration, whole.acceleration)
    assert np.array_equal(parts.lines, whole.lines)
    assert parts.time_second is not None
    assert np.array_equal(parts.time_second, whole.time_second)


def test_of_a_long_recording_the_stretch_that_shook_most_is_looked_at_and_told() -> None:
    values = 0.02 * shaken()
    values[1200:1500] *= 50
    table = acceleration_of(pieces_of(["time_s,x,y,z", *rows(values, times())], 100), "a.csv", most_rows=400)
    assert 300 <= len(table.lines) <= 400
    assert table.lines[0] <= 1202 + 100
    assert table.lines[-1] >= 1501 - 100
    assert np.abs(table.acceleration).max() == pytest.approx(np.abs(values).max(), abs=1e-3)
    told = next(note for note in table.notes if "shook most" in note)
    assert told.startswith(f"Of {COUNT} rows the {len(table.lines)} that shook most")
    assert f"lines {table.lines[0]} to {table.lines[-1]}: minutes" in told
    assert told.endswith("of 0.0.")
    seen = shake_of(table)
    assert seen.rate_hz == pytest.approx(RATE_HZ, rel=1e-3)
    assert seen.gaps == 0


def test_gravity_and_one_bump_do_not_make_a_stretch_the_liveliest() -> None:
    window = Window([0], most=200)
    random = np.random.default_rng(1)
    still = np.full((100, 1), 9.81)
    bump = 0.01 * random.standard_normal((100, 1))
    bump[50] = 5.0
    lively = random.standard_normal((100, 1))
    for index, block in enumerate((bump, still, still, still, lively, lively, still)):
        window.take(block, np.arange(100) + 100 * index)
    values, lines = window.kept()
    assert (lines[0], lines[-1]) == (400, 599)
    assert np.array_equal(values, np.concatenate([lively, lively]))
    assert window.rows == 700


def test_a_window_never_holds_more_rows_than_it_may() -> None:
    window = Window([0], most=1000)
    for index in range(50):
        window.take(np.full((300, 1), float(index)), np.arange(300))
        assert len(window.kept()[0]) <= 1000


@pytest.mark.parametrize("separator", [";", "\t"])
def test_a_decimal_comma_in_pieces_is_read(separator: str) -> None:
    body = [row.replace(".", ",") for row in rows(shaken(), times(), separator)]
    found = acceleration_of(pieces_of([separator.join(["time", "x", "y", "z"]), *body], 500), "a.csv")
    assert found.acceleration == pytest.approx(shaken(), abs=1e-4)
