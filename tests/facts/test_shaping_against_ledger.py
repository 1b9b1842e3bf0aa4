"""Shapers against rows of the ledger of dynamics: closed forms of the published literature, by row id."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from trysquare.tuning.shaping import damped_period_second, ratio_of, residual, zv, zvd

pytestmark = pytest.mark.outside

with (Path(__file__).parent / "ledger" / "dynamics.csv").open(encoding="utf-8", newline="") as _file:
    DYNAMICS: dict[str, Mapping[str, str]] = {row["id"]: row for row in csv.DictReader(_file)}


def expected(row: Mapping[str, str]) -> list[float]:
    return [float(one) for one in row["expected"].split(";")]


def asked(row: Mapping[str, str], name: str) -> float:
    found = re.search(rf"{name}\s*=\s*([0-9.]+)", row["inputs"])
    assert found is not None, row["id"]
    return float(found[1])


@pytest.mark.parametrize("row_id", ["DYN-001", "DYN-007", "DYN-013", "DYN-038"])
def test_the_ratio_of_half_a_period_agrees_with_the_ledger(row_id: str) -> None:
    # Source: Singer and Seering 1990 (ASME J. DSMC 112), ledger dynamics.csv
    row = DYNAMICS[row_id]
    assert ratio_of(asked(row, "zeta")) == pytest.approx(expected(row)[0], abs=1e-9)


@pytest.mark.parametrize("row_id", ["DYN-002", "DYN-020"])
def test_the_amplitudes_of_two_impulses_agree_with_the_ledger(row_id: str) -> None:
    # Source: Singer and Seering 1990, ledger dynamics.csv
    row = DYNAMICS[row_id]
    shaper = zv(asked(row, "f_n"), asked(row, "zeta"))
    assert shaper.amplitudes.tolist() == pytest.approx(expected(row), abs=1e-9)


@pytest.mark.parametrize("row_id", ["DYN-003", "DYN-015"])
def test_the_second_impulse_s_time_agrees_with_the_ledger(row_id: str) -> None:
    # Source: Singer and Seering 1990, ledger dynamics.csv
    row = DYNAMICS[row_id]
    shaper = zv(asked(row, "f_n"), asked(row, "zeta"))
    assert shaper.times_second[1] == pytest.approx(expected(row)[0], abs=1e-11)


@pytest.mark.parametrize("row_id", ["DYN-004", "DYN-016", "DYN-022"])
def test_the_amplitudes_of_three_impulses_agree_with_the_ledger(row_id: str) -> None:
    # Source: Singer and Seering 1990, ledger dynamics.csv
    row = DYNAMICS[row_id]
    shaper = zvd(asked(row, "f_n"), asked(row, "zeta"))
    assert shaper.amplitudes.tolist() == pytest.approx(expected(row), abs=1e-9)


def test_the_times_of_three_impulses_agree_with_the_ledger() -> None:
    # Source: Singer and Seering 1990, ledger dynamics.csv DYN-017
    row = DYNAMICS["DYN-017"]
    shaper = zvd(asked(row, "f_n"), asked(row, "zeta"))
    assert shaper.times_second.tolist() == pytest.approx(expected(row), abs=1e-12)


@pytest.mark.parametrize("row_id", ["DYN-006", "DYN-012", "DYN-018"])
def test_the_damped_frequency_agrees_with_the_ledger(row_id: str) -> None:
    # Source: f_n √(1 − ζ²), ledger dynamics.csv
    row = DYNAMICS[row_id]
    period = damped_period_second(asked(row, "f_n"), asked(row, "zeta"))
    assert 1 / period == pytest.approx(expected(row)[0], abs=1e-8)


@pytest.mark.parametrize("row_id", ["DYN-025", "DYN-026", "DYN-028", "DYN-031", "DYN-032", "DYN-033"])
def test_what_shapers_leave_off_their_frequency_agrees_with_the_ledger(row_id: str) -> None:
    # Source: residual vibration after Singer and Seering, ledger dynamics.csv
    row = DYNAMICS[row_id]
    off, damping = asked(row, "w/wn"), asked(row, "zeta")
    left = [residual(make(40.0, damping), np.array([40.0 * off]), damping)[0] for make in (zv, zvd)]
    assert left == pytest.approx(expected(row), abs=1e-8)
