"""What the pages of sorting show: forms to choose from, one question at a time, and the pile at the end."""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.bench.views import Drawn
from trysquare.bench.views_lists import SortRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One thing to choose. `number`: its key on the keyboard; `leads_to`: "C, D or E"; `pictures`: some of
    what it leads to, as (letter, drawing); `more`: how many further ones are not drawn."""

    number: int
    says: str
    href: str
    leads_to: str
    pieces: int
    pictures: tuple[tuple[str, Drawn], ...] = ()
    more: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A question that was answered. `href`: back to before it."""

    ask: str
    answer: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SortView:
    """`/sort` (choices are forms) and `/sort/<form>?at=0-2`: one question with its choices, or the pile.

    `ask` and `how` of the question; `piles`: the sorts at the end, several where no look tells them apart;
    `odd`: none of the answers fitted; `back`, `again`: one question back, and the first question.
    """

    form: str
    said: tuple[Said, ...]
    ask: str
    how: str
    choices: tuple[Choice, ...]
    piles: tuple[SortRow, ...]
    odd: bool
    odd_href: str
    back: str
    again: str
    ready: bool = True
