"""A step's tools hold what its readings need, and say where nobody named a tool."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Action, Machine
from trysquare.publish.known import Judged, Known, known_of
from trysquare.publish.step_tools import tools_of, tools_of_machine

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="module")
def machine() -> Machine:
    return load_machine(DEMO / "reed-joints", [])


def _known(machine: Machine) -> Known:
    return known_of(machine, judged=lambda: Judged(ways=()))


def _with_actions(machine: Machine, *actions: Action) -> Machine:
    last = machine.steps[-1]
    return dataclasses.replace(
        machine, steps=(*machine.steps[:-1], dataclasses.replace(last, actions=actions))
    )


def test_a_reading_without_a_named_instrument_gets_the_machine_s_own_that_reads_it(machine: Machine) -> None:
    one = machine.characteristics[0]
    read = Action(verb="read", parts=one.of, reads=(one.id,))
    known = _known(_with_actions(machine, read))
    assert set(tools_of(known, known.machine.steps[-1])) & {one.id for one in machine.instruments}


def test_a_drag_that_nothing_owned_reads_is_told_with_the_usual_tool_and_that_nobody_said_it(
    machine: Machine,
) -> None:
    drag = dataclasses.replace(
        machine.characteristics[0], id="runs-free", sort="free-motion", limit=2.0, unit="newton"
    )
    read = Action(verb="read", parts=drag.of, reads=("runs-free",))
    known = _known(dataclasses.replace(_with_actions(machine, read), characteristics=(drag,), instruments=()))
    step = known.machine.steps[-1]
    assert tools_of(known, step) == ["spring balance for runs-free (tool not said)"]
    assert tools_of_machine(known)["spring balance for runs-free (tool not said)"] == [len(machine.steps)]


def test_what_is_tightened_in_words_alone_says_that_its_tool_was_not_said(machine: Machine) -> None:
    known = _known(_with_actions(machine, Action(verb="look", says="Hot tightened, then the sleeve.")))
    assert tools_of(known, known.machine.steps[-1]) == ["tool not said: “Hot tightened, then the sleeve”"]


def test_words_that_name_their_tool_are_not_told_twice(machine: Machine) -> None:
    look = Action(verb="look", says="Tightened hot.", using=("spanner 7 mm",))
    known = _known(_with_actions(machine, look))
    assert tools_of(known, known.machine.steps[-1]) == ["spanner 7 mm"]


@pytest.mark.slow
def test_every_reading_and_every_key_of_the_demo_has_its_tool() -> None:
    known = _known(load_machine(DEMO / "larch", []))
    for step in known.machine.steps:
        tools = tools_of(known, step)
        assert not [tool for tool in tools if "not said" in tool], step.id
        if any(action.reads and action.verb == "read" for action in step.actions):
            assert tools, step.id
