"""From which end an offset is stated: as the paper says it, so the picture measures it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from small_frame import MACHINE, STEPS, UNIT, write_frame
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.publish.known import known_of
from trysquare.publish.stated_ends import stated_end
from trysquare.publish.step_scene import StepScenes
from trysquare.publish.step_shown import Setting

OFFSET = """
[characteristic.rail-offset]
sort = "offset"
of = ["frame/rail", "frame/beam"]
limit = 0.1
unit = "mm"
"""
READ = '{ tighten = ["rail"] },\n  { read = ["rail"], reads = ["rail-offset"] },'


def measured(folder: Path, place: str) -> tuple[Machine, Setting]:
    """The small frame with its rail placed so, and the size that its picture shows."""
    unit = UNIT.replace('on = "beam:+z", from = "b", offset_mm = 20', place)
    steps = STEPS.replace('{ tighten = ["rail"] },', READ)
    folder = write_frame(folder, machine_toml=MACHINE + OFFSET, units__frame_toml=unit, steps_toml=steps)
    machine = load_machine(folder)
    scene = StepScenes(known_of(machine)).of("rail")
    assert len(scene.settings) == 1
    return machine, scene.settings[0]


@pytest.mark.parametrize(
    ("place", "end", "value_mm"),
    [
        ('on = "beam:+z", from = "b", offset_mm = 20', "b", 20.0),
        ('on = "beam:+z", from = "a", offset_mm = 80', "a", 80.0),
        ('on = "beam:+z", from = "a", offset_mm = 20', "a", 20.0),
    ],
)
def test_the_size_is_measured_from_the_end_that_the_place_names_though_the_other_is_nearer(
    tmp_path: Path, place: str, end: str, value_mm: float
) -> None:
    machine, setting = measured(tmp_path / "frame", place)
    assert stated_end(machine, "frame/rail", "frame/beam") == end
    assert setting.value_mm == pytest.approx(value_mm)
    beam = machine.part["frame/beam"]
    at = beam.placement.back(setting.datum_mm[None])[0, 0]
    assert at == pytest.approx(0.0 if end == "a" else 300.0)


def test_the_nearest_end_is_the_datum_where_no_end_is_stated(tmp_path: Path) -> None:
    machine, _ = measured(tmp_path / "frame", 'on = "beam:+z", from = "a", offset_mm = 80')
    bare = dataclasses.replace(machine, tree=None)
    assert stated_end(bare, "frame/rail", "frame/beam") == ""
    setting = StepScenes(known_of(bare)).of("rail").settings[0]
    assert setting.value_mm == pytest.approx(20.0)


def test_a_place_on_something_else_states_no_end(tmp_path: Path) -> None:
    machine = load_machine(write_frame(tmp_path / "frame"))
    assert stated_end(machine, "frame/block", "frame/beam") == ""
    assert stated_end(machine, "frame/left", "frame/beam") == ""
    assert stated_end(machine, "nobody", "frame/beam") == ""


def test_the_datum_lies_on_the_member_and_the_size_along_it(tmp_path: Path) -> None:
    machine, setting = measured(tmp_path / "frame", 'on = "beam:+z", from = "a", offset_mm = 80')
    along = machine.part["frame/beam"].placement.turn[:, 0]
    way = setting.to_mm - setting.datum_mm
    assert way @ along == pytest.approx(80.0)
    assert np.linalg.norm(way - along * (way @ along)) == pytest.approx(0.0, abs=1e-9)
