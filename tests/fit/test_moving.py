"""Axes over their whole travel: blocks on rails, and what stands in the way."""

from __future__ import annotations

from pathlib import Path

import pytest

from fit.folders import codes, machine_of, only
from trysquare.fit.axes import axis_findings, motions
from trysquare.fit.check import check_fit
from trysquare.fit.moving import moving_findings

STOP = """
[part.stop]
kind = "plate"
size_mm = [5, 10, 10]
"""


def test_a_block_that_overruns_its_rail_is_said_with_how_far(tmp_path: Path) -> None:
    # centred at 100 of 200 mm; the block is 29 mm long: 85.5 mm are free to each side
    found = only(tmp_path, ("travel_mm = 100", "travel_mm = 180"), ("at_mm = 50\n", "at_mm = 90\n"))
    assert found.code == "block-runs-off-rail"
    assert found.value == pytest.approx(4.5)
    assert "off end b" in found.says
    assert "end a" in found.says
    assert found.parts == ("frame/block", "frame/rail")


def test_a_block_that_just_reaches_its_rail_s_end_is_good(tmp_path: Path) -> None:
    machine = machine_of(tmp_path, ("travel_mm = 100", "travel_mm = 171"), ("at_mm = 50\n", "at_mm = 85.5\n"))
    assert axis_findings(machine) == []


def test_a_rail_that_moves_under_a_standing_block_is_the_same_question(tmp_path: Path) -> None:
    moves = 'moves = ["frame/rail", "frame/beam", "frame/plate", "frame/left", "frame/right"]'
    machine = machine_of(
        tmp_path, ('moves = ["frame/block", "frame/carriage"]', moves), ("at_mm = 50\n", "at_mm = 10\n")
    )
    (found,) = axis_findings(machine)
    assert found.code == "block-runs-off-rail"
    assert found.value == pytest.approx(90 + 14.5 - 100)
    assert "end a" in found.says  # the rail runs out under the block on its far side


def test_an_axis_across_its_rail_is_stopped(tmp_path: Path) -> None:
    found = axis_findings(machine_of(tmp_path, ('direction = "+x"\nmoves', 'direction = "+y"\nmoves')))
    assert codes(found) == ["axis-across-rail"]


def test_screws_of_moving_parts_move_and_rail_screws_stay(tmp_path: Path) -> None:
    (motion,) = motions(machine_of(tmp_path))
    assert "frame/block/screw.1" in motion.moves
    assert "frame/rail/screw.1" not in motion.moves
    assert (motion.low_mm, motion.high_mm) == (-50, 50)


def test_a_carriage_left_out_of_its_axis_would_be_torn_off(tmp_path: Path) -> None:
    found = only(tmp_path, ('moves = ["frame/block", "frame/carriage"]', 'moves = ["frame/block"]'))
    assert found.code == "axis-tears-joint"
    assert set(found.parts) == {"frame/block", "frame/carriage"}


def test_a_thing_in_the_way_is_named_with_the_place_where_it_is_met(tmp_path: Path) -> None:
    machine = machine_of(tmp_path)
    at = machine.part["frame/carriage"].placement.point((60.0, 10.0, 0.0)).tolist()
    found = only(tmp_path, parts=STOP, place=f'stop = {{ part = "stop", at_mm = {at} }}\n')
    assert found.code == "in-moving-path"
    assert found.parts[:2] == ("frame/stop", "frame/carriage")
    assert found.value == pytest.approx(70, abs=1)  # drawn at 50, met 20 mm further on
    assert found.limit == 100


@pytest.mark.parametrize(("beyond_mm", "meets"), [(49.0, True), (50.5, False)])
def test_a_thing_beyond_the_travel_is_free(tmp_path: Path, beyond_mm: float, meets: bool) -> None:
    at = machine_of(tmp_path).part["frame/carriage"].placement.point((40 + beyond_mm, 10.0, 0.0)).tolist()
    machine = machine_of(tmp_path, parts=STOP, place=f'stop = {{ part = "stop", at_mm = {at} }}\n')
    assert bool(moving_findings(machine)) is meets


def test_a_thin_pin_between_two_sampled_places_is_still_met(tmp_path: Path) -> None:
    """The swept solid leaves no gaps: a 0.4 mm pin in the middle of the way is met."""
    at = machine_of(tmp_path).part["frame/carriage"].placement.point((63.3, 15.0, 2.0)).tolist()
    pin = '\n[part.pin]\nkind = "bought"\nsolid = [ { cylinder_mm = [0.4, 20] } ]\n'
    found = only(tmp_path, parts=pin, place=f'pin = {{ part = "pin", at_mm = {at} }}\n')
    assert found.code == "in-moving-path"
    assert found.value == pytest.approx(50 + 23.3 - 0.2, abs=1)


def test_a_screw_tip_in_a_moving_path_is_named_with_its_screw(tmp_path: Path) -> None:
    """A bracket beside the rail carries a screw whose tip hangs into the carriage's way."""
    carriage = machine_of(tmp_path).part["frame/carriage"]
    x, y, z = (float(v) for v in carriage.placement.origin_mm)
    # a roof 12 mm above the carriage; its screw hangs through it
    parts = """
[part.roof]
kind = "plate"
size_mm = [20, 20, 3]
hole = [ { name = "r", at_mm = [10, 10], diameter_mm = 3.4 } ]
"""
    place = f'roof = {{ part = "roof", at_mm = [{x + 60}, {y + 5}, {z + 13}] }}\n'
    joint = """
[joint.roof]
recipe = "through-bolt"
through = ["roof:r"]
screw = "ISO 4762 M3x%d"
nut = "ISO 4032 M3"
"""
    assert check_fit(machine_of(tmp_path, parts=parts, place=place, joint=joint % 8)) == ()
    found = only(tmp_path, parts=parts, place=place, joint=joint % 16)
    assert found.code == "in-moving-path"
    assert found.parts[:2] == ("frame/roof/screw.1", "frame/carriage")
    assert "frame/roof" in found.says


def test_a_block_over_its_rail_and_rail_screws_is_no_clash(tmp_path: Path) -> None:
    assert moving_findings(machine_of(tmp_path)) == []
