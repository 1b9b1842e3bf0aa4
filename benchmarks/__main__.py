"""All figures in one run: medians on this computer, beside what was asked.

python -m benchmarks            everything (some minutes)
python -m benchmarks --quick    fewer repeats
python -m benchmarks --keep     the run goes into docs/benchmarks.json and docs/benchmarks.md
"""

from __future__ import annotations

import argparse
import json
import math
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from benchmarks import overlap
from benchmarks.figures import COLLECTED, heading, row
from benchmarks.history import described, keep
from benchmarks.side_by_side import side_by_side
from trysquare.fit.check import check_fit
from trysquare.machine.load import load_machine
from trysquare.sequence.check import check_order
from trysquare.solid.shapes import forget_solids
from trysquare.solid.shared import forget_standings
from trysquare.solid.sweep import forget_sweeps

ROOT = Path(__file__).resolve().parent.parent
LARCH, REED = ROOT / "demo" / "larch", ROOT / "demo" / "reed"


def command(*arguments: str, repeats: int) -> tuple[float, float]:
    """Median seconds and peak megabytes of a command, its start included."""
    seconds: list[float] = []
    peaks: list[float] = []
    for _ in range(repeats):
        start = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, "-m", "trysquare.cli.main", *arguments],
            cwd=ROOT,
            env=dict(os.environ, PYTHONPATH=str(ROOT / "src")),
            stdout=subprocess.DEVNULL,
        )
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        seconds.append(time.perf_counter() - start)
        peaks.append(usage.ru_maxrss / 1024)
        if process.returncode not in (0, 1):
            raise SystemExit(f"trysquare {' '.join(arguments)} ended with {process.returncode}")
    return statistics.median(seconds), max(peaks)


def median(action: Callable[[], object], repeats: int) -> float:
    """Median seconds of an action."""
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        seconds.append(time.perf_counter() - start)
    return statistics.median(seconds)


def forget() -> None:
    """Empties every memory, as at a cold start."""
    forget_solids()
    forget_standings()
    forget_sweeps()


def exponent(sizes: list[int], seconds: list[float]) -> float:
    """Slope of log time over log size, least squares."""
    x = [math.log(size) for size in sizes]
    y = [math.log(second) for second in seconds]
    mean_x, mean_y = statistics.mean(x), statistics.mean(y)
    return sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / sum(
        (a - mean_x) ** 2 for a in x
    )


def start_up(repeats: int) -> None:
    """The commands as a person calls them."""
    shutil.rmtree(LARCH / ".trysquare-cache", ignore_errors=True)
    cold, memory = command("check", "demo/larch", "--no-cache", repeats=repeats)
    command("check", "demo/larch", repeats=1)
    kept, _ = command("check", "demo/larch", repeats=repeats)
    reed, _ = command("check", "demo/reed", "--no-cache", repeats=repeats)
    helped, _ = command("--help", repeats=repeats)
    row("check demo/larch, cold, start included", "≤ 3 s", f"{cold:.2f} s")
    row("check demo/larch, nothing changed", "≤ 1 s", f"{kept:.2f} s")
    row("check demo/larch, peak memory", "≤ 500 MB", f"{memory:.0f} MB")
    row("check demo/reed, list only", "≤ 0.4 s", f"{reed:.2f} s")
    row("--help", "≤ 0.2 s", f"{helped:.2f} s")


def rules(repeats: int) -> None:
    """All order rules over all steps."""
    machine = load_machine(LARCH)

    def cold() -> None:
        forget()
        check_order(machine)

    row("order rules over all steps of Larch, cold", "≤ 3 s", f"{median(cold, repeats):.2f} s")


def growth(repeats: int) -> None:
    """Fit and order rules on 1, 2, 4, 8 Larches side by side."""
    machine = load_machine(LARCH)
    sizes = [1, 2, 4, 8]
    for what, check, asked in (("fit", check_fit, "≤ 1.2"), ("order rules", check_order, "≤ 1.3")):
        seconds = []
        for size in sizes:
            many = side_by_side(machine, size)

            def cold() -> None:
                forget()
                check(many)  # noqa: B023 - called within this turn of the loop

            seconds.append(median(cold, repeats))
        times = ", ".join(f"{second:.2f}" for second in seconds)
        row(f"{what} on 1, 2, 4, 8 Larches: exponent", asked, f"{exponent(sizes, seconds):.2f} ({times} s)")


