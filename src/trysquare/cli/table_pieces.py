"""Reading a table's text piece by piece: hours of a sensor's rows never stand in memory together.

What is no text, too large or not there is told in words.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from pathlib import Path

from trysquare.ground.errors import ReadingError
from trysquare.machine.not_there import unread

PIECE_BYTES = 4_000_000
LONGEST_LINE = 100_000
LARGEST_BYTES = 8_000_000_000  # two hours of three axes at 25 600 a second
_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def table_pieces(
    file: str,
    piece_bytes: int = PIECE_BYTES,
    *,
    most_bytes: int = LARGEST_BYTES,
    too_long: str = "Cut out the hour that matters.",
) -> Iterator[str]:
    """The text of a file in pieces that end where its lines end. Raises ReadingError.

    `most_bytes`: larger files are refused with the advice `too_long`.
    """
    path = Path(file)
    try:
        if path.is_dir():
            raise _error(file, "a folder", "a table as text", "Name the file in it.")
        size = path.stat().st_size
        if size > most_bytes:
            raise _error(file, _large(size), f"a table of at most {_large(most_bytes)}", too_long)
        with path.open(encoding=_encoding(path, piece_bytes), errors="replace") as text:
            while piece := text.read(piece_bytes):
                rest = text.readline(LONGEST_LINE)
                if len(rest) == LONGEST_LINE and not rest.endswith("\n"):
                    raise _error(
                        file, f"a line of more than {LONGEST_LINE} characters", "a table with one row a line",
                        "Save it as CSV from the program it is made with.",
                    )  # fmt: skip
                if "\0" in piece or "\0" in rest:
                    raise _error(
                        file, "no text", "a table as text", "Save it as CSV from the program it is made with."
                    )
                yield piece + rest
    except OSError as error:
        read, remedy = unread(Path(file), error)
        raise _error(file, read, "a table that can be read", remedy) from error


def _large(size_bytes: int) -> str:
    return f"{size_bytes / 1e9:.0f} GB" if size_bytes >= 1e9 else f"{size_bytes / 1e6:.0f} MB"


def _encoding(path: Path, piece_bytes: int) -> str:
    """What the text is written in, by its beginning; all that is read from the rest is ASCII."""
    with path.open("rb") as file:
        begins = file.read(piece_bytes)
    if begins.startswith(_UTF16):
        return "utf-16"
    try:
        codecs.getincrementaldecoder("utf-8-sig")().decode(begins)
    except UnicodeDecodeError:
        return "latin-1"  # an older spreadsheet
    return "utf-8-sig"


def _error(file: str, read: str, expected: str, remedy: str) -> ReadingError:
    return ReadingError(where=file, read=read, expected=expected, remedy=remedy)
