"""Sorting one piece in the hand: a question at a time until it has its letter."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from trysquare.bench.key_walk import Standing, standing
from trysquare.bench.now import Now
from trysquare.bench.show_parts import sort_rows
from trysquare.bench.views import Drawn
from trysquare.bench.views_lists import KeyRow, KeySection, SortRow
from trysquare.bench.views_sort import Choice, Said, SortView

FORMS = "/sort"
MOST_PICTURES = 3
MOST_LETTERS = 6
MOST_ANSWERS = 60
_ANSWERS = re.compile(r"[0-9]{1,3}(?:-[0-9]{1,3})*", re.ASCII)
_NOTHING = SortView(
    form="", said=(), ask="", how="", choices=(), piles=(), odd=False, odd_href="", back="/parts",
    again=FORMS, ready=False,
)  # fmt: skip


def sort_href(form: int, answers: Sequence[int] = (), *, odd: bool = False) -> str:
    """The page of a form's key after these answers."""
    asked = [f"at={'-'.join(map(str, answers))}"] if answers else []
    asked += ["odd=1"] if odd else []
    return f"{FORMS}/{form}" + (f"?{'&'.join(asked)}" if asked else "")


def forms_view(now: Now) -> SortView:
    """Which form of part is it."""
    steps = now.shown.steps
    if steps is None:
        return _NOTHING
    by_letter = _by_letter(now)
    return SortView(
        form="", said=(), ask="What is it?", how="", piles=(), odd=False, odd_href="", back="/parts",
        again=FORMS,
        choices=tuple(
            _choice(number, section.form, sort_href(number), section.rows, by_letter)
            for number, section in enumerate(steps.sections, start=1)
        ),
    )  # fmt: skip


def sort_view(now: Now, form: int, at: str, *, odd: bool) -> SortView | None:
    """One question of a form's key, or the pile. `at`: the answers given, as "0-2-1".

    None for a form or an answer that the key does not have.
    """
    steps = now.shown.steps
    if steps is None:
        return _NOTHING
    answers = read_answers(at)
    if not 1 <= form <= len(steps.sections) or answers is None:
        return None
    section = steps.sections[form - 1]
    here = standing(section.rows, answers)
    return None if here is None else _view(now, section, form, answers, here, odd=odd)


def read_answers(text: str) -> tuple[int, ...] | None:
    """The answers in an address; None for what is none."""
    if not text:
        return ()
    if len(text) > 4 * MOST_ANSWERS or not _ANSWERS.fullmatch(text):
        return None
    return tuple(map(int, text.split("-")))


def _view(
    now: Now, section: KeySection, form: int, answers: Sequence[int], here: Standing, *, odd: bool
) -> SortView:
    by_letter = _by_letter(now)
    said = [Said(ask="What is it?", answer=section.form, href=FORMS)]
    said += [
        Said(ask=ask, answer=answer, href=sort_href(form, answers[:number]))
        for number, (ask, answer) in enumerate(here.said)
    ]
    question, end = here.question, here.end
    before = sort_href(form, answers[:-1]) if answers else FORMS
    return SortView(
        form=section.form,
        said=tuple(said),
        ask=question.ask if question is not None else "",
        how=question.how if question is not None else "",
        choices=()
        if odd
        else tuple(
            _choice(number + 1, way.says, sort_href(form, (*answers, number)), way.ends, by_letter)
            for number, way in enumerate(here.ways)
        ),
        piles=() if end is None else tuple(by_letter[one[0]] for one in end.letters if one[0] in by_letter),
        odd=odd and end is None,
        odd_href="" if odd or end is not None else sort_href(form, answers, odd=True),
        back=sort_href(form, answers) if odd and end is None else before,
        again=sort_href(form) if answers else FORMS,
    )


def _by_letter(now: Now) -> dict[str, SortRow]:
    return {row.letter: row for row in sort_rows(now).values() if row.letter}


def _choice(
    number: int, says: str, href: str, rows: Iterable[KeyRow], by_letter: dict[str, SortRow]
) -> Choice:
    ends = [row for row in rows if row.row == "end"]
    letters = [letter for row in ends for letter, _, _ in row.letters]
    drawn: list[tuple[str, Drawn]] = []
    for letter in letters:
        row = by_letter.get(letter)
        if row is not None and row.sketch is not None and len(drawn) < MOST_PICTURES:
            drawn.append((letter, row.sketch))
    return Choice(
        number=number,
        says=says[:1].upper() + says[1:],
        href=href,
        leads_to=_leads_to(letters),
        pieces=sum(row.pieces for row in ends),
        pictures=tuple(drawn),
        more=len(letters) - len(drawn) if drawn else 0,
    )


def _leads_to(letters: Sequence[str]) -> str:
    if len(letters) > MOST_LETTERS:
        return f"{len(letters)} sorts"
    return " or ".join((*([", ".join(letters[:-1])] if letters[1:] else []), *letters[-1:]))
