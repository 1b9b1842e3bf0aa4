"""Drives, axes and surfaces against rows that others published or that follow from definitions: by row id."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from trysquare.tuning.drive import (
    Wiring,
    crossed_belt_axes_mm,
    crossed_belt_motors_mm,
    move_times,
    moved_by,
    screw_torque_newton_metre,
    steps_per_mm,
    travel_per_turn_belt_mm,
    wiring_seen,
)
from trysquare.tuning.positioning import Positioning, positioning
from trysquare.tuning.surface import fit_plane, minimum_zone_mm

pytestmark = pytest.mark.outside

FOLDER = Path(__file__).parent / "ledger"


def rows(name: str) -> dict[str, Mapping[str, str]]:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


MOTION, METROLOGY = rows("motion.csv"), rows("metrology.csv")


def expected(row: Mapping[str, str]) -> list[float]:
    return [float(one) for one in re.findall(r"[-+]?[0-9.]+", row["expected"])]


def asked(row: Mapping[str, str], name: str) -> float:
    found = re.search(rf"\b{name}=([-+0-9.]+)", row["inputs"])
    assert found is not None, (row["id"], name)
    return float(found[1])


@pytest.mark.parametrize("row_id", ["MOT-003", "MOT-004", "MOT-006"])
def test_steps_of_a_belt_axis_agree_with_the_ledger(row_id: str) -> None:
    # Source: ledger motion.csv, kinematics
    row = MOTION[row_id]
    travel = travel_per_turn_belt_mm(int(asked(row, "teeth")), asked(row, "pitch"))
    found = steps_per_mm(int(asked(row, "full")), int(asked(row, "micro")), travel)
    assert found == pytest.approx(expected(row)[0], abs=1e-7)


@pytest.mark.parametrize("row_id", ["MOT-009", "MOT-010"])
def test_steps_of_a_screw_axis_agree_with_the_ledger(row_id: str) -> None:
    # Source: ledger motion.csv, kinematics
    row = MOTION[row_id]
    found = steps_per_mm(int(asked(row, "full")), int(asked(row, "micro")), asked(row, "lead"))
    assert found == pytest.approx(expected(row)[0], abs=1e-9)


def test_steps_of_a_geared_axis_agree_with_the_ledger() -> None:
    # Source: ledger motion.csv MOT-011, kinematics: a turn is 360 degrees
    assert steps_per_mm(200, 16, 360.0, 3.0) == pytest.approx(expected(MOTION["MOT-011"])[0], abs=1e-7)


@pytest.mark.parametrize("row_id", ["MOT-024", "MOT-025"])
def test_the_head_goes_where_the_ledger_says(row_id: str) -> None:
    # Source: ledger motion.csv, kinematic identity
    row = MOTION[row_id]
    found = crossed_belt_axes_mm(asked(row, "a"), asked(row, "b"))
    assert found == pytest.approx(expected(row)[:2])


def test_the_belts_travel_as_the_ledger_says() -> None:
    # Source: ledger motion.csv MOT-026
    row = MOTION["MOT-026"]
    assert crossed_belt_motors_mm(asked(row, "x"), asked(row, "y")) == pytest.approx(expected(row))


@pytest.mark.parametrize(
    ("row_id", "wiring", "move"),
    [
        ("MOT-028", Wiring.B_REVERSED, (10, 0)),
        ("MOT-029", Wiring.BOTH_REVERSED, (10, 5)),
        ("MOT-030", Wiring.SWAPPED, (10, 5)),
    ],
)
def test_a_wiring_fault_moves_the_head_as_the_ledger_says(
    row_id: str, wiring: Wiring, move: tuple[float, float]
) -> None:
    # Source: ledger motion.csv, identities
    assert moved_by(wiring, *move) == pytest.approx(expected(MOTION[row_id]))


@pytest.mark.parametrize("wiring", list(Wiring))
def test_every_wiring_is_known_again_by_two_moves(wiring: Wiring) -> None:
    assert wiring_seen(moved_by(wiring, 3, 0), moved_by(wiring, 0, 3)) is wiring


def test_one_dead_motor_is_no_wiring() -> None:
    assert wiring_seen((1.5, 1.5), (1.5, 1.5)) is None


def test_the_peak_of_a_short_move_agrees_with_the_ledger() -> None:
    # Source: ledger motion.csv MOT-035: √(d a); 2 √(d / a)
    row = MOTION["MOT-035"]
    found = move_times(asked(row, "d"), asked(row, "a"), 1000)
    assert (found.speed_mm_per_second, found.seconds) == pytest.approx(expected(row), rel=1e-6)


def test_the_torque_that_lifts_agrees_with_the_ledger() -> None:
    # Source: ledger motion.csv MOT-038: F lead / (2 π η); the screw has a lead of 8 mm
    row = MOTION["MOT-038"]
    assert screw_torque_newton_metre(20, 8, 0.6635) == pytest.approx(expected(row)[0], rel=1e-4)


def points(row: Mapping[str, str]) -> np.ndarray:
    return np.array([[float(x) for x in one.split(",")] for one in re.findall(r"\(([^)]*)\)", row["inputs"])])


def test_flatness_by_least_squares_agrees_with_the_ledger() -> None:
    # Source: ledger metrology.csv MET-140, ISO 12781 LSPL
    row = METROLOGY["MET-140"]
    found = float(np.ptp(fit_plane(points(row)).off_mm(points(row))))
    assert found == pytest.approx(expected(row)[0], abs=1e-6)


def test_flatness_by_the_minimum_zone_agrees_with_the_ledger() -> None:
    # Source: ledger metrology.csv MET-141, ISO 1101 and ISO 12781 MZPL
    row = METROLOGY["MET-141"]
    assert minimum_zone_mm(points(row)) == pytest.approx(expected(row)[0], abs=1e-6)


def measured_axis() -> Positioning:
    """The data that the ledger's ISO 230-2 rows share."""
    text = METROLOGY["MET-145"]["inputs"]
    forward, backward = (
        np.array([[float(x) for x in target.split(",")] for target in re.sub(r"^\w+ ", "", part).split("|")])
        for part in (re.search(r"forward[^;]*", text)[0], re.search(r"backward.*", text)[0])  # type: ignore[index]
    )
    targets = np.array([15, 25.2, 35.4, 45.6, 55.8])
    return positioning(targets, forward, backward)


@pytest.mark.parametrize(
    ("row_id", "name"),
    [
        ("MET-145", "reversal_mm"),
        ("MET-150", "systematic_down_mm"),
        ("MET-151", "mean_systematic_mm"),
        ("MET-153", "accuracy_down_mm"),
        ("MET-154", "accuracy_mm"),
        ("MET-156", "systematic_mm"),
    ],
)
def test_positioning_agrees_with_a_published_test_report(row_id: str, name: str) -> None:
    # Source: ledger metrology.csv: a public test report of a stage axis, ISO 230-2:2014 definitions recalled
    assert getattr(measured_axis(), name) == pytest.approx(expected(METROLOGY[row_id])[0], abs=1e-5)


def test_a_move_at_45_degrees_turns_one_motor_alone() -> None:
    # Source: ledger motion.csv MOT-027, kinematics of crossed belts
    speed = 100 / math.sqrt(2)
    a, b = crossed_belt_motors_mm(speed, speed)
    assert (a, b) == (pytest.approx(expected(MOTION["MOT-027"])[0], abs=1e-7), 0)
