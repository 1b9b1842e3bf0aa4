"""Which column tells the parts, whatever somebody called it."""

from __future__ import annotations

from trysquare.ground.errors import ReadingError
from trysquare.intake.list_columns import Columns, find_columns
from trysquare.stock.tables import Table, TableRow


def columns(*rows: tuple[str, ...], **said: str) -> Columns:
    lines = tuple(TableRow(line=n, cells=row) for n, row in enumerate(rows, start=1))
    problems: list[ReadingError] = []
    found = find_columns(Table(file="list.csv", sheet="", rows=lines), said, problems)
    assert found is not None, problems
    return found


HEADING = ("Item", "Qty", "Part", "Description")


def test_a_column_of_designations_counts_for_more_than_one_called_description() -> None:
    found = columns(
        HEADING,
        ("1", "8", "ISO 4762 M3x8", "rail screws"),
        ("2", "4", "ISO 7380-1 M5x12", "corners"),
        ("3", "1", "608", "idler"),
    )
    assert (found.found["name"].heading, found.found["note"].heading) == ("Part", "Description")
    assert "Column C" in found.how[0]
    assert "67%" in found.how[0]


def test_numbers_alone_are_no_names() -> None:
    found = columns(("Item", "Anzahl", "Teil"), ("10", "8", "Schlitten"), ("20", "4", "Fuss"))
    assert found.found["name"].heading == "Teil"
    assert "note" not in found.found
    assert "numbers alone" in found.how[0]


def test_what_the_builder_says_is_not_put_right() -> None:
    found = columns(HEADING, ("1", "8", "ISO 4762 M3x8", "rail screws"), name="Description")
    assert found.found["name"].heading == "Description"


def test_a_heading_that_points_at_the_names_is_left_alone() -> None:
    found = columns(
        ("Name", "Qty", "Shop"), ("ISO 4762 M3x8", "8", "corner shop"), ("slider plate", "1", "ours")
    )
    assert found.found["name"].heading == "Name"
    assert found.how == ()


def test_of_two_columns_that_could_be_the_names_the_other_is_told_with_its_option() -> None:
    rows = (
        ("Item", "Description", "Qty"),
        ("M3x8 BHCS", "ISO 7380-1 M3x8", "4"),
        ("M5 nut", "DIN 934 M5", "2"),
    )
    found = columns(*rows)
    assert found.found["name"].heading == "Description"
    assert "column A (Item) could be them as well" in found.how[-1]
    assert "--columns name=A" in found.how[-1]
    assert columns(*rows, name="A").found["name"].heading == "Item"
    assert columns(*rows, name="A").how == ()


def test_a_number_of_the_row_or_a_remark_is_no_second_name() -> None:
    found = columns(("Item", "Description", "Note", "Qty"), ("1", "M3x8 BHCS", "for the bed", "4"))
    assert found.how == ()
