"""Which side lies up for a key."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Fastening
from trysquare.sequence.side_up import HAND_UNDER_MM, side_for

REED = Path(__file__).resolve().parents[2] / "demo" / "reed-joints"


@pytest.fixture(scope="module")
def screw() -> Fastening:
    return load_machine(REED).joint["track/foot-screws"].fastenings[0]


def at(screw: Fastening, up: float, height_mm: float) -> Fastening:
    axis = (0.0, 0.0, up) if up else (1.0, 0.0, 0.0)
    return replace(screw, axis=axis, head_mm=(0.0, 0.0, height_mm))


def test_a_head_that_looks_down_near_the_table_wants_the_work_upside_down(screw: Fastening) -> None:
    assert side_for([at(screw, -1, 20.0)], 0.0) == "-z"
    assert side_for([at(screw, -1, 20.0), at(screw, 1, 20.0)], 0.0) == "-z"


def test_a_hand_goes_under_what_stands_high(screw: Fastening) -> None:
    assert side_for([at(screw, -1, HAND_UNDER_MM)], 0.0) == ""
    assert side_for([at(screw, -1, HAND_UNDER_MM)], 10.0) == "-z"


def test_a_head_that_looks_up_wants_the_work_on_its_feet_and_one_aside_either(screw: Fastening) -> None:
    assert side_for([at(screw, 1, 20.0), at(screw, 0, 20.0)], 0.0) == "+z"
    assert side_for([at(screw, 0, 20.0)], 0.0) == ""
