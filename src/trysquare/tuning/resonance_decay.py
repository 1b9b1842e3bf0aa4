"""Modes out of free swinging after knocks: what no drive colours, and known better than from spectra.

Between two knocks a machine moves as a sum of dying swings, whatever the knock was: x = Σ c exp(s t) with the
same poles s each time. The shift that a Hankel matrix of all decays keeps gives them to begin with; then they
are those of least squares, the c of every knock being free. Source: matrix pencil and eigensystem
realisation, any text on modal analysis; variable projection, G. Golub and V. Pereyra 1973; both from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks, firwin

Numbers = NDArray[np.float64]

# A knock: over so many seconds the movement rises to so many times the mean square before it, and to at least
# this part of the hardest one's. Knocks nearer to each other than this are one.
RISE_SECOND, RISE, LEAST_PART, APART_SECOND = 0.01, 8.0, 0.02, 0.2
LEAST_KNOCKS = 4
# A blow has ended so much after it began; decays shorter than this tell little, longer ones are cut.
BLOW_SECOND, SHORTEST_SECOND, LONGEST_SECOND = 0.008, 0.25, 1.0
# A decay falls to less than this part of its mean square from its first to its last quarter.
FALLEN = 0.2
# A tone is what falls by less than this in the logarithm of its height within a decay.
STEADY = 1.0
# What the swings leave of the movement's square; more is no free swinging of some modes.
MOST_LEFT = 0.03
MOST_MODES, DIRECTIONS, ROUNDS = 5, 12, 30
MOST_SHIFTS = 250
# The coarser time has so many steps in a period of the highest frequency; the low pass is so many steps long:
# what it lets through of quicker swings is then seen where it is.
COARSE, FIR_STEPS = 4.0, 10
LEAST_DAMPING, MOST_DAMPING = 3e-4, 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Decay:
    """A mode of the decays, with variances of the logarithms of frequency and damping.

    `energy`: the integral of its square over all decays, unit² s. `steady`: it hardly dies away within them,
    as a fan's or motor's tone.
    """

    hz: float
    damping: float
    hz_variance: float
    damping_variance: float
    energy: float
    steady: bool


def decays_of(
    stretches: Sequence[Numbers], rate_hz: float, lowest_hz: float, highest_hz: float
) -> tuple[Decay, ...]:
    """The modes of one axis (n,) of each stretch between two frequencies; () if nothing swings freely."""
    cut = _cut(stretches, rate_hz, highest_hz)
    if cut is None:
        return ()
    values, step = cut
    left, sizes, _ = np.linalg.svd(values, full_matrices=False)
    kept = min(DIRECTIONS, len(sizes))
    main = left[:, :kept] * sizes[:kept]
    whole = float(np.square(values).sum())
    rest = whole - float(np.square(main).sum())
    begun = _poles(main, step)
    best: tuple[float, Numbers] | None = None
    count, knocks = values.shape
    for modes in range(1, MOST_MODES + 1):
        start = _begin(begun, modes, step)
        if start is None:
            continue
        numbers, remains = _settled(start, main, step)
        # Columns beyond the main ones fit noise by as much as their numbers are.
        loss = remains + rest * (1 - (2 * modes + 1) / count)
        price = count * knocks * np.log(max(loss, 1e-300)) + np.log(count * knocks) * (
            2 * modes + 2 * modes * min(knocks, kept)
        )
        if best is None or price < best[0]:
            best = (float(price), numbers)
    if best is None:
        return ()
    return _told(best[1], values, step, whole, (lowest_hz, highest_hz))


def _cut(stretches: Sequence[Numbers], rate_hz: float, highest_hz: float) -> tuple[Numbers, float] | None:
    """The decays (samples, knocks) at a coarser step of time, and that step in seconds; None: no knocks."""
    pieces: list[Numbers] = []
    for one in stretches:
        at = _knocks(one, rate_hz)
        if not len(at):
            continue
        ends = np.append(at[1:], len(one))
        skip, guard = round(BLOW_SECOND * rate_hz), round(RISE_SECOND * rate_hz)
        pieces += [one[first + skip : last - guard] for first, last in zip(at, ends, strict=True)]
    pieces = [one for one in pieces if len(one) >= SHORTEST_SECOND * rate_hz]
    if len(pieces) < LEAST_KNOCKS:
        return None
    length = int(min(np.quantile([len(one) for one in pieces], 0.2), LONGEST_SECOND * rate_hz))
    values = np.stack([one[:length] for one in pieces if len(one) >= length], axis=1)
    quarter = length // 4
    first, last = (float(np.square(part).sum()) for part in (values[:quarter], values[-quarter:]))
    if values.shape[1] < LEAST_KNOCKS or last > FALLEN * first:
        return None
    # A low pass that looks ahead within the decay leaves its poles as they are.
    factor = max(1, int(rate_hz / (COARSE * highest_hz)))
    if factor == 1:
        return values, 1 / rate_hz
    taps = FIR_STEPS * factor + 1
    low = firwin(taps, 1.1 * highest_hz, window="blackman", fs=rate_hz)
    starts = np.arange(0, length - taps + 1, factor)
    windows = np.lib.stride_tricks.sliding_window_view(values, taps, axis=0)[starts]
    return np.asarray(windows @ low), factor / rate_hz


def _knocks(one: Numbers, rate_hz: float) -> NDArray[np.int64]:
    """Where knocks begin, as indices of samples."""
    width = max(2, round(RISE_SECOND * rate_hz))
    sums = np.concatenate([[0.0], np.cumsum(np.square(one))])
    if len(one) < 4 * width:
        return np.zeros(0, dtype=np.int64)
    if sums[-1] <= 0:
        return np.zeros(0, dtype=np.int64)
    after = sums[2 * width :] - sums[width:-width]
    before = sums[width:-width] - sums[: -2 * width]
    rises = np.where(after > LEAST_PART * after.max(), after / (before + 1e-6 * after.max()), 0.0)
    found, _ = find_peaks(rises, height=RISE, distance=max(1, round(APART_SECOND * rate_hz)))
    hardest = [at + width + int(np.argmax(np.abs(one[at + width : at + 2 * width]))) for at in found.tolist()]
    return np.sort(np.array(hardest, dtype=np.int64))


def _poles(main: Numbers, step: float) -> list[NDArray[np.complex128]]:
    """Poles of 1, 2 … modes, 1/s, by the shift of the Hankel matrix's main directions."""
    rows = min(len(main) // 2, MOST_SHIFTS)
    weighted = main / np.sqrt(np.square(main).sum() + 1e-300)
    columns = len(main) - rows + 1
    hankel = np.concatenate(
        [np.lib.stride_tricks.sliding_window_view(one, columns) for one in weighted.T], axis=1
    )[:rows]
    values, vectors = np.linalg.eigh(hankel @ hankel.T)
    vectors = vectors[:, np.argsort(-values)]
    found = []
    for modes in range(1, MOST_MODES + 3):
        few = vectors[:, : 2 * modes]
        shift = np.linalg.lstsq(few[:-1], few[1:], rcond=None)[0]
        found.append(np.log(np.linalg.eigvals(shift).astype(complex)) / step)
    return found


def _begin(begun: Sequence[NDArray[np.complex128]], modes: int, step: float) -> Numbers | None:
    """Logarithms of frequency and damping (modes, 2) to begin with, None if there are not so many poles."""
    for poles in begun[modes - 1 :]:
        upper = poles[(poles.imag > 0) & (poles.imag < 0.98 * np.pi / step) & (poles.real < 0)]
        if len(upper) == modes:
            size = np.abs(upper)
            damping = np.clip(-upper.real / size, LEAST_DAMPING, MOST_DAMPING)
            return np.stack([np.log(size / 2 / np.pi), np.log(damping)], axis=1)
    return None


def _basis(numbers: Numbers, count: int, step: float) -> tuple[Numbers, Numbers]:
    """The dying swings (count, 1 + 2 modes), the first one a constant; and their slopes (2 modes, …)."""
    t = np.arange(count) * step
    columns = [np.ones(count)]
    slopes = np.zeros((numbers.size, count, 1 + numbers.size))
    for index, (log_hz, log_damping) in enumerate(numbers):
        omega, damping = 2 * np.pi * np.exp(log_hz), float(np.exp(log_damping))
        root = np.sqrt(1 - damping**2)
        pole = omega * (-damping + 1j * root)
        swing = np.exp(pole * t)
        by_damping = omega * damping * (-1 - 1j * damping / root)
        for slope, rate in ((slopes[2 * index], pole), (slopes[2 * index + 1], by_damping)):
            moved = rate * t * swing
            slope[:, 1 + 2 * index], slope[:, 2 + 2 * index] = moved.real, moved.imag
        columns += [swing.real, swing.imag]
    return np.stack(columns, axis=1), slopes


def _settled(start: Numbers, main: Numbers, step: float) -> tuple[Numbers, float]:
    """The numbers (modes, 2) of least squares and what they leave, by Kaufman's projected steps."""
    numbers, damp = start, 1e-3
    jacobian, residual = _projected(numbers, main, step)
    cost = float(residual @ residual)
    for _ in range(ROUNDS):
        normal = jacobian.T @ jacobian
        scale = np.diag(np.diag(normal) + 1e-12 * float(np.trace(normal)) + 1e-300)
        move = -np.linalg.solve(normal + damp * scale, jacobian.T @ residual)
        move *= min(1.0, 0.3 / max(float(np.abs(move).max()), 1e-300))
        tried = numbers + move.reshape(-1, 2)
        tried[:, 1] = np.clip(tried[:, 1], np.log(LEAST_DAMPING), np.log(MOST_DAMPING))
        new_jacobian, new_residual = _projected(tried, main, step)
        new_cost = float(new_residual @ new_residual)
        if np.isfinite(new_cost) and new_cost < cost:
            gain = 1 - new_cost / cost
            numbers, jacobian, residual, cost = tried, new_jacobian, new_residual, new_cost
            damp = max(damp / 5, 1e-9)
            if gain < 1e-5:
                break
        else:
            damp *= 8
            if damp > 1e6:
                break
    return numbers, cost


def _projected(numbers: Numbers, values: Numbers, step: float) -> tuple[Numbers, Numbers]:
    """Slopes (samples · columns, 2 modes) and values (samples · columns,) of what the swings leave."""
    basis, slopes = _basis(numbers, len(values), step)
    span, triangle = np.linalg.qr(basis)
    parts = np.linalg.lstsq(triangle, span.T @ values, rcond=None)[0]
    jacobian = np.empty((values.size, numbers.size))
    for index, slope in enumerate(slopes):
        moved = slope @ parts
        jacobian[:, index] = -(moved - span @ (span.T @ moved)).ravel()
    return jacobian, (values - span @ (span.T @ values)).ravel()


def _told(
    numbers: Numbers, values: Numbers, step: float, whole: float, band: tuple[float, float]
) -> tuple[Decay, ...]:
    """The modes in the band, strongest first; () when they leave too much of the movement."""
    jacobian, residual = _projected(numbers, values, step)
    left = float(residual @ residual)
    if left > MOST_LEFT * whole:
        return ()
    free = max(1, values.size - numbers.size * (1 + values.shape[1]))
    normal = jacobian.T @ jacobian
    variance = np.diag(np.linalg.pinv(normal, hermitian=True)) * left / free
    basis, _ = _basis(numbers, len(values), step)
    parts = np.linalg.lstsq(basis, values, rcond=None)[0]
    found = []
    for index, (log_hz, log_damping) in enumerate(numbers):
        hz, damping = float(np.exp(log_hz)), float(np.exp(log_damping))
        heights = float(np.square(parts[1 + 2 * index : 3 + 2 * index]).sum())
        if band[0] < hz < band[1]:
            found.append(
                Decay(
                    hz=hz,
                    damping=damping,
                    hz_variance=float(variance[2 * index]),
                    damping_variance=float(variance[2 * index + 1]),
                    energy=heights / (8 * np.pi * hz * damping),
                    steady=2 * np.pi * hz * damping * step * len(values) < STEADY,
                )
            )
    return tuple(sorted(found, key=lambda one: -one.energy))
