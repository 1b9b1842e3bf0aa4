"""What to push, what to loosen, and what one should then read."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from trysquare.machine.values import Machine
from trysquare.sequence.state import Tightness
from trysquare.truing.bodies import assembly_of
from trysquare.truing.model import ModelBuilder
from trysquare.truing.moves import give_of
from trysquare.truing.readings import Reading
from trysquare.truing.report import TruingReport, report
from trysquare.truing.standing import Standing, at_reading

Readings = Callable[[str], tuple[Reading, ...]]

LEANING = "".join(
    f"gap,{one},{other},{gap},square,{turned},base-true\n"
    for one, other, gap in (
        ("front-base:+y", "left-base:-y", -0.15),
        ("back-base:-y", "right-base:+y", -0.15),
        ("front-base:+y", "right-base:+y", 0.15),
        ("back-base:-y", "left-base:-y", 0.15),
    )
    for turned in ("", "yes")
)
"""A base that leans to the right by 0.2 mm per 100 mm, read at all corners both ways."""


def after(found: TruingReport, name: str) -> list[float]:
    assert found.advice is not None
    rows = found.shape.components.rows
    return [
        float(value)
        for row, value in zip(rows, found.advice.after, strict=True)
        if row.characteristic == name
    ]


def test_a_leaning_base_is_pushed_at_one_corner_and_comes_right(larch: Machine, readings: Readings) -> None:
    found = report(larch, readings(LEANING))
    assert found.advice is not None
    (push,) = found.advice.pushes
    assert push.says.startswith("push the ")
    assert push.by_mm == pytest.approx(0.2 * 4.0, rel=0.1)  # 0.2 per 100 over 400 mm
    assert max(abs(value) for value in after(found, "base-square")) < 0.03
    assert found.advice.enough
    assert found.advice.loosen == ()


def test_the_reading_expected_afterwards_is_the_push_s_own(larch: Machine, readings: Readings) -> None:
    found = report(larch, readings(LEANING))
    assert found.advice is not None
    for one in found.advice.expects:
        observation = found.shape.model.observations[one.observation]
        assert observation.first.sort == "gap"
        own = found.own_errors["square"][0] * (1 if observation.first.turned else -1)
        assert one.value == pytest.approx(own, abs=0.03)


def test_final_corners_are_loosened_before_they_are_pushed(larch: Machine, readings: Readings) -> None:
    snug = at_reading(larch, "base-true")
    tight = dict(snug.tight)
    for name in larch.fastening:
        if name.startswith("base/corners"):
            tight[name] = Tightness.FINAL
    found = report(larch, readings(LEANING), Standing(present=snug.present, tight=tight))
    assert found.advice is not None
    assert len(found.advice.loosen) == 4  # a quadrilateral with three stiff corners does not give
    assert all(words.startswith("the 2 screws of") for words in found.advice.loosen_says)
    assert max(abs(value) for value in after(found, "base-square")) < 0.05


def test_what_is_good_is_left_alone(larch: Machine, readings: Readings) -> None:
    square = LEANING.replace("-0.15", "0.0").replace("0.15", "0.0")
    assert report(larch, readings(square)).advice is None


def test_a_rocking_base_is_pressed_onto_its_plate(larch: Machine, readings: Readings) -> None:
    row = "rock,front-base:a-z,front-base:b-z back-base:b-z back-base:a-z,0.30,feeler,,base-true\n"
    found = report(larch, readings(row))
    assert found.advice is not None
    assert "onto the flat plate" in found.advice.says
    assert after(found, "base-twist") == pytest.approx([0.0], abs=1e-6)


def test_what_is_advised_leaves_cut_lengths_as_they_are(larch: Machine, readings: Readings) -> None:
    found = report(larch, readings(LEANING))
    assert found.advice is not None
    lengths = [column for column in found.shape.model.builder.lengths if column >= 0]
    assert np.all(found.advice.change[lengths] == 0)


SKEW_CARRY = "".join(
    f"gap,carry/back-carry:-y,carry/left-carry:-y,{gap},square,{turned},frame-true\n"
    for turned, gap in (("", 0.30), ("yes", 0.30))
)
"""The left carry beam stands askew on the back one, by 0.4 mm per 100 mm."""


def test_a_far_end_may_be_swung_about_its_joint_and_moves_as_far_as_it_says(larch: Machine) -> None:
    standing = at_reading(larch, "frame-true")
    model = ModelBuilder(assembly_of(larch, standing)).done()
    matrix = model.equations.linearised(np.zeros(model.equations.unknowns))[1]
    give = give_of(model, matrix, standing)
    swings = [index for index, one in enumerate(give.handles) if one.link >= 0 and not one.along]
    assert swings
    for index in swings:
        handle = give.handles[index]
        link = model.assembly.links[handle.link]
        assert handle.body == link.one
        assert (handle.sign < 0) != (link.end == "a")  # the end that stands on nothing here
        for answers in (give.answers, *give.unlike[:3]):
            moved = [
                answers[first : first + 3, index] + np.cross(answers[first + 3 : first + 6, index], arm)
                for body in (link.one, link.other)
                for first in (model.builder.column(body),)
                for arm in (np.array(handle.at_mm) - model.assembly.bodies[body].centre_mm,)
            ]
            assert float((moved[0] - moved[1]) @ np.array(handle.way)) == pytest.approx(1.0, abs=1e-6)


def test_nothing_is_swung_about_a_body_that_cannot_move(larch: Machine) -> None:
    standing = at_reading(larch, "frame-true")
    model = ModelBuilder(assembly_of(larch, standing)).done()
    matrix = model.equations.linearised(np.zeros(model.equations.unknowns))[1]
    bodies = model.assembly.bodies
    held_units = {
        bodies[model.assembly.links[one.link].other].id.partition("/")[0]
        for one in give_of(model, matrix, standing).handles
        if one.link >= 0 and not one.along
    }
    assert "base" not in held_units  # its joints are final by then: that is a push against the table


def test_a_swung_end_is_told_with_what_to_hold_and_what_to_measure_from(
    larch: Machine, readings: Readings
) -> None:
    found = report(larch, readings(SKEW_CARRY), at_reading(larch, "frame-true"))
    assert found.advice is not None
    words = [
        one.says for one in found.advice.pushes if one.says.startswith("hold") and " measured" in one.says
    ]
    for one in words:
        held = one.removeprefix("hold ").partition(" and push ")[0]
        assert one.endswith(f", measured from {held}")
    assert found.advice.enough
