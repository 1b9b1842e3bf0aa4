"""A belt's line: its arcs lie on the pulleys, and it is as long as the belt."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from small_frame import write_frame
from trysquare.ground.placement import Array
from trysquare.machine.load import load_machine
from trysquare.machine.values import BeltRun, BeltSpan
from trysquare.publish.belt_line import ARC_STEP_RAD, belt_line

DEMO = Path(__file__).resolve().parents[2] / "demo"


def run_of(*spans: tuple[tuple[float, float], tuple[float, float]], closed: bool) -> BeltRun:
    return BeltRun(
        joint="belt",
        belt="belt",
        placed="belt/belt",
        length_mm=0.0,
        teeth=0.0,
        closed=closed,
        spans=tuple(
            BeltSpan(
                begins="a", ends="b", length_mm=math.dist(one, two), from_mm=(*one, 5.0), to_mm=(*two, 5.0)
            )
            for one, two in spans
        ),
        teeth_in_mesh={},
        equal_to="",
    )


def length_of(line: Array) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def test_an_open_loop_round_two_equal_pulleys_is_two_spans_and_a_circle() -> None:
    # Two pulleys of radius 10 mm, 100 mm apart: 2 · 100 + 2 π · 10. Source: Euclid, III.18 (a tangent stands
    # square on the radius): spans leave at the pulleys' tops and bottoms.
    line = belt_line(run_of(((100.0, 10.0), (0.0, 10.0)), ((0.0, -10.0), (100.0, -10.0)), closed=True))
    chords = math.sin(ARC_STEP_RAD / 2) / (ARC_STEP_RAD / 2)
    assert length_of(line) == pytest.approx(200 + 20 * math.pi * chords, rel=1e-9)
    left = line[line[:, 0] < 0]
    assert np.hypot(left[:, 0], left[:, 1]) == pytest.approx(np.full(len(left), 10.0))
    assert (line[:, 2] == 5.0).all()
    assert line[0] == pytest.approx(line[-1])


def test_a_belt_turns_round_the_far_side_of_a_pulley() -> None:
    # It comes down along x = 0, turns left about (5, 0) by a quarter, and goes off along y = -5.
    line = belt_line(run_of(((0.0, 50.0), (0.0, 0.0)), ((5.0, -5.0), (40.0, -5.0)), closed=False))
    arc = line[1:-1]
    assert np.hypot(arc[:, 0] - 5, arc[:, 1]) == pytest.approx(np.full(len(arc), 5.0))
    assert (arc[:, 0] <= 5 + 1e-9).all()
    assert (arc[:, 1] <= 1e-9).all()


def test_spans_that_meet_in_one_line_have_no_arc() -> None:
    line = belt_line(run_of(((0.0, 0.0), (10.0, 0.0)), ((10.0, 0.0), (30.0, 0.0)), closed=False))
    assert length_of(line) == pytest.approx(30.0)


def test_no_spans_are_no_line() -> None:
    assert belt_line(run_of(closed=False)).shape == (0, 3)


def test_the_line_is_as_long_as_the_belt_of_the_small_frame(tmp_path: Path) -> None:
    belt = load_machine(write_frame(tmp_path / "frame")).joint["drive/belt"].belt
    assert belt is not None
    # chords are shorter than their arcs by at most 1 - cos of half a step
    assert length_of(belt_line(belt)) == pytest.approx(belt.length_mm, rel=1 - math.cos(ARC_STEP_RAD / 2))


def test_both_belts_of_the_demo_machine_are_as_long_as_their_lines() -> None:
    machine = load_machine(DEMO / "larch", [])
    belts = [joint.belt for joint in machine.joints if joint.belt is not None]
    assert len(belts) == 2
    for belt in belts:
        assert length_of(belt_line(belt)) == pytest.approx(belt.length_mm, rel=1e-3)
