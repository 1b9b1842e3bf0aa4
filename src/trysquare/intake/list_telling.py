"""Which column tells the parts: the cells' own words count for more than what somebody called the column."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trysquare.stock.habits import readings
from trysquare.stock.tables import TableRow

LOOKED_AT = 40
"""Cells of a column that are read before it is judged; common practice, no source."""
SURE = 0.8
MORE = 0.3
"""By so much more of its cells must another column name standard parts; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Telling:
    """The column that tells the parts, from 0, and why. `old_has_words`: the other one is a remark."""

    at: int
    why: str
    old_has_words: bool


def telling_column(rows: Sequence[TableRow], taken: Mapping[str, int]) -> Telling | None:
    """A column that tells the parts better than the one that was taken for their names, and why; else None.

    `taken`: the columns by what they are, from 0; what was taken for another thing is not looked at. Where a
    part is told by several columns together (a standard, a size), none of them alone is judged.
    """
    now = taken["name"]
    if "size" in taken or "standard" in taken or not _cells(rows, now):
        return None
    width = max((len(row.cells) for row in rows), default=0)
    used = set(taken.values())
    told = {at: _share_told(rows, at) for at in range(width) if at == now or at not in used}
    best = max(told, key=lambda at: (told[at], at == now, -at))
    words = _has_words(rows, now)
    if told[best] >= told[now] + MORE:
        why = f"{told[best]:.0%} of its cells name a standard part, {told[now]:.0%} where its heading points"
        return Telling(at=best, why=why, old_has_words=words)
    spoken = [] if words else [at for at in told if _has_words(rows, at)]
    if len(spoken) == 1:
        return Telling(at=spoken[0], why="the other one holds numbers alone", old_has_words=False)
    return None


def rival_column(
    rows: Sequence[TableRow], taken: Mapping[str, int], headed: Sequence[int] = ()
) -> int | None:
    """Another column that could be the parts' names as well, from 0; None where there is none.

    It names standard parts about as often as the one that was taken, or is `headed` by a word for names (from
    0) and holds words that differ from it. `taken` as for `telling_column`.
    """
    now, used = taken["name"], set(taken.values())
    width = max((len(row.cells) for row in rows), default=0)
    mine = _share_told(rows, now)
    found: list[tuple[float, int]] = []
    for at in range(width):
        if at in used or not _has_words(rows, at) or _cells(rows, at) == _cells(rows, now):
            continue
        told = _share_told(rows, at)
        if at in headed or (told >= MORE and told >= mine - MORE):
            found.append((told, -at))
    return -max(found)[1] if found else None


def _cells(rows: Sequence[TableRow], at: int) -> list[str]:
    cells = (str(row.cells[at]).strip() for row in rows if at < len(row.cells) and row.cells[at] is not None)
    return [cell for cell in cells if cell][:LOOKED_AT]


def _share_told(rows: Sequence[TableRow], at: int) -> float:
    cells = _cells(rows, at)
    told = sum(any(one.confidence >= SURE for one in readings(cell)) for cell in cells)
    return told / len(cells) if cells else 0.0


def _has_words(rows: Sequence[TableRow], at: int) -> bool:
    """Whether most of a column's cells hold a word, not numbers alone."""
    cells = _cells(rows, at)
    return 2 * sum(bool(re.search(r"[^\W\d_]{2}|[^\W\d_][0-9]", cell)) for cell in cells) > len(cells)
