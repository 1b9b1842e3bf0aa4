"""The build book: complete, the same bytes each time, and never broken by what somebody writes."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from publish.machines import listed, named
from publish.paper import fonts_of, opened, text_of
from trysquare.machine.fields import CAUTIONS
from trysquare.machine.load import load_machine
from trysquare.publish.action_words import in_runs, natural
from trysquare.publish.book import book_facts, book_pdf
from trysquare.publish.book_pictures import pictures_of
from trysquare.publish.book_tables import care, first_power
from trysquare.publish.known import Known, known_of
from trysquare.publish.tables import cautions, table
from trysquare.publish.typst_page import Fonts, Pages
from trysquare.tuning.maintenance import tasks_of

pytestmark = pytest.mark.slow

DEMO = Path(__file__).resolve().parents[2] / "demo"
FINDER = ("Contents", "Before you begin", "What has to be here", "Sorting sheet", "Steps", "Slot ledger",
          "Tightening orders", "Torques", "As built", "Open points", "Care", "Parts by step")  # fmt: skip


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


@pytest.mark.slow
def test_the_same_machine_gives_the_same_bytes(
    reed: Known, pictures: dict[str, Mapping[str, Any]], book: Pages
) -> None:
    assert book_pdf(reed, "a4", (), pictures).pdf == book.pdf


@pytest.mark.slow
def test_the_book_has_all_its_chapters(book: Pages) -> None:
    text = text_of(book.pdf)
    assert [name for name in FINDER if name not in text] == []


@pytest.mark.slow
def test_the_outline_names_every_chapter_and_step(book: Pages, reed: Known) -> None:
    document = opened(book.pdf)
    with document.open_outline() as outline:
        chapters = {item.title: [child.title for child in item.children] for item in outline.root}
    assert set(FINDER) - {"Contents"} <= set(chapters)
    assert chapters["Steps"] == [f"{at} {step.title}" for at, step in enumerate(reed.machine.steps, start=1)]


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


@pytest.mark.slow
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


@pytest.mark.slow
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


@pytest.mark.slow
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
    sort = reed.sorts[0]
    known = dataclasses.replace(reed, boxes_of={sort.part: (("box 1", 1),)})
    rows = [row for group in book_facts(known, "a4")["needed"] for row in group["rows"]]
    assert any(row["boxes"] == "1 in box 1" for row in rows)
    assert any(row["short"] for row in rows)


def laid_over_each_other(pdf: bytes) -> list[tuple[int, str, str]]:
    """Pairs of words on one page of which one covers a good part of the other: (page from 1, one, other)."""
    document = pypdfium2.PdfDocument(pdf)
    found = []
    for number, page in enumerate(document, start=1):
        text = page.get_textpage()
        boxes = [text.get_rect(index) for index in range(text.count_rects())]
        for index, (left, bottom, right, top) in enumerate(boxes):
            for other in boxes[index + 1 :]:
                wide = min(right, other[2]) - max(left, other[0])
                high = min(top, other[3]) - max(bottom, other[1])
                if wide > 2 and high > 0.5 * min(top - bottom, other[3] - other[1]):
                    found.append((number, text.get_text_bounded(left, bottom, right, top).strip(),
                                  text.get_text_bounded(*other).strip()))  # fmt: skip
    document.close()
    return found


def empty_pictures(known: Known, height_mm: float) -> dict[str, Mapping[str, Any]]:
    """A picture of this height for every step, with nothing in it: only its place matters."""
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 118 100"/>'
    return {
        step.id: {"svg": svg, "width": 118.0, "height": height_mm, "says": step.title}
        for step in known.machine.steps
    }


@pytest.mark.slow
@pytest.mark.parametrize(("paper", "height_mm"), [("a4", 62.0), ("letter", 100.0)])
def test_no_words_of_the_demo_machines_book_lie_over_others(
    larch: Known, paper: str, height_mm: float
) -> None:
    pages = book_pdf(larch, paper, (), empty_pictures(larch, height_mm))
    assert laid_over_each_other(pages.pdf) == []


@pytest.mark.slow
def test_no_call_out_of_the_demo_machines_pictures_lies_over_another(larch: Known) -> None:
    pictures = {name: one.facts() for name, one in pictures_of(larch).items()}
    assert laid_over_each_other(book_pdf(larch, "a4", (), pictures).pdf) == []


@pytest.mark.slow
def test_no_words_of_a_small_book_lie_over_others(book: Pages) -> None:
    assert laid_over_each_other(book.pdf) == []


def test_every_page_with_steps_names_them_in_its_foot(book: Pages, reed: Known) -> None:
    text = text_of(book.pdf)
    shown = {
        number
        for first, last in re.findall(r"· build book · steps? (\d+)(?: to (\d+))?", text)
        for number in range(int(first), int(last or first) + 1)
    }
    assert shown == set(reed.number_of.values())


@pytest.mark.slow
def test_a_step_that_lays_cables_lists_them_from_end_to_end(larch: Known) -> None:
    steps = {step["id"]: step for step in book_facts(larch, "a4")["steps"]}
    earth = steps["wire-earth"]["wires"]
    assert [row["label"] for row in earth] == [f"PE {number}" for number in range(1, 28)]
    assert all(row["from"] and row["to"] and int(row["length"]) > 0 for row in earth)
    laid = [action["names"] for action in steps["wire-earth"]["actions"] if action["verb"] == "Lay"]
    assert laid[0] == "PE 1 to PE 3, PE 26"
    assert steps["base-nuts"]["wires"] == []


def test_members_are_looked_at_by_their_sorts_and_not_by_their_joints(larch: Known) -> None:
    step = next(step for step in book_facts(larch, "a4")["steps"] if step["id"] == "unpack")
    look = next(action for action in step["actions"] if action["verb"] == "Look")
    assert look["before"] == "at"
    assert "4 × Beam 380, plain (C)" in look["names"]
    assert "joint" not in look["names"]


def test_the_earth_check_reads_every_tag_of_the_demo_machine(larch: Known) -> None:
    tags = {part.id for part in larch.machine.placed if part.type.id == "earth-tag"}
    of = next(one.of for one in larch.machine.characteristics if one.id == "earth-path")
    action = larch.events_of["earth-check"][0].action
    assert {*action.parts, *action.joints} >= tags
    assert set(of) == tags


def test_what_the_packing_lists_leave_short_is_an_open_point(reed: Known) -> None:
    sort = reed.sorts[1]
    known = dataclasses.replace(reed, boxes_of={sort.part: (("box 1", 0),)})
    short = book_facts(known, "a4")["open"]["short"]
    assert sort.letter in {row["letter"] for row in short}
    assert book_facts(reed, "a4")["open"]["short"] == []


def test_a_rule_is_off_by_millimetres_and_a_kitchen_scale_by_grams(reed: Known, larch: Known) -> None:
    rule = next(row for row in book_facts(reed, "a4")["instruments"] if row["name"] == "rule")
    scale = next(row for row in book_facts(larch, "a4")["instruments"] if row["name"] == "scale")
    assert (rule["half_width"], scale["half_width"]) == ("± 0.3 mm", "± 2 g")


def test_a_machine_that_is_never_hot_has_no_care_by_heat_cycles(reed: Known, larch: Known) -> None:
    assert not any("hot" in row["first"] or "heat" in row["first"] for row in care(reed.machine))
    assert any("heat cycles" in row["first"] for row in care(larch.machine))


def test_the_book_s_care_is_what_tune_maintenance_counts(reed: Known) -> None:
    said = [row["what"] for row in care(reed.machine)]
    tasks, _ = tasks_of(reed.machine)
    assert [words.startswith(task.title) for words, task in zip(said, tasks, strict=False)] == [True] * len(
        tasks
    )
    assert not any("lead screws" in words.casefold() for words in said)
    guides = next(row for row in care(reed.machine) if row["what"].startswith("Guides"))
    assert (guides["first"], guides["then"]) == (
        "after 20 h or 6 months", "every 200 h or 100 km of travel or 6 months"
    )  # fmt: skip


@pytest.mark.parametrize(
    ("labels", "said"),
    [
        (["PE 1", "PE 2", "PE 3", "M1"], ["PE 1 to PE 3", "M1"]),
        (["PE 1", "PE 2"], ["PE 1", "PE 2"]),
        (["9", "10", "11"], ["9 to 11"]),
        (["a", "a", ""], ["a", "a", ""]),
        ([], []),
    ],
)
def test_labels_that_count_up_are_told_as_a_run(labels: list[str], said: list[str]) -> None:
    assert in_runs(labels) == said


@given(st.lists(st.text(max_size=6), max_size=8))
def test_no_label_whatever_stops_the_telling(labels: list[str]) -> None:
    told = " ".join(in_runs(sorted(labels, key=natural)))
    assert all(label in told or natural(label)[1] >= 0 for label in labels)
