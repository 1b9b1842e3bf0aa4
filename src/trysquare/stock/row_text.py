"""What a line of somebody's parts list means: "M3×8 BHCS", "screw, button head, M3 x 8", "DIN 912 M3x8 8.8".

Which standard parts the words may mean, `stock.habits` reads; here is what else they say: strength class,
coating, material, pieces, and whether it is a profile cut to length or no standard part at all.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from trysquare.catalogue.designation import LONGEST_READ, tidy
from trysquare.stock.guide_habits import without_ends
from trysquare.stock.habits import Heard, Reading, hear, plain_text
from trysquare.stock.quantities import pack_size_in
from trysquare.stock.row_heads import head_in
from trysquare.stock.row_members import Member, member_in
from trysquare.stock.row_words import (
    beside_in,
    coating_in,
    counted_in,
    material_in,
    obstacle_in,
    own_kind,
)
from trysquare.stock.sizes import strength_in
from trysquare.stock.sureness import Obstacle

CERTAIN_FROM = 0.9  # from here on a reading is taken without a question
APART = 0.1  # and only where the next reading is so much less sure
ASKED_FROM = 0.35  # below it a reading is noise
_NYLON = re.compile(r"\bnylon |(?:(?<=x[0-9])|(?<=x[0-9]{2})) nylon$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """What a text says. `readings`: the likeliest first. `obstacle`: why no reading may be taken unasked.

    `pieces`: a number of pieces in the text itself ("12 pcs", "4x M3x8"), `pack_size` what it says of a
    pack; 0 where it says nothing. `says`: sentences for the reader. `kind`: what it is, if an own part.
    """

    text: str
    readings: tuple[Reading, ...]
    obstacle: str = ""
    strength: str = ""
    coating: str = ""
    material: str = ""
    pieces: int = 0
    pack_size: int = 0
    member: Member | None = None
    kind: str = "bought"
    says: tuple[str, ...] = ()

    @property
    def certain(self) -> Reading | None:
        """The reading that is taken without a question; None where there is something to ask."""
        if self.obstacle or not self.readings or self.readings[0].confidence < CERTAIN_FROM:
            return None
        if len(self.readings) > 1 and self.readings[0].confidence - self.readings[1].confidence < APART:
            return None
        return self.readings[0]


@lru_cache(maxsize=1024)  # a row is read for its pieces and again for its part
def understand(name: str) -> Understood:
    """Reads one text. Anything may come in; what is no standard part has no readings."""
    if len(name) > LONGEST_READ:
        return Understood(text=name, readings=(), kind=own_kind(name[:LONGEST_READ].casefold()))
    text = plain_text(name)
    text, pieces = counted_in(re.sub(r"\b(a[24])[/ ]([578]0)\b", r"\1-\2", text))
    coating, material = coating_in(text), material_in(text)
    obstacle = obstacle_in(without_ends(text))
    heard, member = Heard(), None
    if obstacle is None or obstacle.asks:
        # a screw of nylon is like one of steel; the word itself also stands for lock nuts
        heard = hear(_NYLON.sub("", text) if material == "plastic" else text)
        obstacle = obstacle or heard.against or _beside(name, text, heard)
        member = None if heard.readings else member_in(text)
        if member is not None and member.profile and (beside := beside_in(text) or head_in(tidy(name), text)):
            member, obstacle = replace(member, profile="", choices=(member.profile,)), obstacle or beside
    found = heard.readings
    if material and found and not material.startswith(("stainless", "steel")):
        against = f"It is said to be of {material}; the catalogue's is of steel."
        obstacle = obstacle or Obstacle(against, asks=True)
    return Understood(
        text=name,
        readings=tuple(one for one in found if one.confidence >= ASKED_FROM),
        obstacle=obstacle.says if obstacle is not None else "",
        strength=strength_in(text),
        coating=coating,
        material=material,
        pieces=pieces,
        pack_size=pack_size_in(name),
        member=member,
        kind="member" if member is not None else own_kind(text, "fastener" if found else "bought"),
        says=heard.says,
    )


def _beside(name: str, text: str, heard: Heard) -> Obstacle | None:
    """A word of something that goes with the part or is another thing; none where the text is the part's
    designation."""
    if not heard.readings or any(one.confidence == 1.0 for one in heard.readings):
        return None
    return beside_in(text) or head_in(tidy(name), text)
