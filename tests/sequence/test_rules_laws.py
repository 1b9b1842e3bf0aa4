"""What must not change the findings: how the machine lies, what its parts are called, what is far off."""

from __future__ import annotations

import dataclasses
import itertools
import random
import re
import tempfile
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequence.folders import Bench
from sequence.mutations import mutated
from sequence.test_rules_hold import CRANE, RUN
from sequence.test_rules_screws import FRAME, HOOD, LID, RAIL
from sequence.test_rules_slots import SLOT, TWO_PLATES, closed
from sequence.test_rules_truth import GANTRY, TRUE
from sequence.test_rules_ways import BELT, CUP, SHELL, STOPPED, WITH_KNOB
from trysquare.ground.placement import DIRECTIONS, Array
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine, Step
from trysquare.sequence.check import check_order
from trysquare.sequence.reach import Reach

DEMO = Path(__file__).parents[2] / "demo"
BENCHES = (
    BELT, CRANE, CUP, FRAME, GANTRY, HOOD, LID, RAIL, RUN, SHELL, STOPPED, TRUE, WITH_KNOB,
    closed(SLOT, "member", "b", "close"), closed(TWO_PLATES, "panel", "a", "close"),
)  # fmt: skip
TURNS = [
    (along, up)
    for along, up in itertools.product(DIRECTIONS, DIRECTIONS)
    if abs(float(np.dot(DIRECTIONS[along], DIRECTIONS[up]))) < 0.5
]
benches = st.sampled_from(BENCHES)
seeds = st.integers(0, 10_000)


def turned(bench: Bench, along: str, up: str, at_mm: tuple[float, float, float]) -> Bench:
    """The whole machine laid another way, the ways its steps and axes name with it."""
    turn = np.column_stack([DIRECTIONS[along], np.cross(DIRECTIONS[up], DIRECTIONS[along]), DIRECTIONS[up]])

    def name(found: re.Match[str]) -> str:
        way = turn @ DIRECTIONS[found[2]]
        return found[1] + next(word for word, other in DIRECTIONS.items() if np.allclose(way, other))

    return replace(
        bench,
        steps=re.sub(r"(toward=)([+-][xyz])", name, bench.steps),
        head=re.sub(r'(direction = ")([+-][xyz])', name, bench.head),
        place=f'[unit]\nat_mm = {list(at_mm)}\nalong = "{along}"\nup = "{up}"\n[place]\n{bench.place}',
    )


def machine_of(bench: Bench) -> Machine:
    """The bench's machine; the folder is gone again, since no bench has shape files."""
    with tempfile.TemporaryDirectory() as folder:
        path = bench.write(Path(folder))
        file = path / "units/w.toml"
        text = file.read_text(encoding="utf-8")
        if text.count("[unit]") == 2:  # laid another way: the second table holds the placement
            file.write_text(text.replace('[unit]\ntitle = "Work"\n[place]\n', "", 1), encoding="utf-8")
        return load_machine(path)


def told(machine: Machine, steps: tuple[Step, ...], *leaving_out: str) -> Counter[tuple[str, str, str]]:
    """Code, step and joint of the findings of an order."""
    found = check_order(replace(machine, steps=steps))
    return Counter((one.code, one.step, one.joint) for one in found if one.code not in leaving_out)


def spoiled(steps: tuple[Step, ...], seed: int) -> tuple[Step, ...]:
    """The order with a change or two, so that there is something to find."""
    chance = random.Random(seed)
    return mutated(steps, chance) if seed % 5 else steps


@pytest.mark.slow
@settings(max_examples=40)
@given(benches, seeds, st.sampled_from(TURNS), st.tuples(*[st.integers(-900, 900)] * 3))
def test_laying_the_whole_machine_another_way_changes_no_finding(
    bench: Bench, seed: int, turn: tuple[str, str], at: tuple[int, int, int]
) -> None:
    here, there = machine_of(bench), machine_of(turned(bench, *turn, tuple(map(float, at))))
    # What stands depends on the side that is up, and up is the machine frame's +z until a step turns it.
    leaving_out = () if turn[1] == "+z" else ("cannot-stand",)
    before = told(here, spoiled(here.steps, seed), *leaving_out)
    assert told(there, spoiled(there.steps, seed), *leaving_out) == before


# A joint may be called like a part.
NAMES_OF_JOINTS = {
    ("Joint", "id"), ("Fastening", "id"), ("Action", "joints"), ("Action", "fastenings"), ("Action", "order"),
}  # fmt: skip


