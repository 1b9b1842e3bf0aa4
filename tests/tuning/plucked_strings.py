"""Recordings of plucked spans, made by stepping the wave equation in time: no formula of the product is used.

Source: S. Bilbao, Numerical Sound Synthesis (2009), chapter 7: stiff string with loss, explicit scheme,
from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 44100.0
POINTS = 40  # the grid's own error on the fundamental: (π/40)²/24, 0.03 %


@dataclass(frozen=True, slots=True, kw_only=True)
class Strings:
    """Many spans at once, each array of shape (n,): what a builder's belts may be like."""

    fundamental_hz: NDArray[np.float64]
    stiffness: NDArray[np.float64]  # b in f(n) = n f1 (1 + b n²)^½
    loss_hz: NDArray[np.float64]  # decay of all: 1/s
    loss_high: NDArray[np.float64]  # how much faster high overtones die
    plucked_at: NDArray[np.float64]  # 0 … 1 along the span
    heard_at: NDArray[np.float64]


def drawn_strings(random: np.random.Generator, count: int) -> Strings:
    """Spans from 25 to 320 Hz, as belts of small machines have them."""
    return Strings(
        fundamental_hz=np.exp(random.uniform(np.log(32), np.log(320), count)),
        stiffness=np.exp(random.uniform(np.log(2e-5), np.log(8e-4), count)),
        loss_hz=random.uniform(3, 12, count),
        loss_high=random.uniform(0.2, 1.5, count),
        plucked_at=random.uniform(0.12, 0.5, count),
        heard_at=random.uniform(0.1, 0.9, count),
    )


def sound_of(strings: Strings, seconds: float) -> NDArray[np.float64]:
    """What is heard near each span, shape (n, samples): the belt's velocity at one place, loudest 1."""
    count, steps = len(strings.fundamental_hz), round(seconds * RATE_HZ)
    time, space = 1 / RATE_HZ, 1 / POINTS
    c = 2 * strings.fundamental_hz  # length 1
    kappa = c * np.sqrt(strings.stiffness) / np.pi
    # Overtone n dies at loss + high (n π)², per second.
    loss, high = strings.loss_hz, strings.loss_high / np.pi**2
    x = np.arange(POINTS + 1) * space
    at = strings.plucked_at[:, None]
    u = np.where(x < at, x / at, (1 - x) / (1 - at))
    u[:, 0] = u[:, -1] = 0
    u = 0.25 * np.roll(u, 1, 1) + 0.5 * u + 0.25 * np.roll(u, -1, 1)  # a finger is round
    u[:, 0] = u[:, -1] = 0
    before = u.copy()
    listen = np.clip(np.round(strings.heard_at * POINTS).astype(int), 1, POINTS - 1)
    rows = np.arange(count)
    heard = np.empty((count, steps))
    a = (c * time / space) ** 2
    b = (kappa * time / space**2) ** 2
    d = 2 * high * time / space**2
    keep = loss * time
    a, b, d, keep = (one[:, None] for one in (a, b, d, keep))
    second = np.zeros_like(u)
    second_before = np.zeros_like(u)
    second_before[:, 1:-1] = before[:, 2:] - 2 * before[:, 1:-1] + before[:, :-2]
    fourth = np.zeros_like(u)
    for step in range(steps):
        second[:, 1:-1] = u[:, 2:] - 2 * u[:, 1:-1] + u[:, :-2]
        # simply supported: the second difference is nought at both ends
        fourth[:, 1:-1] = second[:, 2:] - 2 * second[:, 1:-1] + second[:, :-2]
        new = (2 * u - before + a * second - b * fourth + keep * before + d * (second - second_before)) / (
            1 + keep
        )
        new[:, 0] = new[:, -1] = 0
        heard[:, step] = new[rows, listen] - before[rows, listen]
        before, u = u, new
        second_before[:] = second
    return np.asarray(heard / np.abs(heard).max(axis=1, keepdims=True))


def phone(samples: NDArray[np.float64], rate_hz: float = RATE_HZ) -> NDArray[np.float64]:
    """A telephone's microphone: weak below some 90 Hz."""
    pole = float(np.exp(-2 * np.pi * 90 / rate_hz))
    out = np.empty_like(samples)
    from scipy.signal import lfilter

    out = lfilter([0.5 * (1 + pole), -0.5 * (1 + pole)], [1.0, -pole], samples)
    return np.asarray(out, dtype=np.float64)


def recording(
    random: np.random.Generator,
    own: NDArray[np.float64],
    other: NDArray[np.float64] | None,
    *,
    plucks: int = 3,
    noise: float = 0.01,
    hum: float = 0.02,
    hum_hz: float = 50.0,
    clip: float | None = None,
) -> NDArray[np.float64]:
    """Some seconds: plucks of unlike strength, a second span sounding along, noise, hum, clipping."""
    gap = round(random.uniform(1.0, 1.4) * RATE_HZ)
    lead = round(0.6 * RATE_HZ)
    out = np.zeros(lead + plucks * gap + round(0.4 * RATE_HZ))
    for index in range(plucks):
        begin = lead + index * gap + round(random.uniform(0, 0.1) * RATE_HZ)
        sound = own * random.uniform(0.5, 1.0)
        if other is not None:
            sound = sound + other * random.uniform(0.05, 0.25)
        end = min(len(out), begin + len(sound))
        out[begin:end] += sound[: end - begin]
    t = np.arange(len(out)) / RATE_HZ
    for overtone, part in ((1, 1.0), (2, 0.7), (3, 0.3)):
        out += hum * part * np.sin(2 * np.pi * hum_hz * overtone * t + random.uniform(0, 6.28))
    out = phone(out)
    out = out + noise * random.standard_normal(len(out))
    out = out / np.abs(out).max()
    if clip is not None:
        out = np.clip(out, -clip, clip) / clip
    return np.asarray(np.round(out * 0.3 * 32767) / 32767, dtype=np.float64)
