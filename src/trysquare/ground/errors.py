"""Every error Trysquare raises on purpose, and the place in a file that it points at."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A place in a user's file.

    `file` is relative to the machine folder, `line` counts from 1 (0: the whole file), `column` too
    (0: the whole line), `key` is the dotted key, for example ``place.upright-a.along``.
    """

    file: str
    line: int = 0
    key: str = ""
    column: int = 0

    def __str__(self) -> str:
        spot = f"{self.file}:{self.line}" if self.line else self.file
        spot = f"{spot}:{self.column}" if self.line and self.column else spot
        return f"{spot}, {self.key}" if self.key else spot


class TrysquareError(Exception):
    """Root of all our errors."""


class ReadingError(TrysquareError):
    """An input that cannot be used as it stands.

    Says where, what was read, what was expected and what to do; each is a field, so that the
    command line, a page and a test can use them. `row`: the whole line as it stands in the file, for a place
    that has a column; else empty.
    """

    def __init__(
        self, *, where: Where | str, read: object, expected: str, remedy: str, row: str = ""
    ) -> None:
        self.where = where if isinstance(where, Where) else Where(file=where)
        self.read = read
        self.expected = expected
        self.remedy = remedy
        self.row = row
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


def marked(row: str, column: int, width: int = 72) -> tuple[str, str]:
    """A line of a file, and under it a mark at `column` (from 1); of a long line only what stands around it.

    Every character takes one place, so that the mark stays under its own: what cannot be seen is ``·``.
    """
    shown_row = "".join(char if char.isprintable() else " " if char == "\t" else "·" for char in row)
    at = min(max(column, 1) - 1, len(shown_row))
    start = max(0, min(at - width // 2, len(shown_row) - width)) if len(shown_row) > width else 0
    piece = shown_row[start : start + width]
    lead = "…" if start else ""
    tail = "…" if start + width < len(shown_row) else ""
    return f"{lead}{piece}{tail}", " " * (len(lead) + at - start) + "^"


LEAST_BEGINNING = 3  # letters; fewer begin too many words


def nearest(word: str, known: Iterable[str]) -> str:
    """A sentence that suggests the nearest known word, or lists the known ones; never empty."""
    words = sorted(set(known))
    if not words:
        return "None is defined yet."
    small = {each.casefold(): each for each in reversed(words)}
    whole = word.casefold()
    # A word cut short, such as sign for sign-off, is nearer to its own ending than to a look-alike.
    longer = [each for each in small if each.startswith(whole)] if len(whole) >= LEAST_BEGINNING else []
    close = sorted(longer, key=lambda each: (len(each), each)) or difflib.get_close_matches(
        whole, small, n=1, cutoff=0.6
    )
    if close:
        return f"Did you mean '{small[close[0]]}'?"
    few = ", ".join(words[:12])
    return f"Known: {few}{', …' if len(words) > 12 else ''}."
