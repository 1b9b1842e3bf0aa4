"""A heater's answer to its power: gain, time constant and dead time, fitted to a step or to on-off cycles."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from trysquare.tuning.values import Measured

Numbers = NDArray[np.float64]

MOST_SAMPLES = (
    2000  # a longer record is thinned: the fit's error is noise over many samples, not their number
)
MOST_SWITCHES = 400
LEAST_CHANGE = 0.5  # of full power, per cent: less is no switching
# A rise that was not watched for three time constants leaves its end open: 1 − e⁻³ = 95 %.
WATCHED_TIME_CONSTANTS = 3.0
# Left-over of the fit over the rise: beyond it the plate is no lump of heat, or the sensor slips.
# Common practice, no source.
POOR_FIT = 0.05
_STARTS = (0.03, 0.1, 0.3)
# A start on the way is believed where it leaves less than this part of what a start at rest does.
MUCH_LESS = 0.7


class NoResponse(ValueError):  # noqa: N818  # it says what is not there
    """The record does not say how the heater answers."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeatRecord:
    """Samples of one heater: arrays of shape (n,), times rising. Power in percent of full power."""

    time_second: Numbers
    power_percent: Numbers
    temperature_celsius: Numbers

    def __post_init__(self) -> None:
        if not (
            len(self.time_second) == len(self.power_percent) == len(self.temperature_celsius) >= 10
            and bool(np.all(np.diff(self.time_second) > 0))
        ):
            raise NoResponse("a heating record needs at least ten samples at rising times")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatModel:
    """First order with dead time: τ · dT/dt = −(T − ambient) + gain · power(t − dead time).

    `gain` in K/%, `time_constant` and `dead_time` in s; `noise_kelvin`: what the fit leaves, root mean
    square; `rise_kelvin`: from lowest to highest; `watched`: time constants seen after the last switch, or,
    with cycles, all of them. `rest_percent`: the power it is taken to have rested at before the record;
    `start_kelvin`: how far it then was from where that power would have brought it, which dies away.
    """

    gain: Measured
    time_constant: Measured
    dead_time: Measured
    ambient_celsius: float
    noise_kelvin: float
    rise_kelvin: float
    watched: float
    switches: int
    rest_percent: float = 0.0
    start_kelvin: float = 0.0

    @property
    def poor(self) -> bool:
        """Whether the record is no such model's."""
        return self.noise_kelvin > POOR_FIT * self.rise_kelvin

    @property
    def short(self) -> bool:
        """Whether it was stopped before the end of the rise could be told; cycles need no end."""
        return self.switches <= 1 and self.watched < WATCHED_TIME_CONSTANTS


def unit_answer(
    time_second: Numbers, switch_second: Numbers, change: Numbers, time_constant: float, dead_time: float
) -> Numbers:
    """The rise per unit of gain after changes of power: Σ change · (1 − e^(−(t − switch − dead time)/τ)).

    Source: D. E. Seborg, T. F. Edgar, D. A. Mellichamp, Process Dynamics and Control, first-order step
    response with time delay, from memory.
    """
    since = np.maximum(time_second[:, None] - switch_second[None, :] - dead_time, 0.0)
    return np.asarray((change * -np.expm1(-since / time_constant)).sum(axis=1), dtype=np.float64)


def answer(model: HeatModel, record: HeatRecord) -> Numbers:
    """The model's temperature at the record's times, with the switches of the record."""
    times, switches, changes = _thinned(record)[0].time_second, *_switches(record, model.rest_percent)
    shape = unit_answer(times, switches, changes, model.time_constant.value, model.dead_time.value)
    dying = np.exp(-(times - times[0]) / model.time_constant.value)
    steady = model.ambient_celsius + model.gain.value * (model.rest_percent + shape)
    return np.asarray(steady + model.start_kelvin * dying, dtype=np.float64)


def shown_times(record: HeatRecord) -> Numbers:
    """The times at which `answer` gives its temperatures."""
    return _thinned(record)[0].time_second


def fit_heat(record: HeatRecord) -> HeatModel:
    """Fits gain, time constant, dead time and ambient by least squares. Raises NoResponse.

    Before its first sample the heater is taken to have rested at its first power, or, where the record begins
    with power on, without any, which counts where it fits better. Where both leave far more than a start on
    the way from one to the other, that is taken. The uncertainty counts how much neighbouring samples depend
    on each other.
    Source: model as in `unit_answer`; covariance from the Jacobian, W. H. Press et al., Numerical Recipes,
    15.6, from memory.
    """
    first = float(record.power_percent[0])
    rests = [first, 0.0] if first > LEAST_CHANGE else [first]
    rise = float(np.ptp(record.temperature_celsius))
    _refuse_no_answer(record, *_switches(record, first), rise)
    fits = [_fit_from(record, rest, rise) for rest in rests]
    best = min(fits, key=_left_over)
    moving = _fit_from(record, first, rise, moving=True)
    if _left_over(moving) < MUCH_LESS * _left_over(best):
        best = moving
    if best.gain.value <= 0 and first > LEAST_CHANGE:
        raise NoResponse(
            f"it begins with {first:g} % of power and does not fit what comes after: begin the record some "
            "seconds before the heater is switched on"
        )
    if best.gain.value <= 0:
        raise NoResponse(
            "the temperature falls when the power rises: are the columns swapped, or is the sensor another's?"
        )
    return best


def _left_over(fit: HeatModel) -> float:
    return fit.noise_kelvin if fit.gain.value > 0 else math.inf


