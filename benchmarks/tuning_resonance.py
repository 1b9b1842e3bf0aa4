"""Measures `tune resonance`: its time, its errors on simulated machines, its shaper beside brute force.

python -m benchmarks.tuning_resonance [MACHINES [noise|knocks|sweep]]

The machines are those of tests/tuning/shaking_machines.py: the truth is in their equations' eigenvalues.
With a kind of shaking only its errors are measured.
Beside it a simpler way over the same arrays: scipy.signal.welch, find_peaks and scipy.optimize.curve_fit.
"""

from __future__ import annotations

import itertools
import statistics
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import curve_fit
from scipy.signal import find_peaks, welch

from benchmarks.figures import median_own_seconds, row
from benchmarks.resonance_bound import bound, within

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests" / "tuning"))

from shaking_machines import Chain, drawn_chain, knocks, noise, sweep  # beside the tests

from trysquare.tuning.acceleration_file import Table, parse_acceleration
from trysquare.tuning.resonance import Mode, resonance_of
from trysquare.tuning.shakes import shake_of
from trysquare.tuning.shaping import Swing, robust, shortest_robust, worst_residual

Numbers = NDArray[np.float64]

RATE_HZ, SECONDS = 3200.0, 60.0
KINDS = ("noise", "knocks", "sweep")
ASKED_HZ, ASKED_DAMPING = 0.01, 0.15
# Modes are strong or weak by the head's movement at their frequencies, as a part of the largest one.
STRONG, WEAK = 0.3, 0.1


def table(acceleration: Numbers) -> Table:
    """A recording (n, axes) as it is after reading."""
    count = len(acceleration)
    return Table(
        file="shake.csv", time_second=np.arange(count) / RATE_HZ, acceleration=acceleration,
        axes=("x", "y", "z")[: acceleration.shape[1]], unit="m/s²", lines=np.arange(count), notes=(),
    )  # fmt: skip


def simple_way(acceleration: Numbers) -> list[list[tuple[float, float]]]:
    """Welch's spectrum, its two highest peaks, a least squares fit of powers: (Hz, damping) by axis."""
    found = []
    for column in acceleration.T:
        hz, power = welch(column, RATE_HZ, nperseg=int(8 * RATE_HZ))
        kept = (hz > 8) & (hz < 200)
        hz, power = hz[kept], power[kept] / power[kept].max()
        at, about = find_peaks(np.convolve(power, np.ones(9) / 9, "same"), prominence=0.02)
        first = hz[at[np.argsort(-about["prominences"])][:2]]
        start = [
            np.log(1e-4),
            *itertools.chain(*((np.log(0.1), np.log(one), np.log(0.05)) for one in first)),
        ]
        try:
            numbers, _ = curve_fit(_model, hz, np.log(power + 1e-12), start, maxfev=4000)
        except RuntimeError:
            numbers = np.array(start)
        found.append([(float(np.exp(one[1])), float(np.exp(one[2]))) for one in numbers[1:].reshape(-1, 3)])
    return found


def _model(hz: Numbers, *numbers: float) -> Numbers:
    total = np.full(len(hz), np.exp(numbers[0]))
    for height, at, damping in np.array(numbers[1:]).reshape(-1, 3):
        r = hz / np.exp(at)
        total += np.exp(2 * height) * r**4 / ((1 - r * r) ** 2 + (2 * np.exp(damping) * r) ** 2)
    return np.asarray(np.log(total))


def strengths(chain: Chain) -> list[float]:
    """How much the head moves at each true mode when a force acts on it, as a part of the most."""
    responses = []
    count = len(chain.mass)
    for hz, _ in chain.modes:
        s = 2j * np.pi * hz
        state = np.linalg.solve(
            s * np.eye(2 * count) - chain.state, np.append(np.zeros(2 * count - 1), 1 / chain.mass[-1])
        )
        responses.append(abs(state[-1]) * hz)
    return [one / max(responses) for one in responses]


