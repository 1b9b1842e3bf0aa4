"""A QR code as one filled outline: no seams between its squares, sharp at any size."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from urllib.parse import quote, urlsplit

from trysquare.ground.errors import ReadingError
from trysquare.publish.drawing import SOLID, Drawing, outline

SCHEME = "trysquare:"
LONGEST_BASE = 200  # characters; a longer address makes squares too small for a phone
LEAST_SQUARE_MM = 0.3  # below it a phone cannot tell the squares apart; common practice, no source


def bench_address(base: str, machine: str, part: str) -> str:
    """Where the part's page at the bench is: the base, the machine's id, the part's id, each escaped."""
    foot = base if base.endswith(("/", ":")) else f"{base}/"
    return f"{foot}{quote(machine, safe='')}/{quote(part, safe='')}"


def checked_base(base: str) -> str:
    """The base of the addresses; raises ReadingError for anything but http, https or our own scheme."""
    parts = None
    if base.isprintable() and base.isascii() and " " not in base and len(base) <= LONGEST_BASE:
        try:
            parts = urlsplit(base)
        except ValueError:
            parts = None
    is_web = parts is not None and parts.scheme in ("http", "https") and bool(parts.netloc)
    plain = parts is not None and not (parts.query or parts.fragment or "@" in parts.netloc)
    if base == SCHEME or (is_web and plain):
        return base
    raise ReadingError(
        where="base address",
        read=base,
        expected=f"{SCHEME} or an address as https://bench.local:8443/, at most {LONGEST_BASE} characters",
        remedy="Write the address under which phones in your workshop reach the bench.",
    )


@lru_cache(maxsize=1000)
def qr_drawing(text: str, size_mm: float) -> Drawing:
    """The code of a text, `size_mm` wide without the quiet zone, which the page leaves white around it."""
    import segno  # noqa: PLC0415  # loaded when a code is drawn, not when a command starts

    matrix = segno.make(text, error="l", micro=False).matrix
    square = size_mm / len(matrix)
    loops = [[(x * square, y * square) for x, y in loop] for loop in loops_of(matrix)]
    return Drawing(
        width_mm=size_mm, height_mm=size_mm, shapes=(outline(SOLID, loops),), says=f"QR code: {text}"
    )


def loops_of(matrix: Sequence[Sequence[int]]) -> list[list[tuple[int, int]]]:
    """The outlines of the dark squares as closed loops of corners, x and y in squares.

    Each side between dark and light is walked once with the dark on its right hand; where four squares meet
    at a corner the walk turns so that loops touch but never cross. Filled even and odd they give the squares.
    """
    light = bytes(len(matrix[0]) + 2)
    grid = [light, *(bytes([0, *map(bool, row), 0]) for row in matrix), light]  # a light rim saves asking
    sides: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for y, (above, row, below) in enumerate(zip(grid, grid[1:], grid[2:], strict=False)):
        for x in range(len(matrix[0])):
            if not row[x + 1]:
                continue
            if not above[x + 1]:
                sides.setdefault((x, y), []).append((x + 1, y))
            if not row[x + 2]:
                sides.setdefault((x + 1, y), []).append((x + 1, y + 1))
            if not below[x + 1]:
                sides.setdefault((x + 1, y + 1), []).append((x, y + 1))
            if not row[x]:
                sides.setdefault((x, y + 1), []).append((x, y))
    loops = []
    while sides:
        start = next(iter(sides))
        loop: list[tuple[int, int]] = []
        at, way = start, (0, 0)
        while not loop or at != start:
            ends = sides[at]
            if len(ends) == 1:
                end = sides.pop(at)[0]
            else:  # of two ways on, the one to the right keeps to the same dark square
                end = max(ends, key=lambda each: _turn(way, (each[0] - at[0], each[1] - at[1])))
                ends.remove(end)
            step = (end[0] - at[0], end[1] - at[1])
            if step != way:
                loop.append(at)
            at, way = end, step
        loops.append(loop)
    return loops


def _turn(way: tuple[int, int], step: tuple[int, int]) -> int:
    """1 for a turn to the right (y runs down), 0 straight on, -1 to the left."""
    return way[0] * step[1] - way[1] * step[0]
