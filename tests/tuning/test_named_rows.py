"""Tables of words and numbers: every way of writing them that a spreadsheet has, every fault by its line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.ground.errors import ReadingErrors
from trysquare.tuning.named_rows import named_rows, refuse_faults


@pytest.mark.parametrize(
    "text",
    [
        "a,b\nx,1.5\n",
        "a;b\nx;1,5\n",
        "a;b\nx;1.5\n",
        "a\tb\nx\t1,5\n",
        "\ufeffA , B\r\n# cold\r\n\r\nx, 1.5\r\n",
        'a,b\n"x",1.5\n',
        "a,b,note\nx,1.5,\n",
        "// made by hand\na,b\nx,1.5",
    ],
)
def test_a_table_reads_the_same_however_it_is_separated(text: str) -> None:
    (row,) = named_rows(text, "t.csv", ("a", "b"), "a,b")
    assert row.word("a", ("x", "y")) == "x"
    assert row.number("b", above=0) == 1.5
    refuse_faults([row])


def test_faults_tell_the_line_of_the_file_and_the_column() -> None:
    rows = named_rows("# one\na,b\nx,1\nz,-1\n", "t.csv", ("a", "b"), "a,b")
    for row in rows:
        row.word("a", ("x", "y"))
        row.number("b", above=0)
    with pytest.raises(ReadingErrors) as caught:
        refuse_faults(rows)
    assert [(one.where.line, one.where.key) for one in caught.value.problems] == [(4, "a"), (4, "b")]


def test_a_missing_column_is_named_with_one_that_may_be_meant() -> None:
    with pytest.raises(ReadingErrors, match="Is 'measured' meant"):
        named_rows("a,measured\n1,2\n", "t.csv", ("measured_mm",), "measured_mm")


def test_an_empty_cell_is_its_default() -> None:
    (row,) = named_rows("a,b\n,1\n", "t.csv", ("a", "b"), "a,b")
    assert row.word("a", ("x",), default="x") == "x"
    assert row.number("a", default=2.5) == 2.5
    assert not row.has("a")


@given(text=st.text(alphabet="ab,;\t\n1.-#\"'x\r ", max_size=60))
def test_no_table_whatever_ends_in_anything_but_rows_or_errors_in_words(text: str) -> None:
    try:
        rows = named_rows(text, "t.csv", ("a",), "a")
    except ReadingErrors:
        return
    assert all(1 <= row.line <= len(text.splitlines()) for row in rows)
