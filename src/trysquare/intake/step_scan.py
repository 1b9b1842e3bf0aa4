"""What is wrong in the text of a STEP file on which the CAD kernel crashed: mostly a line that is missing."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from trysquare.intake.limits import MEGABYTE

LARGEST_SCANNED_MB = 200  # the text is held in memory twice
_STRING = re.compile(rb"'(?:[^']|'')*'")
_DEFINED = re.compile(rb"#(\d+)\s*=")
_NAMED = re.compile(rb"#(\d+)(?!\d)\s*(?!\s*=)")


_USE = re.compile(rb"NEXT_ASSEMBLY_USAGE_OCCURRENCE\s*\([^;]*?(#\d+)\s*,\s*(#\d+)\s*,[^,;]*\)\s*;")


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """An entity that is named but not in the file. `line`: the first one that names it, from 1."""

    number: int
    line: int
    count: int  # how many different ones are missing


def first_missing(path: Path) -> Missing | None:
    """The first entity that is named and not there; None when all are, or the file is too large."""
    if path.stat().st_size > LARGEST_SCANNED_MB * MEGABYTE:
        return None
    # strings may hold anything; their line breaks are kept, so that lines count right
    text = _STRING.sub(lambda found: b"''" + b"\n" * found[0].count(b"\n"), path.read_bytes())
    defined = {int(number) for number in _DEFINED.findall(text)}
    named = {int(number) for number in _NAMED.findall(text)}
    missing = named - defined
    if not missing:
        return None
    for found in _NAMED.finditer(text):
        number = int(found[1])
        if number in missing:
            return Missing(number=number, line=text.count(b"\n", 0, found.start()) + 1, count=len(missing))
    return None


def line_of_circle(path: Path) -> int | None:
    """The line, from 1, of the first use of an assembly within itself, at any depth; None without one."""
    if path.stat().st_size > LARGEST_SCANNED_MB * MEGABYTE:
        return None
    text = path.read_bytes()
    inside: dict[bytes, list[tuple[bytes, int]]] = {}
    for found in _USE.finditer(text):
        inside.setdefault(found[1], []).append((found[2], found.start()))
    for whole, uses in inside.items():
        for part, at in uses:
            if _reaches(inside, part, whole):
                return text.count(b"\n", 0, at) + 1
    return None


def _reaches(inside: dict[bytes, list[tuple[bytes, int]]], start: bytes, wanted: bytes) -> bool:
    seen, waiting = {start}, [start]
    while waiting:
        one = waiting.pop()
        if one == wanted:
            return True
        new = {part for part, _at in inside.get(one, ())} - seen
        seen |= new
        waiting += new
    return False
