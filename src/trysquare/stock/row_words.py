"""Words of parts lists beside the designation: coating, material, counts, what the catalogue lacks.

The words stand in row_words.csv: a pattern over tidy text, what it means, and of an obstacle whether a
reading may still be offered. All of them are common practice, no source.
"""

from __future__ import annotations

import csv
import re
from functools import cache
from importlib.resources import files

from trysquare.stock.sureness import Obstacle

_REMARK = re.compile(
    r"\([^)]*\)?|\[[^\]]*\]?|\b(?:for|für|fuer|pour|per|para|voor|to hold|holding|used in)\b.*$|[:;].*$"
)
_LEADING = re.compile(
    r"^\(?([0-9]{1,4})\)? ?(?:x|pcs?\.?|pieces|off|stk\.?|stück|st\.|ea\.?)\)?[ :,-]+(?=[a-z(])"
)
_TRAILING = re.compile(r"[ ,;:(-]+(?:qty\.?|quantity|menge|anz\.?) ?[:=.]? ?([0-9]{1,5})\)?$")
_TIMES = re.compile(
    r"(?<=[a-z)0-9])[ ,;(-]+x ?([0-9]{1,4})\)?$|[ ,;(-]+([0-9]{1,4}) ?(?:x|off|stk|stück|pcs?\.?|ea)\)?$"
)
_SIZED = re.compile(r"m ?[0-9.]+ ?[x-] ?[0-9]|nut|washer|insert|mutter|scheibe")


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
    for sort, words in (("obstacle", text), ("apart", _REMARK.sub(" ", text))):
        for pattern, row in _words(sort):
            if pattern.search(words):
                return Obstacle(row["means"], row["asks"] == "yes")
    return None


def beside_in(text: str) -> Obstacle | None:
    """A word in it, outside remarks ("(motor mount)", "for the bracket"), of things that go with parts."""
    bare = without_remarks(text).strip(" ,.-")
    for pattern, row in _words("beside"):
        if pattern.search(bare):
            return Obstacle(row["means"], asks=True)
    return None


def without_remarks(text: str) -> str:
    """The text without what stands in brackets, behind "for" or behind a colon or semicolon."""
    return _REMARK.sub(" ", text)


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
    text = files("trysquare.stock").joinpath("row_words.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return tuple((re.compile(row["words"]), row) for row in rows if row["sort"] == sort)
