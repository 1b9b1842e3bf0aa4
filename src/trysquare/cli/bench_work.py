"""The child process of `trysquare bench`: computes what the pages show, says what is kept, and ends.

It ends too when whoever began it is gone: then its input is at its end.
"""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trysquare.bench.kept_answers import KeptAnswers
from trysquare.bench.making import make_facts, make_pictures
from trysquare.bench.workshop import AGAIN
from trysquare.cli import cache, check_facts, order_memory
from trysquare.cli.answers import problem_facts
from trysquare.cli.book_facts import MEMORY_FILE
from trysquare.cli.facts import read_machine
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.ground.findings import Finding
from trysquare.machine.values import Machine
from trysquare.publish.picture_store import PictureStore
from trysquare.sequence.reach import Reach
from trysquare.solid.drawing.memory import forget_drawings
from trysquare.solid.shared import forget_standings
from trysquare.solid.sweep import forget_sweeps
from trysquare.stock.need import Need

KINDNESS = 10  # the pages go first
KEPT_MB = 165.0
"""Beyond it a child that draws gives back, after a picture, what it has kept for the next ones."""
MOST_MB = 195.0
"""Beyond it even then, it gives its place to a new one, which goes on where it was."""
LEAST_GROWTH_MB = 20.0  # of a large machine, which is beyond it before anything is drawn


class _Enough(Exception):  # noqa: N818  # it says how it stands
    """So much memory is in use that a new process should go on."""


class _ModestStore(PictureStore):
    """Keeps pictures as any store, and gives back memory between two of them; where that is not enough, it
    ends the work."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.most_mb = 0.0

    def keep(self, key: str, facts: dict[str, Any]) -> None:
        super().keep(key, facts)
        here = _given_back()
        self.most_mb = self.most_mb or max(MOST_MB, here + LEAST_GROWTH_MB)
        if here > self.most_mb and self.read(key) is not None:
            raise _Enough


@dataclass(frozen=True, slots=True)
class Answers:
    """The way to the machine and to earlier answers, as the command line keeps them."""

    folder: str
    papers: tuple[str, ...]
    kept: Path

    def machine(self) -> Machine:
        return read_machine(self.folder, self.papers)

    def reach(self, machine: Machine) -> Reach:
        return Reach(machine, order_memory.recall(self.kept.parent / MEMORY_FILE, cache.source_stamp()))

    def remember(self, machine: Machine, reach: Reach) -> None:  # noqa: ARG002  # as it is asked for
        order_memory.keep(self.kept.parent / MEMORY_FILE, cache.source_stamp(), reach.remembered())

    def findings(self, machine: Machine, whole: Need, reach: Reach) -> Sequence[Finding]:
        found = check_facts.all_findings(machine, whole, reach)
        return [*found, *check_facts.boxes_findings_of(machine, whole)]

    def not_checked(self, machine: Machine, whole: Need) -> Sequence[str]:
        return check_facts.not_checked(machine, whole)


def main(arguments: Sequence[str]) -> int:
    """Computes what is to be kept under this key: `WHAT FOLDER KEPT KEY PAPER…`; WHAT is facts or pictures.

    Exit status 0, 2 when the machine cannot be read, or AGAIN when it should be begun again.
    """
    what, folder, kept, key, *papers = arguments
    make = make_pictures if what == "pictures" else make_facts
    _end_with_parent()
    if hasattr(os, "nice"):
        os.nice(KINDNESS)
    answers = Answers(folder, tuple(papers), Path(kept))
    home = Path(kept).parent  # pictures there are shared with the book
    store = _ModestStore(home) if what == "pictures" else PictureStore(home)
    try:
        make(answers, KeptAnswers(Path(kept)), key, cache.source_stamp(), store, _say)
    except _Enough:
        return AGAIN
    except ReadingErrors as errors:
        _say("unreadable", errors.problems)
        return 2
    except ReadingError as error:
        _say("unreadable", [error])
        return 2
    return 0


def resident_mb() -> float:
    """Memory that this process has now; 0 where the system does not say."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 2**20
    except (OSError, ValueError, IndexError):
        return 0.0


def _given_back() -> float:
    """Memory in use once what is free, and beyond `KEPT_MB` what can be found again, is given back."""
    _trim()
    if resident_mb() > KEPT_MB:
        forget_drawings()
        forget_standings()
        forget_sweeps()
        _trim()
    return resident_mb()


def _trim() -> None:
    """Freed memory back to the system, where its library can: left to itself it keeps much of it."""
    with contextlib.suppress(AttributeError, OSError):
        ctypes.CDLL(None).malloc_trim(0)


def _say(part: str, problems: Sequence[ReadingError]) -> None:
    line: dict[str, Any] = {"part": part}
    if problems:
        line["problems"] = [problem_facts(problem) for problem in problems]
    sys.stdout.write(json.dumps(line) + "\n")
    sys.stdout.flush()


def _end_with_parent() -> None:
    """Whoever began this holds the other end of our input open as long as it lives."""

    def watch() -> None:
        while os.read(0, 4096):
            pass
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
