"""The accessory for the finished demo machine: it fits; whether it still goes on is asked of the order."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.fit.check import check_fit
from trysquare.ground.findings import Weight
from trysquare.machine.load import load_machine

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.mark.slow
def test_the_accessory_fits_the_machine() -> None:
    machine = load_machine(DEMO / "larch", [DEMO / "accessory.toml"])
    assert [one for one in machine.findings if one.weight is Weight.STOP] == []
    assert [one for one in check_fit(machine) if one.weight is not Weight.NOTE] == []


@pytest.mark.slow
def test_the_accessory_brings_slide_in_and_roll_in_nuts_and_no_steps() -> None:
    before = load_machine(DEMO / "larch")
    after = load_machine(DEMO / "larch", [DEMO / "accessory.toml"])
    nuts = {
        after.part[one.host_part].type.id.split(" nut")[0]
        for one in after.fastening.values()
        if one.joint not in before.joint and one.slot_member
    }
    assert nuts == {"slide-in", "roll-in"}
    assert [step.id for step in after.steps] == [step.id for step in before.steps]
