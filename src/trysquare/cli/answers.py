"""How every command ends: facts as JSON, problems all at once, one sentence for the unforeseen."""

from __future__ import annotations

import contextlib
import json
import sys
import textwrap
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

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
        "column": problem.where.column,
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
    from trysquare.cli.page import Page, page_width
    from trysquare.cli.words import count, place
    from trysquare.ground.errors import marked, shown

    page = Page(talk=True)
    for problem in errors.problems:
        page.line(place(problem_facts(problem)), style="bold")
        if problem.row:
            for line in marked(problem.row, problem.where.column, page_width() - 8):
                page.as_it_is(line, indent=4)
        read = "" if problem.row else shown(problem.read)
        page.pairs((("read", read), ("expected", problem.expected), ("remedy", problem.remedy)))
    number = len(errors.problems)
    page.line(
        f"{folder}: {count(number, 'problem')}; nothing was checked. "
        f"Mend {'them' if number > 1 else 'it'} and ask again."
    )
    page.print()


def unreadable(error: ReadingError | ReadingErrors, what: str, *, as_json: bool) -> int:
    """Tells the problems of a file or folder, and gives the exit status."""
    from trysquare.ground.errors import ReadingErrors

    errors = error if isinstance(error, ReadingErrors) else ReadingErrors([error])
    tell_problems(errors, what, as_json=as_json)
    return UNREADABLE


def talk(sentence: str, *, whole: bool = False) -> None:
    """One sentence to the talk, no wider than the terminal unless it is to stay `whole`, to be copied.

    A stderr that is closed is no reason to fail.
    """
    from trysquare.cli.page import page_width

    text = sentence if whole else textwrap.fill(sentence, page_width(), break_on_hyphens=False)
    with contextlib.suppress(OSError, ValueError, AttributeError):
        print(text, file=sys.stderr)
