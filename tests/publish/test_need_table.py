"""The need as a spreadsheet's table: no text in it is ever a formula."""

from __future__ import annotations

import csv
import io

import openpyxl
import pytest

from trysquare.publish.need_table import COLUMNS, csv_bytes, harmless, need_rows, xlsx_bytes

EVIL = ("=1+1", "+1", "-2", "@SUM(A1)", '=HYPERLINK("x")', "\uff1d1", " =1")


def line(name: str) -> dict[str, object]:
    return {
        "part": "beam", "name": name, "kind": "member", "pieces": 4,
        "cuts_mm": [12.5, 300.0], "length_mm": 312.5,
        "pieces_by_unit": {"frame": 3, "": 1}, "pieces_listed": None, "papers": ["base"], "also_called": [],
        "asked_by": [{"by": "frame/low", "pieces": 4}],
    }  # fmt: skip


@pytest.mark.parametrize("evil", EVIL)
def test_a_csv_holds_no_formula(evil: str) -> None:
    rows = list(csv.DictReader(io.StringIO(csv_bytes(need_rows([line(evil)])).decode("utf-8-sig"))))
    assert rows[0]["name"].startswith("'")
    assert rows[0]["name"][1:] == evil.strip()


@pytest.mark.parametrize("evil", EVIL)
def test_a_workbook_holds_no_formula(evil: str) -> None:
    book = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(need_rows([line(evil)]), "t")))
    cell = book["need"].cell(row=2, column=COLUMNS.index("name") + 1)
    assert (cell.value, cell.data_type) == (evil.strip(), "s")


def test_names_that_hide_a_formula_behind_an_apostrophe_get_another() -> None:
    assert harmless("'=1") == "''=1"
    assert harmless("ISO 4762 M3x8") == "ISO 4762 M3x8"


def test_numbers_are_numbers_in_a_workbook() -> None:
    book = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(need_rows([line("beam")]), "t")))
    row = dict(zip(COLUMNS, (cell.value for cell in book["need"][2]), strict=True))
    assert (row["pieces"], row["length_together_mm"], row["pieces_listed"]) == (4, 312.5, None)
    assert row["cuts_mm"] == "12.5; 300"
    assert row["pieces_by_unit"] == "frame 3; list 1"


def test_control_letters_break_no_workbook() -> None:
    book = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(need_rows([line("a\x00b\x1bc\nd")]), "t\x00")))
    assert book["need"].cell(row=2, column=2).value == "a b c d"


def test_the_same_need_gives_the_same_workbook(monkeypatch: pytest.MonkeyPatch) -> None:
    first = xlsx_bytes(need_rows([line("beam")]), "t")
    monkeypatch.setattr("time.localtime", lambda *_: (2031, 5, 6, 7, 8, 9, 0, 1, 0))
    assert xlsx_bytes(need_rows([line("beam")]), "t") == first


def test_a_length_that_a_parts_list_says_stands_as_the_length_together() -> None:
    listed = [{"pieces": 2, "length_mm": 33000.0}, {"pieces": 1, "length_mm": 500.0}]
    (row,) = need_rows([line("tape") | {"cuts_mm": [], "length_mm": None, "listed_mm": listed}])
    assert dict(zip(COLUMNS, row, strict=True))["length_together_mm"] == 66500.0
