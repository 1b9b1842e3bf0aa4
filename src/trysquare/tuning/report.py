"""What a tuning says, in one shape for every tool: the command, its `--json`, the bench's page and the log.

A report has parts; a part is one thing that was judged: a belt, a way the machine swings, a screw.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from trysquare.tuning.values import Measured

GOOD, BAD, CANNOT_TELL, TOLD = "good", "bad", "cannot tell", "told"
"""Verdicts. TOLD: a figure that nothing is held against, such as a reckoning before anything is measured."""

_WORST_FIRST = (BAD, CANNOT_TELL, GOOD, TOLD)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A figure with its name: `value`, or None when it is not known; `says` stands beside it."""

    label: str
    value: Measured | None = None
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of text under headings; `right`: the columns of figures; `gist`: its most telling row in words,
    for where the table is folded, such as "worst: Hot end, drop 0.8 %"."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: frozenset[int] = frozenset()
    gist: str = ""

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"table {self.title!r}: {len(row)} cells under {len(self.columns)} headings")


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One thing judged.

    `of`: its name in the build log, the same at every measurement of it; `says`: what it means and what to
    do, the most important sentence first; `doubts`: (code, sentence) of what spoils the measurement;
    `notes`: how it comes about, in small print; `main`: the figure that the log keeps; `data`: further facts
    for `--json`, units in the keys.
    """

    of: str
    title: str
    verdict: str
    says: tuple[str, ...]
    lines: tuple[Line, ...] = ()
    tables: tuple[Table, ...] = ()
    doubts: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    main: Measured | None = None
    data: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.verdict not in _WORST_FIRST:
            raise ValueError(f"{self.of}: no verdict {self.verdict!r}")
        if not self.says:
            raise ValueError(f"{self.of}: a part says at least one sentence")


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """All that a tool says: `what` is the tool's name, `cautions` ids of our table of cautions."""

    what: str
    title: str
    parts: tuple[Part, ...]
    cautions: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """The worst of its parts."""
        verdicts = {part.verdict for part in self.parts}
        return next((verdict for verdict in _WORST_FIRST if verdict in verdicts), CANNOT_TELL)
