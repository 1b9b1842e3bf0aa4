"""Unsure parts of an import, answered at the bench."""

import re
from pathlib import Path
from urllib.parse import urlencode

import numpy as np
import pytest

from bench.asking import joined, stranger
from trysquare.bench.show_import import sure_in_words
from trysquare.cli.cache import folder_digest, watched_files
from trysquare.ground.errors import ReadingError
from trysquare.intake.rulings import OWN, Ruling
from trysquare.intake.taken_in import Question
from trysquare.record.rulings_kept import (
    ASKS,
    BEFORE,
    Asked,
    KeptMesh,
    keep,
    keep_asked,
    read_asked,
    read_kept,
)

SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><path d="M0 0h9v9z"/></svg>'
SCREW = Question(
    shape=0, digest="aa11", about="designation", called="Part <7>", pieces=4,
    choices=("ISO 4762 M3x8", "ISO 7380-1 M3x8", OWN), confidence=0.63,
    evidence=("six-sided recess 2.5 across flats", "against it: its head is low"),
)  # fmt: skip
PRINT = Question(
    shape=1, digest="bb22", about="printed", called="clip", pieces=1, choices=("printed", "bought"),
    confidence=0.5, evidence=("its name says so",),
)  # fmt: skip


@pytest.fixture
def asked(reed, reed_folder: Path):
    keep_asked(reed_folder, Asked(source="reed.step", questions=(SCREW, PRINT), pictures={"aa11": SVG}))
    return reed[0], reed[1], reed_folder


def answer(browser, part: Question, says: str, token: str | None = None):
    fields = {"token": browser.token if token is None else token, "about": part.about, "part": part.digest}
    return browser.ask(
        "POST", "/unsure", body=urlencode({**fields, "answer": says}).encode(),
        headers={"origin": browser.base, "content-type": "application/x-www-form-urlencoded"},
    )  # fmt: skip


def test_the_page_asks_with_picture_confidence_evidence_and_what_else_it_may_be(asked) -> None:
    _, browser, _ = asked
    text = browser.get("/unsure").text
    assert "2 parts of reed.step could not be told for sure" in text
    assert "Part &lt;7&gt;" in text
    assert "Likely (63 %)" in text
    assert "Six-sided recess" in text
    assert "Against it: its head is low" in text
    assert 'value="ISO 7380-1 M3x8"' in text
    assert 'src="/unsure/aa11.svg"' in text
    assert "bb22.svg" not in text
    assert browser.get("/unsure/aa11.svg").text == SVG
    assert browser.get("/unsure/cc33.svg").status_code == 404


def test_a_part_is_drawn_from_its_mesh_when_somebody_looks(asked) -> None:
    _, browser, folder = asked
    points = np.array([[0.0, 0, 0], [9, 0, 0], [0, 9, 0], [0, 0, 9]])
    mesh = KeptMesh.of(points, np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]))
    lie = KeptMesh.of(points, np.array([[0, 2, 7]]))
    keep_asked(
        folder, Asked(source="reed.step", questions=(SCREW, PRINT), meshes={"aa11": mesh, "bb22": lie})
    )
    assert 'src="/unsure/aa11.svg"' in browser.get("/unsure").text
    assert browser.get("/unsure/aa11.svg").text.startswith("<svg")
    assert browser.get("/unsure/bb22.svg").status_code == 404


def test_a_mesh_comes_back_as_it_was_kept(tmp_path: Path) -> None:
    points, triangles = np.array([[0.1, 1e-9, -7], [9, 0, 1e6], [0, 9, 0]]), np.array([[0, 2, 1]])
    keep_asked(tmp_path, Asked(questions=(SCREW,), meshes={"aa11": KeptMesh.of(points, triangles)}))
    back = read_asked(tmp_path).meshes["aa11"].arrays()
    assert np.array_equal(back[0], points)
    assert np.array_equal(back[1], triangles)


def test_the_overview_counts_what_is_open_and_leads_there(asked) -> None:
    _, browser, folder = asked
    assert re.search(r'href="/unsure"><b>2</b><span>unsure parts', browser.get("/").text)
    opened = browser.get("/open").text
    assert re.search(r'Unsure parts of the import <span class="aside">2</span>', opened)
    assert 'href="/unsure"' in opened
    answer(browser, SCREW, SCREW.choices[0])
    answer(browser, PRINT, "bought")
    assert "/unsure" not in browser.get("/").text
    assert "/unsure" not in browser.get("/open").text
    assert "Every unsure part of reed.step is answered" in browser.get("/unsure").text
    assert read_kept(folder).rulings["bb22"].printed is False


