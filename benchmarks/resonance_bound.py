"""How well modes of a machine shaken by noise can be known at all: the Cramér–Rao bound of its spectrum.

Source: P. Whittle's information of a spectrum, T ∫ ∂ln S/∂a ∂ln S/∂b df, from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

Numbers = NDArray[np.float64]


def bound(
    state: Numbers, head_kg: float, modes: list[tuple[float, float]], seconds: float,
    low_hz: float = 8.0, high_hz: float = 200.0,
) -> list[tuple[float, float]]:  # fmt: skip
    """Least standard deviations of frequency and damping of each mode, as parts of them.

    state (2n, 2n): the machine's equations, the head last; a force without colour acts on it. Nothing is
    known beforehand but how many modes there are: H = s² (polynomial of s) / Π (s² + 2ζω s + ω²).
    """
    hz = np.arange(low_hz, high_hz, 0.1)
    s = 2j * np.pi * hz
    push = np.append(np.zeros(len(state) - 1), 1 / head_kg)
    head = np.array([np.linalg.solve(one * np.eye(len(state)) - state, push)[-1] * one for one in s])
    scale = 2 * np.pi * 60
    count = 2 * len(modes)
    powers = np.stack([(s / scale) ** power for power in range(count - 1)], axis=1)

    def below(numbers: Numbers) -> NDArray[np.complex128]:
        product = np.ones(len(s), complex)
        for at, damping in numbers.reshape(-1, 2):
            omega = 2 * np.pi * at
            product *= (s * s + 2 * damping * omega * s + omega**2) / scale**2
        return product

    truth = np.array(modes).ravel()
    above = head * below(truth) * scale**2 / s**2
    stacked = np.vstack([powers.real, powers.imag])
    factors = np.linalg.lstsq(stacked, np.append(above.real, above.imag), rcond=None)[0]
    numbers = np.append(truth, factors)

    def level(tried: Numbers) -> Numbers:
        response = s**2 * (powers @ tried[count:]) / below(tried[:count])
        return np.asarray(np.log(np.square(np.abs(response))))

    slopes = []
    for index, value in enumerate(numbers):
        step = np.zeros(len(numbers))
        step[index] = 1e-5 * max(abs(float(value)), 1e-3)
        slopes.append((level(numbers + step) - level(numbers - step)) / (2 * step[index]))
    matrix = np.array(slopes)
    spread = np.sqrt(np.diag(np.linalg.inv(seconds * 0.1 * matrix @ matrix.T)))[:count] / truth
    return [(float(a), float(b)) for a, b in spread.reshape(-1, 2)]


def within(spread: float, part: float) -> float:
    """How likely an error of this standard deviation stays within a part."""
    return float(2 * norm.cdf(part / spread) - 1)
