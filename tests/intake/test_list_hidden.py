"""What spreadsheets hide, in files of three forms by writers of their own."""

from pathlib import Path

import pytest

from trysquare.ground.errors import ReadingError
from trysquare.intake.list_hidden import HiddenLines, HiddenSheet, hidden_lines, hidden_sheets
from trysquare.intake.list_tables import read_list_tables

BOOKS = Path(__file__).parent / "files" / "books"
FORMS = ("hidden.xls", "hidden.ods", "hidden.xlsx")


@pytest.mark.parametrize("name", FORMS)
def test_hidden_rows_and_columns_of_a_sheet_are_told_and_read(name: str) -> None:
    # Source: what their writers were asked for; see files/README.md
    problems: list[ReadingError] = []
    tables = read_list_tables(BOOKS / name, problems)
    assert not problems
    assert [table.sheet for table in tables] == ["Parts"]
    assert [row.cells[0] for row in tables[0].rows][1:] == ["M3x8 BHCS", "M4x12 SHCS", "foot", "plate"]
    (found,) = hidden_lines(BOOKS / name, tables)
    assert found == HiddenLines(file=name, sheet="Parts", rows=(3, 5), columns=(2,))
    assert "2 hidden rows (3, 5) and 1 hidden column (C) are read like the others" in found.says


@pytest.mark.parametrize("name", FORMS)
def test_a_hidden_sheet_is_told_with_its_rows_and_how_to_bring_it(name: str) -> None:
    found = hidden_sheets(BOOKS / name, ["Parts"])
    assert found[0] == HiddenSheet(file=name, sheet="Spares", rows=3)
    assert "'Spares' is not read: 3 rows" in found[0].says
    assert '--sheet "Spares"' in found[0].says
    assert [one.sheet for one in found[1:]] == (["Old ideas"] if name.endswith("xls") else [])


@pytest.mark.parametrize("name", FORMS)
def test_a_hidden_sheet_that_is_named_is_read(name: str) -> None:
    tables = read_list_tables(BOOKS / name, [], named="Spares")
    assert [table.sheet for table in tables] == ["Parts", "Spares"]
    assert len(tables[1].rows) == 3
    assert "Spares" not in [one.sheet for one in hidden_sheets(BOOKS / name, ["Parts", "Spares"])]


@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize("cut", [3, 30, 300, 520, 700, 1200, 1700])
def test_a_workbook_cut_short_hides_nothing_and_breaks_nothing(name: str, cut: int, tmp_path: Path) -> None:
    whole = (BOOKS / name).read_bytes()
    (tmp_path / name).write_bytes(whole[:cut])
    hidden_sheets(tmp_path / name, [])
    assert hidden_lines(tmp_path / name, []) == ()


@pytest.mark.parametrize("at", range(24, 520, 4))
def test_an_old_workbook_with_other_sectors_than_it_says_breaks_nothing(at: int, tmp_path: Path) -> None:
    whole = bytearray((BOOKS / "hidden.xls").read_bytes())
    whole[at : at + 4] = b"\x02\x00\x00\x00"
    (tmp_path / "odd.xls").write_bytes(whole)
    assert isinstance(hidden_lines(tmp_path / "odd.xls", []), tuple)


def test_a_list_that_is_no_workbook_hides_nothing(tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_text("Description,Qty\nfoot,4\n", encoding="utf-8")
    tables = read_list_tables(tmp_path / "list.csv", [])
    assert hidden_sheets(tmp_path / "list.csv", []) == ()
    assert hidden_lines(tmp_path / "list.csv", tables) == ()
