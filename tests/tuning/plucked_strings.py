"""Recordings of plucked spans, made by stepping the wave equation in time: no formula of the product is used.

Source: S. Bilbao, Numerical Sound Synthesis (2009), chapter 7: stiff string with loss, explicit scheme,
from memory; the tension's second difference of fourth order.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

RATE_HZ = 44100.0
POINTS = 32  # the grid's and the step's own error on the fundamental is below 0.01 %
BLOCK = 256


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
    """What is heard near each span, shape (n, samples): the belt's velocity at one place, loudest 1.

    A step of the scheme is linear in the displacements of now and before, so many steps are one matrix: the
    steps are the same, and a block of them is taken at once.
    """
    count, steps = len(strings.fundamental_hz), round(seconds * RATE_HZ)
    inner = POINTS - 1
    every = np.tile(np.eye(2 * inner), (count, 1, 1))
    power = np.moveaxis(_step(strings, every[:, :, :inner], every[:, :, inner:]), 1, 2)
    # The velocity: what a step adds to where the belt was a step before.
    listen = np.clip(np.round(strings.heard_at * POINTS).astype(int), 1, POINTS - 1) - 1
    rows = np.zeros((count, 1, 2 * inner))
    rows[np.arange(count), 0, listen] = 1
    rows = rows @ power
    rows[np.arange(count), 0, inner + listen] -= 1
    while rows.shape[1] < BLOCK:
        rows = np.concatenate([rows, rows @ power], axis=1)
        power = power @ power
    start = _plucked(strings)
    state = np.concatenate([start, start], axis=1)[:, :, None]
    heard = []
    for _ in range(-(-steps // BLOCK)):
        heard.append((rows @ state)[:, :, 0])
        state = power @ state
    sound = np.concatenate(heard, axis=1)[:, :steps]
    return np.asarray(sound / np.abs(sound).max(axis=1, keepdims=True))


def _plucked(strings: Strings) -> NDArray[np.float64]:
    """The belt drawn aside at one place by a round finger, shape (n, POINTS − 1)."""
    x = np.arange(POINTS + 1) / POINTS
    at = strings.plucked_at[:, None]
    u = np.where(x < at, x / at, (1 - x) / (1 - at))
    return np.asarray(0.25 * u[:, :-2] + 0.5 * u[:, 1:-1] + 0.25 * u[:, 2:])


def _step(strings: Strings, u: NDArray[np.float64], before: NDArray[np.float64]) -> NDArray[np.float64]:
    """The displacements after a step and before it, for many states of each span: (n, states, points)."""
    time, space = 1 / RATE_HZ, 1 / POINTS
    c = (2 * strings.fundamental_hz)[:, None, None]  # length 1
    kappa = c * np.sqrt(strings.stiffness)[:, None, None] / np.pi
    # Overtone n dies at loss + high (n π)², per second.
    keep = strings.loss_hz[:, None, None] * time
    high = strings.loss_high[:, None, None] / np.pi**2
    new = 2 * u - (1 - keep) * before
    new += (c * time / space) ** 2 * _fine_second(u) - (kappa * time / space**2) ** 2 * _second(_second(u))
    new += 2 * high * time / space**2 * (_second(u) - _second(before))
    return np.concatenate([new / (1 + keep), u], axis=2)


def _second(u: NDArray[np.float64]) -> NDArray[np.float64]:
    """Second difference; the ends are held, and do not bend."""
    wide = np.pad(u, ((0, 0), (0, 0), (1, 1)))
    return np.asarray(wide[:, :, 2:] - 2 * u + wide[:, :, :-2])


def _fine_second(u: NDArray[np.float64]) -> NDArray[np.float64]:
    """Second difference of fourth order, so that the grid itself does not lower the overtones."""
    second = _second(u)
    return second - _second(second) / 12


def phone(samples: NDArray[np.float64], rate_hz: float = RATE_HZ) -> NDArray[np.float64]:
    """A telephone's microphone: weak below some 90 Hz."""
    pole = float(np.exp(-2 * np.pi * 90 / rate_hz))
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
