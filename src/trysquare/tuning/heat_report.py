"""A heater's answer and its controller's settings, told and judged; and the sensor's table."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.tuning.controller_rules import settings_of_answer, settings_of_swing
from trysquare.tuning.heat_before import duration
from trysquare.tuning.heat_relay import Swing, swing_of
from trysquare.tuning.heat_simulation import SETTLED_KELVIN, Heated, simulate
from trysquare.tuning.heat_step import HeatModel, HeatRecord, fit_heat
from trysquare.tuning.report import BAD, CANNOT_TELL, TOLD, Line, Part, Report, Table
from trysquare.tuning.sensor_words import Sensor, table_rows
from trysquare.tuning.values import Measured

CAUTIONS = ("heater", "hot")
# A hot end that overshoots more than this burns what is in it, and a bed softens: the wish, ours.
OVERSHOOT_KELVIN = 5.0
# A model is never quite the heater: the advised settings must bear one with so much more gain and dead time.
# Ours; robust design asks for margins of this size.
WORSE_GAIN, WORSE_DEAD_TIME = 1.2, 1.5
# Time constants of the heaters of small machines, from a small hot end to a thick bed. Common practice.
QUICKEST_SECOND, SLOWEST_SECOND = 5.0, 10_800.0
WARM_START_CELSIUS = 45.0  # no workshop is as warm
# One sample that far off both neighbours, and so many times what is usual in the record. Ours.
SPIKE_KELVIN, SPIKE_TIMES, LEAST_SPIKES = 2.0, 8.0, 3
LEAST_RATIO = 0.01  # a dead time under this part of the time constant cannot be told from nought


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answered:
    """A record, its model, its swing if it has one, and how each setting is reckoned to fare."""

    record: HeatRecord
    model: HeatModel
    swing: Swing | None
    target_celsius: float
    dead_time_second: float  # that the settings are made for
    runs: tuple[Heated, ...]
    worse: tuple[Heated, ...]  # the same settings on a heater that is later and stronger than fitted
    chosen: Heated | None


def answered(record: HeatRecord, target_celsius: float, rule: str | None = None) -> Answered:
    """Fits and simulates. Raises NoResponse."""
    model = fit_heat(record)
    lag, gain = model.time_constant.value, model.gain.value
    # A gain for hardly any dead time would be endless: take what the record can tell at least.
    dead = max(model.dead_time.value, model.dead_time.expanded, LEAST_RATIO * lag)
    settings = settings_of_answer(gain, lag, dead)
    swing = swing_of(record)
    if swing is not None and swing.steady and swing.even:
        settings += settings_of_swing(swing.ultimate_gain, swing.period_second)
    reached = model.ambient_celsius < target_celsius < model.ambient_celsius + 100 * gain
    runs: tuple[Heated, ...] = ()
    worse: tuple[Heated, ...] = ()
    if reached:
        runs, worse = (
            tuple(
                simulate(
                    settings, gain=gain * stronger, time_constant=lag, dead_time=dead * later,
                    ambient_celsius=model.ambient_celsius, target_celsius=target_celsius,
                )
            )
            for stronger, later in ((1.0, 1.0), (WORSE_GAIN, WORSE_DEAD_TIME))
        )  # fmt: skip
    return Answered(
        record=record, model=model, swing=swing, target_celsius=target_celsius, dead_time_second=dead,
        runs=runs, worse=worse, chosen=_chosen(runs, worse, rule),
    )  # fmt: skip


def _chosen(runs: Sequence[Heated], worse: Sequence[Heated], rule: str | None) -> Heated | None:
    """The rule that was asked for; else, of those that overshoot little even on the worse heater, the one
    that settles soonest on it."""
    if rule is not None:
        return next((run for run in runs if run.settings.rule == rule), None)
    pairs = [(run, bad) for run, bad in zip(runs, worse, strict=True) if run.settles and bad.settles]
    calm = [pair for pair in pairs if max(one.overshoot_kelvin for one in pair) <= OVERSHOOT_KELVIN / 2]
    best = min(calm or pairs, key=lambda pair: pair[1].settled_second, default=None)
    return best[0] if best else None


def answer_part(found: Answered, heater: str) -> Part:
    """What the heater is: gain, time constant, dead time."""
    model = found.model
    doubts = list(record_doubts(found))
    if model.short:
        doubts.append((
            "stopped-early", (f"The record ends {model.watched:.1f} time constants after the step: three are "
            "wanted, or the gain is a guess. Let it run on."),
        ))  # fmt: skip
    if model.poor:
        doubts.append((
            "poor-fit", (f"The model misses by {model.noise_kelvin:.1f} K: the sensor may slip, a fan may "
                         "have "
            "started, or the power was not what the table says."),
        ))  # fmt: skip
    if model.gain.expanded > 0.2 * model.gain.value or model.dead_time.expanded > model.time_constant.value:
        doubts.append(("wide", "The record holds too little to tell gain and dead time: heat for longer."))
    verdict = CANNOT_TELL if doubts else TOLD
    says = (
        "These are only as good as the record: see below, and record again."
        if doubts
        else "First order with dead time describes this heater."
    )
    lines = [
        Line(label="gain", value=model.gain, says="rise for each per cent of power"),
        Line(label="time constant", value=model.time_constant),
        Line(label="dead time", value=model.dead_time),
        Line(
            label="room", says=f"{model.ambient_celsius:.1f} °C; full power would end at "
            f"{model.ambient_celsius + 100 * model.gain.value:.0f} °C",
        ),
        Line(label="left over", says=f"{model.noise_kelvin:.2f} K"),
    ]  # fmt: skip
    if found.swing is not None:
        swing = found.swing
        lines.append(
            Line(
                label="swing",
                says=f"± {swing.half_kelvin:.2f} K each {swing.period_second:.0f} s over {swing.cycles} "
                "cycles: "
                f"ultimate gain {swing.ultimate_gain:.3g} %/K"
                + ("" if swing.steady else ", not yet steady")
                + ("" if swing.even else f"; on for {swing.on_share:.0%} only, so no rule is taken from it"),
            )
        )
    return Part(
        of=f"answer of {heater}",
        title=f"How {heater} answers",
        verdict=verdict,
        says=(says,),
        lines=tuple(lines),
        doubts=tuple(doubts),
        notes=(
            (
                "Least squares; the uncertainty counts that neighbouring samples are alike. It is the fit's "
                "own: how true the sensor reads is not in it."
            ),
        ),
        main=model.time_constant,
        data={
            "gain_kelvin_per_percent": model.gain.value,
            "time_constant_second": model.time_constant.value,
            "dead_time_second": model.dead_time.value,
        },
    )


def record_doubts(found: Answered) -> list[tuple[str, str]]:
    """What spoils the record before any model: another unit, a warm start, a sensor that comes and goes."""
    doubts = []
    lag, begins = found.model.time_constant.value, float(found.record.temperature_celsius[0])
    if not QUICKEST_SECOND <= lag <= SLOWEST_SECOND:
        doubts.append(("times", f"{duration(lag)} is no heater's time constant: are the times in seconds?"))
    if min(begins, found.model.ambient_celsius) > WARM_START_CELSIUS:
        doubts.append((
            "warm-start", (f"The record begins at {begins:.0f} degrees: are they °C, and was the heater as "
            "cold as the room? Let it cool and record again."),
        ))  # fmt: skip
    jumps, far = spikes(found.record)
    if jumps >= LEAST_SPIKES:
        doubts.append((
            "loose", (f"The temperature jumps to and fro {jumps} times, by up to {far:.0f} K: no heater "
            "does that. A loose sensor, a bad crimp, or a wire that breaks where it bends: mend that first."),
        ))  # fmt: skip
    return doubts


def spikes(record: HeatRecord) -> tuple[int, float]:
    """How often one sample jumps away from both its neighbours, and the farthest of these jumps in kelvin."""
    read = record.temperature_celsius
    if len(read) < 3:
        return 0, 0.0
    off = np.abs(read[1:-1] - (read[:-2] + read[2:]) / 2)
    least = max(SPIKE_KELVIN, SPIKE_TIMES * float(np.median(off)))
    far = off[off > least]
    return len(far), float(far.max(initial=0.0))


def settings_part(found: Answered, heater: str) -> Part:
    """Settings by each rule with how they fare, and the ones to begin with."""
    model, run = found.model, found.chosen
    highest = model.ambient_celsius + 100 * model.gain.value
    title = f"Controller of {heater}"
    if not found.runs:
        return Part(
            of=f"controller of {heater}", title=title, verdict=BAD,
            says=(
                (f"{found.target_celsius:g} °C is out of reach: this heater goes from "
                f"{model.ambient_celsius:.1f} to {highest:.0f} °C. Ask for a temperature between them."),
            ),
        )  # fmt: skip
    if run is None:
        return Part(
            of=f"controller of {heater}", title=title, verdict=CANNOT_TELL, tables=(_rules(found),),
            says=(
                ("The rule asked for is one for on-off cycles, or none of them comes to rest in the "
                 "reckoning: "
                "record a longer step, or four cycles of on and off."),
            ),
        )  # fmt: skip
    one = run.settings
    holding = (found.target_celsius - model.ambient_celsius) / model.gain.value
    doubtful = model.short or model.poor or bool(record_doubts(found))
    rough = run.overshoot_kelvin > OVERSHOOT_KELVIN or not run.settles
    says = [
        (
            f"Begin with {one.title}: gain {one.gain:.3g} %/K, integral time {one.integral_second:.3g} s, "
            f"derivative time {one.derivative_second:.3g} s."
        ),
        (
            f"Reckoned from {model.ambient_celsius:.1f} to {found.target_celsius:g} °C it overshoots by "
            f"{run.overshoot_kelvin:.1f} K and rests within {SETTLED_KELVIN:g} K after "
            f"{_time(run.settled_second)}."
        ),
    ]
    if rough:
        says.append(f"More than {OVERSHOOT_KELVIN:g} K over, or no rest: take a calmer rule of the table.")
    if doubtful:
        says.append("The record is not good enough to trust this: try it with a hand on the switch.")
    return Part(
        of=f"controller of {heater}",
        title=title,
        verdict=CANNOT_TELL if doubtful else BAD if rough else TOLD,
        says=tuple(says),
        lines=(
            Line(label="three products", says=f"{one.gain:.4g} %/K, {one.integral_gain:.4g} %/(K s), "
                 f"{one.derivative_gain:.4g} % s/K"),
            Line(label="of full power 1", says=f"{one.gain / 100:.4g} /K, {one.integral_gain / 100:.4g} "
                                               "/(K s), "
                 f"{one.derivative_gain / 100:.4g} s/K"),
            Line(label="holding", says=f"{holding:.0f} "
                 "% of full power: write it down, it tells later whether the sensor still sits"),
        ),
        tables=(_rules(found),),
        notes=(
            ("Power = gain · (e + ∫e dt / integral time + derivative time · de/dt); e in K, power 0 … 100 %. "
            f"Made for a dead time of {found.dead_time_second:.3g} s; the sum waits while the power is at "
            "its "
            f"limit, the derivative takes the temperature only. Worse: on a heater with {WORSE_GAIN:g} × "
            "its gain and "
            f"{WORSE_DEAD_TIME:g} × its dead time."),
            *(f"{each.settings.title}: {each.settings.source}." for each in found.runs),
        ),
        main=Measured(
            value=one.gain, standard_uncertainty=_gain_spread(model, one.gain), unit="%/K", basis=one.title
        ),
        data={
            "rule": one.rule, "gain_percent_per_kelvin": one.gain, "integral_second": one.integral_second,
            "derivative_second": one.derivative_second, "overshoot_kelvin": run.overshoot_kelvin,
            "settled_second": run.settled_second if run.settles else None,
        },
    )  # fmt: skip


def _rules(found: Answered) -> Table:
    rows = tuple(
        (
            ("> " if run is found.chosen else "") + run.settings.title,
            f"{run.settings.gain:.3g}", f"{run.settings.integral_second:.3g}",
            f"{run.settings.derivative_second:.3g}", f"{run.overshoot_kelvin:.1f}",
            _time(run.settled_second), f"{bad.overshoot_kelvin:.1f}", _time(bad.settled_second),
        )
        for run, bad in zip(found.runs, found.worse, strict=True)
    )  # fmt: skip
    return Table(
        title=f"Reckoned to {found.target_celsius:g} °C",
        columns=(
            "rule",
            "gain %/K",
            "integral s",
            "derivative s",
            "over K",
            "at rest",
            "over K, worse",
            "at rest, worse",
        ),
        rows=rows,
        right=frozenset({1, 2, 3, 4, 5, 6, 7}),
        gist=f"chosen: {next((row[0] for row in rows if row[0].startswith('>')), rows[0][0]).lstrip('> ')}",
    )


def _time(second: float) -> str:
    return "never" if math.isinf(second) else duration(second)


def _gain_spread(model: HeatModel, gain: float) -> float:
    parts = [
        one.standard_uncertainty / max(one.value, 1e-9)
        for one in (model.gain, model.time_constant, model.dead_time)
    ]
    return gain * min(1.0, math.hypot(*parts))


def table_part(sensor: Sensor, low: float, high: float, step: float) -> Part:
    """The sensor's table."""
    rows = table_rows(sensor, low, high, step)
    return Part(
        of=f"table of {sensor.name}",
        title=f"Table of {sensor.name}",
        verdict=TOLD,
        says=(f"{len(rows)} rows by {sensor.law}.",),
        tables=(Table(title=sensor.name, columns=("°C", "Ω", "± K"), rows=rows, right=frozenset({0, 1, 2})),),
        notes=("± K: what a sound one of its sort may be off.",),
    )


def heat_report(parts: Sequence[Part], *, mains: bool) -> Report:
    """The parts as one report, with the cautions of heat, and of mains where it is there."""
    cautions = (*CAUTIONS, *(("mains",) if mains else ()))
    return Report(what="heat", title="Heat", parts=tuple(parts), cautions=cautions)