def test_where_nothing_was_imported_nothing_is_shown(reed) -> None:
    browser = reed[1]
    assert "/unsure" not in browser.get("/").text
    assert "Nothing is asked here" in browser.get("/unsure").text


def test_an_answer_stands_in_the_file_that_the_terminal_writes_and_the_text_before_is_kept(asked) -> None:
    _, browser, folder = asked
    keep(folder, read_kept(folder).with_rulings([Ruling(shape="cc33", says="ISO 4032 M3")]))
    before = (folder / "imports.toml").read_bytes()
    assert answer(browser, SCREW, "ISO 7380-1 M3x8").status_code == 303
    rulings = read_kept(folder).rulings
    assert rulings["aa11"] == Ruling(shape="aa11", says="ISO 7380-1 M3x8", called="Part <7>")
    assert rulings["cc33"].says == "ISO 4032 M3"
    assert (folder / BEFORE).read_bytes() == before


def test_what_is_not_sure_yet_stays_open_and_an_answer_can_be_taken_back(asked) -> None:
    _, browser, folder = asked
    later = answer(browser, SCREW, "later")
    assert later.headers["location"] == "/unsure?later=designation+aa11"
    text = browser.get(later.headers["location"]).text
    assert text.index("Is it printed?") < text.index("Is it ISO 4762 M3x8?")
    assert not (folder / "imports.toml").exists()
    answer(browser, SCREW, OWN)
    assert "a part of its own" in browser.get("/unsure").text
    answer(browser, SCREW, "again")
    assert not read_kept(folder).rulings


def test_both_questions_of_one_shape_are_kept_side_by_side(asked) -> None:
    _, browser, folder = asked
    both = Question(**{name: getattr(PRINT, name) for name in PRINT.__slots__} | {"digest": "aa11"})
    keep_asked(folder, Asked(source="reed.step", questions=(SCREW, both), pictures={}))
    answer(browser, SCREW, OWN)
    answer(browser, both, "printed")
    assert read_kept(folder).rulings["aa11"] == Ruling(
        shape="aa11", says=OWN, printed=True, called="Part <7>"
    )
    answer(browser, SCREW, "again")
    assert read_kept(folder).rulings["aa11"].printed is True


def test_an_answer_makes_no_other_machine_that_would_be_read_anew(asked) -> None:
    _, browser, folder = asked
    before = folder_digest(folder)
    answer(browser, SCREW, OWN)
    assert folder / "imports.toml" in watched_files(folder)
    assert folder_digest(folder) == before


@pytest.mark.parametrize("token", ["", "0" * 64, "ü"])
def test_an_answer_without_the_page_s_token_is_refused(asked, token: str) -> None:
    _, browser, folder = asked
    _ = browser.token
    assert answer(browser, SCREW, SCREW.choices[0], token).status_code == 403
    assert not (folder / "imports.toml").exists()


def test_who_has_not_joined_may_not_answer_and_who_has_may(asked) -> None:
    bench, browser, folder = asked
    assert answer(stranger(browser), SCREW, OWN, "").status_code in (401, 403)
    assert answer(joined(bench, browser), SCREW, OWN).status_code == 303
    assert read_kept(folder).rulings["aa11"].says == OWN


def test_an_answer_that_was_not_offered_changes_nothing(asked) -> None:
    _, browser, folder = asked
    assert answer(browser, SCREW, "ISO 4762 M99x8").status_code == 400
    other = Question(**{name: getattr(SCREW, name) for name in SCREW.__slots__} | {"digest": "x"})
    assert answer(browser, other, OWN).status_code == 404
    assert not (folder / "imports.toml").exists()


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{", '{"version": 9}', '{"version": 1, "source": "a", "questions": [{}], "pictures": {}}'],
)
def test_questions_that_cannot_be_read_are_told_and_no_page_breaks(asked, text: str) -> None:
    _, browser, folder = asked
    (folder / ASKS).write_text(text)
    with pytest.raises(ReadingError):
        read_asked(folder)
    page = browser.get("/unsure")
    assert page.status_code == 200
    assert "import again" in page.text
    assert browser.get("/").status_code == 200


def test_answers_that_cannot_be_read_are_not_written_over(asked) -> None:
    _, browser, folder = asked
    (folder / "imports.toml").write_text("[[ruling\n")
    assert answer(browser, SCREW, OWN).status_code == 400
    assert (folder / "imports.toml").read_text() == "[[ruling\n"


@pytest.mark.parametrize(
    ("confidence", "says"),
    [(0.85, "Nearly sure (85 %)"), (0.6, "Likely (60 %)"), (0.5, "As likely as not (50 %)"),
     (0.1, "A guess (10 %)")],
)  # fmt: skip
def test_confidence_is_said_in_words(confidence: float, says: str) -> None:
    assert sure_in_words(confidence) == says
