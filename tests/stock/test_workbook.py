"""A workbook's content, and what is said when the system has no room for it."""

from __future__ import annotations

import io

import openpyxl
import pytest

from trysquare.stock.workbook import workbook_bytes


def test_a_workbook_comes_as_the_bytes_that_open_again() -> None:
    book = openpyxl.Workbook()
    book.active["A1"] = "rail"
    again = openpyxl.load_workbook(io.BytesIO(workbook_bytes(book)))
    assert again.active["A1"].value == "rail"


def test_no_room_on_the_way_to_a_workbook_is_an_error_of_the_system() -> None:
    class SerialisationError(Exception):
        """As lxml says it."""

    class Full:
        def save(self, _: object) -> None:
            raise SerialisationError("IO_ENOSPC")

    with pytest.raises(OSError, match=r"No room.*IO_ENOSPC"):
        workbook_bytes(Full())


def test_whatever_else_is_wrong_with_a_workbook_stays_what_it_is() -> None:
    class Odd:
        def save(self, _: object) -> None:
            raise ValueError("odd")

    with pytest.raises(ValueError, match="odd"):
        workbook_bytes(Odd())
