"""Loads against the voltage of what feeds them and of their own names."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.tuning.report import Part
from trysquare.tuning.wiring import figures_of, runs_of
from trysquare.tuning.wiring_volts import volts_part

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
PAPER = """
title = "Other parts"
kind = "modification"
edition = "1"
over = ["base-manual", "travel-upgrade", "bed-modification", "erratum-3a"]
reason = "What was in the drawer."
[[replace]]
"""


def told(folder: Path, line: str, keys: str) -> Part:
    paper = folder / "paper.toml"
    paper.write_text(f'{PAPER}line = "{line}"\nwith = {{ {keys} }}\n', encoding="utf-8")
    machine = load_machine(LARCH, [paper])
    found = volts_part(machine, figures_of(runs_of(machine)))
    assert found is not None
    return found


def test_loads_of_the_supplys_own_voltage_are_good(tmp_path: Path) -> None:
    assert told(tmp_path, "part.heater", 'name = "Heater mat"').verdict == "good"


def test_a_12_volt_heater_on_24_volt_is_told_with_what_it_would_do(tmp_path: Path) -> None:
    part = told(tmp_path, "part.heater", 'name = "Heater mat 180 x 130, 12 V 160 W"')
    assert part.verdict == "bad"
    # by hand: (24 / 12)² = 4
    assert "it would take 4 times its power and burn. Do not connect it." in part.says[0]


def test_a_heater_planned_for_another_voltage_than_its_board_has_is_bad(tmp_path: Path) -> None:
    part = told(tmp_path, "unit.wiring.joint.hot-end", "volt = 12")
    assert part.verdict == "bad"
    assert any("electronics/board is fed with 24 V: do not connect it" in says for says in part.says)


def test_a_12_volt_fan_on_a_24_volt_board_is_right_only_if_that_output_is_set_so(tmp_path: Path) -> None:
    part = told(tmp_path, "unit.wiring.joint.fan-part", "volt = 12")
    assert part.verdict == "cannot tell"
    assert "right only if that output is set to it" in part.says[0]


@pytest.mark.parametrize("name", ["Heater mat 12-24 V", "Heater mat, 100 … 240 V", "Heater mat 0 V"])
def test_a_range_of_volts_in_a_name_accuses_nobody(tmp_path: Path, name: str) -> None:
    assert told(tmp_path, "part.heater", f'name = "{name}"').verdict == "good"
