"""Which rows and columns an XLS workbook hides; its values are read by a library.

Source: [MS-CFB] 2.2, 2.3, 2.6 (the file's sectors and directory) and [MS-XLS] 2.4.28 (BoundSheet8), 2.4.221
(Row, fDyZero), 2.4.53 (ColInfo, fHidden); from memory.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from trysquare.stock.tables import MOST_COLUMNS

_END = 0xFFFFFFFA  # from here on a sector's number says something else
_BOUND_SHEET, _ROW, _COLUMNS, _BEGIN, _END_OF_STREAM = 0x85, 0x208, 0x7D, 0x809, 0x0A
_NAMES = ("Workbook", "Book")


def hidden_in_old_book(data: bytes) -> dict[str, tuple[set[int], set[int]]]:
    """By sheet: hidden rows, numbered from 1, and columns, from 0. Raises ValueError for a damaged file."""
    try:
        book = _stream(data)
        return {name: _of_sheet(book, at) for name, at in _sheets(book)}
    except (struct.error, IndexError) as error:
        raise ValueError("a damaged XLS workbook") from error


def _stream(data: bytes) -> bytes:
    """The workbook's stream in the compound file; b"" without."""
    size = 1 << struct.unpack_from("<H", data, 30)[0]
    small = 1 << struct.unpack_from("<H", data, 32)[0]
    first_directory, least = struct.unpack_from("<I4xI", data, 48)
    first_small = struct.unpack_from("<I", data, 60)[0]
    next_list, lists = struct.unpack_from("<II", data, 68)
    if size not in (512, 4096) or small != 64:
        raise ValueError("sectors of no known size")

    def sector(number: int) -> bytes:
        return data[(number + 1) * size : (number + 2) * size]

    tables = [number for number in struct.unpack_from("<109I", data, 76) if number < _END]
    for _ in range(min(lists, len(data) // size)):
        *more, next_list = struct.unpack(f"<{size // 4}I", sector(next_list))
        tables += [number for number in more if number < _END]
    follows = [one for table in tables for one in struct.unpack(f"<{size // 4}I", sector(table))]

    def chain(number: int, after: list[int]) -> Iterator[int]:
        for _ in range(len(after) + 1):
            if number >= _END:
                return
            yield number
            number = after[number]
        raise ValueError("sectors that follow themselves")

    directory = b"".join(sector(number) for number in chain(first_directory, follows))
    root = (0, 0)
    found: tuple[int, int] | None = None
    for at in range(0, len(directory) - 127, 128):
        length = struct.unpack_from("<H", directory, at + 64)[0]
        name = directory[at : at + max(min(length, 64) - 2, 0)].decode("utf-16-le", "replace")
        first, many = struct.unpack_from("<II", directory, at + 116)
        if directory[at + 66] == 5:
            root = (first, many)
        elif name in _NAMES and found is None:
            found = (first, many)
    if found is None:
        return b""
    if found[1] >= least:
        return b"".join(sector(number) for number in chain(found[0], follows))[: found[1]]
    room = b"".join(sector(number) for number in chain(root[0], follows))
    small_table = b"".join(sector(number) for number in chain(first_small, follows))
    small_follows = list(struct.unpack(f"<{len(small_table) // 4}I", small_table))
    pieces = (room[number * small : (number + 1) * small] for number in chain(found[0], small_follows))
    return b"".join(pieces)[: found[1]]


def _records(book: bytes, at: int) -> Iterator[tuple[int, bytes]]:
    """The records of one part of the stream, to its end."""
    while at + 4 <= len(book):
        sort, length = struct.unpack_from("<HH", book, at)
        yield sort, book[at + 4 : at + 4 + length]
        if sort == _END_OF_STREAM:
            return
        at += 4 + length


def _sheets(book: bytes) -> Iterator[tuple[str, int]]:
    """The sheets' names, and where each begins in the stream."""
    for sort, body in _records(book, 0):
        if sort == _BOUND_SHEET:
            at, length, wide = struct.unpack_from("<I2xBB", body)
            text = body[8 : 8 + length * (1 + (wide & 1))]
            yield text.decode("utf-16-le" if wide & 1 else "latin-1", "replace"), at


def _of_sheet(book: bytes, at: int) -> tuple[set[int], set[int]]:
    rows: set[int] = set()
    columns: set[int] = set()
    for sort, body in _records(book, at):
        if sort == _ROW and len(body) >= 14 and body[12] & 0x20:
            rows.add(struct.unpack_from("<H", body)[0] + 1)
        elif sort == _COLUMNS and len(body) >= 10 and body[8] & 1:
            first, last = struct.unpack_from("<HH", body)
            columns.update(range(first, min(last + 1, MOST_COLUMNS)))
    return rows, columns