def drawn(seed: int, shaken: str) -> tuple[Chain, Numbers]:
    """A machine and its head's acceleration, (n, 1), with a sensor's noise."""
    random = np.random.default_rng([seed, len(shaken)])
    chain, count = drawn_chain(random), int(SECONDS * RATE_HZ)
    if shaken == "noise":
        force = noise(random, count, 2)
    elif shaken == "knocks":
        force = knocks(random, count, RATE_HZ, 2)
    else:
        force = sweep(count, RATE_HZ, 2)
    moved = chain.accelerations(force, RATE_HZ)[:, -1:]
    return chain, moved + 0.003 * float(moved.std()) * random.standard_normal(moved.shape)


def accuracy(machines: int, shaken: str) -> dict[str, dict[str, float]]:
    """Of strong and weak modes: how many are found, near enough, and within what their uncertainty says."""
    names = (
        "modes", "found", "hz", "damping", "both", "told_hz", "told_damping", "sure", "right", "simple",
        "known", "known_right", "bound_hz", "bound_damping", "invented",
    )  # fmt: skip
    sums = {kind: dict.fromkeys(names, 0.0) for kind in ("strong", "weak")}
    for seed in range(machines):
        chain, moved = drawn(seed, shaken)
        modes = resonance_of(shake_of(table(moved))).modes
        simple = simple_way(moved)[0]
        bounds = bound(chain.state, float(chain.mass[-1]), chain.modes, SECONDS)
        sums["strong"]["invented"] += sum(
            all(not _near(mode.frequency.value, hz, 0.05) for hz, _ in chain.modes) for mode in modes
        )
        for (hz, damping), size, least in zip(chain.modes, strengths(chain), bounds, strict=True):
            if size >= WEAK:
                _count(sums["strong" if size >= STRONG else "weak"], (hz, damping), modes, simple, least)
    return sums


def _count(
    sums: dict[str, float], truth: tuple[float, float], modes: Sequence[Mode],
    simple: list[tuple[float, float]], least: tuple[float, float],
) -> None:  # fmt: skip
    hz, damping = truth
    sums["modes"] += 1
    sums["bound_hz"] += within(least[0], ASKED_HZ)
    sums["bound_damping"] += within(least[1], ASKED_DAMPING)
    near = min(simple, key=lambda one: abs(one[0] - hz), default=(0.0, 0.0))
    sums["simple"] += _near(near[0], hz, ASKED_HZ) and _near(near[1], damping, ASKED_DAMPING)
    mode = min(modes, key=lambda one: abs(one.frequency.value - hz), default=None)
    if mode is None or not _near(mode.frequency.value, hz, 0.05):
        return
    within_hz = _near(mode.frequency.value, hz, ASKED_HZ)
    within_damping = _near(mode.damping.value, damping, ASKED_DAMPING)
    known = mode.frequency.expanded <= ASKED_HZ * mode.frequency.value
    sums["found"] += 1
    sums["hz"] += within_hz
    sums["damping"] += within_damping
    sums["both"] += within_hz and within_damping
    sums["sure"] += mode.sure
    sums["right"] += mode.sure and within_hz and within_damping
    sums["known"] += known
    sums["known_right"] += known and within_hz
    sums["told_hz"] += abs(mode.frequency.value - hz) <= mode.frequency.expanded
    sums["told_damping"] += abs(mode.damping.value - damping) <= mode.damping.expanded


def told_accuracy(machines: int, shaken: str) -> None:
    """Prints the rows of one kind of shaking."""
    for kind, sums in accuracy(machines, shaken).items():
        total, found = max(1.0, sums["modes"]), max(1.0, sums["found"])
        row(f"{machines} machines shaken by {shaken}: {kind} modes; found", "",
             f"{total:.0f}; {sums['found'] / total:.1%}")  # fmt: skip
        row("  frequency within 1 %", "all" if kind == "strong" else "", f"{sums['hz'] / total:.1%}")
        row("  damping within 15 %", "all" if kind == "strong" else "", f"{sums['damping'] / total:.1%}")
        if shaken == "noise":  # the other ways of shaking tell more
            row("  what the Cramér–Rao bound allows: frequency; damping", "",
                 f"{sums['bound_hz'] / total:.1%}; {sums['bound_damping'] / total:.1%}")  # fmt: skip
        row("  frequency told within 1 % (k = 2): modes; within it", "",
             f"{sums['known']:.0f}; {sums['known_right'] / max(1, sums['known']):.1%}")  # fmt: skip
        row("  within what the uncertainty says: frequency; damping", "≥ 90 %",
             f"{sums['told_hz'] / found:.1%}; {sums['told_damping'] / found:.1%}")  # fmt: skip
        row("  of those told as sure: both near enough", "",
             f"{sums['right'] / max(1, sums['sure']):.1%}")  # fmt: skip
        row("  both near enough; the simple way", "",
             f"{sums['both'] / total:.1%}; {sums['simple'] / total:.1%}")  # fmt: skip
        if kind == "strong":
            row("  swings told that no machine has", "0", f"{sums['invented']:.0f}")


