"""How long need against stock takes: the demo machine with its boxes, and a class that shares boxes.

python -m benchmarks.stock      prints the figures beside what was asked

Seconds are those of the processor: on a shared computer the clock on the wall says nothing of the program.
"""

from __future__ import annotations

import random
import statistics
import subprocess
import sys
import time
from pathlib import Path

from benchmarks.figures import median_own_seconds, row
from trysquare.ground.errors import ReadingError
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.stock.allocation import Allocation, allocate
from trysquare.stock.counting import read_count
from trysquare.stock.demands import StockLot
from trysquare.stock.need import Need, need
from trysquare.stock.reach_step import reach

ROOT = Path(__file__).resolve().parent.parent
LARCH = ROOT / "demo" / "larch"
CLASS = 30

_COLD = """
import sys, time
from benchmarks.stock import larch
machine, whole, lots = larch()
from trysquare.stock.allocation import allocate
begin = time.process_time()
allocate(machine, whole, lots)
print(time.process_time() - begin)
"""


def larch() -> tuple[Machine, Need, tuple[StockLot, ...]]:
    """The demo machine, its need, and what its boxes hold."""
    machine = load_machine(LARCH)
    whole = need(machine)
    problems: list[ReadingError] = []
    return machine, whole, read_count(machine, whole, problems).lots


def shared_boxes(whole: Need, boxes: int, seed: int) -> list[StockLot]:
    """Boxes for a class: each part spread over one to four of them, a fifth of the parts short or over,
    some held twice so that boxes can be left shut."""
    chance = random.Random(seed)
    lots: list[StockLot] = []
    for line in whole.lines:
        if line.cuts_mm:
            box = f"rolls {chance.randrange(3)}"
            lots.append(StockLot(box=box, part=line.part, pieces=CLASS, length_mm=1.05 * line.length_mm))
            continue
        wanted = CLASS * line.pieces
        if chance.random() < 0.2:
            wanted = int(wanted * chance.choice((0.9, 0.97, 1.1, 1.3)))
        share = chance.choice((1, 1, 2, 3, 4))
        for _ in range(chance.choice((1, 1, 2))):
            lots += [
                StockLot(box=f"box {number}", part=line.part, pieces=-(-wanted // share))
                for number in chance.sample(range(boxes), share)
            ]
    return lots


def cold_seconds(repeats: int) -> float:
    """Median seconds of the first allocation of a process: solids are made, modules loaded."""
    found = []
    for _ in range(repeats):
        done = subprocess.run(
            [sys.executable, "-c", _COLD], cwd=ROOT, capture_output=True, text=True, check=True
        )
        found.append(float(done.stdout))
    return statistics.median(found)


def told(allocation: Allocation) -> str:
    """How good it is, in a few words."""
    proof = "proven" if allocation.proven else f"gap {allocation.boxes_gap} boxes"
    return f"{allocation.served}/{allocation.wanted}, {len(allocation.boxes)} boxes, {proof}"


def main(repeats: int = 5) -> None:
    """Prints all figures."""
    machine, whole, lots = larch()
    row("allocation for Larch, first of a process", "≤ 0.5 s", f"{cold_seconds(repeats):.2f} s")
    row(
        "allocation for Larch, again",
        "",
        f"{median_own_seconds(lambda: allocate(machine, whole, lots), repeats):.2f} s",
    )
    row("  what they serve, boxes opened", "", told(allocate(machine, whole, lots)))
    for boxes in (14, 24, 40):
        shared = shared_boxes(whole, boxes, seed=boxes)
        begin = time.process_time()
        allocation = allocate(machine, whole, shared, CLASS)
        taken = time.process_time() - begin
        row(f"a class of {CLASS} Larches sharing {boxes} boxes", "≤ 10 s", f"{taken:.2f} s")
        row("  what they serve, boxes opened", "", told(allocation))
        begin = time.process_time()
        reached = reach(whole, allocation.demands, shared, allocation.supplies, CLASS)
        row("  how far it goes", "", f"{time.process_time() - begin:.2f} s, {reached.machines} whole")


if __name__ == "__main__":
    main()
