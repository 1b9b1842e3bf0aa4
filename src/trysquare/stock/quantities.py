"""How many, as packing lists say it: "24", "1 000", "2 packs of 50", "3 x 10", "5 m", "2 rolls of 5 m"."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

MOST_PIECES = 999_999_999
LONGEST_TEXT = 80  # no quantity is longer

# A number with thousands marks of any sort (space, thin space, apostrophe, comma, point) or a decimal mark.
_NUMBER = r"[0-9][0-9.,'’ \u00a0\u2009\u202f]*"
_PIECES = r"(?:pieces?|pcs?\.?|pc\.?|pce|ea\.?|each|units?|items?|off|nos?\.?|stück|stk\.?|st\.|pièces?|x)"
_PACK = (
    r"(?:packs?|packets?|packages?|bags?|boxes|box|sets?|pairs?|strips?|reels?|rolls?|coils?|lengths?|"
    r"vpe|beutel)"
)
_LENGTH = r"(mm|cm|m|metres?|meters?)"
_OF = r"(?:of|à|a|@|x|with|je|/)"
_TO_MM = {"mm": 1.0, "cm": 10.0}

_SHAPES: tuple[tuple[str, re.Pattern[str]], ...] = (
    (
        "lengths",
        re.compile(rf"({_NUMBER})\s*(?:{_PACK}\s*{_OF}?|{_PIECES}\s*{_OF}?|[x×*])\s*({_NUMBER})\s*{_LENGTH}"),
    ),
    ("length", re.compile(rf"(?:{_PACK}\s*{_OF}\s*)?({_NUMBER})\s*{_LENGTH}")),
    ("packs", re.compile(rf"({_NUMBER})\s*{_PACK}\s*{_OF}\s*({_NUMBER})\s*{_PIECES}?")),
    ("packs", re.compile(rf"({_NUMBER})\s*[x×*]\s*({_NUMBER})\s*{_PIECES}?")),
    ("one pack", re.compile(rf"{_PACK}\s*{_OF}\s*({_NUMBER})\s*{_PIECES}?")),
    ("bare packs", re.compile(rf"({_NUMBER})\s*{_PACK}")),
    ("pieces", re.compile(rf"(?:x\s*)?({_NUMBER})\s*{_PIECES}?")),
)
_NEGATIVE = re.compile(r"[-−–]\s*[0-9]|\(\s*[0-9][0-9.,]*\s*\)")
_RANGE = re.compile(r"[0-9]+\s*(?:[-–…]|\.\.\.?|to|bis|or|oder|ou|o)\s*[0-9]+(?:\s*[a-zäöüéè.]+)?")
_ABOUT = re.compile(
    r"(?:~|≈|approx\.?|about|around|roughly|c\.|ca\.?|circa|ungefähr|etwa|rund|env(?:iron|\.)|aprox\.?|unos|"
    r"ongeveer|min\.?|at least|up to|max\.?|>|<|≥|≤)\s*[0-9]|[0-9]\s*(?:\+|ca\b|approx)"
)


class NotACount(ValueError):  # noqa: N818  # it is an answer about the text, told with its remedy
    """A text that is no usable count. `expected` and `remedy` are said to the user; `in_a_list` is the remedy
    where a parts list says what is needed and there is nothing to count or to weigh yet."""

    def __init__(self, expected: str, remedy: str, in_a_list: str = "") -> None:
        self.expected, self.remedy, self.in_a_list = expected, remedy, in_a_list or remedy
        super().__init__(expected)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """What a cell says: `pieces`, each `length_mm` long where a length is said (else 0).

    `packs`: how many packs, when it speaks of packs (0: of single pieces); `pack_size` 0: not said.
    Then `pieces` is packs × pack_size, or 0 while the size is not known.
    """

    pieces: int
    packs: int = 0
    pack_size: int = 0
    length_mm: float = 0.0


def read_quantity(cell: object, *, decimal_comma: bool = False) -> Quantity:
    """The quantity of a cell; raises NotACount. Fractions are for lengths alone."""
    if isinstance(cell, bool) or hasattr(cell, "isoformat") or hasattr(cell, "total_seconds"):
        raise NotACount(
            "a whole number of pieces", "The spreadsheet took it for a date or a yes; write the number."
        )
    if isinstance(cell, int | float):
        return Quantity(pieces=_whole(float(cell)))
    text = " ".join(str(cell)[:LONGEST_TEXT].casefold().split())
    if not text:
        raise NotACount(
            "a whole number of pieces",
            "Count them, or weigh them, and write the number.",
            "Write how many the machine needs.",
        )
    is_range = _RANGE.fullmatch(text) is not None
    if _NEGATIVE.search(text) and not is_range:
        raise _negative()
    if is_range or _ABOUT.search(text):
        raise NotACount(
            "an exact number of pieces",
            "Count them, or weigh them: trysquare stock --weigh.",
            "Write how many the machine needs, such as 4; where you want spares, write the greater number.",
        )
    for shape, pattern in _SHAPES:
        found = pattern.fullmatch(text)
        if found:
            return _read(shape, found, decimal_comma=decimal_comma)
    raise NotACount(
        "a whole number of pieces", "Write the number alone, such as 24, or '2 packs of 50', or '5 m'."
    )


def _read(shape: str, found: re.Match[str], *, decimal_comma: bool) -> Quantity:
    if shape in ("lengths", "length"):
        *first, second, unit = found.groups()
        pieces = _whole(number(first[0], decimal_comma=decimal_comma)) if first else 1
        each_mm = number(second, decimal_comma=decimal_comma, fraction=True) * _TO_MM.get(unit, 1000.0)
        return Quantity(pieces=pieces, length_mm=each_mm)
    counts = [_whole(number(text, decimal_comma=decimal_comma)) for text in found.groups()]
    if shape == "packs":
        packs, size = counts
        return Quantity(pieces=_within(packs * size), packs=packs, pack_size=size)
    if shape == "one pack":
        return Quantity(pieces=counts[0], packs=1, pack_size=counts[0])
    if shape == "bare packs":
        return Quantity(pieces=0, packs=counts[0])
    return Quantity(pieces=counts[0])


def number(text: str, *, decimal_comma: bool = False, fraction: bool = False) -> float:
    """A number with thousands marks or a decimal mark; raises NotACount where it could be read two ways.

    "1,000" is a thousand in a list that separates by commas, and one in a list that separates by
    semicolons; where the list does not tell (1.000 among commas), nobody guesses.
    `fraction`: a decimal number is what is asked for (a length), so a single mark is a decimal mark.
    """
    plain = re.sub(r"(?<=[0-9])['’ \u00a0\u2009\u202f](?=[0-9]{3}(?![0-9]))", "", text.strip())
    decimal, thousands = (",", ".") if decimal_comma else (".", ",")
    if fraction and re.fullmatch(r"[0-9]+[.,][0-9]+", plain):
        return float(plain.replace(",", "."))
    if re.fullmatch(r"[0-9]+", plain):
        return float(plain)
    grouped = re.fullmatch(
        rf"[0-9]{{1,3}}(?:{re.escape(thousands)}[0-9]{{3}})+(?:{re.escape(decimal)}0+)?", plain
    )
    if grouped:
        return float(plain.replace(thousands, "").replace(decimal, "."))
    if re.fullmatch(rf"[0-9]{{1,3}}(?:{re.escape(decimal)}[0-9]{{3}}){{2,}}", plain):
        return float(plain.replace(decimal, ""))  # 1.000.000 can only be a million
    if re.fullmatch(rf"[1-9][0-9]{{0,2}}{re.escape(decimal)}[0-9]{{3}}", plain):
        bare = plain.replace(decimal, "")
        raise NotACount(
            f"a number that reads one way; this may be {bare} or {plain.partition(decimal)[0]}",
            "Write it without any mark.",
        )
    if re.fullmatch(rf"[0-9]+{re.escape(decimal)}[0-9]+", plain):
        return float(plain.replace(decimal, "."))
    if re.fullmatch(rf"[0-9]+{re.escape(thousands)}[0-9]+", plain):
        raise _broken()
    raise NotACount("a number", "Write the number alone, such as 24.")


def _whole(value: float) -> int:
    if not math.isfinite(value):
        raise NotACount("a whole number of pieces", "Write the number alone, such as 24.")
    if value < 0:
        raise _negative()
    if value != int(value):
        raise _broken()
    return _within(int(value))


def _within(value: int) -> int:
    if value > MOST_PIECES:
        raise NotACount(f"at most {MOST_PIECES} pieces", "Check the number.")
    return value


def _negative() -> NotACount:
    return NotACount(
        "a number of pieces, 0 or more", "Correct the sign; a return is no stock.", "Correct the sign."
    )


def _broken() -> NotACount:
    return NotACount(
        "a whole number of pieces",
        "Count the pieces; a half screw holds nothing.",
        "Write a whole number; for what is sold by length write the unit, such as '2.5 m'.",
    )


_PACK_IN_NAME = re.compile(
    r"\(?\b(?<!heat[ -])(?:packs?|bags?|sets?|packets?|box|vpe)\s*(?:of|à|@|with|:)?\s*([0-9]{1,6})\b"
    r"(?![.,][0-9]|\s*(?:mm\b|[x×]\s*[0-9]))(?:\s*(?:pcs|pieces|pc))?\)?"
    r"|\(?\b([0-9]{1,6})(?:-packs?\b|\s*(?:pcs?|pieces|stück|stk)\.?)"
    r"(?:\s*(?:per|/)\s*(?:pack|bag))?\)?(?=$|[\s,;)])",
    re.IGNORECASE,
)


def pack_size_in(name: str) -> int:
    """How many the name itself says are in a pack ("pack of 50", "50 pcs"); 0 when it does not."""
    found = _PACK_IN_NAME.search(name)
    return int(found[1] or found[2]) if found else 0


def without_pack(name: str) -> str:
    """The name without what it says of packs."""
    return " ".join(_PACK_IN_NAME.sub(" ", name).split()).strip(" ,;-") or name
