"""What readings come to: against closed forms, and as a person would be told."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from trysquare.machine.values import Machine
from trysquare.truing.reading_files import read_readings
from trysquare.truing.readings import Reading
from trysquare.truing.rectangle import lean_rad
from trysquare.truing.report import TruingReport, report
from trysquare.truing.results import CharacteristicResult
from trysquare.truing.standing import Standing, at_reading
from trysquare.truing.verdicts import Verdict

Readings = Callable[[str], tuple[Reading, ...]]


def of(found: TruingReport, name: str) -> CharacteristicResult:
    return next(one for one in found.characteristics if one.characteristic.id == name)


def test_without_readings_nothing_is_decided(larch: Machine) -> None:
    found = report(larch, ())
    assert {one.verdict for one in found.characteristics} == {Verdict.NOT_READ}
    assert found.advice is None
    assert found.next.owned[0].decides > 0.05


def test_two_exact_diagonals_say_what_the_parallelogram_law_says(larch: Machine, readings: Readings) -> None:
    """Inside diagonals of a 380 by 380 opening. The beams turn about the middles of their ends, 400 mm apart,
    so the opening leans by 400/380 of what a beam does."""
    rows = (
        "diagonal,left-base:a-y,right-base:b+y,537.90,pinch-rod,,base-true\n"
        "diagonal,left-base:b-y,right-base:a+y,536.90,pinch-rod,,base-true\n"
    )
    made = tuple(replace(one, instrument="", half_width_mm=0.002) for one in readings(rows))
    worst = of(report(larch, made), "base-square")
    expected = 100 * math.sin(lean_rad(380, 380, 537.90, 536.90)) * 380 / 400
    mean = np.mean([abs(one.judged.value) for one in worst.components])
    # Source: parallelogram law; on the average of the corners, for ends set flush put in errors of their own
    assert mean == pytest.approx(expected, rel=0.002)


def test_a_square_s_own_error_is_told_by_turning_it_over(larch: Machine, readings: Readings) -> None:
    rows = (
        "gap,front-base:+y,left-base:-y,-0.05,square,,base-true\n"
        "gap,front-base:+y,left-base:-y,-0.15,square,yes,base-true\n"
    )
    found = report(larch, readings(rows))
    value, expanded = found.own_errors["square"]
    corner = next(
        one for one in of(found, "base-square").components if "front-base to base/left-base" in one.says
    )
    # Source: reversal, (turned − first) / 2 with u / √2, weighed with the 0.04/√3 of an unmarked square
    reading, own = math.hypot(0.015 / math.sqrt(3), 0.01) / math.sqrt(2), 0.04 / math.sqrt(3)
    share = own**2 / (own**2 + reading**2)
    assert value == pytest.approx(-0.05 * share, rel=0.01)
    assert expanded == pytest.approx(2 * math.sqrt(share) * reading, rel=0.01)
    assert corner.judged.value == pytest.approx(-0.10 / 75 * 100, abs=0.006)


def test_one_reading_of_an_unmarked_square_leaves_its_own_error_in_the_answer(
    larch: Machine, readings: Readings
) -> None:
    row = "gap,front-base:+y,left-base:-y,-0.10,square,,base-true\n"
    found = report(larch, readings(row))
    corner = next(
        one for one in of(found, "base-square").components if "front-base to base/left-base" in one.says
    )
    assert corner.judged.expanded > 0.05


def test_a_pinch_rod_alone_says_nothing_and_two_readings_their_difference(
    larch: Machine, readings: Readings
) -> None:
    one = "diagonal,left-base:a-y,right-base:b+y,12.3,pinch-rod,,base-true\n"
    two = one + "diagonal,left-base:b-y,right-base:a+y,11.3,pinch-rod,,base-true\n"
    alone = of(report(larch, readings(one)), "base-square")
    both = of(report(larch, readings(two)), "base-square")
    assert alone.verdict is Verdict.NOT_READ
    assert both.verdict is not Verdict.NOT_READ


def test_a_rock_on_a_plate_is_the_twist(larch: Machine, readings: Readings) -> None:
    row = "rock,front-base:a-z,front-base:b-z back-base:b-z back-base:a-z,0.25,feeler,,base-true\n"
    worst = of(report(larch, readings(row)), "base-twist").worst
    assert worst is not None
    assert worst.judged.value == pytest.approx(0.25, abs=0.002)
    assert worst.judged.verdict is Verdict.BAD


def test_an_offset_is_the_difference_from_the_drawing(larch: Machine, readings: Readings) -> None:
    row = "offset,carry/left-carry:a,y-rails/left-rail:a,45.20,caliper,,y-rails\n"
    worst = of(report(larch, readings(row)), "left-rail-offset").worst
    assert worst is not None
    assert worst.judged.value == pytest.approx(0.20, abs=0.01)
    assert worst.judged.verdict is Verdict.BAD
    assert "travel is lost" in worst.meaning


def test_what_a_squareness_means_is_said_over_the_travel(larch: Machine, readings: Readings) -> None:
    rows = (
        "gap,front-base:+y,left-base:-y,-0.12,square,,base-true\n"
        "gap,front-base:+y,left-base:-y,-0.12,square,yes,base-true\n"
    )
    worst = of(report(larch, readings(rows)), "base-square").worst
    assert worst is not None
    assert "travel" in worst.meaning
    assert "a test square of 100 mm comes out 0.1" in worst.meaning


def test_a_force_is_read_as_it_is(larch: Machine, readings: Readings) -> None:
    rows = "".join(f"direct,gantry-free,,{force},scale,,\n" for force in (2.0, 2.1, 2.1, 2.2))
    made = tuple(replace(one, instrument="", half_width_mm=0.2) for one in readings(rows))
    found = of(report(larch, made), "gantry-free")
    assert found.verdict is Verdict.GOOD
    assert found.worst is not None
    assert found.worst.judged.value == pytest.approx(2.1)


def test_a_swept_rail_is_as_straight_as_its_heights(larch: Machine, readings: Readings) -> None:
    rows = "".join(
        f"sweep,gantry/x-beam,gantry/x-rail:+z@{at},{height},dial,,\n"
        for at, height in ((20, 0.0), (100, 0.03), (200, 0.18), (280, 0.0))
    )
    found = of(report(larch, readings(rows)), "x-rail-straight")
    assert found.verdict is Verdict.BAD


# --- doubts and blunders


def test_a_size_far_from_its_drawing_is_asked_about_and_kept(larch: Machine, readings: Readings) -> None:
    row = "length,left-base,,370.0,tape,,base-true\n"
    found = report(larch, readings(row))
    (doubt,) = found.doubts
    assert doubt.code == "not-believed"
    assert "10.00 less" in doubt.says
    (kept,) = found.readings
    assert (kept.value, kept.counts) == (370.0, False)


def test_changed_digits_of_a_pinch_rod_show_in_its_other_diagonal(larch: Machine, readings: Readings) -> None:
    rows = (
        "diagonal,left-base:a-y,right-base:b+y,573.9,pinch-rod,,base-true\n"
        "diagonal,left-base:b-y,right-base:a+y,536.8,pinch-rod,,base-true\n"
    )
    found = report(larch, readings(rows))
    assert [doubt.code for doubt in found.doubts] == ["not-believed"] * 2
    # Drawn alike, so by hand: 573.9 - 536.8.
    assert "37.1 mm farther from the other" in found.doubts[0].says
    assert not any(kept.counts for kept in found.readings)


def test_centimetres_are_recognised(larch: Machine, readings: Readings) -> None:
    found = report(larch, readings("length,left-base,,38.02,tape,,base-true\n"))
    assert "In centimetres it would fit." in found.doubts[0].says
    assert found.readings[0].causes[0].says == "read in centimetres"


def test_an_instrument_out_of_its_reach_is_asked_about(larch: Machine, readings: Readings) -> None:
    found = report(larch, readings("length,left-base,,380.02,caliper,,base-true\n"))
    assert found.doubts[0].code == "beyond-reach"
    assert not found.readings[0].counts


def test_repeats_alike_to_the_last_figure_are_remarked_and_count(larch: Machine, readings: Readings) -> None:
    found = report(larch, readings("length,left-base,,380.02,tape,,base-true\n" * 3))
    assert found.doubts[0].code == "repeats-identical"
    assert found.readings[0].counts
    assert len(found.readings[0].readings) == 3


def test_a_part_that_does_not_stand_yet_is_told(larch: Machine, readings: Readings) -> None:
    row = "gap,base/front-base:+z,uprights/left-front:-z,0.1,square,,base-true\n"
    found = report(larch, readings(row))
    assert found.doubts[0].code == "not-there-yet"
    assert found.readings[0].readings[0].value == 0.1


def test_a_reading_set_aside_is_kept_with_its_reason(larch: Machine, readings: Readings) -> None:
    made = readings("length,left-base,,380.02,tape,,base-true\n")
    found = report(larch, (replace(made[0], set_aside="hook bent"),))
    assert found.readings[0].why_not == "hook bent"
    assert not found.readings[0].counts


CORNERS = (
    ("front-base:+y", "left-base:-y"), ("back-base:-y", "right-base:+y"),
    ("front-base:+y", "right-base:+y"), ("back-base:-y", "left-base:-y"),
)  # fmt: skip


def square_frame(readings: Readings) -> list[Reading]:
    """Every corner of a base that is square, read both ways, and both diagonals."""
    rows = "".join(
        f"gap,{one},{other},0.00,square,{turned},base-true\n"
        for one, other in CORNERS
        for turned in ("", "yes")
    )
    rows += (
        "diagonal,left-base:a-y,right-base:b+y,537.40,tape,,base-true\n"
        "diagonal,left-base:b-y,right-base:a+y,537.40,tape,,base-true\n"
    )
    return list(readings(rows))


def test_a_slipped_digit_is_found_named_and_explained(larch: Machine, readings: Readings) -> None:
    made = square_frame(readings)
    made[8] = replace(made[8], value=535.40, written="535.40")
    found = report(larch, tuple(made))
    (spoiled,) = [one for one in found.readings if one.blunder is not None]
    assert spoiled.readings[0].value == 535.40
    assert not spoiled.counts
    assert spoiled.blunder is not None
    assert spoiled.blunder.off == pytest.approx(-2.0, abs=0.8)
    assert "a digit slipped: 537.40" in [cause.says for cause in spoiled.causes]


def test_a_gap_of_the_wrong_sign_is_found_and_explained(larch: Machine, readings: Readings) -> None:
    made = [replace(one, value=0.3 if one.sort == "gap" else one.value) for one in square_frame(readings)]
    signs = {0: 1, 1: 1, 2: 1, 3: 1, 4: -1, 5: -1, 6: -1, 7: -1}
    made = [
        replace(one, value=0.3 * signs[index], written=f"{0.3 * signs[index]:.2f}") if index in signs else one
        for index, one in enumerate(made)
    ]
    shear = 0.3 / 75 * 380
    made[8] = replace(made[8], value=537.40 - shear / math.sqrt(2))
    made[9] = replace(made[9], value=537.40 + shear / math.sqrt(2))
    assert report(larch, tuple(made)).shape.snooped.blunders == ()
    made[4] = replace(made[4], value=0.3, written="0.30")
    found = report(larch, tuple(made))
    (spoiled,) = [one for one in found.readings if one.blunder is not None]
    assert "sign turned" in [cause.says for cause in spoiled.causes]


def test_good_readings_are_not_accused(larch: Machine, readings: Readings) -> None:
    found = report(larch, tuple(square_frame(readings)))
    assert found.shape.snooped.blunders == ()
    assert of(found, "base-square").verdict is Verdict.GOOD


# --- what is not known


def test_what_no_reading_sees_is_named(larch: Machine, readings: Readings) -> None:
    row = "rock,front-base:a-z,front-base:b-z back-base:b-z back-base:a-z,0.03,feeler,,base-true\n"
    found = report(larch, readings(row))
    assert any("left-base leans left or right" in sentence for sentence in found.unseen)
    assert of(found, "base-square").verdict is Verdict.NOT_READ


def test_the_step_says_what_stands_and_what_is_snug(larch: Machine, readings: Readings) -> None:
    made = readings("length,left-base,,380.02,tape,,base-true\n")
    found = report(larch, made)
    assert found.standing.step == "base-true"
    assert of(found, "uprights-square").why_not.startswith("not there yet")
    with_all = report(larch, made, Standing())
    assert of(with_all, "uprights-square").components != ()


def test_readings_of_several_steps_stand_as_at_the_last(larch: Machine, readings: Readings) -> None:
    rows = "length,left-base,,380.02,tape,,frame-true\nlength,right-base,,380.02,tape,,base-true\n"
    assert report(larch, readings(rows)).standing.step == "frame-true"
    assert at_reading(larch, "frame-true").present is not None


def test_how_square_ends_are_cut_is_said_to_be_unread(larch: Machine) -> None:
    found = report(larch, read_readings(larch))
    words = [one for one in found.unseen if "how square the ends" in one]
    assert len(words) == 1
    assert "mm per 100 mm" in words[0]
