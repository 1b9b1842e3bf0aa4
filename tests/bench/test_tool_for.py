"""Readings of steps lead to the tuning tool that takes them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from trysquare.bench.tool_for import BELTS, HEAT, NONE, WIRING, tool_for
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine

LARCH = Path(__file__).parents[2] / "demo" / "larch"


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(LARCH)


@pytest.mark.parametrize(
    ("of", "tool"),
    [("belts-equal", BELTS), ("earth-path", WIRING), ("base-square", NONE), ("gantry-free", NONE)],
)
def test_belts_lead_to_their_sound_and_earth_to_the_wiring(
    larch: Machine, of: str, tool: tuple[str, str]
) -> None:
    assert tool_for(larch, next(one for one in larch.characteristics if one.id == of)) == tool


def test_a_heater_s_resistance_leads_to_heat(larch: Machine) -> None:
    earth = next(one for one in larch.characteristics if one.id == "earth-path")
    assert tool_for(larch, replace(earth, of=("bed/heater",))) == HEAT
