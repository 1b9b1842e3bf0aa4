"""How facts are worded in a line: counts, lengths, points, and names with odd characters made harmless."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Sequence


def one_line(text: object) -> str:
    """Text that cannot steer a terminal: control characters are shown as escapes, line ends as spaces."""
    words = str(text).replace("\r\n", " ").replace("\n", " ").replace("\t", " ")
    return "".join(char if char.isprintable() else repr(char)[1:-1] for char in words)


def quoted(text: object) -> str:
    """A path or a name as it is typed in a command line: in quotes where a shell would take it apart."""
    return shlex.quote(one_line(text))


def sentence(text: object) -> str:
    """One line that ends as a sentence does."""
    line = one_line(text)
    return line if line.endswith((".", "?", "!")) else f"{line}."


def count(pieces: int, one: str, many: str = "") -> str:
    """A number of things: "1 joint", "3 joints", or "2 axes" with `many` given."""
    return f"{pieces} {one if pieces == 1 else many or one + 's'}"


def number(value: float) -> str:
    """At most two decimals, no trailing zeros, no minus before zero."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def length(length_mm: float) -> str:
    """Millimetres; from a metre on also in metres."""
    return f"{number(length_mm)} mm" + (f" ({length_mm / 1000:.2f} m)" if length_mm >= 1000 else "")


def point(at_mm: Sequence[float]) -> str:
    """A point as "20, 10, 35 mm"."""
    return ", ".join(number(part) for part in at_mm) + " mm"


def listed(words: Iterable[object], most: int = 0) -> str:
    """Words with commas between; beyond `most` (0: all) only their number."""
    items = [one_line(word) for word in words]
    if most and len(items) > most:
        return ", ".join(items[:most]) + f" and {len(items) - most} more"
    return ", ".join(items)


def place(where: dict[str, object] | None) -> str:
    """A place in a file as editors understand it: file:line, or file:line:column, then the key."""
    if not where:
        return ""
    spot = f"{where['file']}:{where['line']}" if where["line"] else str(where["file"])
    if where["line"] and where.get("column"):
        spot = f"{spot}:{where['column']}"
    return f"{spot}  {where['key']}" if where["key"] else spot
