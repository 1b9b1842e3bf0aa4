"""Where a key or table that stands twice in a TOML text stood the first time."""

from __future__ import annotations

import re
import tomllib

from trysquare.machine.toml_lines import Path, line_of, toml_lines

LONGEST_ROW = 2000  # no line is longer by hand
_HERE = "trysquare here"  # with a blank: no key that anybody writes without quotes


def key_before(row: str) -> str:
    """The key that stands nearest before the end of a piece of a line; empty when there is none."""
    found = re.findall(r"""([\w.\-]+|"[^"\n]*"|'[^'\n]*')\s*=""", row)
    if found:
        return str(found[-1])
    alone = re.match(r"\s*([\w.\-]+)", row)
    return alone.group(1) if alone else ""


def first_line(text: str, start: int) -> int:
    """Line of the first of two keys or tables, when the second begins at `start`; 0 when it cannot be told.

    All that stands before `start` is valid TOML: the standard reader got as far.
    """
    row = text[start : start + LONGEST_ROW].partition("\n")[0]
    if len(row) >= LONGEST_ROW:
        return 0
    try:
        before = toml_lines(text[:start] + f'\n"{_HERE}" = 0\n')
        heading = row.lstrip().startswith("[")
        table: Path = () if heading else next(path[:-1] for path in before if path[-1] == _HERE)
        again = row.partition("]")[0].lstrip("[ ") if heading else row.partition("=")[0]
        path = table
        for name in _words(tomllib.loads(f"{again} = 0")):
            path = (*path, name)
        return line_of(before, path) if path in before else 0
    except (ValueError, StopIteration, IndexError):
        return 0


def _words(raw: dict[str, object]) -> list[str]:
    """The words of a dotted key, from the nested tables that it makes."""
    words: list[str] = []
    value: object = raw
    while isinstance(value, dict):
        name = next(iter(value))
        words.append(name)
        value = value[name]
    return words