def overlaps() -> None:
    """All-pairs overlap against a general collision library's manager on the same meshes."""
    answer = overlap.run(load_machine(LARCH))
    ratio = answer["times_faster_meshes_ready"]
    row("all-pairs overlap of Larch, ours on ready meshes", "", f"{answer['ours']['meshes_ready_s']:.3f} s")
    row("the same, trimesh's FCL collision manager", "", f"{answer['library']['stock_manager_s']:.3f} s")
    same = "the same" if answer["same_answer"] else "ANOTHER"
    row("times faster than that manager", "≥ 3", f"{ratio:.1f}, {same} answer")


MORE = (
    "rules",
    "order",
    "stock",
    "key",
    "drawing",
    "book",
    "log",
    "bench_server",
    "bench_pages",
    "truing",
    "tuning_belt",
    "tuning_resonance",
    "tuning_wiring",
    "tuning_heat",
    "intake",
    "answers",
)
"""The figures that have a module of their own; one whose module is not there is left out."""
QUICK = {"rules": ["--quick"], "bench_pages": ["--quick"], "order": ["--seconds", "5"],
         "bench_server": ["--seconds", "20"], "tuning_belt": ["--quick"],
         "tuning_resonance": ["10"], "answers": ["recognised", "foreign", "seen"]}  # fmt: skip
WHOLE = {"tuning_resonance": ["40"], "bench_server": ["--seconds", "60"]}
LONGEST_SECONDS = 420.0  # of one module; what hangs must not take the others' figures with it
WHOLE_SECONDS = 1200.0  # of the whole run: what is not begun by then is told as not measured


def more(*, quick: bool, until: float) -> None:
    """Each module in a process of its own; one that fails is told, and the others go on."""
    for name in MORE:
        if not (ROOT / "benchmarks" / f"{name}.py").is_file():
            continue
        heading(name.replace("_", " ").capitalize())
        paths = os.pathsep.join([str(ROOT / "src"), str(ROOT), str(ROOT / "tests")])
        begin = time.perf_counter()
        if begin >= until:
            row(f"{name}: the run's time was used up", "", "not measured")
            continue
        words = (QUICK if quick else WHOLE).get(name, [])
        try:
            done = subprocess.run(
                [sys.executable, "-W", "ignore", "-m", f"benchmarks.{name}", *words],
                cwd=ROOT,
                env=dict(os.environ, PYTHONPATH=paths),
                check=False,
                timeout=min(LONGEST_SECONDS, until - begin),
            )
            if done.returncode:
                row(f"{name} ended with {done.returncode}", "", "not measured")
        except subprocess.TimeoutExpired:
            row(f"{name} was stopped after {time.perf_counter() - begin:.0f} s", "", "not measured")
        print(f"({name} took {time.perf_counter() - begin:.0f} s)", flush=True)


def main() -> None:
    """Measures everything, one figure after another."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer repeats")
    parser.add_argument("--keep", action="store_true", help="add the run to the history and its page")
    said = parser.parse_args()
    repeats = 3 if said.quick else 5
    about = described()
    print(f"{about['machine']}, Python {about['python']}, load {about['load']}")
    until = time.perf_counter() + WHOLE_SECONDS
    with tempfile.TemporaryDirectory() as place:
        collected = Path(place) / "figures.jsonl"
        os.environ[COLLECTED] = str(collected)
        for part in (
            lambda: start_up(repeats), lambda: rules(repeats), lambda: growth(max(1, repeats - 2)), overlaps,
            lambda: more(quick=said.quick, until=until),
        ):  # fmt: skip
            try:
                part()
            except (Exception, SystemExit) as error:  # noqa: BLE001  # the other figures count
                row(f"a part ended with {type(error).__name__}: {error}", "", "not measured")
        figures = [json.loads(line) for line in collected.read_text("utf-8").splitlines()]
    if said.keep:
        keep(about, figures)


if __name__ == "__main__":
    main()
