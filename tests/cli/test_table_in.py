"""Reading a small table whole: the same text and the same words as a long one's pieces."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.cli.table_in import MOST_BYTES, read_table
from trysquare.cli.table_pieces import table_pieces
from trysquare.ground.errors import ReadingError

TEXT = "zeit_s,größe\n1,2.5\n2,3.5"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_a_small_table_is_read_in_any_encoding_and_ending(tmp_path: Path, encoding: str, ending: str) -> None:
    file = tmp_path / "small.csv"
    file.write_bytes(TEXT.replace("\n", ending).encode(encoding))
    assert read_table(str(file)) == TEXT


def test_an_empty_table_is_an_empty_text(tmp_path: Path) -> None:
    file = tmp_path / "empty.csv"
    file.touch()
    assert read_table(str(file)) == ""


def test_a_recording_is_no_small_table(tmp_path: Path) -> None:
    file = tmp_path / "recording.csv"
    with file.open("wb") as stream:  # a file of holes
        stream.truncate(3 * MOST_BYTES)
    with pytest.raises(ReadingError, match="12 MB") as told:
        read_table(str(file))
    assert "at most 4 MB" in str(told.value)
    assert "Is it a recording" in told.value.remedy


def test_a_small_and_a_long_table_are_refused_in_the_same_words(tmp_path: Path) -> None:
    binary = tmp_path / "picture.csv"
    binary.write_bytes(b"\x89PNG\0\0\0" * 100)
    for path in (binary, tmp_path, tmp_path / "nothing.csv"):
        with pytest.raises(ReadingError) as small:
            read_table(str(path))
        with pytest.raises(ReadingError) as long:
            list(table_pieces(str(path)))
        assert str(small.value) == str(long.value)
