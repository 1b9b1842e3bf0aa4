"""What can go wrong with a build log: errors that stop an action, and faults that a check finds."""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.ground.errors import ReadingError


class LogError(ReadingError):
    """A log that cannot be opened or read."""


class LogNotWritable(LogError):  # noqa: N818 - it says what the log is
    """Nothing of what was to be written was kept: whoever sent it keeps it and asks again.

    `passing`: whether asking again later may help (disk full, another program writes) or not (read-only).
    """

    def __init__(self, *, where: str, read: object, expected: str, remedy: str, passing: bool) -> None:
        self.passing = passing
        super().__init__(where=where, read=read, expected=expected, remedy=remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that a check of the log found wrong.

    `code`: "changed" (an entry is not what was written), "missing" (a number is left out), "unreadable",
    "twice" (an id stands twice), "database" (SQLite says so), "file-missing", "file-changed", "not-there"
    (an entry that a person noted is not in the log). `seq`: the entry, 0 for the whole log.
    """

    code: str
    seq: int
    says: str
    remedy: str
