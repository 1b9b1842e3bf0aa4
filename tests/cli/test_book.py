"""`trysquare book`: what it writes, what it says, and that nothing odd breaks a book."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line import Run
from odd_frames import ODD_NAME, ODD_TITLE, with_a_giant, with_odd_words, with_words_only
from publish.machines import named
from publish.paper import opened, text_of
from trysquare.publish.typst_page import plain


@pytest.mark.slow
def test_a_book_is_written_and_told(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "new" / "frame.pdf"
    answer = run("book", folder, "--out", out)
    assert answer.status == 0
    pages = len(opened(out.read_bytes()).pages)
    assert f"frame.pdf: {pages} pages, 5 steps, 5 pictures" in " ".join(answer.out.split())


@pytest.mark.slow
def test_a_book_has_the_same_bytes_with_kept_pictures_and_without(
    folder: Path, tmp_path: Path, run: Run
) -> None:
    books = []
    for name, more in (("a", ()), ("b", ()), ("c", ("--no-cache",))):
        assert run("book", folder, "--out", tmp_path / f"{name}.pdf", *more).status == 0
        books.append((tmp_path / f"{name}.pdf").read_bytes())
    assert books[0] == books[1] == books[2]


@pytest.mark.slow
def test_a_book_without_cache_leaves_nothing_beside_the_machine(
    folder: Path, tmp_path: Path, run: Run
) -> None:
    assert run("book", folder, "--no-cache", "--no-pictures", "--out", tmp_path / "x.pdf").status == 0
    assert not (folder / ".trysquare-cache").exists()


@pytest.mark.slow
def test_the_facts_are_those_of_the_text(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "x.pdf"
    facts = run("book", folder, "--page-size", "letter", "--no-pictures", "--out", out, "--json").json
    assert (facts["page_size"], facts["steps"], facts["pictures"], facts["fonts"]) == ("letter", 5, 0, "ours")
    pages = opened(out.read_bytes()).pages
    assert facts["pages"] == len(pages)
    assert [float(value) for value in pages[0].mediabox] == pytest.approx([0, 0, 612, 792], abs=0.01)


def test_only_a4_and_letter_are_page_sizes(folder: Path, tmp_path: Path, run: Run) -> None:
    answer = run("book", folder, "--page-size", "a5", "--out", tmp_path / "x.pdf")
    assert answer.status == 2
    assert "a4" in answer.err
    assert "letter" in answer.err


def test_a_folder_or_another_file_is_never_written_over(folder: Path, tmp_path: Path, run: Run) -> None:
    (tmp_path / "notes.pdf").write_text("my notes", encoding="utf-8")
    assert "is no PDF" in " ".join(run("book", folder, "--out", tmp_path / "notes.pdf").err.split())
    assert "is a folder" in " ".join(run("book", folder, "--out", tmp_path).err.split())
    assert (tmp_path / "notes.pdf").read_text(encoding="utf-8") == "my notes"


def test_a_spoilt_folder_is_told_and_nothing_is_written(folder: Path, tmp_path: Path, run: Run) -> None:
    (folder / "steps.toml").write_text("[[step", encoding="utf-8")
    answer = run("book", folder, "--out", tmp_path / "x.pdf", "--json")
    assert answer.status == 2
    assert answer.json["problems"][0]["file"] == "steps.toml"
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.slow
def test_a_step_of_words_has_its_page_and_is_told(tmp_path: Path, run: Run) -> None:
    answer = run("book", with_words_only(tmp_path / "frame"), "--out", tmp_path / "x.pdf")
    assert answer.status == 0
    assert "nothing to draw in words" in answer.out
    assert "The bench is clean." in text_of((tmp_path / "x.pdf").read_bytes())


@pytest.mark.slow
def test_markup_in_titles_and_names_is_printed_as_it_stands(tmp_path: Path, run: Run) -> None:
    folder, out = with_odd_words(tmp_path / "frame #1 ü"), tmp_path / "Buch ü #1.pdf"
    assert run("book", folder, "--no-pictures", "--out", out).status == 0
    text = text_of(out.read_bytes()).replace(" ", "").replace("\u200b", "")
    for words in ('#<b>x</b>*y*#panic("z")$a/0$</svg><script>alert(1)</script>]]>&amp;', "*F*<i>#x</i>&"):
        assert words in text
    document = opened(out.read_bytes())
    assert "/JavaScript" not in document.Root.get("/Names", {})
    with document.open_outline() as outline:
        steps = next(item for item in outline.root if item.title == "Steps")
        assert plain(ODD_TITLE).replace(" ", "") in "".join(step.title for step in steps.children).replace(
            " ", ""
        ).replace("\u200b", "")
    with document.open_metadata() as metadata:
        assert metadata["dc:title"] == f"{plain(ODD_NAME)}: build book"


@pytest.mark.slow
def test_a_part_a_thousand_times_as_large_makes_no_broken_book(tmp_path: Path, run: Run) -> None:
    out = tmp_path / "x.pdf"
    assert run("book", with_a_giant(tmp_path / "frame"), "--out", out).status == 0
    assert "40000" in text_of(out.read_bytes()).replace("\u00a0", " ")


def test_a_bare_list_with_odd_names_is_a_book_too(tmp_path: Path, run: Run) -> None:
    named(tmp_path / "list", ["#panic()", "<b>", "מסילה", "*x*"])
    answer = run("book", tmp_path / "list", "--out", tmp_path / "x.pdf")
    assert answer.status == 0
    assert "no order yet" in text_of((tmp_path / "x.pdf").read_bytes())


def test_an_option_is_never_taken_for_a_file_s_name_and_a_book_is_a_pdf(run: Run, tmp_path: Path) -> None:
    larch = Path(__file__).resolve().parents[2] / "demo" / "larch"
    answer = run("book", larch, "--out", "--no-pictures")
    assert answer.status == 2
    assert "read '--no-pictures', which is an option itself; expected FILE" in " ".join(answer.err.split())
    answer = run("book", larch, "--out", tmp_path / "book.txt")
    assert answer.status == 2
    assert "Name it book.pdf." in " ".join(answer.err.split())
    assert not list(tmp_path.iterdir())
