"""What holds of every paper of ours: fonts, title, language, numbers, the same bytes, no markup in names."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from publish.machines import named
from publish.paper import fonts_of, opened, text_of
from trysquare.catalogue.label_sheets import label_sheet
from trysquare.machine.values import Machine
from trysquare.publish.fastener_sheet import fastener_sheet_pdf
from trysquare.publish.labels import labels_of, labels_pdf
from trysquare.publish.sorting_sheet import sorting_sheet_pdf
from trysquare.publish.sorts import Labelled, labelled_sorts
from trysquare.publish.typst_page import LONGEST_WORD, Fonts, breakable, plain

MARKUP = (
    '#panic("no")', '#read("/etc/passwd")', "*strong* _light_", "$x^2/0$", "`raw`", "<mark> @mark",
    "= Heading", "// gone", "/* gone */", r"back\slash \u{41}", '#import "page.typ": *', "]]] #[", "'quoted'",
    "https://example.invalid/#x", "a -- b --- c ... ~",
)  # fmt: skip


@pytest.fixture
def papers(labels: bytes, fasteners: dict[str, bytes], sorting: bytes) -> dict[str, bytes]:
    return {"labels": labels, **fasteners, "sorting": sorting}


def test_every_font_is_in_the_file(papers: dict[str, bytes]) -> None:
    for pdf in papers.values():
        fonts = fonts_of(pdf)
        assert fonts
        assert all(fonts.values()), fonts


def test_the_sans_is_ours_and_not_the_computers(papers: dict[str, bytes]) -> None:
    for pdf in papers.values():
        assert any("SourceSans3" in name for name in fonts_of(pdf))


def test_every_paper_has_title_language_tags_and_no_date(papers: dict[str, bytes]) -> None:
    for pdf in papers.values():
        document = opened(pdf)
        assert str(document.docinfo.Title).startswith("Tray: ")
        assert str(document.Root.Lang) == "en"
        assert document.Root.MarkInfo.Marked
        assert "/CreationDate" not in document.docinfo
        with document.open_metadata() as metadata:
            assert metadata["{http://www.aiim.org/pdfua/ns/id/}part"] == "1"


def test_pages_are_numbered(papers: dict[str, bytes]) -> None:
    for pdf in papers.values():
        count = len(opened(pdf).pages)
        assert f"{count} / {count}" in text_of(pdf)


def test_papers_have_the_size_asked_for(fasteners: dict[str, bytes]) -> None:
    for paper, (width, height) in {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}.items():
        document = opened(fasteners[paper])
        box = [float(value) for value in document.pages[0].mediabox]
        assert box == pytest.approx([0, 0, width, height], abs=0.01)


def test_the_same_machine_gives_the_same_bytes(
    machine: Machine, labels: bytes, fasteners: dict[str, bytes], sorting: bytes
) -> None:
    sorts = labelled_sorts(machine)
    assert labels_pdf(machine, labels_of(sorts), label_sheet("a4-cut")).pdf == labels
    assert fastener_sheet_pdf(machine, sorts, "letter").pdf == fasteners["letter"]
    assert sorting_sheet_pdf(machine, "a4").pdf == sorting


def test_every_letter_stands_on_labels_and_sorting_sheet(
    sorts: tuple[Labelled, ...], labels: bytes, sorting: bytes
) -> None:
    for pdf in (labels, sorting):
        words = text_of(pdf).split()
        assert [sort.letter for sort in sorts if sort.letter not in words] == []


def test_a_name_is_printed_as_it_stands_and_never_obeyed(tmp_path: Path) -> None:
    machine = named(tmp_path / "odd", list(MARKUP))
    sorts = labelled_sorts(machine)
    for pages in (
        labels_pdf(machine, labels_of(sorts), label_sheet("a4-2x4")),
        sorting_sheet_pdf(machine, "letter"),
    ):
        text = text_of(pages.pdf).replace("\u200b", "")
        for name in MARKUP:
            assert name.replace(" ", "") in text.replace(" ", "").replace("\x02", "-"), name


def test_names_from_right_to_left_are_set_with_our_own_fonts(tmp_path: Path) -> None:
    machine = named(tmp_path / "odd", ["قضيب طويل 380", "לוח בסיס 12"])
    pages = labels_pdf(machine, labels_of(labelled_sorts(machine)), label_sheet("letter-cut"))
    assert pages.fonts is Fonts.OURS
    assert all(fonts_of(pages.pdf).values())
    assert "380" in text_of(pages.pdf)


def test_a_sign_without_any_font_is_said_and_stops_nothing(tmp_path: Path) -> None:
    machine = named(tmp_path / "odd", ["tablet \U0001230a"])
    pages = labels_pdf(machine, labels_of(labelled_sorts(machine)), label_sheet("a4-cut"))
    assert pages.fonts in (Fonts.COMPUTERS, Fonts.LACKING)
    assert "tablet" in text_of(pages.pdf)


def test_signs_that_turn_or_break_their_surroundings_are_taken_out() -> None:
    assert plain("rail \u202epots\u202c\r\n\tstop\x00\x1b[31m") == "rail pots stop [31m"
    assert plain("می\u200cروم") == "می\u200cروم"  # the joiner belongs to the word
    assert plain("\ud800") == "\ufffd"


@given(st.text(max_size=80))
def test_whatever_comes_is_one_printable_line(text: str) -> None:
    line = plain(text)
    assert "\n" not in line
    assert plain(line) == line


@given(st.text(alphabet="abc -", max_size=200))
def test_places_to_break_change_no_letter(text: str) -> None:
    broken = breakable(text)
    assert broken.replace("\u200b", "") == text
    assert all(len(word) <= 1.5 * LONGEST_WORD for word in broken.replace("\u200b", " ").split())


@pytest.mark.slow
@settings(max_examples=15)
@given(name=st.text(min_size=1, max_size=60), part=st.text(min_size=1, max_size=30))
def test_no_text_whatever_stops_the_press(machine: Machine, name: str, part: str) -> None:
    from dataclasses import replace

    (sort, *_) = labelled_sorts(machine)
    odd = replace(sort, name=name, part=part, also_called=(name,))
    assert labels_pdf(machine, labels_of([odd]), label_sheet("a4-5x13")).count == 1
