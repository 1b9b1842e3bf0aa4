"""The child process of `trysquare bench` that trues: one question a line, one answer a line, as JSON.

It keeps the machine in memory until the folder is another, and ends when its input does.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec

from trysquare.cli import cache
from trysquare.cli.answers import problem_facts
from trysquare.cli.facts import read_machine
from trysquare.cli.true_unit import unit_facts
from trysquare.cli.words import one_line
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.machine.values import Machine
from trysquare.truing.log_readings import SaidReading


class Question(msgspec.Struct, frozen=True):
    """What is asked: of which unit ("" the machine), at which step ("" as the readings say), with what the
    log holds."""

    unit: str = ""
    step: str = ""
    readings: tuple[SaidReading, ...] = ()


class Worker:
    """Answers questions about one folder."""

    def __init__(self, folder: str, papers: Sequence[str]) -> None:
        self.folder, self.papers = folder, tuple(papers)
        self._kept: tuple[str, Machine] | None = None

    def answer(self, line: bytes) -> dict[str, Any]:
        """An answer, or the problems why there is none."""
        asked = Question()
        try:
            asked = msgspec.json.decode(line, type=Question)
            return unit_facts(self._machine(), asked.unit, asked.step, asked.readings)
        except ReadingErrors as errors:
            return {"problems": [problem_facts(problem) for problem in errors.problems]}
        except ReadingError as problem:
            return {"problems": [problem_facts(problem)]}
        except msgspec.MsgspecError as error:
            return {"problems": [], "says": f"The question could not be read: {error}"}
        except Exception as error:  # noqa: BLE001 - one reading must not take the page from all others
            return {"problems": [], "says": _failed(asked, error)}

    def _machine(self) -> Machine:
        stamp = cache.folder_digest(Path(self.folder), [Path(paper) for paper in self.papers])
        if self._kept is None or self._kept[0] != stamp:
            self._kept = (stamp, read_machine(self.folder, self.papers))
        return self._kept[1]


def _failed(asked: Question, error: Exception) -> str:
    """What a person can do about a fault of ours: without the newest reading it may well go."""
    what = f"{type(error).__name__}: {one_line(error)[:120]}"
    says = f"Truing failed inside itself ({what}). Your readings are kept."
    counting = [one for one in asked.readings if not one.set_aside]
    if not counting:
        return says
    last = counting[-1]
    return f"{says} The newest is {last.of}, {last.value:g} {last.unit}: undo it to see the others."


def main(arguments: Sequence[str]) -> int:
    """`FOLDER PAPER…`: answers until the input ends."""
    folder, *papers = arguments
    worker = Worker(folder, papers)
    for line in sys.stdin.buffer:
        answer = worker.answer(line)
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
