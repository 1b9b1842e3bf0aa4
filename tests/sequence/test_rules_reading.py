"""What a reading is made with must reach, and be fine enough for its limit."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine
from trysquare.machine.values import Instrument, Machine
from trysquare.sequence.check import check_order
from trysquare.sequence.instruments import guard_band, reach_missing_mm, spans_of

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
TAPE = Instrument(id="tape", sort="tape", half_width_mm=0.5, reach_mm=3000.0, source="")
CALIPER = Instrument(id="caliper", sort="caliper", half_width_mm=0.03, reach_mm=150.0, source="")
ROD = Instrument(id="pinch-rod", sort="pinch-rod", half_width_mm=0.03, reach_mm=700.0, source="")

Owning = Callable[..., list[Finding]]


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(LARCH)


@pytest.fixture(scope="module")
def owning(larch: Machine) -> Owning:
    """What is found where the posts, to be parallel within 0.2 mm, are read twice in one step."""

    def owning(*owned: Instrument, using: str = "tape", code: str = "instrument-too-coarse") -> list[Finding]:
        step = next(one for one in larch.steps if one.id == "posts-true")
        actions = tuple(
            replace(each, using=(using,)) if "posts-parallel" in each.reads else each for each in step.actions
        )
        read = next(each for each in actions if "posts-parallel" in each.reads)
        only = replace(step, actions=(*actions, read))
        found = check_order(replace(larch, instruments=owned, steps=(only,)))
        return [one for one in found if one.code == code]

    return owning


def test_a_limit_that_its_instrument_can_never_call_good_is_told_once_with_the_one_that_can(
    owning: Owning,
) -> None:
    (finding,) = owning(TAPE, ROD)
    assert (finding.step, finding.limit) == ("posts-true", 0.2)
    # Source: two readings of +- 0.5 mm differ by +- 0.5 times the root of 2 (root sum of squares); U of that
    # with the tape's scatter of 0.2 mm by JCGM 100:2008, 4.3.7 and 6.3.3.
    assert finding.value == pytest.approx(2 * math.hypot(0.5 * math.sqrt(2 / 3), 0.2), abs=1e-4)
    assert "posts-parallel is to be within 0.2 mm, and tape tells it to" in finding.says
    assert finding.remedy == "Read it with pinch-rod, which calls it good up to 0.131 mm."


def test_where_none_is_owned_that_can_a_usual_sort_is_named(owning: Owning) -> None:
    (finding,) = owning(TAPE)
    assert finding.remedy == (
        "No instrument of machine.toml can; a 500 mm caliper, usually ± 0.05 mm, would do. Or ask whether "
        "the limit must be so narrow."
    )


def test_an_instrument_that_leaves_room_or_that_waits_for_its_check_is_not_told(owning: Owning) -> None:
    assert not owning(TAPE, ROD, using="pinch-rod")
    assert not owning(replace(TAPE, marked=False), ROD)


def test_jaws_shorter_than_the_distance_are_told_with_what_is_at_hand_and_reaches(owning: Owning) -> None:
    # The posts of the demo stand 200 mm apart; jaws of 150 mm are usual (maker sheets).
    (finding,) = owning(CALIPER, ROD, using="caliper", code="instrument-cannot-read")
    assert (finding.step, finding.value, finding.limit) == ("posts-true", 150.0, 200.0)
    assert (
        finding.says == "caliper reaches 150 mm, and posts-parallel needs 200 mm: it cannot be read with it."
    )
    assert finding.remedy == "Read it with pinch-rod, which reaches 700 mm."


def test_a_usual_reach_stands_in_for_one_that_is_not_given_and_a_usual_sort_for_none_owned(
    owning: Owning,
) -> None:
    (finding,) = owning(replace(CALIPER, reach_mm=0.0), using="caliper", code="instrument-cannot-read")
    assert finding.value == 150.0
    assert finding.remedy == "No instrument of machine.toml can; a 500 mm caliper would do."


def test_what_measures_no_such_thing_is_told(owning: Owning) -> None:
    feeler = Instrument(id="feeler", sort="feeler", half_width_mm=0.02, reach_mm=1.0, source="")
    (finding,) = owning(feeler, ROD, using="feeler", code="instrument-cannot-read")
    assert finding.says == "posts-parallel is a parallelism, which feeler cannot tell here."


def test_an_instrument_that_reaches_or_of_a_sort_that_nobody_knows_is_not_told(owning: Owning) -> None:
    assert not owning(ROD, using="pinch-rod", code="instrument-cannot-read")
    odd = replace(CALIPER, id="laser", sort="laser")
    assert not owning(odd, using="laser", code="instrument-cannot-read")


def test_leaves_thinner_than_the_limit_cannot_tell_where_it_ends(larch: Machine) -> None:
    twist = replace(next(one for one in larch.characteristics if one.sort == "twist"), limit=1.5)
    feeler = Instrument(id="feeler", sort="feeler", half_width_mm=0.02, reach_mm=1.0, source="")
    assert reach_missing_mm(twist, feeler, spans_of(larch, twist)) == 1.5
    assert reach_missing_mm(replace(twist, limit=0.5), feeler, spans_of(larch, twist)) is None


def test_a_value_is_good_or_bad_only_with_the_whole_error_limits_behind_it() -> None:
    band = guard_band(0.1, 0.03)
    assert (band.good_to, band.bad_above) == (0.07, 0.13)
    assert guard_band(0.1, 0.1).good_to is None
