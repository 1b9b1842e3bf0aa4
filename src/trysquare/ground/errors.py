"""Every error Trysquare raises on purpose, and the place in a file that it points at."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A place in a user's file.

    `file` is relative to the machine folder, `line` counts from 1 (0: the whole file),
    `key` is the dotted key, for example ``place.upright-a.along``.
    """

    file: str
    line: int = 0
    key: str = ""

    def __str__(self) -> str:
        spot = f"{self.file}:{self.line}" if self.line else self.file
        return f"{spot}, {self.key}" if self.key else spot


class TrysquareError(Exception):
    """Root of all our errors."""


class ReadingError(TrysquareError):
    """An input that cannot be used as it stands.

    Says where, what was read, what was expected and what to do; each is a field, so that the
    command line, a page and a test can use them.
    """

    def __init__(self, *, where: Where | str, read: object, expected: str, remedy: str) -> None:
        self.where = where if isinstance(where, Where) else Where(file=where)
        self.read = read
        self.expected = expected
        self.remedy = remedy
        super().__init__(f"{self.where}: read {shown(read)}, expected {expected}. {remedy}")


class ReadingErrors(TrysquareError):  # noqa: N818 - several errors; each is a ReadingError
    """All the problems found while reading, in file order; never empty."""

    def __init__(self, problems: Sequence[ReadingError]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def one_problem(file: str, line: int, read: str, expected: str, remedy: str) -> ReadingErrors:
    """The only problem of a file; line 0: of the whole file."""
    where = Where(file=file, line=line)
    return ReadingErrors([ReadingError(where=where, read=read, expected=expected, remedy=remedy)])


def shown(read: object, limit: int = 80) -> str:
    """What was read, as one short printable line: control characters escaped, long values cut."""
    text = read if isinstance(read, str) else repr(read)
    text = "".join(char if char.isprintable() else repr(char)[1:-1] for char in text[: limit + 1])
    if len(text) > limit:
        text = text[: limit - 1] + "…"
    return f"'{text}'" if isinstance(read, str) else text


def nearest(word: str, known: Iterable[str]) -> str:
    """A sentence that suggests the nearest known word, or lists the known ones; never empty."""
    words = sorted(set(known))
    if not words:
        return "None is defined yet."
    small = {each.casefold(): each for each in reversed(words)}
    close = difflib.get_close_matches(word.casefold(), small, n=1, cutoff=0.6)
    if close:
        return f"Did you mean '{small[close[0]]}'?"
    few = ", ".join(words[:12])
    return f"Known: {few}{', …' if len(words) > 12 else ''}."
