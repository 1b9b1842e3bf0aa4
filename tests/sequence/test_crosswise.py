"""The order in which the screws of a flat joint are tightened."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.crosswise import fields_of, numbers_of, orders_of, rings_of, star

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(DEMO / "larch", [])


@pytest.mark.outside
@pytest.mark.parametrize(
    ("bolts", "order"),
    [
        (4, "1 3 2 4"),
        (8, "1 5 3 7 2 6 4 8"),
        (12, "1 7 4 10 2 8 5 11 3 9 6 12"),
        (16, "1 9 5 13 3 11 7 15 2 10 6 14 4 12 8 16"),
        (20, "1 11 6 16 3 13 8 18 5 15 10 20 2 12 7 17 4 14 9 19"),
    ],
)
def test_a_flange_s_bolts_go_as_the_standard_s_cross_pattern(bolts: int, order: str) -> None:
    # Source: ASME PCC-1, table of the legacy cross-pattern, from memory.
    assert [place + 1 for place in star(bolts)] == [int(one) for one in order.split()]


@pytest.mark.parametrize(("bolts", "order"), [(5, "1 3 5 2 4"), (6, "1 4 2 5 3 6")])
def test_five_and_six_bolts_go_as_a_wheel_s_do(bolts: int, order: str) -> None:
    # Source: wheels with five and six bolts, common practice, no source.
    assert [place + 1 for place in star(bolts)] == [int(one) for one in order.split()]


@pytest.mark.parametrize("bolts", range(4, 41))
def test_every_bolt_has_its_turn_once_and_no_neighbours_follow_at_the_start(bolts: int) -> None:
    order = star(bolts)
    assert sorted(order) == list(range(bolts))
    gap = abs(order[1] - order[0])
    assert min(gap, bolts - gap) == bolts // 2


def test_a_rectangle_goes_by_its_diagonals_however_its_screws_are_numbered() -> None:
    corners = np.array([[0.0, 0], [31, 0], [0, 31], [31, 31]])
    for numbering in ([0, 1, 2, 3], [0, 1, 3, 2], [3, 0, 2, 1]):
        placed = corners[numbering]
        (order,) = rings_of(placed)
        first, second, third, fourth = placed[order]
        assert np.linalg.norm(first - second) == pytest.approx(31 * 2**0.5)
        assert np.linalg.norm(third - fourth) == pytest.approx(31 * 2**0.5)


def test_a_larger_field_goes_from_the_middle_outwards() -> None:
    field = np.array([[x, y] for x in (0.0, 50, 100) for y in (0.0, 40)])
    rings = rings_of(field)
    assert [sorted(ring) for ring in rings] == [[2, 3], [0, 1, 4, 5]]
    assert rings[1] in ([0, 5, 1, 4], [0, 5, 4, 1])


def test_a_motor_s_four_screws_are_one_field_and_a_rail_or_a_row_none(larch: Machine) -> None:
    (field,) = fields_of(larch.joint["motion/left-motor"])
    assert numbers_of(field.order) == ("1", "3", "2", "4")
    assert field.words == "crosswise, each screw and then the one opposite"
    assert not fields_of(larch.joint["gantry/x-rail"])
    assert not fields_of(larch.joint["electronics/plate-front"])  # four in a row
    assert not fields_of(larch.joint["uprights/feet"])  # one screw for each upright


def test_a_joint_s_orders_are_its_rail_s_row_or_its_faces_and_none_elsewhere(larch: Machine) -> None:
    (row,) = orders_of(larch.joint["gantry/x-rail"])
    assert (row.words, numbers_of(row.order)[:3]) == ("from the middle outwards", ("8", "7", "9"))
    assert [one.part for one in orders_of(larch.joint["panels/sides"])] == ["panels/left", "panels/right"]
    assert orders_of(larch.joint["uprights/feet"]) == ()
