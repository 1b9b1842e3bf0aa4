"""Modes of free swinging after knocks: beside the eigenvalues of the machines that were knocked."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from trysquare.tuning.resonance import resonance_of
from trysquare.tuning.resonance_decay import decays_of
from tuning.shaking_machines import Chain, drawn_chain, knocks, noise, sweep
from tuning.test_resonance import RATE_HZ, shake

SECONDS = 20
COUNT = int(SECONDS * RATE_HZ)


def knocked(chain: Chain, seed: int, noise_part: float = 0.003) -> NDArray[np.float64]:
    """The head's acceleration (n,) after a knock each second, with a sensor's noise."""
    random = np.random.default_rng(seed)
    moved = chain.accelerations(knocks(random, COUNT, RATE_HZ, len(chain.mass)), RATE_HZ)[:, -1]
    return np.asarray(moved + noise_part * moved.std() * random.standard_normal(COUNT))


@pytest.mark.parametrize("seed", [0, 3, 6, 7])
def test_both_swings_of_a_knocked_machine_are_found_though_one_is_weak(seed: int) -> None:
    # Source: eigenvalues of the chain's equations of motion (tests/tuning/shaking_machines.py).
    chain = drawn_chain(np.random.default_rng([seed, 6]))
    found = decays_of([knocked(chain, seed)], RATE_HZ, 8.0, 200.0)
    for hz, damping in chain.modes:
        nearest = min(found, key=lambda one, hz=hz: abs(one.hz - hz))  # type: ignore[misc]
        assert nearest.hz == pytest.approx(hz, rel=0.005)
        assert nearest.damping == pytest.approx(damping, rel=0.05)


def test_two_stretches_give_the_swings_of_both() -> None:
    chain = drawn_chain(np.random.default_rng(2))
    moved = knocked(chain, 4)
    found = decays_of([moved[: COUNT // 2], moved[COUNT // 2 :]], RATE_HZ, 8.0, 200.0)
    assert min(abs(hz / found[0].hz - 1) for hz, _ in chain.modes) < 1e-3


def test_what_is_driven_all_the_time_swings_at_no_time_freely() -> None:
    random = np.random.default_rng(5)
    chain = drawn_chain(random)
    for force in (noise(random, COUNT, 2), sweep(COUNT, RATE_HZ, 2)):
        moved = chain.accelerations(force, RATE_HZ)[:, -1]
        assert decays_of([moved], RATE_HZ, 8.0, 200.0) == ()
    assert decays_of([np.zeros(COUNT)], RATE_HZ, 8.0, 200.0) == ()
    assert decays_of([np.zeros(10)], RATE_HZ, 8.0, 200.0) == ()


def test_a_hum_beside_knocks_is_a_steady_tone_and_no_swing() -> None:
    chain = drawn_chain(np.random.default_rng(3))
    moved = knocked(chain, 3)
    moved = moved + 0.2 * moved.std() * np.sin(2 * np.pi * 150 * np.arange(COUNT) / RATE_HZ)
    found = resonance_of(shake(moved[:, None]))
    assert any(abs(tone - 150) < 0.5 for tone in found.tones)
    assert all(abs(mode.frequency.value - 150) > 1 for mode in found.modes)
    assert found.modes[0].frequency.basis == "free swinging"


def test_a_quicker_swing_than_those_looked_at_is_not_told_as_a_slower_one() -> None:
    # 650 Hz, read at 3200 a second: the coarser time of the decays must not fold it down.
    rate_hz, count = 3200.0, 3200 * 10
    omega = 2 * np.pi * 650
    chain = Chain(
        mass=np.array([5.0, 0.5, 0.1]),
        spring=np.array([5.0 * (2 * np.pi * 60) ** 2, 0.5 * (2 * np.pi * 45) ** 2, 0.1 * omega**2]),
        damper=np.array([100.0, 10.0, 2 * 0.01 * 0.1 * omega]),
    )
    random = np.random.default_rng(1)
    moved = chain.accelerations(knocks(random, count, rate_hz, 3), rate_hz)[:, -1]
    moved = moved + 0.003 * moved.std() * random.standard_normal(count)
    found = decays_of([moved], rate_hz, 8.0, 200.0)
    strong = [one.hz for one in found if one.energy > 1e-4 * found[0].energy]
    assert strong
    for hz in strong:
        assert min(abs(hz / true - 1) for true, _ in chain.modes) < 0.01
