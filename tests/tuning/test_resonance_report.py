"""What is told of a shake: shaping, acceleration, before and after, and the likely culprit."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.truing.verdicts import Verdict
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, TOLD
from trysquare.tuning.resonance import Mode, Resonance, resonance_of
from trysquare.tuning.resonance_axis import ResonanceCase, axis_found
from trysquare.tuning.resonance_compare import compare
from trysquare.tuning.resonance_culprit import computed_modes, culprit_words
from trysquare.tuning.resonance_report import resonance_report
from trysquare.tuning.shaping import residual
from trysquare.tuning.values import Measured
from tuning.shaking_machines import Chain, noise
from tuning.test_resonance import COUNT, RATE_HZ, one_mass, shake

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


def moved(chain: Chain, seed: int = 1) -> NDArray[np.float64]:
    random = np.random.default_rng(seed)
    return np.asarray(chain.accelerations(noise(random, COUNT, len(chain.mass)), RATE_HZ)[:, -1:])


@pytest.fixture(scope="module")
def fifty() -> Resonance:
    """A head of one swing at 50 Hz."""
    return resonance_of(shake(moved(one_mass(50.0, 0.05))))


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(LARCH)


def test_the_advised_shaper_leaves_little_of_the_true_swing(fifty: Resonance) -> None:
    found = axis_found(ResonanceCase(resonance=fifty), "x")
    assert found.advised is not None
    true_hz = 50 * np.linspace(0.91, 1.09, 19)
    assert residual(found.advised.shaper, true_hz, 0.05).max() <= 0.06


@pytest.mark.slow
def test_nothing_is_judged_until_an_acceleration_is_asked_for(fifty: Resonance) -> None:
    verdicts = {
        wanted: resonance_report(ResonanceCase(resonance=fifty, wanted=wanted))[0].verdict
        for wanted in (None, 1000.0, 90000.0)
    }
    assert verdicts == {None: TOLD, 1000.0: GOOD, 90000.0: BAD}


def test_noise_alone_cannot_tell() -> None:
    random = np.random.default_rng(3)
    report, _ = resonance_report(
        ResonanceCase(resonance=resonance_of(shake(random.standard_normal((COUNT, 1)))), wanted=100.0)
    )
    assert report.verdict == CANNOT_TELL


@pytest.mark.slow
def test_a_stiffer_axis_may_accelerate_by_the_square_of_its_frequency(fifty: Resonance) -> None:
    twice = resonance_of(shake(moved(one_mass(100.0, 0.05))))
    slow, quick = (axis_found(ResonanceCase(resonance=one), "x").advised for one in (fifty, twice))
    assert slow is not None
    assert quick is not None
    assert quick.smoothing.acceleration / slow.smoothing.acceleration == pytest.approx(4, rel=0.05)


@pytest.mark.slow
def test_a_larger_error_asks_for_a_longer_shaper(fifty: Resonance) -> None:
    lengths = [
        axis_found(ResonanceCase(resonance=fifty, error=error), "x").shaped[-1].shaper.seconds
        for error in (0.05, 0.1, 0.2)
    ]
    assert lengths == sorted(lengths)


@pytest.mark.slow
def test_the_axis_that_moved_most_is_told() -> None:
    one = moved(one_mass(50.0, 0.05))
    found = resonance_of(shake(np.hstack([0.1 * one, one])))
    report, _ = resonance_report(ResonanceCase(resonance=found))
    assert [part.of for part in report.parts] == ["resonance-y"]
    both, _ = resonance_report(ResonanceCase(resonance=found, axes=("x", "y")))
    assert [part.of for part in both.parts] == ["resonance-x", "resonance-y"]


def test_a_stiffened_and_calmed_axis_is_good(fifty: Resonance) -> None:
    calmer = resonance_of(shake(0.5 * moved(one_mass(56.0, 0.05), 2)))
    change = compare(fifty, calmer)
    assert change.verdict is Verdict.GOOD
    assert change.rms_decibel["x"] == pytest.approx(-6, abs=1.5)
    assert change.changes[0].hz is not None
    assert change.changes[0].hz.value == pytest.approx(6, abs=0.6)
    assert compare(calmer, fifty).verdict is Verdict.BAD


def test_the_same_axis_again_is_no_change(fifty: Resonance) -> None:
    again = resonance_of(shake(moved(one_mass(50.0, 0.05), 8)))
    change = compare(fifty, again)
    assert change.verdict is Verdict.CANNOT_TELL
    assert change.says[0].startswith("No clear change")


def mode(hz: float, axis: str = "x") -> Mode:
    return Mode(
        frequency=Measured(value=hz, standard_uncertainty=0.2, unit="Hz"),
        damping=Measured(value=0.05, standard_uncertainty=0.002, unit=""),
        rms={axis: 1.0},
        axis=axis,
        sure=True,
    )


def test_the_computed_mode_is_that_of_its_own_spring_and_mass(larch: Machine) -> None:
    for one in computed_modes(larch):
        stiffness_newton_per_metre = one.newton_per_mm * 1000
        hz = math.sqrt(stiffness_newton_per_metre / (one.mass.gram.value / 1000)) / (2 * math.pi)
        assert one.frequency.value == pytest.approx(hz, rel=1e-9)


def test_the_lighter_axis_swings_quicker_on_the_same_belts(larch: Machine) -> None:
    by_axis = {one.axis: one for one in computed_modes(larch)}
    assert set(by_axis) == {"x", "y"}
    assert by_axis["x"].mass.gram.value < by_axis["y"].mass.gram.value
    assert by_axis["x"].frequency.value > by_axis["y"].frequency.value


@pytest.mark.parametrize(
    ("part", "words"), [(1.0, "Likely the belts"), (0.4, "Softer than the belts"), (1.7, "Stiffer than")]
)
def test_the_culprit_is_told_by_where_the_swing_lies(larch: Machine, part: float, words: str) -> None:
    computed = computed_modes(larch)
    own = next(one for one in computed if one.axis == "x").frequency.value
    assert culprit_words(mode(part * own), computed).startswith(words)
    assert culprit_words(mode(part * own, "z"), computed) == ""
