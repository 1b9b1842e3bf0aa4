"""Reading a long table piece by piece: the same text in any encoding, and words for what is none."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.cli.table_pieces import LARGEST_BYTES, table_pieces
from trysquare.ground.errors import ReadingError

TEXT = "zeit_s,x_m/s²,größe\n" + "".join(f"{row},{row}.5,1\n" for row in range(300))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_pieces_end_where_lines_end_and_give_the_whole_text(
    tmp_path: Path, encoding: str, ending: str
) -> None:
    file = tmp_path / "long.csv"
    file.write_bytes(TEXT.replace("\n", ending).encode(encoding))
    pieces = list(table_pieces(str(file), 100))
    assert len(pieces) > 10
    assert all(piece.endswith("\n") for piece in pieces)
    assert "".join(pieces) == TEXT


def test_a_last_line_without_an_end_is_kept(tmp_path: Path) -> None:
    file = tmp_path / "cut.csv"
    file.write_text("a,b\n1,2\n3,4", encoding="utf-8")
    assert "".join(table_pieces(str(file), 3)) == "a,b\n1,2\n3,4"


def test_what_is_no_long_table_is_told_in_words(tmp_path: Path) -> None:
    binary = tmp_path / "picture.csv"
    binary.write_bytes(b"\x89PNG\0\0\0" * 100)
    one_line = tmp_path / "one-line.csv"
    one_line.write_text("1," * 200_000, encoding="utf-8")
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as file:  # a file of holes: no disk is taken
        file.truncate(LARGEST_BYTES + 1)
    for path, read in (
        (binary, "no text"), (one_line, "a line of more than"), (huge, "8 GB"), (tmp_path, "a folder"),
        (tmp_path / "nothing.csv", "no such file"),
    ):  # fmt: skip
        with pytest.raises(ReadingError, match=read) as told:
            list(table_pieces(str(path), 1000))
        assert str(path) in str(told.value)
        assert told.value.remedy
