"""How long the order rules take: cold, after one step was edited, and on several machines side by side.

    python -m benchmarks.rules                 all figures, one JSON line each
    python -m benchmarks.rules demo/larch      another machine folder
    python -m benchmarks.rules --quick         1 and 2 machines only, fewer repeats

Every figure is taken in a process of its own, so nothing is kept in memory from one to the next; reading
the folder and starting Python are not counted. "cold" counts making every solid and all rules over all
steps. "edited" does the same with what the last check left in two files (`sequence.memory`, `solid.sizes`),
after one step lost its last action: recalling the files, the solids, the rules, and keeping what is new.
"rules" is that without the solids, which the fit check has asked for before the order is asked. Seconds are
those of the processor: on a shared computer the clock on the wall says nothing about the program.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from benchmarks.figures import row
from trysquare.cli import order_memory, solid_memory
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.check import check_order
from trysquare.sequence.reach import Reach

ROOT = Path(__file__).resolve().parent.parent
ASKED = {"cold": 3.0, "edited": 0.5, "exponent": 1.3}  # seconds, seconds, power
EDITS = 5


def cold(folder: Path, copies: int) -> dict[str, Any]:
    """Solids and rules from nothing, on one machine or several copies of it."""
    machine = _copies(load_machine(folder), copies)
    start = time.process_time()
    reach = Reach(machine)
    solids = time.process_time() - start
    findings = check_order(machine, reach)
    return {
        "copies": copies, "steps": len(machine.steps), "parts": len(machine.placed),
        "findings": len(findings), "solids": solids,
        "rules": time.process_time() - start - solids, "all": time.process_time() - start,
    }  # fmt: skip


def keep(folder: Path, file: Path) -> dict[str, Any]:
    """A cold check that leaves its answers in a file."""
    machine = load_machine(folder)
    reach = Reach(machine)
    check_order(machine, reach)
    start = time.process_time()
    solids = file.with_suffix(".solids")
    order_memory.keep(file, "benchmark", reach.remembered())
    solid_memory.keep(solids, "benchmark")
    size = file.stat().st_size + solids.stat().st_size
    return {"bytes": size, "all": time.process_time() - start}


def edited(folder: Path, file: Path, which: int) -> dict[str, Any]:
    """A check after the last action of one step was taken away."""
    machine = load_machine(folder)
    steps = list(machine.steps)
    number = (2 * which + 1) * len(steps) // (2 * EDITS)
    steps[number] = replace(steps[number], actions=steps[number].actions[:-1])
    machine = replace(machine, steps=tuple(steps))
    start = time.process_time()
    recalled = order_memory.recall(file, "benchmark")
    solid_memory.recall(file.with_suffix(".solids"), "benchmark")
    middle = time.process_time()
    reach = Reach(machine, recalled)
    solids = time.process_time() - middle
    findings = check_order(machine, reach)
    order_memory.keep(file.with_suffix(".new"), "benchmark", reach.remembered())
    solid_memory.keep(file.with_suffix(".new-solids"), "benchmark")
    whole = time.process_time() - start
    return {"step": steps[number].id, "findings": len(findings), "rules": whole - solids, "all": whole}


def exponent(sizes: list[int], seconds: list[float]) -> float:
    """Slope of log time over log size, least squares."""
    x, y = [math.log(size) for size in sizes], [math.log(second) for second in seconds]
    mean_x, mean_y = statistics.mean(x), statistics.mean(y)
    up = sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True))
    return up / sum((a - mean_x) ** 2 for a in x)


def _copies(machine: Machine, copies: int) -> Machine:
    if copies == 1:
        return machine
    from benchmarks.side_by_side import side_by_side

    return side_by_side(machine, copies)


def _fresh(*arguments: str) -> dict[str, Any]:
    """One figure from a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.rules", *arguments],
        cwd=ROOT, env={"PYTHONPATH": f"{ROOT / 'src'}:{ROOT}"}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def run(folder: Path, *, quick: bool = False) -> list[dict[str, Any]]:
    """All figures; seconds are the median of repeats, of the edits also the slowest."""
    repeats = 2 if quick else 3
    sizes = [1, 2] if quick else [1, 2, 4, 8]
    found: list[dict[str, Any]] = []
    runs = {size: [_fresh("cold", str(folder), str(size)) for _ in range(repeats)] for size in sizes}
    middle = {size: statistics.median(one["all"] for one in runs[size]) for size in sizes}
    found.append({"what": "cold", "seconds": middle[1], "asked": ASKED["cold"], "of": runs[1][0]})
    with tempfile.TemporaryDirectory() as place:
        file = Path(place) / "answers"
        kept = _fresh("keep", str(folder), str(file))
        edits = [_fresh("edited", str(folder), str(file), str(which)) for which in range(EDITS)]
    whole, rules = [one["all"] for one in edits], [one["rules"] for one in edits]
    found.append(
        {
            "what": "edited", "seconds": statistics.median(whole), "slowest": max(whole),
            "rules": statistics.median(rules), "asked": ASKED["edited"], "kept": kept, "of": edits,
        }
    )  # fmt: skip
    alone = {size: statistics.median(one["rules"] for one in runs[size]) for size in sizes}
    power = exponent(sizes, list(middle.values()))
    found.append(
        {"what": "exponent", "power": power, "asked": ASKED["exponent"], "seconds": middle, "rules": alone}
    )
    return found


def main() -> None:
    """Prints the figures, or, called for one, that one."""
    if len(sys.argv) > 1 and sys.argv[1] in ("cold", "keep", "edited"):
        what, folder, *rest = sys.argv[1:]
        if what == "cold":
            answer = cold(Path(folder), int(rest[0]))
        elif what == "keep":
            answer = keep(Path(folder), Path(rest[0]))
        else:
            answer = edited(Path(folder), Path(rest[0]), int(rest[1]))
        print(json.dumps(answer))
        return
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", nargs="?", default="demo/larch", type=Path, help="machine folder")
    parser.add_argument("--quick", action="store_true", help="1 and 2 machines only, fewer repeats")
    arguments = parser.parse_args()
    cold_one, edit, growth = run(arguments.folder.resolve(), quick=arguments.quick)
    row("all rules of the order, a process that knows nothing", "≤ 3 s", f"{cold_one['seconds']:.2f} s")
    slowest = f"; slowest {edit['slowest']:.2f} s"
    row("  one step edited, median", "≤ 0.5 s", f"{edit['seconds']:.2f} s{slowest}")
    sizes = ", ".join(str(size) for size in growth["seconds"])
    row(f"  growth over {sizes} machines, exponent", "≤ 1.3", f"{growth['power']:.2f}")


if __name__ == "__main__":
    main()
