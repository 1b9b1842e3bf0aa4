"""Reading a small table's text whole: what is no text, too large or not there is told in words."""

from __future__ import annotations

import codecs
from pathlib import Path

from trysquare.ground.errors import ReadingError

_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def read_table(file: str, most_bytes: int = 4_000_000) -> str:
    """The text of a file. Raises ReadingError."""
    path = Path(file)
    try:
        if path.is_dir():
            raise _error(file, "a folder", "a table as text", "Name the file in it.")
        size = path.stat().st_size
        if size > most_bytes:
            raise _error(
                file, f"{size / 1e6:.0f} MB", f"a table of at most {most_bytes / 1e6:.0f} MB",
                "Is it a recording? A table of readings has some lines.",
            )  # fmt: skip
        data = path.read_bytes()
    except OSError as error:
        raise _error(
            file, error.strerror or "nothing", "a table that can be read", "Check its name and place."
        ) from error
    if data.startswith(_UTF16):
        return data.decode("utf-16", "replace")
    if b"\0" in data:
        raise _error(file, "no text", "a table as text", "Save it as CSV from the program it is made with.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")  # an older spreadsheet; all that is read from it is ASCII


def _error(file: str, read: str, expected: str, remedy: str) -> ReadingError:
    return ReadingError(where=file, read=read, expected=expected, remedy=remedy)
