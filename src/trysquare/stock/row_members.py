"""T-slot profiles cut to length, as parts lists write them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from trysquare.catalogue.designation import written
from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.catalogue.rows import rows

_PROFILE_WORD = re.compile(r"extrusion|profile?\b|profil\b|t-?slot|beam|member|\bbar\b|aluprofil|strangpress")
# a size, a slot and a length and nothing else, as under the heading "profile"
_BARE = re.compile(r"[0-9]{2}x?[0-9]{2,3}[ ,]+slot [0-9]{1,2}[ ,]+(?:l ?= ?)?[0-9.]+ ?(?:mm)?")
_SLOT_NUT_WORD = re.compile(r"nut|mutter|cover|cap\b|bracket|connector|gasket|insert|screw")
_CELL = re.compile(r"(?<![0-9.])(15|20|30|40|45)(?:x|)(15|20|30|40|45|60|80|90)(?![0-9])")
USUAL_SLOT_MM = {15: 3, 20: 6, 30: 8, 40: 8, 60: 8, 80: 8}
"""The slot that a size is mostly sold with, where the catalogue has two: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A profile cut to length. `profile` is "" where the text leaves more than one slot open; then `choices`
    are the catalogue's profiles of that size, the usual one first."""

    profile: str
    length_mm: float
    choices: tuple[str, ...] = ()


def member_in(text: str) -> Member | None:
    """A T-slot profile cut to length: "2020 extrusion 400 mm", "profile 20x40 slot 6, L = 350"."""
    cell = _CELL.search(text)
    if not cell or not (_PROFILE_WORD.search(text) or _BARE.fullmatch(text)) or _SLOT_NUT_WORD.search(text):
        return None
    rest = text[: cell.start()] + " " + text[cell.end() :]
    slot = re.search(r"slot ?([0-9]{1,2})|nut ?([0-9]{1,2})\b|([0-9]{1,2}) ?mm slot", rest)
    said = next((group for group in slot.groups() if group), "") if slot else ""
    rest = rest[: slot.start()] + " " + rest[slot.end() :] if slot else rest
    lengths = [float(one) for one in re.findall(r"(?<![0-9.])([0-9]{2,5}(?:\.[0-9]{1,2})?)(?![0-9.])", rest)]
    if re.search(r"[0-9] ?cm\b", rest):
        lengths = [10 * one for one in lengths]
    elif metres := re.search(r"(?<![0-9.])([0-9]{1,2}(?:\.[0-9]{1,3})?) ?m\b", rest):
        lengths = [1000 * float(metres[1])]
    if len(lengths) != 1 or not lengths[0] >= 10:
        return None
    width, height = sorted((int(cell[1]), int(cell[2])))
    fit = []
    for row in rows("slots"):
        name = f"profile {width}x{height} slot {row['slot_mm']}"
        try:
            lookup(name)
        except UnknownDesignation:
            continue
        if not said or written(float(said)) == row["slot_mm"]:
            fit.append(name)
    fit = list(dict.fromkeys(fit))
    if len(fit) == 1:
        return Member(profile=fit[0], length_mm=lengths[0])
    usual = USUAL_SLOT_MM.get(width, 0)
    fit.sort(key=lambda name: not name.endswith(f" slot {usual}"))
    return Member(profile="", length_mm=lengths[0], choices=tuple(fit))
