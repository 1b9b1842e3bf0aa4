"""Belts round two pulleys against the textbook's lengths: by row of the ledger."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from small_frame import write_files
from trysquare.machine.load import load_machine

pytestmark = pytest.mark.outside

with (Path(__file__).parent / "ledger" / "motion.csv").open(encoding="utf-8", newline="") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}

MACHINE = """
format = 1
name = "Two pulleys"
"""
UNIT = """
[unit]
title = "Drive"
[place]
small = {{ part = "pulley 2 mm pitch {small} teeth bore 5" }}
large = {{ part = "pulley 2 mm pitch {large} teeth bore 5", at_mm = [{apart}, 0, 0] }}
[joint.belt]
recipe = "belt-path"
belt = "belt 2 mm pitch 6 mm wide"
over = [{{ pulley = "small", turn = "anticlockwise" }}, {{ pulley = "large", turn = "anticlockwise" }}]
"""


@pytest.mark.parametrize(
    ("row_id", "small", "large", "apart"), [("MOT-015", 20, 60, 80), ("MOT-016", 20, 20, 150)]
)
def test_a_closed_belt_round_two_pulleys_is_as_long_as_the_textbook_says(
    tmp_path: Path, row_id: str, small: int, large: int, apart: int
) -> None:
    # Source: ledger motion.csv, textbook belt geometry
    unit = UNIT.format(small=small, large=large, apart=apart)
    folder = write_files(tmp_path, {"machine.toml": MACHINE, "units/drive.toml": unit})
    belt = next(joint.belt for joint in load_machine(folder).joints if joint.belt is not None)
    length_mm = float(ROWS[row_id]["expected"].split(";")[0])
    assert belt.length_mm == pytest.approx(length_mm, abs=1e-6)
