"""Controller rules, the simulated loop, and what is told about both."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import TransferFunction, lsim

from trysquare.tuning.controller_rules import RULES, Settings, settings_of_answer, settings_of_swing
from trysquare.tuning.heat_report import answered, settings_part
from trysquare.tuning.heat_simulation import simulate
from trysquare.tuning.heat_step import HeatRecord


def by_rule(settings: tuple[Settings, ...], rule: str) -> tuple[float, float, float]:
    one = next(one for one in settings if one.rule == rule)
    return one.gain, one.integral_second, one.derivative_second


def test_simc_of_the_unit_example_is_half_and_one() -> None:
    # Source: S. Skogestad, J. Process Control 13 (2003) 291, e^(−s)/(s + 1): K_c 0.5, τ_I 1; from memory
    assert by_rule(settings_of_answer(1, 1, 1), "simc") == pytest.approx((0.5, 1, 0))


def test_amigo_agrees_with_its_formulas_as_others_wrote_them() -> None:
    # Source: K. J. Åström and T. Hägglund, Advanced PID Control, 2006, equation (7.12) for K 10, T 10, L 9:
    # K = (0.2 + 0.45·10/9)/10, T_i = (0.4·9 + 0.8·10)·9/(9 + 0.1·10), T_d = 0.5·9·10/(0.3·9 + 10)
    assert by_rule(settings_of_answer(10, 10, 9), "amigo") == pytest.approx((0.07, 10.44, 3.543307), rel=1e-6)


def test_cohen_and_coon_with_equal_lag_and_dead_time() -> None:
    # Source: Cohen and Coon 1953, from memory: 19/12, 38/21, 4/13
    assert by_rule(settings_of_answer(1, 1, 1), "cohen-coon") == pytest.approx((19 / 12, 38 / 21, 4 / 13))


def test_ziegler_and_nichols_by_step_and_by_swing() -> None:
    # Source: Ziegler and Nichols 1942, from memory: 1.2 T/(K L), 2 L, L/2; 0.6 K_u, P_u/2, P_u/8
    assert by_rule(settings_of_answer(2, 100, 10), "ziegler-nichols") == pytest.approx((6, 20, 5))
    assert by_rule(settings_of_swing(10, 40), "ziegler-nichols-swing") == pytest.approx((6, 20, 5))
    assert by_rule(settings_of_swing(22, 63), "tyreus-luyben") == pytest.approx((10, 138.6, 10))


def test_every_rule_has_a_source() -> None:
    assert all(rule.source and rule.title for rule in RULES)


def test_the_simulated_heater_is_lsim_s_heater() -> None:
    # Source: scipy.signal.lsim fed with the power that the controller gave, shifted by the dead time
    run = simulate(
        settings_of_answer(2, 250, 12)[:1], gain=2, time_constant=250, dead_time=12, ambient_celsius=20,
        target_celsius=60,
    )[0]  # fmt: skip
    late = np.concatenate([np.zeros(24), run.power_percent[:-24]])
    _, rise, _ = lsim(TransferFunction([2.0], [250.0, 1.0]), late, run.time_second, interp=False)
    assert run.temperature_celsius == pytest.approx(20 + rise, abs=1e-6)


def test_the_loop_is_that_of_a_plain_program_with_ten_times_finer_steps() -> None:
    # Source: own integration by Euler's rule, the controller written anew; power never at its limit
    gain, lag, dead, room, target = 2.0, 250.0, 12.0, 20.0, 22.0
    one = Settings(rule="", title="", source="", gain=4.0, integral_second=100.0, derivative_second=0.0)
    run = simulate(
        [one], gain=gain, time_constant=lag, dead_time=dead, ambient_celsius=room, target_celsius=target,
        seconds=600,
    )[0]  # fmt: skip
    step = 0.05
    waiting, now, total, seen = [0.0] * round(dead / step), room, 0.0, []
    for _ in range(round(600 / step)):
        seen.append(now)
        total += 4.0 / 100.0 * (target - now) * step
        waiting.append(4.0 * (target - now) + total)
        now += step * (room + gain * waiting.pop(0) - now) / lag
    fine = np.interp(run.time_second, np.arange(len(seen)) * step, seen)
    assert run.temperature_celsius == pytest.approx(fine, abs=0.02)
    assert run.overshoot_kelvin == pytest.approx(max(0, max(seen) - target), abs=0.02)


def test_power_stays_in_its_bounds_and_the_sum_does_not_wind_up() -> None:
    run = simulate(
        settings_of_answer(2, 250, 12), gain=2, time_constant=250, dead_time=12, ambient_celsius=20,
        target_celsius=100,
    )  # fmt: skip
    assert all(one.power_percent.min() >= 0 and one.power_percent.max() <= 100 for one in run)
    assert all(one.overshoot_kelvin < 8 for one in run)


def record(seconds: float = 1500) -> HeatRecord:
    times = np.arange(0.0, seconds)
    rise = 80 * np.where(times > 42, 1 - np.exp(-(times - 42) / 250), 0)
    return HeatRecord(
        time_second=times, power_percent=np.where(times >= 30, 40.0, 0.0), temperature_celsius=20 + rise
    )


def test_the_advised_setting_bears_a_heater_that_is_later_and_stronger() -> None:
    found = answered(record(), 80)
    assert found.chosen is not None
    worse = found.worse[found.runs.index(found.chosen)]
    assert worse.settles
    assert found.chosen.overshoot_kelvin < 5
    part = settings_part(found, "bed")
    assert part.says[0].startswith(f"Begin with {found.chosen.settings.title}")
    assert part.verdict == "told"


def test_a_target_out_of_reach_is_said_and_no_setting_given() -> None:
    part = settings_part(answered(record(), 400), "bed")
    assert part.verdict == "bad"
    assert "out of reach" in part.says[0]


def test_a_record_stopped_early_gives_settings_that_nobody_should_trust() -> None:
    part = settings_part(answered(record(150), 60), "bed")
    assert part.verdict == "cannot tell"