def _fit_from(record: HeatRecord, first: float, rise: float, *, moving: bool = False) -> HeatModel:
    """The likeliest model of a record before which it rested at a power; `moving`: it was on the way."""
    switches, changes = _switches(record, first)
    thin, every = _thinned(record)
    times, read = thin.time_second, thin.temperature_celsius
    span = float(times[-1] - switches[0])

    def solved(logs: Numbers) -> tuple[Numbers, Numbers]:
        shape = first + unit_answer(times, switches, changes, math.exp(logs[0]), logs[1] * span)
        rows = [shape, np.ones_like(shape)]
        if moving:
            rows.append(np.exp(-(times - times[0]) / math.exp(logs[0])))
        columns = np.stack(rows, axis=1)
        factors = np.linalg.lstsq(columns, read, rcond=None)[0]
        return np.asarray(factors), np.asarray(columns @ factors - read)

    fits = [
        least_squares(
            lambda logs: solved(logs)[1],
            (math.log(share * span), 0.2 * share),
            bounds=((math.log(1e-4 * span), 0.0), (math.log(30 * span), 0.6)),
            x_scale=(1.0, 0.05),
        )
        for share in _STARTS
    ]
    best = min(fits, key=lambda fit: fit.cost)
    (gain, ambient, *start), left = solved(best.x)
    time_constant, dead_time = math.exp(best.x[0]), best.x[1] * span
    spread = _spread(times, switches, changes, first, (gain, time_constant, dead_time, *start), left)
    # Between two samples nobody saw when it began: their distance bounds the dead time's knowledge.
    between = float(np.median(np.diff(record.time_second))) / math.sqrt(12)
    basis = f"{len(read)} samples" if every == 1 else f"{len(read)} samples, one of every {every}"
    return HeatModel(
        gain=Measured(value=float(gain), standard_uncertainty=spread[0], unit="K/%", basis=basis),
        time_constant=Measured(value=time_constant, standard_uncertainty=spread[1], unit="s", basis=basis),
        dead_time=Measured(
            value=float(dead_time), standard_uncertainty=math.hypot(spread[2], between), unit="s", basis=basis
        ),
        ambient_celsius=float(ambient),
        noise_kelvin=float(np.sqrt(np.mean(left**2))),
        rise_kelvin=rise,
        watched=float((times[-1] - switches[-1]) / time_constant),
        switches=len(switches),
        rest_percent=first,
        start_kelvin=float(start[0]) if start else 0.0,
    )


def _switches(record: HeatRecord, first: float) -> tuple[Numbers, Numbers]:
    """When the power changed from what it rested at, and by how much: from its own sample on."""
    steps = np.diff(record.power_percent, prepend=first)
    at = np.flatnonzero(np.abs(steps) > LEAST_CHANGE)
    return record.time_second[at], steps[at]


def _thinned(record: HeatRecord) -> tuple[HeatRecord, int]:
    every = max(1, math.ceil(len(record.time_second) / MOST_SAMPLES))
    if every == 1:
        return record, 1
    return (
        HeatRecord(
            time_second=record.time_second[::every],
            power_percent=record.power_percent[::every],
            temperature_celsius=record.temperature_celsius[::every],
        ),
        every,
    )


def _refuse_no_answer(record: HeatRecord, switches: Numbers, changes: Numbers, rise: float) -> None:
    if len(switches) == 0:
        raise NoResponse(
            f"the power stays at {record.power_percent[0]:g} %: record some seconds before it is switched on"
        )
    if len(switches) > MOST_SWITCHES:
        raise NoResponse(
            f"the power changes {len(switches)} times: record a step, or on and off by a simple switch"
        )
    steps = np.abs(np.diff(record.temperature_celsius))
    scatter = 3 * float(np.median(steps))
    if rise < max(2.0, scatter):
        raise NoResponse(
            f"the temperature moves by {rise:.1f} K only while the power changes by "
            f"{float(np.abs(changes).max()):.0f} %: the heater does not heat, or the sensor is not on it"
        )


def _spread(
    times: Numbers, switches: Numbers, changes: Numbers, first: float,
    found: tuple[float, ...], left: Numbers,
) -> tuple[float, float, float]:  # fmt: skip
    """Standard uncertainties of gain, time constant and dead time; `found`: these, and a start on the way."""
    gain, time_constant, dead_time, *start = found

    def model(parts: Numbers) -> Numbers:
        shape = first + unit_answer(times, switches, changes, float(parts[1]), float(parts[2]))
        dying = parts[4] * np.exp(-(times - times[0]) / parts[1]) if start else 0.0
        return np.asarray(parts[0] * shape + parts[3] + dying, dtype=np.float64)

    at = np.array([gain, time_constant, dead_time, 0.0, *start])
    steps = [abs(gain) * 1e-4 + 1e-9, time_constant * 1e-4, time_constant * 1e-4, 1e-4, 1e-4]
    width = np.array(steps[: len(at)])
    columns = []
    for index in range(len(at)):
        step = np.zeros(len(at))
        step[index] = width[index]
        columns.append((model(at + step) - model(at - step)) / (2 * width[index]))
    jacobian = np.stack(columns, axis=1)
    scale = np.linalg.norm(jacobian, axis=0)
    scale[scale == 0] = 1.0
    inverse = np.linalg.pinv((jacobian / scale).T @ (jacobian / scale))
    freedom = max(1, len(left) - len(at))
    power = float(left @ left) or 1e-30
    alike = min(0.99, max(0.0, float(left[1:] @ left[:-1]) / power))
    variance = power / freedom * (1 + alike) / (1 - alike)
    sigma = np.sqrt(np.maximum(np.diag(inverse) * variance, 0)) / scale
    return float(sigma[0]), float(sigma[1]), float(sigma[2])
