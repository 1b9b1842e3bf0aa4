"""Characteristics read as they are: several instruments together, slips of the pen, and what to do next."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from trysquare.machine.values import Machine
from trysquare.publish.truing_plot import truing_picture
from trysquare.truing.direct import Group, combined
from trysquare.truing.direct_next import by_hand
from trysquare.truing.readings import Reading
from trysquare.truing.report import TruingReport, report
from trysquare.truing.results import CharacteristicResult
from trysquare.truing.standing import at_reading
from trysquare.truing.verdicts import Verdict

Readings = Callable[[str], tuple[Reading, ...]]


def of(found: TruingReport, name: str) -> CharacteristicResult:
    return next(one for one in found.characteristics if one.characteristic.id == name)


def read(readings: Readings, name: str, *values: tuple[float, float]) -> tuple[Reading, ...]:
    """Direct readings of a characteristic, each with its own half-width, by a hand without an instrument."""
    rows = readings("".join(f"direct,{name},,{value},scale,,\n" for value, _ in values))
    return tuple(
        replace(one, instrument="", half_width_mm=half) for one, (_, half) in zip(rows, values, strict=True)
    )


def test_means_are_weighed_by_how_sure_each_is() -> None:
    # Source: weighted mean, (1/1² · 10 + 1/2² · 15) / (1/1² + 1/2²) = 11, u = 1/√1.25; any text on statistics
    groups = [Group(mean=10, uncertainty=1, readings=()), Group(mean=15, uncertainty=2, readings=())]
    value, uncertainty = combined(groups)
    assert value == pytest.approx(11)
    # They differ by 5 with √5 left open: Birge's ratio is √5.
    assert uncertainty == pytest.approx(math.sqrt(5 / 1.25))


def test_a_rough_reading_hardly_moves_a_fine_one(larch: Machine, readings: Readings) -> None:
    made = read(readings, "y-rails-parallel", (0.02, 0.5), (0.045, 0.01), (-0.045, 0.5))
    worst = of(report(larch, made), "y-rails-parallel").worst
    assert worst is not None
    assert worst.judged.value == pytest.approx(0.045, abs=0.001)
    assert worst.judged.expanded == pytest.approx(2 * 0.01 / math.sqrt(3), rel=0.01)
    turned = of(report(larch, made[::-1]), "y-rails-parallel").worst
    assert turned is not None
    assert turned.judged == worst.judged


def test_a_value_no_frame_has_is_asked_about_and_does_not_count(larch: Machine, readings: Readings) -> None:
    found = report(larch, read(readings, "y-rails-parallel", (0.045, 0.01), (45, 0.5)))
    assert [one.code for one in found.doubts] == ["not-believed"]
    assert "Did a point or a unit slip?" in found.doubts[0].remedy
    worst = of(found, "y-rails-parallel").worst
    assert worst is not None
    assert worst.judged.value == pytest.approx(0.045)
    assert sorted(one.counts for one in found.readings) == [False, True]


def test_of_three_the_one_that_contradicts_the_others_is_set_aside(
    larch: Machine, readings: Readings
) -> None:
    found = report(larch, read(readings, "y-rails-parallel", (0.03, 0.01), (0.031, 0.011), (0.2, 0.012)))
    assert [(one.code, one.sets_aside) for one in found.doubts] == [("contradicts", True)]
    worst = of(found, "y-rails-parallel").worst
    assert worst is not None
    assert worst.judged.value == pytest.approx(0.0305, abs=0.001)


def test_of_two_that_contradict_each_other_both_count_and_nothing_is_sure(
    larch: Machine, readings: Readings
) -> None:
    found = report(larch, read(readings, "y-rails-parallel", (0.01, 0.01), (0.2, 0.011)))
    assert [(one.code, one.sets_aside) for one in found.doubts] == [("contradicts", False)]
    assert of(found, "y-rails-parallel").verdict is Verdict.CANNOT_TELL


def test_a_bad_one_read_as_it_is_can_be_drawn_and_says_what_a_hand_does(
    larch: Machine, readings: Readings
) -> None:
    direct = read(readings, "y-rails-parallel", (0.4, 0.01))
    found = report(larch, direct)
    assert of(found, "y-rails-parallel").verdict is Verdict.BAD
    assert truing_picture(found).factor == 0
    both = report(larch, (*readings("length,left-base,,380.1,tape,,base-true\n"), *direct))
    assert truing_picture(both).factor > 0
    assert dict(found.by_hand)["y-rails-parallel"].startswith("Loosen the rail that is not the reference")


def test_what_is_due_and_not_read_is_offered_with_the_instrument_that_decides_it(larch: Machine) -> None:
    step = next(one.id for one in larch.steps if any("base-twist" in action.reads for action in one.actions))
    found = report(larch, (), at_reading(larch, step))
    twist = next(one for one in found.direct if one.characteristic == "base-twist")
    assert twist.owned
    assert twist.expanded < 0.1
    assert twist.chance is None


def test_what_cannot_be_told_is_offered_with_its_chance(larch: Machine, readings: Readings) -> None:
    found = report(larch, read(readings, "y-rails-parallel", (0.045, 0.2)))
    assert of(found, "y-rails-parallel").verdict is Verdict.CANNOT_TELL
    (offered,) = [one for one in found.direct if one.characteristic == "y-rails-parallel"]
    assert offered.owned
    assert 0 < (offered.chance or 0) <= 1


def test_what_was_read_as_it_is_and_is_good_is_nothing_to_push_for(
    larch: Machine, readings: Readings
) -> None:
    rows = (
        "gap,front-base:+y,left-base:-y,-0.2,square,,base-true\n"
        "gap,front-base:+y,left-base:-y,-0.2,square,yes,base-true\n"
    )
    assert report(larch, readings(rows)).advice is not None
    both = (*readings(rows), *read(readings, "base-square", (0.02, 0.01)))
    found = report(larch, both, at_reading(larch, "base-true"))
    assert of(found, "base-square").verdict is Verdict.GOOD
    assert found.advice is None or not found.advice.pushes


def test_one_part_alone_is_told_another_thing_than_a_frame(larch: Machine) -> None:
    twist = next(one for one in larch.characteristics if one.id == "base-twist")
    assert "press the frame down" in by_hand(twist)
    assert "cannot be pushed" in by_hand(replace(twist, of=twist.of[:1]))
