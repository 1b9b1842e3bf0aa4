"""The build book: complete, the same bytes each time, and never broken by what somebody writes."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from publish.machines import listed, named
from publish.paper import fonts_of, opened, text_of
from trysquare.machine.fields import CAUTIONS
from trysquare.machine.load import load_machine
from trysquare.publish.book import book_facts, book_pdf
from trysquare.publish.book_pictures import pictures_of
from trysquare.publish.book_tables import care, first_power
from trysquare.publish.known import Known, known_of
from trysquare.publish.tables import cautions, table
from trysquare.publish.typst_page import Fonts, Pages

DEMO = Path(__file__).resolve().parents[2] / "demo"
FINDER = ("Contents", "Before you begin", "What has to be here", "Sorting sheet", "Steps", "Slot ledger",
          "Tightening orders", "Torques", "Open points", "Care", "Parts by step")  # fmt: skip


@pytest.fixture(scope="module")
def reed() -> Known:
    return known_of(load_machine(DEMO / "reed-joints", []))


@pytest.fixture(scope="module")
def pictures(reed: Known) -> dict[str, Mapping[str, Any]]:
    return {name: one.facts() for name, one in pictures_of(reed, workers=1).items()}


@pytest.fixture(scope="module")
def book(reed: Known, pictures: dict[str, Mapping[str, Any]]) -> Pages:
    return book_pdf(reed, "a4", (), pictures)


@pytest.fixture(scope="module")
def larch() -> Known:
    return known_of(load_machine(DEMO / "larch", []))


def test_the_same_machine_gives_the_same_bytes(
    reed: Known, pictures: dict[str, Mapping[str, Any]], book: Pages
) -> None:
    assert book_pdf(reed, "a4", (), pictures).pdf == book.pdf


def test_the_book_has_all_its_chapters(book: Pages) -> None:
    text = text_of(book.pdf)
    assert [name for name in FINDER if name not in text] == []


def test_the_outline_names_every_chapter_and_step(book: Pages, reed: Known) -> None:
    document = opened(book.pdf)
    with document.open_outline() as outline:
        chapters = {item.title: [child.title for child in item.children] for item in outline.root}
    assert set(FINDER) - {"Contents"} <= set(chapters)
    assert chapters["Steps"] == [step.title for step in reed.machine.steps]


def test_fonts_are_ours_and_in_the_file_and_the_book_can_be_read_out(book: Pages) -> None:
    assert book.fonts is Fonts.OURS
    assert all(fonts_of(book.pdf).values())
    document = opened(book.pdf)
    assert document.Root.MarkInfo.Marked
    assert str(document.Root.Lang) == "en"
    with document.open_metadata() as metadata:
        assert metadata["{http://www.aiim.org/pdfua/ns/id/}part"] == "1"


def test_every_picture_has_its_words(book: Pages, pictures: dict[str, Mapping[str, Any]]) -> None:
    document = opened(book.pdf)
    said = {str(one.Alt) for one in document.objects if isinstance(one, pikepdf.Dictionary) and "/Alt" in one}
    assert {one["says"] for one in pictures.values()} <= said


def test_pages_are_numbered_and_links_lead_inside(book: Pages) -> None:
    document = opened(book.pdf)
    assert f"{book.count} / {book.count}" in text_of(book.pdf)
    links = [
        annotation
        for page in document.pages
        for annotation in page.get("/Annots", [])
        if annotation.Subtype == pikepdf.Name.Link
    ]
    assert len(links) > 50
    assert all("/URI" not in link.get("/A", {}) for link in links)


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))])
def test_books_have_the_size_asked_for(reed: Known, paper: str, size: tuple[float, float]) -> None:
    for page in opened(book_pdf(reed, paper).pdf).pages:
        assert [float(value) for value in page.mediabox] == pytest.approx([0, 0, *size], abs=0.01)


def test_every_step_says_its_parts_torques_and_readings(reed: Known) -> None:
    facts = book_facts(reed, "a4")
    for step, pick in zip(facts["steps"], reed.whole.picking.steps, strict=True):
        assert sorted(part["pieces"] for part in step["parts"]) == sorted(
            len(line.pieces) for line in pick.lines
        )
    tight = [action for step in facts["steps"] for action in step["actions"] if action["verb"] == "Tighten"]
    assert tight
    assert all("N·m" in screw["torque"] for action in tight for screw in action["screws"])
    reads = [row for step in facts["steps"] for row in step["reads"]]
    assert any("good up to" in row["verdict"] for row in reads)


def test_what_is_left_snug_names_the_step_that_goes_on(larch: Known) -> None:
    steps = book_facts(larch, "a4")["steps"]
    corners = next(step for step in steps if step["id"] == "base-corners")
    assert corners["leaves"] == [{"state": "snug", "until": corners["number"] + 1, "joints": "corners"}]


def test_every_caution_a_step_may_name_has_its_words() -> None:
    assert set(cautions()) == set(CAUTIONS)
    assert all(row["short"] and row["says"] and row["source"] for row in cautions().values())


def test_every_row_of_our_tables_has_a_source() -> None:
    for name in ("cautions", "care", "first_power"):
        assert all(row["source"] for row in table(name))


def test_mains_and_heat_are_signed_and_defer_to_local_codes(larch: Known) -> None:
    rows = [row for phase in first_power(larch.machine) for row in phase["rows"]]
    assert {row["signs"] for row in rows} >= {"mains", "heat"}
    assert "local code" in cautions()["mains"]["says"]
    assert "licensed" in cautions()["mains"]["says"]


def test_a_machine_without_wires_has_no_first_power_and_no_care_of_heat(reed: Known) -> None:
    assert first_power(reed.machine) == []
    assert not any("heater" in row["what"].casefold() for row in care(reed.machine))


def test_a_bare_list_is_a_book_without_steps(tmp_path: Path) -> None:
    pages = book_pdf(known_of(listed(tmp_path / "tray")), "a4")
    assert "no order yet" in text_of(pages.pdf)


def test_names_are_printed_as_they_stand_and_never_obeyed(tmp_path: Path) -> None:
    odd = ['#panic("no")', "*strong*", "$x^2/0$", "<mark> @mark", "]]] #[", "قضيب طويل 380", "\u202eback"]
    pages = book_pdf(known_of(named(tmp_path / "odd", odd)), "letter")
    text = text_of(pages.pdf).replace(" ", "").replace("\u200b", "")
    for name in odd[:5]:
        assert name.replace(" ", "") in text


def test_packing_lists_stand_beside_the_parts(reed: Known) -> None:
    import dataclasses

    sort = reed.sorts[0]
    known = dataclasses.replace(reed, boxes_of={sort.part: (("box 1", 1),)})
    rows = [row for group in book_facts(known, "a4")["needed"] for row in group["rows"]]
    assert any(row["boxes"] == "1 in box 1" for row in rows)
    assert any(row["short"] for row in rows)
