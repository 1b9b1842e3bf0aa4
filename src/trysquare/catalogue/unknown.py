"""The error of a designation that the catalogue does not hold."""

from __future__ import annotations

from collections.abc import Sequence

from trysquare.ground.errors import ReadingError, Where


class UnknownDesignation(ReadingError):  # noqa: N818 - reads as what it says
    """A designation, thread, class or size that no row answers.

    `suggestions` are canonical designations near what was read, best first; empty when nothing is near.
    `of_its_own`: it was told what to do, so that its `expected` fits better than words about any part.
    """

    def __init__(
        self,
        *,
        read: object,
        expected: str,
        suggestions: Sequence[str] = (),
        where: Where | str = "designation",
        remedy: str = "",
    ) -> None:
        self.suggestions = tuple(suggestions)
        self.of_its_own = bool(remedy)
        if not remedy:
            quoted = " or ".join(f"'{name}'" for name in self.suggestions)
            remedy = f"Did you mean {quoted}?" if quoted else "Describe the part in parts.toml instead."
        super().__init__(where=where, read=read, expected=expected, remedy=remedy)
