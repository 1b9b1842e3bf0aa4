"""Spans of a machine's belts where the head stands now."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.tuning.belt_spans import belt_runs, spans_at
from trysquare.tuning.moving_mass import moving_masses

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(LARCH)


def test_spans_as_drawn_are_those_of_the_recipe(larch: Machine) -> None:
    for run in belt_runs(larch):
        found = spans_at(larch, run, {})
        assert [one.length_mm for one in found] == pytest.approx([one.length_mm for one in run.spans])


@pytest.mark.parametrize("at", [{"x": 0.0, "y": 0.0}, {"x": 180.0, "y": 40.0}, {"y": 180.0}])
def test_a_crossed_belt_keeps_its_length_wherever_the_head_goes(larch: Machine, at: dict[str, float]) -> None:
    # Source: kinematics of a crossed-belt drive: what one span loses another gains
    for run in belt_runs(larch):
        drawn = sum(one.length_mm for one in spans_at(larch, run, {}))
        moved = sum(one.length_mm for one in spans_at(larch, run, at))
        assert moved == pytest.approx(drawn, abs=0.01)


def test_a_span_between_two_fixed_idlers_stays_and_one_to_the_head_changes(larch: Machine) -> None:
    run = belt_runs(larch)[0]
    drawn, moved = spans_at(larch, run, {}), spans_at(larch, run, {"y": 180.0})
    for one, two in zip(drawn, moved, strict=True):
        if not one.changes:
            assert two.length_mm == pytest.approx(one.length_mm)
    # 90 mm towards the back: the span to the motor loses them
    assert drawn[1].length_mm - moved[1].length_mm == pytest.approx(90, abs=0.01)


def test_a_place_beyond_the_travel_is_refused(larch: Machine) -> None:
    with pytest.raises(ValueError, match="0 to 180 mm"):
        spans_at(larch, belt_runs(larch)[0], {"x": 500.0})


def test_the_gantry_weighs_more_than_the_carriage_on_it(larch: Machine) -> None:
    masses = {one.axis: one for one in moving_masses(larch)}
    assert masses["y"].gram.value > masses["x"].gram.value > 0
    assert masses["x"].unknown  # nobody knows what a fan weighs: it is named
