"""Laws of the pick lists: whatever the order of the steps, no piece is lost and none is picked twice."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from small_frame import write_frame
from trysquare.machine.load import load_machine
from trysquare.machine.values import Action, Machine, Step
from trysquare.stock.need import need

VERBS = ("insert", "start", "snug", "tighten", "press", "route", "crimp")


@cache
def frame() -> Machine:
    with TemporaryDirectory() as folder:
        return load_machine(write_frame(Path(folder)))


@st.composite
def orders(draw: st.DrawFn) -> Machine:
    """The small frame with steps of any sort: some sensible, most not."""
    machine = frame()
    placed = st.sampled_from([part.id for part in machine.placed if not part.joint])
    joints = st.sampled_from([joint.id for joint in machine.joints])
    screws = st.sampled_from(sorted(machine.fastening))
    places = st.builds(
        lambda parts: Action(verb="place", parts=tuple(parts)), st.lists(placed, max_size=4, unique=True)
    )
    works = st.builds(
        lambda verb, joints, screws: Action(verb=verb, joints=tuple(joints), fastenings=tuple(screws)),
        st.sampled_from(VERBS),
        st.lists(joints, max_size=3, unique=True),
        st.lists(screws, max_size=3, unique=True),
    )
    steps = draw(st.lists(st.lists(places | works, max_size=4), max_size=6))
    return replace(
        machine,
        steps=tuple(
            Step(id=f"s{index}", title="t", unit="frame", actions=tuple(actions))
            for index, actions in enumerate(steps)
        ),
    )


@pytest.mark.slow
@given(orders())
def test_the_steps_and_what_is_left_are_together_the_need(machine: Machine) -> None:
    whole = need(machine)
    picked = Counter(piece for step in whole.picking.steps for line in step.lines for piece in line.pieces)
    left = Counter(piece.id for piece in whole.picking.left)
    assert picked + left == Counter(whole.picking.pieces.keys())


@pytest.mark.slow
@given(orders())
def test_the_need_does_not_depend_on_the_order(machine: Machine) -> None:
    assert [(line.part, line.pieces, line.cuts_mm) for line in need(machine).lines] == [
        (line.part, line.pieces, line.cuts_mm) for line in need(frame()).lines
    ]


@pytest.mark.slow
@given(orders())
def test_the_reasons_and_the_units_each_add_up_to_the_pieces(machine: Machine) -> None:
    for line in need(machine).lines:
        assert sum(reason.pieces for reason in line.reasons) == line.pieces
        assert sum(line.by_unit.values()) == line.pieces
