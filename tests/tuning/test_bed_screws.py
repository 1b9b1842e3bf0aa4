"""The bed's screws as the machine knows them."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.tuning.bed_screws import bed_screws

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(DEMO / "larch")


def test_the_map_s_zero_is_where_the_nozzle_stands_with_x_and_y_at_zero(larch: Machine) -> None:
    found = bed_screws(larch)
    assert found is not None
    # The nozzle is drawn at 210, 154 with x and y at 90.
    assert found.origin_mm == pytest.approx((120, 64))
    assert [screw.name for screw in found.screws] == ["front-point", "left-point", "right-point"]


def test_an_origin_of_one_s_own_goes_before(larch: Machine) -> None:
    found = bed_screws(larch, (0.0, 0.0))
    assert found is not None
    assert (found.screws[0].x_mm, found.screws[0].y_mm) == pytest.approx((210, 95))


def test_a_machine_without_springs_has_no_bed_to_turn() -> None:
    assert bed_screws(load_machine(DEMO / "reed-joints")) is None
