"""Cards for film and phone, and the sheet of all parts."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from publish.machines import named
from publish.paper import text_of
from trysquare.machine.load import load_machine
from trysquare.publish.cards import SHAPES_PX, card, parts_sheet_pdf, parts_text
from trysquare.publish.known import Known, known_of
from trysquare.publish.part_picture import PartPicture, part_pictures

DEMO = Path(__file__).resolve().parents[2] / "demo"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def reed() -> Known:
    return known_of(load_machine(DEMO / "reed-joints", []))


@pytest.fixture(scope="module")
def pictures(reed: Known) -> dict[str, PartPicture]:
    return part_pictures(reed, 26.0, 20.0)


def texts(svg: str) -> str:
    return " ".join(text.text or "" for text in ET.fromstring(svg).iter(f"{SVG}text"))


@pytest.mark.parametrize("shape", SHAPES_PX)
def test_a_card_says_every_part_its_count_and_the_tools(
    reed: Known, pictures: dict[str, PartPicture], shape: str
) -> None:
    for step in reed.machine.steps:
        one = card(reed, step, shape, pictures)
        assert (one.width_px, one.height_px) == SHAPES_PX[shape]
        assert one.left_out == ()
        said = texts(one.svg)
        for line in reed.picks[step.id].lines:
            assert reed.letter(line.part) in said.split()
            assert f"{len(line.pieces)} ×" in said
        for tool in reed.picks[step.id].tools:
            assert tool.name.split()[0] in said


@pytest.mark.parametrize("shape", SHAPES_PX)
def test_nothing_of_a_card_lies_outside_its_panel(
    reed: Known, pictures: dict[str, PartPicture], shape: str
) -> None:
    for step in reed.machine.steps:
        root = ET.fromstring(card(reed, step, shape, pictures).svg)
        panel = next(each for each in root.iter(f"{SVG}rect") if each.get("class") == "panel")
        left, top, wide, tall = (float(panel.get(name, "nan")) for name in ("x", "y", "width", "height"))
        shown = [float(value) for value in root.get("viewBox", "").split()]
        assert shown[:2] == [0, 0]
        # the same shape, however large its words are
        assert shown[2] / shown[3] == pytest.approx(SHAPES_PX[shape][0] / SHAPES_PX[shape][1], rel=1e-4)
        assert left >= 0
        assert top >= 0
        assert left + wide <= shown[2]
        assert top + tall <= shown[3]
        for text in root.findall(f"{SVG}text"):
            x, y = float(text.get("x", "nan")), float(text.get("y", "nan"))
            assert left < x < left + wide
            assert top < y < top + tall


def test_words_on_a_phone_are_larger_than_on_a_wide_screen(
    reed: Known, pictures: dict[str, PartPicture]
) -> None:
    step = reed.machine.steps[0]
    shown = {
        shape: float(ET.fromstring(card(reed, step, shape, pictures).svg).get("viewBox", "").split()[2])
        for shape in SHAPES_PX
    }
    assert SHAPES_PX["tall"][0] / shown["tall"] > 1.3
    assert SHAPES_PX["wide"][0] == shown["wide"]


def test_a_card_with_odd_words_is_still_a_picture(reed: Known, pictures: dict[str, PartPicture]) -> None:
    step = replace(reed.machine.steps[0], title="<b>&</b> " + "very" * 60 + " ארבע")
    one = card(reed, step, "wide", pictures)
    assert "<b>" in texts(one.svg)


def test_the_parts_sheet_has_every_letter_and_count(reed: Known, pictures: dict[str, PartPicture]) -> None:
    words = text_of(parts_sheet_pdf(reed, "a4", pictures).pdf).split()
    for sort in reed.sorts:
        assert not sort.letter or sort.letter in words
        assert sort.cuts_mm or str(sort.pieces) in words


def test_the_list_for_a_description_has_parts_and_tools(reed: Known) -> None:
    text = parts_text(reed)
    assert all(sort.name in text for sort in reed.sorts)
    assert all(row.tool.name in text for row in reed.whole.tools)


def test_parts_without_solids_have_no_picture_and_break_nothing(tmp_path: Path) -> None:
    known = known_of(named(tmp_path / "odd", ["*one*", "<two>", "#three"]))
    assert part_pictures(known, 26.0, 20.0) == {}
    text = text_of(parts_sheet_pdf(known, "letter", {}).pdf)
    assert "*one*" in text
    assert "<two>" in text
