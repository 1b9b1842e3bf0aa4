"""How long a build log takes: opening a long one, adding to it while others add, checking all of it.

python -m benchmarks.log      prints the figures beside what was asked

Seconds are those of the processor, for a shared computer's clock on the wall says nothing of the program;
only what waits for the disk is told by the clock.
"""

from __future__ import annotations

import random
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from benchmarks.figures import median_own_seconds, row
from trysquare.record.events import Event, time_text
from trysquare.record.log import BuildLog, open_log
from trysquare.record.replay import replay_on

ENTRIES = 100_000
STEPS, PARTS_OF_A_STEP, DEVICES = 200, 25, 4
_ORDINARY = (  # what is said at a bench, and how often
    ("laid-out", 30), ("taken-back", 5), ("reading", 20), ("mark", 15), ("torqued", 10), ("counted", 5),
    ("photo", 5), ("note", 3), ("deviation", 2), ("left-open", 2), ("settled", 2), ("undo", 1),
)  # fmt: skip


def long_build(entries: int, seed: int = 1) -> Iterator[Event]:
    """A build of many devices: steps opened, worked at and done, and now and then opened again."""
    chance = random.Random(seed)
    at = datetime(2031, 5, 4, 8, 0, 0, tzinfo=UTC)
    kinds = [kind for kind, share in _ORDINARY for _ in range(share)]
    each = entries // STEPS
    last = ""
    for number in range(entries):
        at += timedelta(seconds=chance.uniform(0.2, 90))
        step = f"step-{number // each % STEPS}"
        kind = {0: "opened", each - 1: "done"}.get(number % each) or chance.choice(kinds)
        event = Event(
            id=f"{number:08d}-5f1c-4c0e-9a51-7d2f3c4b5a69",
            kind=kind,
            step=step,
            at=time_text(at),
            device=f"device {chance.randrange(DEVICES)}",
            data=_data(kind, step, last, chance),
            seen=max(0, number - chance.randrange(3)),
        )
        last = event.id
        yield event


def _data(kind: str, step: str, last: str, chance: random.Random) -> dict[str, Any]:
    value = round(chance.gauss(100, 0.05), 3)
    part = f"frame/{step}-part-{chance.randrange(PARTS_OF_A_STEP)}"
    name = f"joint-{step}-{chance.randrange(10)}"
    return {
        "laid-out": {"parts": [part]},
        "taken-back": {"parts": [part]},
        "reading": {"of": name, "value": value, "unit": "mm", "instrument": "rule"},
        "torqued": {"of": [name], "state": "final", "newton_metre": 3.5},
        "counted": {"sort": f"sort {chance.randrange(60)}", "count": chance.randrange(200), "box": "2"},
        "photo": {"sha256": f"{chance.getrandbits(256):064x}", "suffix": ".jpg", "bytes": 2_400_000},
        "note": {"says": "The second screw was stiff; cleaned its thread."},
        "deviation": {"what": "substitute", "part": part, "by": "ISO 4762 M5x12", "count": 2},
        "left-open": {"item": name, "reason": "No square at hand."},
        "settled": {"item": name},
        "undo": {"of": last},
    }.get(kind, {})


def open_it(folder: Path) -> int:
    """What the bench does at its start: the state of the build is there after it."""
    with open_log(folder, machine="Larch") as log:
        return log.state().seq


def bare_read(folder: Path) -> int:
    """The same rows through the standard library's sqlite3 alone, for comparison."""
    with sqlite3.connect(f"file:{folder / 'log.sqlite'}?mode=ro", uri=True) as connection:
        return len(connection.execute("SELECT * FROM log ORDER BY seq").fetchall())


def posts(log: BuildLog, number: int) -> list[float]:
    """Milliseconds by the clock of single posts: an entry added, on the disk, and the state brought on."""
    state = log.state()
    events = list(long_build(number, seed=2))
    found = []
    for event in events:
        post, device = f"post-{event.id}", event.device
        fresh = Event(id=post, kind="mark", step=event.step, at=event.at, device=device, seen=state.seq)
        begin = time.perf_counter()
        state = replay_on(state, log.append([fresh]))
        found.append((time.perf_counter() - begin) * 1000)
    return sorted(found)


def main() -> None:
    """Prints the figures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        events = list(long_build(ENTRIES))
        with open_log(folder, machine="Larch") as log:
            begin = time.process_time()
            for first in range(0, ENTRIES, 1000):
                log.append(events[first : first + 1000])
            added = time.process_time() - begin
        row(f"{ENTRIES} entries, 1000 at a time, added", "", f"{added:.2f} s")
        opened, bare = (
            median_own_seconds(lambda: open_it(folder), 7),
            median_own_seconds(lambda: bare_read(folder), 7),
        )
        row(f"{ENTRIES} entries, opened and replayed", "≤ 1 s", f"{opened:.2f} s")
        row("the same rows, only read, by sqlite3", "", f"{bare:.2f} s ({opened / bare:.1f} ×)")
        with open_log(folder, machine="Larch") as log:
            row("all of it verified", "", f"{median_own_seconds(log.verify, 3):.2f} s")
            row("exported", "", f"{median_own_seconds(lambda: log.export(folder / 'log.jsonl'), 3):.2f} s")
            found = posts(log, 400)
        row("one post on top of it, by the clock, median", "", f"{statistics.median(found):.1f} ms")
        row("one post on top of it, by the clock, p95", "", f"{found[int(0.95 * len(found))]:.1f} ms")


if __name__ == "__main__":
    main()
