"""Machines as masses on springs and dampers, moved by knocks, noise or sweeps, stepped exactly in time.

The truth is in the eigenvalues of their equations of motion; no spectrum or fit of the product is used.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eig, expm
from scipy.signal import lfilter

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Masses in a row, the first one held to the ground: kg, N/m, N s/m, each of shape (n,)."""

    mass: Numbers
    spring: Numbers
    damper: Numbers

    @property
    def state(self) -> Numbers:
        """The matrix (2n, 2n) of the equations of motion, places first, then speeds."""
        n = len(self.mass)
        stiff, damp = self._tridiagonal(self.spring), self._tridiagonal(self.damper)
        lower = np.hstack([-stiff / self.mass[:, None], -damp / self.mass[:, None]])
        return np.vstack([np.hstack([np.zeros((n, n)), np.eye(n)]), lower])

    def _tridiagonal(self, values: Numbers) -> Numbers:
        matrix = np.diag(values + np.append(values[1:], 0.0))
        for index in range(1, len(values)):
            matrix[index, index - 1] = matrix[index - 1, index] = -values[index]
        return matrix

    @property
    def modes(self) -> list[tuple[float, float]]:
        """True frequencies in Hz and damping ratios, by frequency: of eigenvalues −ζω ± iω√(1−ζ²)."""
        values = np.linalg.eigvals(self.state)
        upper = values[values.imag > 0]
        size = np.abs(upper)
        return sorted(zip((size / 2 / np.pi).tolist(), (-upper.real / size).tolist(), strict=True))

    def accelerations(self, force: Numbers, rate_hz: float) -> Numbers:
        """Acceleration of every mass, (samples, n), for forces on them, (samples, n), held between steps."""
        n = len(self.mass)
        matrix = self.state
        step = expm(matrix / rate_hz)
        push = np.vstack([np.zeros((n, n)), np.diag(1 / self.mass)])
        held = np.linalg.solve(matrix, (step - np.eye(2 * n)) @ push)
        values, vectors = eig(step)
        driven = np.linalg.solve(vectors, held) @ force.T
        modal = np.stack(
            [lfilter([0.0, 1.0], [1.0, -value], one) for value, one in zip(values, driven, strict=True)]
        )
        state = (vectors @ modal).real
        return np.asarray((matrix[n:] @ state).T + force / self.mass)


def drawn_chain(random: np.random.Generator) -> Chain:
    """A frame and a head on it, as small machines have them: some 25 to 100 Hz, damping 2 to 10 %."""
    head_hz, frame_hz = random.uniform(28, 80), random.uniform(35, 120)
    mass = np.array([random.uniform(4, 10), random.uniform(0.2, 0.8)])
    spring = mass * np.square(2 * np.pi * np.array([frame_hz, head_hz]))
    damper = 2 * random.uniform(0.02, 0.08, 2) * np.sqrt(spring * mass)
    return Chain(mass=mass, spring=spring, damper=damper)


def knocks(random: np.random.Generator, count: int, rate_hz: float, masses: int) -> Numbers:
    """Short blows on the last mass, about one each second."""
    force = np.zeros((count, masses))
    at = 0.3
    while at * rate_hz < count - 1:
        index = int(at * rate_hz)
        force[index : index + max(1, round(0.001 * rate_hz)), -1] = random.uniform(20, 60)
        at += random.uniform(0.7, 1.4)
    return force


def noise(random: np.random.Generator, count: int, masses: int) -> Numbers:
    """A force at random on the last mass: a head that is driven about."""
    force = np.zeros((count, masses))
    force[:, -1] = random.standard_normal(count)
    return force


def sweep(count: int, rate_hz: float, masses: int, low_hz: float = 5.0, high_hz: float = 150.0) -> Numbers:
    """A force of one size whose frequency rises evenly from low to high."""
    t = np.arange(count) / rate_hz
    force = np.zeros((count, masses))
    force[:, -1] = np.sin(2 * np.pi * (low_hz * t + (high_hz - low_hz) * t * t / 2 / t[-1]))
    return force
