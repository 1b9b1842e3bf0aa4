"""What holds for every table of the catalogue."""

from __future__ import annotations

import pytest

from trysquare.catalogue.rows import rows, table_names


@pytest.mark.parametrize("table", table_names())
def test_every_row_has_a_source_and_all_its_columns(table: str) -> None:
    assert rows(table)
    for row in rows(table):
        assert row["source"].strip()
        assert None not in row  # a field too many
        assert None not in row.values()  # a field too few
        assert all(value == value.strip() for value in row.values())


@pytest.mark.parametrize("table", table_names())
def test_no_two_rows_say_the_same_thing_twice(table: str) -> None:
    said = [tuple(row.values()) for row in rows(table)]
    assert len(set(said)) == len(said)


@pytest.mark.parametrize("table", table_names())
def test_lengths_in_millimetres_are_never_negative(table: str) -> None:
    for row in rows(table):
        for name, value in row.items():
            if name.endswith("_mm") and value and " " not in value:
                assert float(value) >= 0, (name, row)


def test_rows_cannot_be_changed_by_who_reads_them() -> None:
    with pytest.raises(TypeError):
        rows("threads")[0]["name"] = "M99"  # type: ignore[index]
