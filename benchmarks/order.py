"""Measures the proposed order: when the first one stands, how much better it gets, and how it compares.

    python benchmarks/order.py                      the demo printer, 30 s
    python benchmarks/order.py --folder demo/reed-joints --seconds 5
    python benchmarks/order.py --small 50           that many random small assemblies against all orders

`run(machine)` does the first for a loaded machine. Times are in seconds on this computer, one run,
beginning with empty caches; the first order's time includes judging it by all rules. `processor` tells
the processor's time, which other work on the computer disturbs less.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from benchmarks.figures import row
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.check import check_order
from trysquare.sequence.mend import mend_order
from trysquare.sequence.propose import propose_order
from trysquare.sequence.reach import Reach
from trysquare.sequence.rehearsal import is_stop
from trysquare.solid.shapes import forget_solids
from trysquare.solid.shared import forget_standings
from trysquare.solid.sweep import forget_sweeps

ROOT = Path(__file__).resolve().parent.parent


def run(machine: Machine, seconds: float = 30.0) -> dict[str, Any]:
    """Figures of one machine."""
    forget()
    alone = propose_order(machine, seconds=0, clock=time.process_time).found_after_s
    forget()
    start = time.perf_counter()
    proposal = propose_order(machine, seconds=seconds, clock=time.perf_counter)
    took = time.perf_counter() - start
    reach = Reach(machine)
    found = check_order(replace(machine, steps=proposal.steps), reach)
    return {
        "parts": len(machine.placed),
        "joints": len(machine.joints),
        "first_order_processor_s": round(alone, 2),
        "first_order_s": round(proposal.found_after_s, 2),
        "final_order_s": round(took, 2),
        "feasible": proposal.feasible,
        "steps": len(proposal.steps),
        "turns": proposal.turns,
        "tool_changes": proposal.tool_changes,
        "cost": proposal.cost,
        "optimal": proposal.optimal,
        "gap": round(proposal.gap, 3),
        "stops_left": sum(is_stop(one) for one in found),
        "authors": authors(machine, reach) if machine.steps else {},
    }


def forget() -> None:
    """Empties what is kept in memory between questions."""
    forget_solids()
    forget_standings()
    forget_sweeps()


def authors(machine: Machine, reach: Reach) -> dict[str, Any]:
    """The author's own order, for comparison, and the time to mend it with one action of each verb lost."""
    times = []
    left = 0
    for verb in ("tighten", "insert", "read"):
        for index, step in enumerate(machine.steps):
            if any(action.verb == verb for action in step.actions):
                kept = tuple(action for action in step.actions if action.verb != verb)
                steps = (*machine.steps[:index], replace(step, actions=kept), *machine.steps[index + 1 :])
                start = time.perf_counter()
                left += len(mend_order(replace(machine, steps=steps), reach=reach).left)
                times.append(time.perf_counter() - start)
                break
    return {
        "steps": len(machine.steps),
        "turns": sum(action.verb == "turn" for step in machine.steps for action in step.actions),
        "mend_s": [round(one, 2) for one in times],
        "not_mended": left,
    }


def small(count: int) -> dict[str, Any]:
    """Random assemblies of six to ten parts: our verdict against a search through all orders."""
    sys.path.insert(0, str(ROOT / "tests"))
    from sequence.random_assemblies import SlowJudge, random_assembly

    agree = feasible = 0
    ours = theirs = 0.0
    for seed in range(count):
        machine = random_assembly(seed)
        start = time.perf_counter()
        verdict = propose_order(machine, seconds=0).feasible
        ours += time.perf_counter() - start
        start = time.perf_counter()
        truth = SlowJudge(machine).feasible()
        theirs += time.perf_counter() - start
        agree += verdict == truth
        feasible += truth
    return {
        "assemblies": count,
        "feasible": feasible,
        "same_verdict": agree,
        "ours_s": round(ours, 2),
        "all_orders_s": round(theirs, 2),
    }


def main() -> None:
    """Prints the figures as JSON."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--folder", default=str(ROOT / "demo" / "larch"), help="machine folder")
    parser.add_argument("--seconds", type=float, default=30.0, help="time for the proposal")
    parser.add_argument("--small", type=int, default=0, help="only that many random small assemblies")
    chosen = parser.parse_args()
    if chosen.small:
        print(json.dumps(small(chosen.small), indent=1))
        return
    answer = run(load_machine(chosen.folder), chosen.seconds)
    row("first feasible order of Larch, processor", "≤ 5 s", f"{answer['first_order_processor_s']:.1f} s")
    row("  final order, by the clock", "", f"{answer['final_order_s']:.1f} s")
    row("  cost above what no order can undercut", "", f"{answer['gap']:.0%}")
    row("  stops left in it", "0", str(answer["stops_left"]))
    agreed = small(30)
    same = f"{agreed['same_verdict']} of {agreed['assemblies']}"
    row("random assemblies judged as a search through all orders", "all", same)
    row("  times faster than that search", "", f"{agreed['all_orders_s'] / max(agreed['ours_s'], 1e-3):.0f}")


if __name__ == "__main__":
    main()
