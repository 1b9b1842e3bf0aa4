"""Reading a small table's text whole; a long one comes in pieces (`cli.table_pieces`)."""

from __future__ import annotations

from trysquare.cli.table_pieces import table_pieces

MOST_BYTES = 4_000_000


def read_table(file: str, most_bytes: int = MOST_BYTES) -> str:
    """The text of a file, its lines ended by a line feed. Raises ReadingError."""
    too_long = "Is it a recording? A table of readings has some lines."
    return "".join(table_pieces(file, most_bytes=most_bytes, too_long=too_long))
