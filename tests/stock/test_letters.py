"""Letters that stay with their parts."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.ground.errors import ReadingError
from trysquare.stock.letters import (
    FILE_NAME,
    KeptLetter,
    give_letters,
    kept_after,
    letters,
    letters_text,
    read_letters,
)


def kept(**parts: str) -> tuple[KeptLetter, ...]:
    return tuple(KeptLetter(letter=letter, parts=tuple(names.split())) for letter, names in parts.items())


def test_letters_go_on_with_two_after_the_alphabet_and_leave_out_those_that_read_as_figures() -> None:
    first = list(islice(letters(), 24 + 24 * 24 + 1))
    assert first[:9] == list("ABCDEFGHJ")
    assert first[24:26] == ["AA", "AB"]
    assert first[-1] == "AAA"
    assert not {*"".join(first)} & {*"IO"}


def test_a_kept_letter_stays_when_a_part_comes_before_it() -> None:
    assert give_letters([("new",), ("beam",), ("post",)], kept(A="beam", B="post")) == ("C", "A", "B")


def test_a_letter_follows_its_part_to_another_name() -> None:
    assert give_letters([("guide",)], kept(A="rail"), {"guide": ["rail"]}) == ("A",)
    renamed = (KeptLetter(letter="B", parts=("rail",), also_called=("guide",)),)
    assert give_letters([("guide",)], renamed) == ("B",)


def test_the_letter_of_a_part_that_is_gone_is_given_to_no_other_and_comes_back_with_it() -> None:
    before = kept(A="beam", B="post")
    given = [KeptLetter(letter="A", parts=("beam",))]
    after = kept_after(given, before)
    assert give_letters([("beam",), ("plate",)], after) == ("A", "C")
    assert give_letters([("beam",), ("plate",), ("post",)], after) == ("A", "C", "B")


def test_two_sorts_that_become_one_piece_take_the_first_letter_and_part_again_with_both() -> None:
    before = kept(A="left", B="right")
    assert give_letters([("left", "right")], before) == ("A",)
    after = kept_after([KeptLetter(letter="A", parts=("left", "right"))], before)
    assert give_letters([("right",), ("left",), ("more",)], after) == ("A", "B", "C") or give_letters(
        [("left",), ("right",), ("more",)], after
    ) == ("A", "B", "C")


NAMES = st.text(min_size=1, max_size=12)


@pytest.mark.slow
@given(st.lists(st.lists(NAMES, min_size=1, max_size=3), max_size=12))
def test_what_is_kept_is_read_again_and_gives_the_same_letters(
    tmp_path_factory: pytest.TempPathFactory, groups: list[list[str]]
) -> None:
    seen: set[str] = set()
    sorts = []
    for group in groups:
        fresh = tuple(dict.fromkeys(name for name in group if name not in seen))
        seen |= {*fresh}
        if fresh:
            sorts.append(fresh)
    given_now = give_letters(sorts)
    rows = [KeptLetter(letter=letter, parts=parts) for letter, parts in zip(given_now, sorts, strict=True)]
    folder = tmp_path_factory.mktemp("kept")
    (folder / FILE_NAME).write_text(letters_text(kept_after(rows)), encoding="utf-8")
    problems: list[ReadingError] = []
    again = read_letters(folder, problems)
    assert not problems
    assert give_letters(sorts, again) == given_now
    assert give_letters(sorts[::-1], again) == given_now[::-1]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[letter.I]\nparts = ['x']", "capital letters"),
        ("[letter.A]\nparts = []", "parts = "),
        ("[letter.A]\nparts = 'x'", "parts = "),
        ("[letter.A]\nparts = ['x']\n[letter.B]\nparts = ['x']", "A has it already"),
        ("letter = 3", "a table"),
        ("[letter.A", "a closing ]"),
    ],
)
def test_a_damaged_file_is_named_with_what_to_do(tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / FILE_NAME).write_text(text, encoding="utf-8")
    problems: list[ReadingError] = []
    assert read_letters(tmp_path, problems) in ((), kept(A="x"))
    assert says in str(problems[0])
    assert problems[0].where.file == FILE_NAME
    assert problems[0].remedy
