"""The order rules against a slow judge: on clean orders, and on orders with something changed at random."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest

from sequence.folders import said
from sequence.judge import Judge
from sequence.mutations import Order, mutations
from sequence.test_rules_hold import CRANE, RUN
from sequence.test_rules_listing import INSERTED, PAIR
from sequence.test_rules_screws import FRAME, HOOD, LID, RAIL
from sequence.test_rules_slots import ROLL_IN, TWO_PLATES, closed
from sequence.test_rules_truth import GANTRY, PLASTIC, ROW, TRUE
from sequence.test_rules_ways import BELT, CABLE, CUP, SHELL, STOPPED, WITH_KNOB
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.check import check_order
from trysquare.sequence.reach import Reach

DEMO = Path(__file__).parents[2] / "demo"
SHUT = closed(closed(TWO_PLATES, "panel", "a", "one"), "member", "b", "two")
DROPPED = closed(closed(ROLL_IN, "foot", "a", "one"), "bracket", "b", "two")
BENCHES = {
    "belt": BELT, "cable": CABLE, "crane": CRANE, "cup": CUP, "dropped": DROPPED, "frame": FRAME,
    "gantry": GANTRY, "hood": HOOD, "inserted": INSERTED, "knob": WITH_KNOB, "lid": LID, "pair": PAIR,
    "plastic": PLASTIC, "rail": RAIL, "row": ROW.but(("@", "")), "run": RUN, "shell": SHELL, "shut": SHUT,
    "stopped": STOPPED, "true": TRUE,
}  # fmt: skip


def differing(machine: Machine, orders: Iterable[Order], *, plain: bool = False) -> list[str]:
    """Where the rules and the judge say different things of a machine's orders."""
    judge, reach = Judge(machine, plain=plain), Reach(machine)
    found: list[str] = []
    for number, order in enumerate(orders):
        ours = set(said(check_order(replace(machine, steps=order), reach)))
        theirs = judge.judge(order)
        if ours != theirs:
            found.append(f"order {number}: rules {sorted(ours - theirs)}, judge {sorted(theirs - ours)}")
    return found


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(BENCHES))
def test_rules_and_judge_agree_on_small_machines(name: str, tmp_path: Path) -> None:
    machine = BENCHES[name].machine(tmp_path)
    assert differing(machine, [machine.steps, *mutations(machine.steps, 4, seed=len(name))]) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", ["cup", "frame", "lid", "shut"])
def test_a_judge_that_remembers_nothing_says_the_same(name: str, tmp_path: Path) -> None:
    machine = BENCHES[name].machine(tmp_path)
    assert differing(machine, [machine.steps, *mutations(machine.steps, 3, seed=7)], plain=True) == []


@pytest.mark.slow
def test_the_judge_finds_the_reed_clean() -> None:
    machine = load_machine(DEMO / "reed-joints")
    assert Judge(machine).judge(machine.steps) == set()


@pytest.mark.slow
def test_random_changes_meet_most_of_the_findings(tmp_path: Path) -> None:
    # Agreement on orders without findings would prove little.
    seen: Counter[str] = Counter()
    for name, bench in BENCHES.items():
        machine = bench.machine(tmp_path / name)
        reach = Reach(machine)
        for order in mutations(machine.steps, 40, seed=11):
            seen.update(code for code, _, _ in said(check_order(replace(machine, steps=order), reach)))
    assert len(seen) >= 24, seen


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(BENCHES))
def test_rules_and_judge_agree_on_many_changes_of_small_machines(name: str, tmp_path: Path) -> None:
    machine = BENCHES[name].machine(tmp_path)
    assert differing(machine, mutations(machine.steps, 200, seed=99)) == []


@pytest.mark.slow
def test_rules_and_judge_agree_on_sixty_changes_of_the_reed() -> None:
    machine = load_machine(DEMO / "reed-joints")
    assert differing(machine, mutations(machine.steps, 60, seed=1)) == []


@pytest.mark.slow
def test_rules_and_judge_agree_on_changes_of_the_larch() -> None:
    # The judge first makes its bodies (some ten seconds), then takes half a second for each order while new
    # bodies are asked for, a fifth later: LARCH_CHANGES=500 takes some minutes.
    machine = load_machine(DEMO / "larch")
    changes = int(os.environ.get("LARCH_CHANGES", "25"))
    assert differing(machine, mutations(machine.steps, changes, seed=1)) == []
