"""A belt's tension from its tone or its deflection, what it should be, and the turn that brings it there."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.truing.verdicts import Verdict
from trysquare.tuning.belt import (
    LIGHT_HEAD,
    belt_stiffness,
    expected_hz,
    half_width,
    judged_tension,
    learned_newton_per_turn,
    next_turn,
    pair_of,
    pull_newton,
    ruled_target,
    table_mass,
    target_for,
    tension_from_deflection,
    tension_from_tone,
    tone_hz,
    weighed_mass,
)
from trysquare.tuning.values import Measured


def sure(value: float, unit: str = "") -> Measured:
    return Measured(value=value, standard_uncertainty=0, unit=unit)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("gram_per_metre", "span_mm", "hz", "newton"),
    [
        # Source: ledger motion.csv MOT-017 and MOT-019, taut-string fundamental (Mersenne)
        (8.5, 150, 110, 9.2565),
        (12.6, 250, 80, 20.16),
    ],
)
def test_tension_follows_from_tone_span_and_mass(
    gram_per_metre: float, span_mm: float, hz: float, newton: float
) -> None:
    found = tension_from_tone(sure(hz), sure(span_mm), sure(gram_per_metre))
    assert found.value == pytest.approx(newton, abs=1e-9)


@pytest.mark.parametrize(("span_mm", "printed"), [(100, 173), (150, 115), (200, 86), (300, 58)])
def test_ten_newton_sound_as_the_trade_notes_print_it(span_mm: float, printed: int) -> None:
    # Source: trade notes of this project, §4 Belts, 10 N on a belt of 8.4 g/m; arithmetic
    assert round(tone_hz(10, span_mm, 8.4)) == printed


@given(st.floats(0.5, 200), st.floats(30, 1500), st.floats(3, 50))
def test_tone_and_tension_are_each_other_s_inverse(newton: float, span_mm: float, mass: float) -> None:
    tone = tone_hz(newton, span_mm, mass)
    assert tension_from_tone(sure(tone), sure(span_mm), sure(mass)).value == pytest.approx(newton)


def test_uncertainties_add_up_as_in_a_simulation() -> None:
    # Source: JCGM 101:2008, propagation of distributions by drawing, as the outside check of JCGM 100
    random = np.random.default_rng(1)
    tone, span, mass = (
        Measured(value=110, standard_uncertainty=0.6, unit="Hz"),
        half_width(150, 1.0, "mm"),
        table_mass(8.4),
    )
    drawn = [
        4e-9 * random.uniform(0.85 * 8.4, 1.15 * 8.4, 200_000),
        np.square(random.uniform(149, 151, 200_000)),
        np.square(random.normal(110, 0.6, 200_000)),
    ]
    spread = float(np.std(drawn[0] * drawn[1] * drawn[2]))
    assert tension_from_tone(tone, span, mass).standard_uncertainty == pytest.approx(spread, rel=0.02)


def test_the_mass_of_a_table_is_worth_less_than_a_kitchen_scale() -> None:
    table, weighed = table_mass(8.4), weighed_mass(42, 5000)
    assert weighed.value == pytest.approx(8.4)
    assert weighed.standard_uncertainty < 0.4 * table.standard_uncertainty


def test_deflection_agrees_with_a_string_stretched_over_a_load() -> None:
    # Source: statics of a cord held at both ends, solved exactly for its geometry and Hooke's law
    tension, span, whole, stiffness = 12.0, 150.0, 1300.0, 10_000.0
    aside = 4.0
    long = 2 * math.hypot(span / 2, aside)
    pulled = tension + stiffness * (long - span) / whole
    force = 2 * pulled * aside / math.hypot(span / 2, aside)
    found = tension_from_deflection(sure(force), sure(span), sure(aside), stiffness / whole)
    assert found.value == pytest.approx(tension, rel=0.005)


def test_a_deflection_too_large_to_tell_is_refused() -> None:
    with pytest.raises(ValueError, match=r"at most 7.5 mm"):
        tension_from_deflection(sure(2.0), sure(150), sure(9.0))


def test_bounds_of_the_tone_hold_all_usual_tensions() -> None:
    low, high = expected_hz(150, 8.4, 6)
    assert low < tone_hz(8, 150, 8.4) < tone_hz(45, 150, 8.4) < high


def test_a_fast_move_raises_the_target_until_the_slack_side_stays_taut() -> None:
    pull = pull_newton(800, 20_000)
    assert pull == pytest.approx(16)
    target = target_for(LIGHT_HEAD, pull)
    # tension less half of the pull leaves a fifth of the pull on the slack side
    assert target.low_newton - pull / 2 == pytest.approx(0.2 * pull)
    assert target.low_newton <= target.aim_newton <= target.high_newton
    assert "16.0 N" in target.basis


def test_a_slow_move_leaves_the_band_of_the_trade() -> None:
    assert target_for(LIGHT_HEAD, 2.0).low_newton == LIGHT_HEAD.low_newton


def test_a_pull_beyond_the_band_is_told() -> None:
    assert "bearings" in target_for(LIGHT_HEAD, 60.0).basis


@pytest.mark.parametrize(
    ("newton", "uncertainty", "verdict"),
    [
        (15, 1, Verdict.GOOD), (9, 1, Verdict.CANNOT_TELL), (4, 1, Verdict.BAD), (40, 2, Verdict.BAD),
        (15, 20, Verdict.CANNOT_TELL),
    ],
)  # fmt: skip
def test_a_tension_is_judged_with_its_uncertainty(
    newton: float, uncertainty: float, verdict: Verdict
) -> None:
    tension = Measured(value=newton, standard_uncertainty=uncertainty, unit="N")
    assert judged_tension(tension, LIGHT_HEAD) is verdict


def test_your_own_ruling_goes_before_the_trade() -> None:
    target = ruled_target(30)
    assert judged_tension(Measured(value=30.5, standard_uncertainty=0.5, unit="N"), target) is Verdict.GOOD
    assert target.basis == "your own ruling"


def test_two_and_a_half_per_cent_of_tone_are_five_per_cent_of_tension() -> None:
    # Source: trade notes of this project, §4 Belts; tension goes with the square of the tone
    tones = (sure(100 * 1.0125), sure(100 / 1.0125))
    found = pair_of(tones, (sure(150), sure(150)))
    assert found.difference_percent.value == pytest.approx(5, abs=0.5)  # half a unit of the printed 5 %


@given(st.floats(30, 300), st.floats(0.8, 1.25))
def test_a_pair_exchanged_differs_by_the_opposite(hz: float, ratio: float) -> None:
    tones = (half_width(hz, 1, "Hz"), half_width(hz * ratio, 1, "Hz"))
    spans = (half_width(200, 1, "mm"), half_width(210, 1, "mm"))
    one, two = pair_of(tones, spans), pair_of(tones[::-1], spans[::-1])
    assert one.difference_percent.value == pytest.approx(-two.difference_percent.value)
    assert one.verdict is two.verdict


def test_the_spread_of_a_pair_is_that_of_a_simulation() -> None:
    # Source: JCGM 101:2008, propagation of distributions by drawing
    random = np.random.default_rng(2)
    tones = (half_width(110, 1.0, "Hz"), half_width(104, 1.0, "Hz"))
    spans = (half_width(150, 0.5, "mm"), half_width(150, 0.5, "mm"))
    first, second = (
        np.square(random.uniform(-1, 1, 100_000) + tone) * np.square(random.uniform(149.5, 150.5, 100_000))
        for tone in (110, 104)
    )
    spread = float(np.std(100 * (first / second - 1)))
    assert pair_of(tones, spans).difference_percent.standard_uncertainty == pytest.approx(spread, rel=0.02)


def test_the_next_turn_takes_in_what_the_stretch_asks_for_and_half_of_it_first() -> None:
    stiffness = belt_stiffness(2, 6)
    assert stiffness is not None
    found = next_turn(
        sure(8), 14, belt_length_mm=1300, stiffness=stiffness, screw_mm_per_turn=0.5, belt_mm_per_mm=2
    )
    assert found.stretch is not None
    assert found.turns is not None
    # Hooke: 6 N on 1300 mm of a belt that wants 10200 N for all of its length
    assert found.stretch.value == pytest.approx(6 * 1300 / 10_200)
    assert found.turns == pytest.approx(0.5 * found.stretch.value / (2 * 0.5))
    assert found.cautious


def test_a_turn_that_was_made_teaches_the_next_one() -> None:
    learned = learned_newton_per_turn(sure(6), sure(9), 0.5)
    found = next_turn(sure(9), 15, belt_length_mm=None, stiffness=None, newton_per_turn=learned)
    assert found.turns == pytest.approx(1.0)
    assert not found.cautious


def test_too_slack_and_too_taut_turn_opposite_ways() -> None:
    stiffness = belt_stiffness(2, 6)
    slack, taut = (
        next_turn(sure(now), 14, belt_length_mm=1000, stiffness=stiffness, screw_mm_per_turn=0.7)
        for now in (10, 18)
    )
    assert slack.turns is not None
    assert taut.turns is not None
    assert slack.turns == pytest.approx(-taut.turns)
