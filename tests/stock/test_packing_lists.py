"""Packing lists as they come: encodings, separators, headings, workbooks, and what nobody can use."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from trysquare.ground.errors import ReadingError
from trysquare.stock import tables
from trysquare.stock.boxes import Boxes, read_boxes
from trysquare.stock.quantities import pack_size_in, without_pack
from trysquare.stock.tables import read_tables


def boxes_of(folder: Path, name: str, data: bytes | str) -> tuple[Boxes, list[ReadingError]]:
    place = folder / "boxes"
    place.mkdir(exist_ok=True)
    (place / name).write_bytes(data.encode() if isinstance(data, str) else data)
    problems: list[ReadingError] = []
    return read_boxes(place, problems), problems


def workbook(folder: Path, name: str, *rows: tuple[Any, ...], merged: tuple[str, ...] = ()) -> Path:
    book = Workbook()
    for row in rows:
        book.active.append(row)
    for cells in merged:
        book.active.merge_cells(cells)
    (folder / "boxes").mkdir(exist_ok=True)
    book.save(folder / "boxes" / name)
    return folder / "boxes" / name


def counted(boxes: Boxes) -> list[tuple[str, str, int | None]]:
    return [(row.box, row.name, row.pieces) for row in boxes.rows]


@pytest.mark.slow
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1", "cp1252"]
)
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_every_usual_encoding_and_separator_is_read(
    tmp_path: Path, encoding: str, delimiter: str, line_end: str
) -> None:
    rows = [["Box", "Bezeichnung", "Stück"], ["A", "M3×8 BHCS", "24"], ["A", "Lüfter 40", "2"]]
    text = line_end.join(delimiter.join(row) for row in rows) + line_end
    boxes, problems = boxes_of(tmp_path, "kit.csv", text.encode(encoding))
    assert not problems
    assert counted(boxes) == [("A", "M3×8 BHCS", 24), ("A", "Lüfter 40", 2)]


def test_a_separator_named_by_the_first_line_is_taken(tmp_path: Path) -> None:
    boxes, problems = boxes_of(tmp_path, "kit.csv", "sep=;\r\npart;pieces\r\nfoot;4\r\n")
    assert not problems
    assert counted(boxes) == [("kit", "foot", 4)]
    assert boxes.rows[0].where.line == 3


def test_columns_are_found_below_a_title_and_in_any_order(tmp_path: Path) -> None:
    text = "Kit of spring\n\nQty (pcs),Remark,Item description\n4,,foot\n2,left and right,plate\n"
    boxes, problems = boxes_of(tmp_path, "kit.csv", text)
    assert not problems
    assert counted(boxes) == [("kit", "foot", 4), ("kit", "plate", 2)]


def test_of_several_names_the_designation_is_taken(tmp_path: Path) -> None:
    boxes, _ = boxes_of(tmp_path, "kit.csv", "Item,Name,Designation,Qty\n1,screw,ISO 4762 M3x8,4\n")
    assert counted(boxes) == [("kit", "ISO 4762 M3x8", 4)]


def test_a_box_written_once_holds_for_the_rows_below(tmp_path: Path) -> None:
    boxes, _ = boxes_of(tmp_path, "kit.csv", "box,part,pieces\nA,foot,4\n,plate,2\nB,post,1\n")
    assert counted(boxes) == [("A", "foot", 4), ("A", "plate", 2), ("B", "post", 1)]


def test_titles_and_totals_between_the_rows_are_no_parts(tmp_path: Path) -> None:
    boxes, problems = boxes_of(tmp_path, "kit.csv", "part,pieces,remark\nHardware,,\nfoot,4,\nTotal,4,\n")
    assert not problems
    assert counted(boxes) == [("kit", "foot", 4)]
    assert boxes.passed_over == ("boxes/kit.csv:4: a total, not a part",)


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ("foot,-4", "0 or more"), ("foot,2.5", "whole number"), ("foot,about 4", "exact"),
        ("foot,1.000", "one way"), (",4", "a name"),
        ("foot,2 packs", "size of a pack"), ("foot,four", "whole number"),
    ],
)  # fmt: skip
def test_a_row_nobody_can_use_is_a_problem_with_its_line(tmp_path: Path, row: str, expected: str) -> None:
    boxes, problems = boxes_of(tmp_path, "kit.csv", f"part,pieces\npost,1\n{row}\n")
    (problem,) = problems
    assert expected in problem.expected
    assert (problem.where.file, problem.where.line) == ("boxes/kit.csv", 3)
    assert counted(boxes) == [("kit", "post", 1)]


def test_a_name_with_remarks_but_no_count_is_a_problem(tmp_path: Path) -> None:
    _, problems = boxes_of(tmp_path, "kit.csv", "part,pieces,remark\nfoot,,printed\n")
    assert [problem.expected for problem in problems] == ["a number of pieces"]


@pytest.mark.parametrize(
    ("heading", "row"),
    [
        ("name,packs,pack size", "screw,2,50"), ("name,qty,pcs per pack", "screw,2 packs,50"),
        ("name,qty", "screw,2 packs of 50"), ("name,qty,packs", "screw,100,2"),
        ("name,packs", "screw (50 pcs),2"),
    ],
)  # fmt: skip
def test_packs_times_their_size_are_the_pieces(tmp_path: Path, heading: str, row: str) -> None:
    boxes, problems = boxes_of(tmp_path, "kit.csv", f"{heading}\n{row}\n")
    assert not problems
    assert boxes.rows[0].pieces == 100


def test_packs_and_pieces_that_contradict_each_other_are_a_problem(tmp_path: Path) -> None:
    _, problems = boxes_of(tmp_path, "kit.csv", "name,qty,packs,pack size\nscrew,90,2,50\n")
    assert problems[0].read == "2 packs of 50, and 90 pieces"


def test_a_list_without_a_heading_is_a_problem_that_says_what_to_write(tmp_path: Path) -> None:
    boxes, problems = boxes_of(tmp_path, "kit.csv", "foot,4\n")
    assert (boxes.rows, problems[0].read) == ((), "foot, 4")
    assert problems[0].remedy == "Write part,pieces above the rows."


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    _, problems = boxes_of(tmp_path, "kit.csv", bytes(range(256)) * 40)
    assert problems


@pytest.mark.parametrize("name", ["kit.csv", "kit.xlsx"])
def test_more_than_a_million_rows_are_refused_with_the_limit_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    if name.endswith("csv"):
        _, problems = boxes_of(tmp_path, name, "part,pieces\n" + "foot,1\n" * 1_000_001)
    else:
        monkeypatch.setattr(tables, "MOST_ROWS", 20)
        workbook(tmp_path, name, ("part", "pieces"), *[("foot", 1)] * 20)
        problems = []
        read_boxes(tmp_path / "boxes", problems)
    (problem,) = problems
    assert "at most" in problem.expected
    assert str(tables.MOST_ROWS) in problem.expected


def test_a_million_rows_are_the_limit() -> None:
    assert tables.MOST_ROWS == 1_000_000


# --- workbooks


def test_merged_cells_hold_for_every_row_they_cover(tmp_path: Path) -> None:
    workbook(
        tmp_path, "kit.xlsx",
        ("Box", "Part", "Qty"), ("A", "foot", 4), (None, None, 2), ("B", "post", 1),
        merged=("A2:A3", "B2:B3"),
    )  # fmt: skip
    problems: list[ReadingError] = []
    boxes = read_boxes(tmp_path / "boxes", problems)
    assert not problems
    assert counted(boxes) == [("A", "foot", 4), ("A", "foot", 2), ("B", "post", 1)]


def test_a_formula_is_never_run_and_without_a_stored_value_it_is_a_problem(tmp_path: Path) -> None:
    workbook(tmp_path, "kit.xlsx", ("Part", "Qty", "Note"), ("foot", "=2+2", "x"), ("post", 1, "x"))
    problems: list[ReadingError] = []
    boxes = read_boxes(tmp_path / "boxes", problems)
    assert counted(boxes) == [("kit", "post", 1)]
    assert "formula" in problems[0].remedy


def test_each_sheet_with_a_heading_is_read_and_the_others_are_said(tmp_path: Path) -> None:
    book = Workbook()
    book.active.title = "Letter"
    book.active.append(["Dear builder"])
    sheet = book.create_sheet("Hardware")
    sheet.append(["Name", "Qty"])
    sheet.append(["foot", 4])
    hidden = book.create_sheet("Old")
    hidden.append(["Name", "Qty"])
    hidden.append(["foot", 99])
    hidden.sheet_state = "hidden"
    (tmp_path / "boxes").mkdir()
    book.save(tmp_path / "boxes" / "kit.xlsx")
    problems: list[ReadingError] = []
    boxes = read_boxes(tmp_path / "boxes", problems)
    assert counted(boxes) == [("kit Hardware", "foot", 4)]
    assert "Letter" in boxes.passed_over[0]


def test_a_count_that_the_spreadsheet_took_for_a_date_is_a_problem(tmp_path: Path) -> None:
    workbook(tmp_path, "kit.xlsx", ("Part", "Qty"), ("foot", dt.date(2024, 3, 8)))
    problems: list[ReadingError] = []
    read_boxes(tmp_path / "boxes", problems)
    assert "date" in problems[0].remedy


def test_a_damaged_workbook_is_one_problem(tmp_path: Path) -> None:
    file = workbook(tmp_path, "kit.xlsx", ("Part", "Qty"), ("foot", 4))
    file.write_bytes(file.read_bytes()[:700])
    problems: list[ReadingError] = []
    assert read_boxes(tmp_path / "boxes", problems).rows == ()
    assert problems[0].expected == "an XLSX workbook"


def test_a_workbook_that_unpacks_without_end_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tables, "LARGEST_UNPACKED_BYTES", 1000)
    workbook(tmp_path, "kit.xlsx", ("Part", "Qty"), ("foot", 4))
    problems: list[ReadingError] = []
    read_boxes(tmp_path / "boxes", problems)
    assert "unpacked" in problems[0].expected


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    outside = tmp_path / "elsewhere.csv"
    outside.write_text("part,pieces\nfoot,4\n")
    place = tmp_path / "machine" / "boxes"
    place.mkdir(parents=True)
    (place / "kit.csv").symlink_to(outside)
    problems: list[ReadingError] = []
    assert read_boxes(place, problems).rows == ()
    assert "link" in str(problems[0].read)


def test_no_folder_of_boxes_is_no_problem(tmp_path: Path) -> None:
    problems: list[ReadingError] = []
    assert read_boxes(tmp_path / "boxes", problems) == Boxes(rows=())
    assert not problems


def test_what_the_name_says_of_packs_is_told_from_the_name() -> None:
    assert pack_size_in("M3x8 BHCS (pack of 50)") == 50
    assert without_pack("M3x8 BHCS (pack of 50)") == "M3x8 BHCS"
    assert pack_size_in("Beam 380") == 0


@pytest.mark.slow
@given(st.binary(max_size=400))
def test_any_bytes_are_a_table_or_a_problem(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    folder = tmp_path_factory.mktemp("any")
    for name in ("x.csv", "x.xlsx"):
        (folder / name).write_bytes(data)
        problems: list[ReadingError] = []
        assert read_tables(folder, folder / name, problems) or problems


def test_a_name_that_says_its_own_number_is_counted_and_one_without_any_is_asked(tmp_path: Path) -> None:
    found, problems = boxes_of(tmp_path, "a.csv", "Name,Quantity\n2 x ISO 4762 M5x16,\nISO 4762 M3x8,\n")
    assert [(one.name, one.pieces) for one in found.rows] == [("2 x ISO 4762 M5x16", 2)]
    assert [(one.where.line, one.expected) for one in problems] == [(3, "a number of pieces")]
