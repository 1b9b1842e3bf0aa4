"""The model of a spectrum: its slopes beside differences, and what unlike dampers do to neighbours."""

from __future__ import annotations

import numpy as np
import pytest

from trysquare.tuning.resonance import evenness, resonance_of
from trysquare.tuning.resonance_model import EACH, Model, Spectral, settled
from tuning.shaking_machines import drawn_chain, knocks, noise, sweep
from tuning.test_resonance import COUNT, RATE_HZ, shake

HZ = np.linspace(8.0, 200.0, 600)


@pytest.mark.parametrize("slope", [0.0, 2.0])
def test_the_likeliest_numbers_of_a_spectrum_without_scatter_are_its_own(slope: float) -> None:
    # Source: the equation of the response, written out here on its own.
    r, q = HZ / 50, HZ / 80
    first = (1.0 + 0.1j * r) * r**slope / (1 - r * r + 0.1j * r)
    second = (-0.5 - 0.16j * q) * q**slope / (1 - q * q + 0.06j * q)
    data = Spectral(HZ, np.abs(first + second) ** 2 + 1e-3, np.full(len(HZ), 6.0))
    start = Model(
        np.full(5, np.log(1e-3)),
        np.array([[0.9, np.log(50.5), np.log(0.055), 0.0], [-0.4, np.log(79.0), np.log(0.035), 0.0]]),
        slope,
    )
    found = settled(start, data).model.modes
    assert found.shape == (2, EACH)
    assert np.exp(found[:, 1]) == pytest.approx([50, 80], rel=1e-3)
    assert np.exp(found[:, 2]) == pytest.approx([0.05, 0.03], rel=0.02)


def test_an_even_sweep_is_worth_more_than_noise_of_as_many_bins() -> None:
    random = np.random.default_rng(3)
    counts = np.full(1000, 6.0)
    assert evenness(random.gamma(6.0, 1 / 6, 1000), counts) == 1.0
    assert evenness(1 + 0.5 * np.sin(np.arange(1000) / 50), counts) == 16.0
    assert evenness(np.ones(10), np.ones(10)) == 1.0


@pytest.mark.slow
@pytest.mark.parametrize("how", ["noise", "knocks", "sweep"])
def test_what_is_told_as_ninety_five_in_a_hundred_holds_for_ninety(how: str) -> None:
    # Source: eigenvalues of the chains' equations of motion; one that is found counts.
    held = []
    for seed in range(16):
        random = np.random.default_rng([seed, len(how)])
        chain = drawn_chain(random)
        masses, rate_hz = 2, 3200.0
        count = int(30 * rate_hz)
        if how == "noise":
            force = noise(random, count, masses)
        elif how == "knocks":
            force = knocks(random, count, rate_hz, masses)
        else:
            force = sweep(count, rate_hz, masses)
        moved = chain.accelerations(force, rate_hz)[:, -1:]
        moved = moved + 0.003 * moved.std() * random.standard_normal(moved.shape)
        modes = resonance_of(shake(moved, rate_hz)).modes
        for mode in modes:
            hz, damping = min(chain.modes, key=lambda one: abs(one[0] - mode.frequency.value))
            held.append(abs(mode.frequency.value - hz) <= mode.frequency.expanded)
            held.append(abs(mode.damping.value - damping) <= mode.damping.expanded)
    assert len(held) >= 2 * 16
    assert np.mean(held) >= 0.9


@pytest.mark.slow
@pytest.mark.parametrize("how", ["noise", "sweep"])
def test_neighbours_with_unlike_dampers_are_told_within_one_percent(how: str) -> None:
    # Source: eigenvalues. These dampers make the modes' heights complex; real heights were off by 1.4 %.
    random = np.random.default_rng([10, 5])
    chain = drawn_chain(random)
    force = noise(random, COUNT, 2) if how == "noise" else sweep(COUNT, RATE_HZ, 2)
    modes = resonance_of(shake(chain.accelerations(force, RATE_HZ)[:, -1:])).modes
    for hz, _ in chain.modes:
        assert min(abs(mode.frequency.value / hz - 1) for mode in modes) < 0.01
