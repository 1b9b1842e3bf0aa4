"""Walking the sorting key one question at a time: where a row of answers leads.

A key is kept as the rows of its sheet (`KeySection.rows`): a question at depth d, then for each answer either
an end at depth d, or the answer at depth d with the next question and all that follows it at d + 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.bench.views_lists import KeyRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One answer of a question. `rows`: what follows it, with the answer's own row first."""

    says: str
    rows: tuple[KeyRow, ...]

    @property
    def ends(self) -> tuple[KeyRow, ...]:
        """All piles that this answer may still lead to."""
        return tuple(row for row in self.rows if row.row == "end")


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where some answers lead. `said`: the question and the answer of each, from the first on. Either
    `question` with its `ways`, or `end`: the pile that the piece belongs to."""

    said: tuple[tuple[str, str], ...]
    question: KeyRow | None = None
    ways: tuple[Way, ...] = ()
    end: KeyRow | None = None


def standing(rows: Sequence[KeyRow], answers: Sequence[int]) -> Standing | None:
    """Where these answers, as their numbers from 0, lead; None where the key has no such answer."""
    said: list[tuple[str, str]] = []
    here = tuple(rows)
    for number in answers:
        question, ways = _ways(here)
        if question is None or not 0 <= number < len(ways):
            return None
        said.append((question.ask, ways[number].says))
        here = _after(ways[number])
    question, ways = _ways(here)
    if question is not None:
        return Standing(said=tuple(said), question=question, ways=ways)
    end = next((row for row in here if row.row == "end"), None)
    return None if end is None else Standing(said=tuple(said), end=end)


def _after(way: Way) -> tuple[KeyRow, ...]:
    """What follows an answer: the next question with all below it, or the end alone."""
    return way.rows if way.rows[0].row == "end" else way.rows[1:]


def _ways(rows: Sequence[KeyRow]) -> tuple[KeyRow | None, tuple[Way, ...]]:
    """The question that rows begin with and its answers; no question where they are an end."""
    if not rows or rows[0].row != "question":
        return None, ()
    question, groups = rows[0], list[list[KeyRow]]()
    for row in rows[1:]:
        if row.depth == question.depth and row.row in ("answer", "end"):
            groups.append([row])
        elif groups:
            groups[-1].append(row)
    return question, tuple(Way(says=group[0].answer, rows=tuple(group)) for group in groups)
