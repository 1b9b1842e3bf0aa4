"""A piece in the hand: one question at a time, from the form to its letter, and counted there."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from bench.asking import Browser, event
from trysquare.bench.bench import Bench
from trysquare.bench.key_walk import Standing, standing
from trysquare.bench.show_sort import read_answers
from trysquare.bench.views_lists import KeyRow

ROWS = (
    KeyRow(row="question", depth=0, ask="How long is it?"),
    KeyRow(row="answer", depth=0, answer="20 mm"),
    KeyRow(row="question", depth=1, ask="How many holes?"),
    KeyRow(
        row="end", depth=1, answer="2 holes", pile="A", letters=(("A", "short bar", "/part/a"),), pieces=3
    ),
    KeyRow(
        row="end", depth=1, answer="3 holes", pile="B", letters=(("B", "other bar", "/part/b"),), pieces=1
    ),
    KeyRow(row="end", depth=0, answer="90 mm", pile="C", letters=(("C", "long bar", "/part/c"),), pieces=2),
)


def test_answers_lead_from_question_to_question_to_the_pile() -> None:
    first = standing(ROWS, ())
    assert first is not None
    assert first.question is not None
    assert [(way.says, [end.pile for end in way.ends]) for way in first.ways] == [
        ("20 mm", ["A", "B"]),
        ("90 mm", ["C"]),
    ]
    second = standing(ROWS, (0,))
    assert second is not None
    assert second.question is not None
    assert (second.question.ask, second.said) == ("How many holes?", (("How long is it?", "20 mm"),))
    pile = standing(ROWS, (0, 1))
    assert pile is not None
    assert pile.end is not None
    assert pile.end.pile == "B"
    assert pile.said[-1] == ("How many holes?", "3 holes")


@pytest.mark.parametrize("answers", [(2,), (0, 2), (1, 0), (0, 0, 0)])
def test_an_answer_that_the_key_does_not_have_leads_nowhere(answers: tuple[int, ...]) -> None:
    assert standing(ROWS, answers) is None


def test_a_single_sort_of_its_form_is_known_without_a_question() -> None:
    found = standing(ROWS[-1:], ())
    assert found == Standing(said=(), end=ROWS[-1])
    assert standing((), ()) is None


@pytest.mark.parametrize(
    ("text", "answers"),
    [("", ()), ("0", (0,)), ("0-12-3", (0, 12, 3)), ("-", None), ("0-", None), ("x", None), ("1" * 400, None),
     ("٣", None)],
)  # fmt: skip
def test_answers_are_read_from_the_address(text: str, answers: tuple[int, ...] | None) -> None:
    assert read_answers(text) == answers


def pages(browser: Browser, path: str) -> Iterator[str]:
    """Every page of the key from here on."""
    text = browser.get(path).text
    yield text
    for onward in re.findall(r'class="button sort-choice" href="(/sort/[^"]+)"', text):
        yield from pages(browser, onward.replace("&amp;", "&"))


def test_every_sort_of_the_sheet_is_the_end_of_some_row_of_answers(reader: Browser) -> None:
    sheet = set(
        re.findall(r'<a class="letter" href="[^"]*" title="[^"]*">([^<]+)</a>', reader.get("/parts").text)
    )
    named: set[str] = set()
    questions = 0
    for page in pages(reader, "/sort"):
        named |= set(re.findall(r'data-live="sort-([^"]+)"', page))
        questions += "None of these" in page
    assert sheet
    assert named == sheet
    assert questions > 1


def test_the_piece_is_counted_where_it_has_got_its_letter(reed: tuple[Bench, Browser]) -> None:
    _, browser = reed
    end, (path, page) = first_end(browser)
    assert "1 of" in page
    assert 'data-had="0"' in page
    browser.say(event("counted", sort=end, count=3))
    after = browser.get(path).text
    assert 'data-had="3"' in after
    assert "4 of" in after
    assert "3 counted" in after
    browser.say(event("counted-more", sort=end, count=1))
    assert "4 counted" in browser.get(path).text


def first_end(browser: Browser) -> tuple[str, tuple[str, str]]:
    """The first sort that answers lead to: its ref, and the page's address and text."""
    path = "/sort"
    while True:
        text = browser.get(path).text
        found = re.search(r'data-sort="([^"]+)" data-need', text)
        if found is not None:
            return found[1], (path, text)
        onward = re.search(r'class="button sort-choice" href="(/sort/[^"]+)"', text)
        assert onward is not None
        path = onward[1].replace("&amp;", "&")


def test_a_piece_that_no_answer_fits_is_laid_aside_with_a_way_back(reader: Browser) -> None:
    forms = re.findall(r'class="button sort-choice" href="(/sort/[^"]+)"', reader.get("/sort").text)
    path = next(form for form in forms if "None of these" in reader.get(form).text)
    text = reader.get(path).text
    odd = re.search(r'sort-odd" href="([^"]+)"', text)
    assert odd is not None
    answer = reader.get(odd[1].replace("&amp;", "&"))
    assert answer.status_code == 200
    assert "Lay it aside" in answer.text
    assert f'href="{path}" data-key="back"' in answer.text


@pytest.mark.parametrize(
    "path", ["/sort/0", "/sort/999", "/sort/x", "/sort/1?at=999", "/sort/1?at=x", "/sort/²"]
)
def test_a_question_that_the_key_does_not_have_is_said_so(reader: Browser, path: str) -> None:
    assert reader.get(path).status_code == 404


def test_every_letter_of_the_sorting_key_leads_to_its_part(reader: Browser) -> None:
    links = re.findall(r'<a class="letter" href="([^"]+)"', reader.get("/parts").text)
    assert links
    for link in links:
        assert reader.get(link).status_code == 200, link
