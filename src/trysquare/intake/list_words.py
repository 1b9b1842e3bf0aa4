"""Words of parts lists beside the designation: strength, coating, material, counts, what the catalogue lacks.

The words stand in list_words.csv: a pattern over tidy text, what it means, and of an obstacle whether a
reading may still be offered. All of them are common practice, no source.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

_STRENGTH = re.compile(
    r"(?<![0-9.])(8\.8|10\.9|12\.9)(?![0-9.])|\b(a[24])[-/ ]?([578]0)\b|"
    r"\b(14h|22h|33h|45h)\b|\b(a[24])-?(21h)\b"
)


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why a reading may not be taken unasked. Without `asks` no reading can be right: it is an own part."""

    says: str
    asks: bool


_LEADING = re.compile(
    r"^\(?([0-9]{1,4})\)? ?(?:x|pcs?\.?|pieces|off|stk\.?|stück|st\.|ea\.?)\)?[ :,-]+(?=[a-z(])"
)
_TRAILING = re.compile(r"[ ,;:(-]+(?:qty\.?|quantity|menge|anz\.?) ?[:=.]? ?([0-9]{1,5})\)?$")
_TIMES = re.compile(
    r"(?<=[a-z)0-9])[ ,;(-]+x ?([0-9]{1,4})\)?$|[ ,;(-]+([0-9]{1,4}) ?(?:x|off|stk|stück|pcs?\.?|ea)\)?$"
)
_SIZED = re.compile(r"m ?[0-9.]+ ?[x-] ?[0-9]|nut|washer|insert|mutter|scheibe")


def strength_in(text: str) -> str:
    """The strength or hardness class that a tidy text names, as the standards write it; "" without."""
    found = _STRENGTH.search(text)
    if not found:
        return ""
    tensile, steel, tenth, hard, hard_steel, hardness = found.groups()
    if tensile or hard:
        return (tensile or hard).upper()
    return f"{steel or hard_steel}-{tenth or hardness}".upper()


def counted_in(text: str) -> tuple[str, int]:
    """The text without a number of pieces that it says itself, and that number; 0 where it says none."""
    found = _LEADING.match(text)
    if found:
        return text[found.end() :].strip(" )"), int(found[1])
    found = _TRAILING.search(text)
    if found:
        return text[: found.start()], int(found[1])
    found = _TIMES.search(text)
    if found and _SIZED.search(text[: found.start()]):
        return text[: found.start()], int(found[1] or found[2])
    return text, 0


def obstacle_in(text: str) -> Obstacle | None:
    """The first thing in the words that stands against the catalogue's parts."""
    for pattern, row in _words("obstacle"):
        if pattern.search(text):
            return Obstacle(row["means"], row["asks"] == "yes")
    return None


def own_kind(text: str, otherwise: str = "bought") -> str:
    """What an own part is to the builder, by its words: a kind of parts.toml."""
    return _first("kind", text) or otherwise


def coating_in(text: str) -> str:
    """The coating that the words name; "" without."""
    return _first("coating", text)


def material_in(text: str) -> str:
    """The material that the words name; "" without."""
    return _first("material", text)


def _first(sort: str, text: str) -> str:
    return next((row["means"] for pattern, row in _words(sort) if pattern.search(text)), "")


@cache
def _words(sort: str) -> tuple[tuple[re.Pattern[str], dict[str, str]], ...]:
    text = files("trysquare.intake").joinpath("list_words.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return tuple((re.compile(row["words"]), row) for row in rows if row["sort"] == sort)
