"""What an own part is probably made of, by its name and its colour: a guess that says that it is one."""

from __future__ import annotations

import re
from dataclasses import dataclass

from trysquare.intake.bodies import Colour
from trysquare.stock.row_words import material_in

GREY = 0.12  # channels that differ by less have no colour of their own
DARK = 0.25
USUAL = "aluminium"  # of cut plates on small machines; common practice, no source
_WORDS = (
    (re.compile(r"6061|6082|5083|en ?aw|\balu", re.IGNORECASE), "aluminium"),
    (re.compile(r"s235|1\.4301|\baisi|\bsteel|stahl|inox|acier", re.IGNORECASE), "steel"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """A material and what it was guessed from."""

    material: str
    why: str


def guessed_material(name: str, colour: Colour | None) -> Guess:
    """The likeliest material of a cut plate. Its name is believed before its colour; both are guesses."""
    for pattern, material in _WORDS:
        if found := pattern.search(name):
            return Guess(material=material, why=f"its name says '{found[0]}'")
    if said := material_in(name):
        return Guess(material=said, why=f"its name says {said}")
    if colour is None:
        return Guess(material=USUAL, why="most plates are of it; the file gives no colour")
    red, green, blue = colour
    if red > green + GREY > blue + 2 * GREY and min(red, green) > 2 * DARK:
        return Guess(material="brass", why="its colour is yellow, as of brass")
    if max(colour) - min(colour) < GREY and max(colour) > DARK:
        return Guess(material=USUAL, why="its colour is a metal's grey")
    return Guess(material=USUAL, why="most plates are of it; its colour says nothing of a metal")
