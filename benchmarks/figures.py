"""One figure after another: printed as a row, and kept for the whole run when somebody collects them.

`row` is what every benchmark tells its figures with. `python -m benchmarks` names a file in the environment
and gathers what all of them wrote there.
"""

from __future__ import annotations

import json
import os
import statistics
import time
from collections.abc import Callable
from pathlib import Path

COLLECTED = "TRYSQUARE_FIGURES"
"""Name of the environment variable that says where figures are gathered, as JSON lines."""


def row(what: str, asked: str, measured: str, *, of: str = "") -> None:
    """A figure in words: what, what was asked of it ("" for nothing), what was measured; `of`: its issue."""
    print(f"{what:66} {asked:>12} {measured:>30}", flush=True)
    place = os.environ.get(COLLECTED)
    if place:
        with Path(place).open("a", encoding="utf-8") as file:
            file.write(json.dumps({"what": what, "asked": asked, "measured": measured, "of": of}) + "\n")


def heading(says: str) -> None:
    """A group of figures."""
    print(f"\n{says}", flush=True)
    place = os.environ.get(COLLECTED)
    if place:
        with Path(place).open("a", encoding="utf-8") as file:
            file.write(json.dumps({"heading": says}) + "\n")


def median_seconds(action: Callable[[], object], repeats: int = 5) -> float:
    """Median wall seconds of an action."""
    found = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        found.append(time.perf_counter() - start)
    return statistics.median(found)


def median_own_seconds(action: Callable[[], object], repeats: int = 5) -> float:
    """Median seconds of processor time of an action: what else runs here hardly counts."""
    found = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        found.append(time.process_time() - start)
    return statistics.median(found)
