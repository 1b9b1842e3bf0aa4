"""Files of an axis, read as the commands read them, against the ledger: by row id."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from trysquare.tuning.drive_file import Targets, parse_drive
from trysquare.tuning.drive_machine import Drive
from trysquare.tuning.drive_positions import targets_part
from trysquare.tuning.drive_report import Steps, steps_part
from trysquare.tuning.motor import Load, Motor, needed_newton_metre
from trysquare.tuning.travel import corrected_per_mm, read_travel

pytestmark = pytest.mark.outside

FOLDER = Path(__file__).parent / "ledger"


def rows(name: str) -> dict[str, Mapping[str, str]]:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


MOTION, METROLOGY = rows("motion.csv"), rows("metrology.csv")
TARGETS_MM = (15, 25.2, 35.4, 45.6, 55.8)


def ledger_table() -> str:
    """The ledger's data set as a builder would have written it down, run by run."""
    text = METROLOGY["MET-145"]["inputs"]
    lines = ["target_mm;position_mm;from"]
    for word, side in (("forward", "below"), ("backward", "above")):
        part = re.search(rf"{word} ([^;]*)", text)
        assert part is not None
        for target, readings in zip(TARGETS_MM, part[1].split("|"), strict=True):
            lines += [f"{target};{reading.strip()};{side}" for reading in readings.split(",")]
    return "\n".join(lines)


@pytest.mark.parametrize(
    ("row_id", "name"), [("MET-145", "B"), ("MET-154", "A"), ("MET-156", "E"), ("MET-151", "M")]
)
def test_positions_of_a_file_agree_with_a_published_test_report(row_id: str, name: str) -> None:
    # Source: ledger metrology.csv: a public test report of a stage axis, ISO 230-2:2014
    read = parse_drive(ledger_table(), "ledger")
    assert isinstance(read, Targets)
    part, _ = targets_part(read, None, 0.0001)
    assert part.data[name] == pytest.approx(float(METROLOGY[row_id]["expected"]), abs=1e-5)


@pytest.mark.parametrize(
    ("row_id", "travel_mm", "steps"),
    [
        ("MOT-003", 40.0, Steps(full_steps=400, microsteps=16)),
        ("MOT-004", 40.0, Steps(full_steps=200, microsteps=32)),
        ("MOT-006", 45.0, Steps()),
        ("MOT-009", 5.0, Steps()),
        ("MOT-010", 4.0, Steps(full_steps=400)),
        ("MOT-011", 360.0, Steps(gear=3.0)),
    ],
)
def test_steps_that_the_report_tells_agree_with_the_ledger(
    row_id: str, travel_mm: float, steps: Steps
) -> None:
    # Source: ledger motion.csv, kinematics
    part = steps_part([Drive(of="it", axes=(), travel_mm=travel_mm, how="", screw=False)], steps, None)
    assert part.main is not None
    assert part.main.value == pytest.approx(float(MOTION[row_id]["expected"]), abs=1e-7)


def test_the_corrected_steps_agree_with_the_ledger() -> None:
    # Source: ledger motion.csv MOT-012: new = old · commanded / measured
    commanded = np.array([25.0, 50.0, 100.0])
    found = read_travel(commanded, 0.996 * commanded, np.zeros(3, dtype=bool))
    assert corrected_per_mm(80.0, found.scale).value == pytest.approx(
        float(MOTION["MOT-012"]["expected"]), abs=1e-7
    )


def test_the_torque_that_lifts_a_load_agrees_with_the_ledger() -> None:
    # Source: ledger motion.csv MOT-038: F lead / (2 π η); the rotor is left out
    motor = Motor(resistance_ohm=1, inductance_millihenry=1, rated_ampere=1, holding_newton_metre=1)
    load = Load(travel_mm=8, moving_gram=1e-9, acceleration_mm_per_s2=1e-9, lift_newton=20, efficiency=0.6635)
    assert needed_newton_metre(motor, load) == pytest.approx(float(MOTION["MOT-038"]["expected"]), abs=1e-6)
