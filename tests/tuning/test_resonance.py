"""How a machine swings: spectra beside scipy's, modes beside the eigenvalues of simulated machines."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import periodogram

from trysquare.tuning.acceleration_file import Table
from trysquare.tuning.resonance import Resonance, resonance_of, spectrum_of
from trysquare.tuning.shakes import Shake, shake_of
from tuning.shaking_machines import Chain, drawn_chain, knocks, noise, sweep

RATE_HZ, SECONDS = 800.0, 60.0
COUNT = int(RATE_HZ * SECONDS)


def shake(acceleration: NDArray[np.float64], rate_hz: float = RATE_HZ) -> Shake:
    """A recording (n, axes) as it is after reading."""
    count = len(acceleration)
    return shake_of(
        Table(
            file="a.csv", time_second=np.arange(count) / rate_hz, acceleration=acceleration,
            axes=("x", "y", "z")[: acceleration.shape[1]], unit="m/s²", lines=np.arange(count), notes=(),
        )
    )  # fmt: skip


def one_mass(hz: float, damping: float) -> Chain:
    """A single mass on a spring: f and ζ are exact."""
    omega = 2 * math.pi * hz
    return Chain(
        mass=np.array([0.5]), spring=np.array([0.5 * omega**2]), damper=np.array([2 * damping * 0.5 * omega])
    )


def shaken(chain: Chain, how: str, seed: int) -> Resonance:
    random = np.random.default_rng(seed)
    masses = len(chain.mass)
    force = {
        "noise": noise(random, COUNT, masses),
        "knocks": knocks(random, COUNT, RATE_HZ, masses),
        "sweep": sweep(COUNT, RATE_HZ, masses),
    }[how]
    moved = chain.accelerations(force, RATE_HZ)[:, -1:]
    return resonance_of(shake(moved + 0.003 * moved.std() * random.standard_normal(moved.shape)))


def test_the_spectrum_is_scipy_s_periodogram_averaged_over_bins() -> None:
    # Source: scipy.signal.periodogram with the same window, averaged here bin by bin.
    random = np.random.default_rng(1)
    seen = shake(random.standard_normal((4000, 2)))
    spectrum = spectrum_of(seen, 10.0, 300.0)
    hz, power = periodogram(seen.stretches[0], RATE_HZ, window=("tukey", 0.1), detrend=False, axis=0)
    for index in (0, 7, len(spectrum.hz) - 1):
        inside = np.abs(hz - spectrum.hz[index]) < spectrum.bin_hz / 2
        assert spectrum.counts[index] == pytest.approx(inside.sum(), abs=1)
    whole = power[(hz >= 10) & (hz < 300)].sum(axis=0) * (hz[1] - hz[0])
    assert (spectrum.density * spectrum.counts[:, None]).sum(axis=0) * (hz[1] - hz[0]) == pytest.approx(
        whole, rel=0.01
    )


@pytest.mark.slow
@pytest.mark.parametrize("how", ["noise", "knocks", "sweep"])
@pytest.mark.parametrize(("hz", "damping"), [(31.0, 0.06), (52.0, 0.03), (88.0, 0.09)])
def test_one_swing_is_found_within_one_percent_and_its_damping_within_fifteen(
    how: str, hz: float, damping: float
) -> None:
    # Source: the eigenvalue of a mass on a spring, which is where the recording was stepped from.
    mode = shaken(one_mass(hz, damping), how, 5).modes[0]
    assert mode.frequency.value == pytest.approx(hz, rel=0.01)
    assert mode.damping.value == pytest.approx(damping, rel=0.15)
    assert mode.sure
    assert abs(mode.frequency.value - hz) <= 2 * mode.frequency.expanded


@pytest.mark.slow
@pytest.mark.parametrize("seed", [0, 1, 3, 8])
def test_the_strongest_swing_of_a_drawn_machine_is_one_of_its_own(seed: int) -> None:
    # Source: eigenvalues of the chain's equations of motion (tests/tuning/shaking_machines.py).
    chain = drawn_chain(np.random.default_rng(seed))
    mode = shaken(chain, "noise", seed).modes[0]
    hz, damping = min(chain.modes, key=lambda one: abs(one[0] - mode.frequency.value))
    assert mode.frequency.value == pytest.approx(hz, rel=0.01)
    assert mode.damping.value == pytest.approx(damping, rel=0.15)


def test_a_steady_tone_is_no_swing() -> None:
    random = np.random.default_rng(2)
    moved = one_mass(45.0, 0.05).accelerations(noise(random, COUNT, 1), RATE_HZ)
    moved += 0.3 * moved.std() * np.sin(2 * np.pi * 100 * np.arange(COUNT) / RATE_HZ)[:, None]
    found = resonance_of(shake(moved))
    assert found.modes[0].frequency.value == pytest.approx(45, rel=0.01)
    assert all(abs(mode.frequency.value - 100) > 2 for mode in found.modes)
    assert any(abs(tone - 100) < 0.5 for tone in found.tones)


def test_one_swing_seen_along_two_axes_is_told_once() -> None:
    random = np.random.default_rng(6)
    moved = one_mass(60.0, 0.04).accelerations(noise(random, COUNT, 1), RATE_HZ)
    two = np.hstack([0.3 * moved, moved]) + 0.01 * moved.std() * random.standard_normal((COUNT, 2))
    modes = resonance_of(shake(two)).modes
    assert [mode.axis for mode in modes] == ["y"]
    assert modes[0].rms["x"] == pytest.approx(0.3 * modes[0].rms["y"], rel=0.05)


def test_white_noise_has_no_sure_swing() -> None:
    random = np.random.default_rng(9)
    assert not [mode for mode in resonance_of(shake(random.standard_normal((COUNT, 1)))).modes if mode.sure]


def test_units_change_nothing_but_the_movement() -> None:
    random = np.random.default_rng(4)
    moved = one_mass(40.0, 0.05).accelerations(noise(random, COUNT, 1), RATE_HZ)
    first, other = resonance_of(shake(moved)), resonance_of(shake(moved / 9.80665))
    assert other.modes[0].frequency.value == pytest.approx(first.modes[0].frequency.value, rel=1e-6)
    assert other.modes[0].rms["x"] == pytest.approx(first.modes[0].rms["x"] / 9.80665, rel=1e-5)


def test_a_gap_moves_no_swing() -> None:
    random = np.random.default_rng(7)
    moved = one_mass(50.0, 0.05).accelerations(noise(random, COUNT, 1), RATE_HZ)
    whole = shake(moved)
    parted = replace(whole, stretches=(whole.stretches[0][:25000], whole.stretches[0][31000:]), gaps=1)
    assert resonance_of(parted).modes[0].frequency.value == pytest.approx(50, rel=0.01)
