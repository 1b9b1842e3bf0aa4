"""How every command ends: facts as JSON, problems all at once, one sentence for the unforeseen."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from trysquare.cli.words import one_line

if TYPE_CHECKING:
    from trysquare.ground.errors import ReadingError, ReadingErrors

CLEAN, FOUND, UNREADABLE = 0, 1, 2
INTERRUPTED = 130
PIPE_CLOSED = 141


class NotThere(Exception):  # noqa: N818  # it is an answer, not a fault of the program
    """What the user asked for is not in the machine. `says` is the whole answer."""

    def __init__(self, says: str) -> None:
        self.says = says
        super().__init__(says)


def print_json(facts: Mapping[str, Any]) -> None:
    """Facts with sorted keys, readable and the same on every run."""
    sys.stdout.write(json.dumps(facts, ensure_ascii=False, indent=2, sort_keys=True) + "\n")
    sys.stdout.flush()


def problem_facts(problem: ReadingError) -> dict[str, Any]:
    """One problem of reading: where, what was read, what was expected, what to do."""
    return {
        "file": problem.where.file,
        "line": problem.where.line,
        "key": problem.where.key,
        "read": problem.read if isinstance(problem.read, str | int | float | bool) else repr(problem.read),
        "expected": problem.expected,
        "remedy": problem.remedy,
    }


def tell_problems(errors: ReadingErrors, folder: str, *, as_json: bool) -> None:
    """All problems of an unreadable folder: JSON to the output, text to the talk."""
    if as_json:
        print_json({"folder": folder, "problems": [problem_facts(problem) for problem in errors.problems]})
        return
    for problem in errors.problems:
        print(one_line(problem), file=sys.stderr)
    number = len(errors.problems)
    print(
        f"{one_line(folder)}: {number} problem{'s' if number > 1 else ''}; "
        f"nothing was checked. Mend {'them' if number > 1 else 'it'} and ask again.",
        file=sys.stderr,
    )
