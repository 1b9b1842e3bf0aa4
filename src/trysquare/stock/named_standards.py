"""Fasteners whose standard the text itself names: "DIN 912 M3x8", "ISO 4032 - M5 - 8", "Scheibe DIN 125 5.3".

A standard that is named goes before every word.
"""

from __future__ import annotations

import re

from trysquare.catalogue.designation import written
from trysquare.catalogue.lookup import UnknownDesignation, designation_of, lookup
from trysquare.catalogue.rows import rows
from trysquare.stock.sizes import strength_in, thread_and_length, thread_in

_STANDARD = re.compile(r"\b(iso|din|ansi|asme|jis|uni|gost|bs|nf)[ .:-]?(?:b ?)?([0-9]{2,5}(?:-[0-9])?)")

_WASHERS = ("ISO 7089", "ISO 7090")
_WASHER_SIZE = re.compile(r"\biso[ .:-]?70(?:89|90) ?- ?(?:m ?)?([0-9]{1,2}(?:\.[0-9])?)(?![0-9.])")
"""How these standards build a designation: ISO 7089 - 8 - 200 HV."""
_FORM_B = re.compile(r"\bdin[ .:-]?125(?:-1)?[ -]?b\b|\bform b\b|\bchamfer|\bgefast?\b|\bmit fase\b")
"""DIN 125 form B has a chamfer: ISO 7090 took its place. From memory."""


def standards_in(text: str, says: list[str]) -> tuple[list[str], str]:
    """Standards of the catalogue that the text names, and the first that is none of it, "" without.

    `says` takes which standard took another's place.
    """
    known = {row["standard"] for row in rows("screw_standards")}
    known |= {row["standard"] for table in ("nuts", "washers") for row in rows(table)}
    former = {row["written"]: row["means"] for row in rows("former_names")}
    found: list[str] = []
    unknown = ""
    for match in _STANDARD.finditer(text):
        body, number = match[1].upper(), match[2]
        name = f"{body} {number}"
        whole = f"{body} {number.partition('-')[0]}"
        name = whole if whole in _WASHERS else name  # "ISO 7089-8": the size, no part of the standard
        means = name if name in known else former.get(name, former.get(whole, ""))
        if means == "ISO 7089" and name.startswith("DIN 125") and _FORM_B.search(text):
            means = "ISO 7090"
        if name.startswith("ISO 7380-") and name not in known:
            means = ""  # part 2 has a collar
        if not means:
            unknown = unknown or name
        elif means not in found:
            if means != name:
                says.append(f"{means} took the place of {name}.")
            found.append(means)
    return found, unknown


def names_a_screw(text: str) -> bool:
    """Whether the text names a standard of screws."""
    return bool({row["standard"] for row in rows("screw_standards")} & set(standards_in(text, [])[0]))


def named(standard: str, text: str) -> list[str]:
    """Designations of the standard with the sizes of the text; none when it has no such size."""
    washer = _WASHER_SIZE.search(text) if standard in _WASHERS else None
    rest = f"m{washer[1]} {_STANDARD.sub(' ', text)}" if washer else _STANDARD.sub(" ", text)
    strength = strength_in(rest) or _nut_class(rest, standard)
    for size, length in _sizes(rest, standard):
        for words in dict.fromkeys((strength, "")):
            try:
                return [lookup(designation_of(standard, size, length, words)).designation]
            except UnknownDesignation:
                continue
    return []


def _sizes(text: str, standard: str) -> list[tuple[str, str]]:
    """Thread and length as the text may mean them, the fuller first."""
    both, size = thread_and_length(text), thread_in(text)
    if size:
        return [*([both] if both else []), (size, "")]
    holes = re.search(r"(?<![0-9.])([0-9]{1,2}\.[0-9])(?![0-9.])", text)
    if not holes or standard not in _WASHERS:  # washers go by their hole as well
        return []
    hole = written(float(holes[1]))
    return [
        (row["thread"], "")
        for row in rows("washers")
        if row["standard"] == standard and row["inner_mm"] == hole
    ]


def _nut_class(text: str, standard: str) -> str:
    """A nut's class stands alone behind the size: "ISO 4032 - M5 - 8"."""
    found = re.search(r"m ?[0-9.]+[ ,-]+(?:(?:class|cl\.?|kl\.?|grade|gr\.?) ?)?(8|10|04|05)\b(?!\.)", text)
    return found[1] if found and any(row["standard"] == standard for row in rows("nuts")) else ""
