"""Rates of change against differences, and the laws of turning."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from trysquare.ground.placement import Array
from trysquare.truing.equations import FIXED, Equations, EquationsBuilder, Extra, left_jacobian, rotated

turns = st.lists(st.floats(-3, 3), min_size=3, max_size=3).map(np.array)


def some_equations() -> Equations:
    """Two members and a plate with one row of each sort, the frame itself among the bodies."""
    build = EquationsBuilder()
    one = build.body("one", np.array([10.0, 200.0, 10.0]), np.array([0.0, 1.0, 0.0]))
    other = build.body("other", np.array([200.0, 10.0, 20.0]), np.array([1.0, 0.0, 0.0]))
    plate = build.body("plate", np.array([5.0, 5.0, 5.0]))
    zero = build.unknown("zero of the dial")
    corner = build.point(one, np.array([0.0, 380.0, 20.0]), 1.0)
    far = build.point(other, np.array([400.0, 0.0, 30.0]), 1.0)
    near = build.point(other, np.array([0.0, 0.0, 30.0]), -1.0)
    spot = build.point(plate, np.array([8.0, -3.0, 2.0]))
    table = build.point(FIXED, np.array([0.0, 0.0, 0.0]))
    build.distance(corner, far, 500.0, 0.1)
    build.distance(corner, table, 500.0, 0.1)
    build.projection([(corner, 1.0), (near, -1.0)], np.array([0, 0.6, 0.8]), 1.0, 0.1, turns_with=other)
    way = np.array([0.0, 0.0, 1.0])
    terms = [(far, 1.0), (spot, -0.5), (near, -0.5)]
    build.projection(terms, way, 0.0, 0.02, extras=[Extra(column=zero, factor=1.0)])
    build.angle(-75.0, (one, np.array([0.0, 1.0, 0.0])), (other, np.array([1.0, 0.0, 0.0])), 0.02, 0.01)
    build.linear([Extra(column=build.column(one, 3), factor=0.5), Extra(column=zero, factor=2.0)], 0.0, 1.0)
    return build.done()


EQUATIONS = some_equations()


@pytest.mark.slow
@given(st.lists(st.floats(-1, 1), min_size=EQUATIONS.unknowns, max_size=EQUATIONS.unknowns))
def test_every_rate_of_change_agrees_with_differences(at: list[float]) -> None:
    x = np.array(at)
    value, matrix = EQUATIONS.linearised(x)
    assert np.array_equal(value, EQUATIONS.predict(x))
    step = 1e-6
    for column in range(EQUATIONS.unknowns):
        move = np.zeros(EQUATIONS.unknowns)
        move[column] = step
        difference = (EQUATIONS.predict(x + move) - EQUATIONS.predict(x - move)) / (2 * step)
        assert np.allclose(matrix.toarray()[:, column], difference, rtol=1e-5, atol=1e-4)


@given(turns, turns)
def test_turning_agrees_with_a_library_of_rotations(turn: Array, vector: Array) -> None:
    # Source: the rotations of scipy.spatial.transform
    expected = Rotation.from_rotvec(turn).apply(vector)
    assert np.allclose(rotated(turn[None], vector[None])[0], expected, atol=1e-9)


@given(turns, turns)
def test_a_small_change_of_the_turn_vector_turns_the_body_as_the_jacobian_says(
    turn: Array, vector: Array
) -> None:
    step = 1e-6 * vector
    before, after = (rotated((turn + sign * step)[None], np.eye(3)[[0]])[0] for sign in (-1, 1))
    rate = left_jacobian(turn[None])[0] @ (2 * step)
    turned = rotated(turn[None], np.eye(3)[[0]])[0]
    assert np.allclose(after - before, np.cross(rate, turned), atol=1e-9)


def test_the_machine_as_drawn_reads_as_drawn() -> None:
    value = EQUATIONS.predict(np.zeros(EQUATIONS.unknowns))
    assert np.isclose(value[0], np.hypot(400, np.hypot(380, 10)))
    assert value[4] == 0.0