def renamed(value: Any, names: Mapping[str, str]) -> Any:
    """A value of the machine with placed parts called otherwise, wherever they are named."""
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, tuple):
        return tuple(renamed(one, names) for one in value)
    if isinstance(value, dict):
        return {renamed(key, names): renamed(one, names) for key, one in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        if type(value).__name__ in ("PartType", "Placement", "Where"):
            return value
        sort = type(value).__name__
        changed = {
            field.name: getattr(value, field.name)
            if (sort, field.name) in NAMES_OF_JOINTS or field.name == "joint"
            else renamed(getattr(value, field.name), names)
            for field in dataclasses.fields(value)
        }
        return type(value)(**changed)
    return value


@pytest.mark.slow
@settings(max_examples=40)
@given(benches, seeds, st.randoms(use_true_random=False))
def test_calling_the_parts_otherwise_changes_no_finding(
    bench: Bench, seed: int, chance: random.Random
) -> None:
    machine = machine_of(bench)
    parts = [part.id for part in machine.placed if not part.joint]
    numbers = list(range(len(parts)))
    chance.shuffle(numbers)
    names = {part: f"w/p{number:03}" for part, number in zip(parts, numbers, strict=True)}
    # A pattern is resolved when the steps are read, so the machine is renamed after reading.
    other = replace(
        machine,
        placed=renamed(machine.placed, names),
        joints=renamed(machine.joints, names),
        axes=renamed(machine.axes, names),
        characteristics=renamed(machine.characteristics, names),
        steps=renamed(machine.steps, names),
    )
    assert told(other, spoiled(other.steps, seed)) == told(machine, spoiled(machine.steps, seed))


@pytest.mark.slow
@settings(max_examples=30)
@given(benches, seeds, st.sampled_from(sorted(DIRECTIONS)), st.integers(1500, 9000))
def test_a_part_far_away_changes_no_finding(bench: Bench, seed: int, way: str, away_mm: int) -> None:
    at = [away_mm * number for number in DIRECTIONS[way]]
    far = replace(
        bench,
        parts=bench.parts + '[part.far-jig]\nkind = "jig"\nsize_mm = [50, 50, 50]\n',
        place=bench.place + f'far-jig = {{ part = "far-jig", at_mm = {at} }}\n',
    )
    here, there = machine_of(bench), machine_of(far)
    assert told(there, spoiled(there.steps, seed)) == told(here, spoiled(here.steps, seed))


@pytest.mark.slow
@settings(max_examples=30)
@given(benches, st.lists(seeds, min_size=2, max_size=4))
def test_a_reach_that_has_answered_before_answers_the_same(bench: Bench, chances: list[int]) -> None:
    machine = machine_of(bench)
    used = Reach(machine)
    for seed in chances:
        order = replace(machine, steps=spoiled(machine.steps, seed))
        assert check_order(order, used) == check_order(order, Reach(machine))


REED_BEFORE: Mapping[str, tuple[str, ...]] = {
    "feet": (),
    "nuts": ("feet",),  # lying on its back, the base would let nuts slide out of its upper slot
    "rail": ("nuts",),
    "rail-true": ("rail",),
    "left-stop": ("nuts",),
    "block": ("rail-true",),
    "carriage-plate": ("block",),
    "camera-plate": ("carriage-plate",),
    "ends": ("feet", "nuts", "block"),
    "run": ("left-stop", "camera-plate", "ends"),
}


@pytest.mark.slow
@settings(max_examples=40)
@given(st.randoms(use_true_random=False))
def test_the_reed_s_order_stays_clean_when_independent_steps_change_places(chance: random.Random) -> None:
    machine = load_machine(DEMO / "reed-joints")
    step = {one.id: one for one in machine.steps}
    done: list[str] = []
    while len(done) < len(step):
        ready = [name for name in step if name not in done and set(REED_BEFORE[name]) <= set(done)]
        done.append(chance.choice(ready))
    found = check_order(replace(machine, steps=tuple(step[name] for name in done)))
    assert found == (), (done, [f"{one.code}, {one.step}: {one.says}" for one in found])


def test_turns_are_the_twenty_four_ways_a_box_can_lie() -> None:
    assert len(TURNS) == 24
    way: Array = np.asarray(DIRECTIONS["+x"])
    assert way.shape == (3,)
