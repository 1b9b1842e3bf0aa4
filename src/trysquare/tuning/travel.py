"""Scale, offset and lost motion of an axis from commanded and measured travels, read from both sides."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t

from trysquare.tuning.values import Measured

READING_MM = 0.03  # half width of a caliper's reading; maker sheets


@dataclass(frozen=True, slots=True, kw_only=True)
class Travel:
    """What the readings of an axis say.

    measured = offset + scale · commanded, with an offset of its own for each side that it came from.
    `lost_mm`: what is lost on turning back, offset from above less offset from below; None when only one side
    was read. `rest_mm` (n,): measured less the lines. `scatter_mm`: one reading's standard deviation.
    """

    scale: Measured
    offset_mm: Measured
    lost_mm: Measured | None
    rest_mm: NDArray[np.float64]
    scatter_mm: float


def read_travel(
    commanded_mm: NDArray[np.float64],
    measured_mm: NDArray[np.float64],
    from_above: NDArray[np.bool_],
    half_width_mm: float = READING_MM,
) -> Travel:
    """One slope and an offset for each side by least squares; arrays shape (n,), n ≥ 3 and one more a side.

    Moving up, an axis with play stops short; coming down, it stops far: the offsets differ by the play.
    `half_width_mm` is the instrument's: readings that agree better than it promises may all be off alike.
    Raises ValueError for too few readings, or all at one place. Source: JCGM 100:2008, H.3, with a second
    intercept; ISO 230-2:2014 for the sign of a reversal, from memory.
    """
    x, y = np.asarray(commanded_mm, dtype=np.float64), np.asarray(measured_mm, dtype=np.float64)
    above = np.asarray(from_above, dtype=bool)
    sides = 1 + int(above.any() and not above.all())
    if len(x) < 2 + sides or np.ptp(x) <= 0:
        raise ValueError(
            f"{len(x)} readings of {len(set(x.tolist()))} travels; expected {2 + sides} or more, of several"
        )
    middle = x.mean()
    columns = [x - middle, np.ones_like(x)]
    if sides == 2:
        columns.append(np.where(above, 0.5, -0.5))
    design = np.stack(columns, axis=1)
    inverse = np.linalg.inv(design.T @ design)
    answer = inverse @ design.T @ y
    rest = y - design @ answer
    freedom = len(x) - design.shape[1]
    scatter = math.sqrt(float(rest @ rest) / freedom)
    promised = half_width_mm / math.sqrt(3)  # JCGM 100:2008, 4.3.7
    # k = 2 stands for 95 %: with few readings Student's factor is larger, and is put into the uncertainty.
    sigma = max(scatter * float(t.ppf(0.975, freedom)) / 2, promised)
    basis = f"{len(x)} readings"
    errors = sigma * np.sqrt(np.diag(inverse))
    offset_error = math.sqrt(float(errors[1] ** 2 + (middle * errors[0]) ** 2))
    return Travel(
        scale=Measured(
            value=float(answer[0]), standard_uncertainty=float(errors[0]), unit="", basis=basis
        ),
        offset_mm=Measured(
            value=float(answer[1] - answer[0] * middle), standard_uncertainty=offset_error, unit="mm",
            basis=basis,
        ),
        lost_mm=Measured(
            value=float(answer[2]), standard_uncertainty=float(errors[2]), unit="mm", basis=basis
        ) if sides == 2 else None,
        rest_mm=rest,
        scatter_mm=scatter,
    )  # fmt: skip


def stray_reading(
    commanded_mm: NDArray[np.float64], measured_mm: NDArray[np.float64], from_above: NDArray[np.bool_]
) -> tuple[int, float, float] | None:
    """The reading that fits the others worst: its index, how far it is off their line, their scatter.

    By the residual without it, rest / (1 - leverage), so that one slip of a digit does not hide itself. None
    with too few readings for that. Source: R. D. Cook and S. Weisberg, Residuals and Influence in Regression
    (1982), 2.2, from memory.
    """
    x, y = np.asarray(commanded_mm, dtype=np.float64), np.asarray(measured_mm, dtype=np.float64)
    columns = [x - x.mean(), np.ones_like(x)]
    if from_above.any() and not from_above.all():
        columns.append(np.where(from_above, 0.5, -0.5))
    design = np.stack(columns, axis=1)
    freedom = len(x) - design.shape[1] - 1
    if freedom < 1:
        return None
    hat = design @ np.linalg.pinv(design)
    free = np.maximum(1 - np.diag(hat), 1e-9)
    rest = y - hat @ y
    without = np.sqrt(np.maximum(rest @ rest - rest**2 / free, 0.0) / freedom)
    score = np.abs(rest) / np.sqrt(free) / np.maximum(without, 1e-9)
    worst = int(np.argmax(np.where(free > 0.05, score, 0.0)))
    return worst, float(rest[worst] / free[worst]), float(without[worst])


def corrected_per_mm(now_per_mm: float, scale: Measured) -> Measured:
    """Steps for a millimetre that make the scale one. Equation: now / scale."""
    value = now_per_mm / scale.value
    return Measured(
        value=value, standard_uncertainty=value * scale.standard_uncertainty / scale.value, unit="1/mm",
        basis=scale.basis,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """A usual mistake that makes a travel wrong by a ratio; `ratio` is travel made over travel wished."""

    ratio: float
    says: str


# Made travel over wished travel. Ratios of counts; which ones are usual is common practice, no source.
_MISTAKES = (
    *(
        Guess(ratio=2.0**n, says=f"the driver makes {2**n} times fewer microsteps than is reckoned with")
        for n in (4, 3, 2)
    ),
    Guess(
        ratio=2.0,
        says="the driver makes half the microsteps reckoned with, or the motor has 200 steps, not 400",
    ),
    Guess(
        ratio=0.5,
        says="the driver makes twice the microsteps reckoned with, or the motor has 400 steps, not 200",
    ),
    *(
        Guess(ratio=2.0**-n, says=f"the driver makes {2**n} times the microsteps that are reckoned with")
        for n in (2, 3, 4)
    ),
    Guess(ratio=0.8, says="the pulley has 16 teeth, not 20"),
    Guess(ratio=1.25, says="the pulley has 20 teeth, not 16"),
    Guess(ratio=1.2, says="the pulley has 24 teeth, not 20"),
    Guess(ratio=1 / 1.2, says="the pulley has 20 teeth, not 24"),
    Guess(ratio=1.5, says="the belt's pitch is 3 mm, not 2"),
    Guess(ratio=2 / 3, says="the belt's pitch is 2 mm, not 3"),
)
_NEAR = 0.02


# The same for the starts of a screw's thread: lead = pitch × starts.
_STARTS = (
    Guess(ratio=4.0, says="the screw has 4 starts, not 1 (measure ten turns by hand)"),
    Guess(ratio=2.0, says="the screw has twice the starts reckoned with (measure ten turns by hand)"),
    Guess(ratio=0.5, says="the screw has half the starts reckoned with (measure ten turns by hand)"),
    Guess(ratio=0.25, says="the screw has 1 start, not 4 (measure ten turns by hand)"),
)


def mistake_of(ratio: float, *, screw: bool | None = None) -> str:
    """The usual mistakes that make this ratio of travel, in words; "" when none comes within 2 %.

    `screw`: whether a lead screw drives the axis, so that its starts may be miscounted and there is no
    pulley to count; None when nobody said.
    """
    counted = [one for one in _MISTAKES if not (screw and one.says.startswith(("the pulley", "the belt")))]
    near = [_nearest(each, ratio) for each in ((_STARTS, counted) if screw else (counted, _STARTS))]
    says = near if screw is not False else near[:1]
    return ", or ".join(one for one in says if one)


def _nearest(guesses: Sequence[Guess], ratio: float) -> str:
    near = min(guesses, key=lambda one: abs(math.log(one.ratio / ratio)))
    return near.says if abs(near.ratio / ratio - 1) < _NEAR else ""