def _near(value: float, truth: float, part: float) -> bool:
    return abs(value / truth - 1) <= part


def brute_force(swing: Swing, error: float, seconds: float, steps: int = 60) -> float:
    """The least worst residual of three impulses, the middle one and all amplitudes tried on a grid."""
    hz = np.linspace(swing.hz * (1 - error), swing.hz * (1 + error), 41)[:, None]
    omega = 2 * np.pi * hz
    turns = omega * np.sqrt(1 - swing.damping**2)

    def vector(at: float) -> NDArray[np.complex128]:
        return np.asarray(np.exp(swing.damping * omega * (at - seconds) + 1j * turns * at)[:, 0])

    share = np.linspace(0, 1, 2 * steps + 1)
    first, last = (one.ravel() for one in np.meshgrid(share, share))
    kept = first + last <= 1
    first, last = first[kept], last[kept]
    least = np.inf
    for at in np.linspace(0, seconds, steps + 1)[1:-1]:
        left = (
            first[:, None] * vector(0.0) + last[:, None] * vector(seconds)
            + (1 - first - last)[:, None] * vector(float(at))
        )  # fmt: skip
        least = min(least, float(np.abs(left).max(axis=1).min()))
    return least


def main() -> None:
    """Prints one row for each figure."""
    machines = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    if len(sys.argv) > 2:
        for shaken in sys.argv[2:]:
            told_accuracy(machines, shaken)
        return
    count = int(SECONDS * RATE_HZ)
    ours, simple = [], []
    for seed in range(5):
        random = np.random.default_rng(seed)
        axes = [drawn_chain(random).accelerations(noise(random, count, 2), RATE_HZ)[:, -1] for _ in range(3)]
        acceleration = np.stack(axes, axis=1)
        read = table(acceleration)
        ours.append(median_own_seconds(lambda read=read: resonance_of(shake_of(read)), 3))  # type: ignore[misc]
        simple.append(median_own_seconds(lambda one=acceleration: simple_way(one), 3))  # type: ignore[misc]
    ratio = statistics.median(ours) / statistics.median(simple)
    row(
        "60 s at 3.2 kHz, three axes: spectra and modes, median of 5",
        "≤ 0.5 s",
        f"{statistics.median(ours):.2f} s",
    )
    row("  longest of the five", "", f"{max(ours):.2f} s")
    row(
        "  welch, find_peaks and curve_fit of scipy; ratio",
        "",
        f"{statistics.median(simple):.2f} s; {ratio:.2f}",
    )
    rows = "\n".join(
        f"{index / RATE_HZ:.6f},{x:.4f},{y:.4f},{z:.4f}"
        for index, (x, y, z) in enumerate(acceleration.tolist())
    )
    seconds = median_own_seconds(lambda: parse_acceleration(rows, "shake.csv"), 3)
    row("  reading the table of it, 192 000 rows", "", f"{seconds:.2f} s")
    for shaken in KINDS:
        told_accuracy(machines, shaken)
    over = []
    for hz, damping, error, periods in itertools.product((35.0, 60.0), (0.03, 0.1), (0.1, 0.2), (0.8, 1.0)):
        swing = Swing(hz=hz, damping=damping)
        found = worst_residual(robust([swing], error, periods / hz), [swing], error)
        over.append(found / brute_force(swing, error, periods / hz) - 1)
    row("16 robust shapers: worst over brute force of three impulses", "≤ 1 %", f"{max(over):.2%}")
    seconds = median_own_seconds(lambda: shortest_robust([Swing(hz=45, damping=0.05)], 0.1, 0.05), 5)
    row("the shortest robust shaper of one swing", "", f"{seconds:.2f} s")


if __name__ == "__main__":
    main()
