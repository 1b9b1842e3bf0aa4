"""Sheets of labels: every label lies whole on its paper, none on another."""

from __future__ import annotations

import pytest

from trysquare.catalogue.label_sheets import PAPERS_MM, label_sheet, label_sheets
from trysquare.catalogue.unknown import UnknownDesignation


@pytest.mark.parametrize("name", label_sheets())
def test_every_label_lies_whole_on_its_paper_and_on_no_other_label(name: str) -> None:
    sheet = label_sheet(name)
    width, height = PAPERS_MM[sheet.paper]
    assert sheet.step_x_mm >= sheet.width_mm
    assert sheet.step_y_mm >= sheet.height_mm
    x, y = sheet.corner_mm(sheet.count - 1)
    assert sheet.left_mm >= 0
    assert sheet.top_mm >= 0
    assert x + sheet.width_mm <= width + 1e-9
    assert y + sheet.height_mm <= height + 1e-9


@pytest.mark.parametrize("name", label_sheets())
def test_labels_stand_in_the_middle_of_their_paper(name: str) -> None:
    sheet = label_sheet(name)
    right = PAPERS_MM[sheet.paper][0] - sheet.corner_mm(sheet.count - 1)[0] - sheet.width_mm
    assert right == pytest.approx(sheet.left_mm, abs=0.15)


def test_labels_are_counted_row_by_row() -> None:
    sheet = label_sheet("A4-3x8")
    assert sheet.count == 24
    assert sheet.corner_mm(0) == (0, 0.5)
    assert sheet.corner_mm(4) == (70, 37.5)


def test_an_unknown_sheet_is_answered_with_those_that_are_near() -> None:
    with pytest.raises(UnknownDesignation) as caught:
        label_sheet("a4-3x9")
    assert "a4-3x8" in caught.value.remedy
