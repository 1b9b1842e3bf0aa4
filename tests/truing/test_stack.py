"""Before the build: sensitivities, draws, and whether it can be trued."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trysquare.machine.values import Machine
from trysquare.truing.bodies import assembly_of
from trysquare.truing.characteristics import components_of
from trysquare.truing.model import ModelBuilder
from trysquare.truing.network import adjust
from trysquare.truing.stack import Errors, draw, errors_of, stack
from trysquare.truing.standing import at_reading


def small(effect: np.ndarray, movable: list[bool]) -> Errors:
    count = effect.shape[1]
    return Errors(
        effect=effect,
        half_width=np.ones(count),
        movable=np.array(movable),
        sources=tuple(("", "") for _ in movable),
    )


def test_one_even_error_stays_within_its_limit_as_often_as_the_limit_is_wide() -> None:
    found = draw(small(np.array([[1.0]]), [False]), np.array([0.3]), draws=200_000, seed=1)
    assert found.within[0] == pytest.approx(0.3, abs=0.004)


def test_many_even_errors_add_up_to_a_normal_one() -> None:
    # Source: central limit; the sum of 12 even errors of ± 1 has a deviation of 2
    found = draw(small(np.ones((1, 12)), [False] * 12), np.array([4.0]), draws=200_000, seed=1)
    assert found.within[0] == pytest.approx(stats.norm.cdf(2) - stats.norm.cdf(-2), abs=0.005)


def test_what_a_joint_can_take_back_is_trued_and_the_rest_is_not() -> None:
    # an error of ± 1 that cannot be moved, a joint of ± 0.5, a limit of 0.2: trued while |error| ≤ 0.7
    errors = small(np.array([[1.0, 0.5]]), [False, True])
    found = draw(errors, np.array([0.2]), draws=40_000, seed=1)
    assert found.trued == pytest.approx(0.7, abs=0.015)
    assert found.at_most == pytest.approx(0.7, abs=0.015)


def test_the_same_seed_gives_the_same_answer_on_any_number_of_threads() -> None:
    errors = small(np.ones((1, 3)), [False, True, True])
    one, other = (draw(errors, np.array([1.0]), draws=60_000, seed=5, workers=n) for n in (1, 3))
    assert (one.all_within, one.trued) == (other.all_within, other.trued)


def test_sensitivities_give_back_the_adjustment_s_own_uncertainty(larch: Machine) -> None:
    """Σ (rate · u)² over all errors is the variance that the covariance has before any reading."""
    assembly = assembly_of(larch, at_reading(larch, "base-true"))
    model = ModelBuilder(assembly).done()
    solved = adjust(model.equations, held=model.held)
    components = components_of(assembly, model.builder)
    errors = errors_of(model, solved, components)
    from_errors = np.sqrt(((errors.effect * errors.half_width) ** 2 / 3).sum(axis=1))
    assert from_errors == pytest.approx(solved.uncertainty(components.rates(solved.x)), rel=1e-6)


def test_a_beam_s_length_reaches_a_rail_s_offset_by_half(larch: Machine) -> None:
    found = stack(larch, draws=20_000)
    offset = next(one for one in found.components if one.component.characteristic == "left-rail-offset")
    joint = offset.contributions[0]
    assert (joint.kind, joint.rate) == ("joint", pytest.approx(1.0, abs=0.01))
    cut = next(one for one in offset.contributions if one.source == "carry/left-carry")
    assert 0.0 < cut.rate < 0.5


def test_the_small_square_suffices_for_the_corners_and_the_tape_does_not(larch: Machine) -> None:
    found = stack(larch, draws=20_000)
    chances = {(one.characteristic, one.instrument): one.chance for one in found.suffices}
    assert chances[("base-square", "square")] > 0.6
    assert chances[("base-square", "tape")] < 0.05
    assert found.can_be_trued > 0.99
    assert found.at_most >= found.can_be_trued
