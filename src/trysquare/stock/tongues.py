"""Words of German, French, Spanish, Italian and Dutch parts lists as the words that our readers know.

What a word means stands in tongues.csv, the more particular first; common practice, no source.
"""

from __future__ import annotations

import csv
import re
from functools import cache
from importlib.resources import files

_SLOT_OF_A_PROFILE = re.compile(r"\bnut ?([0-9]{1,2})\b")  # German: the slot, where a profile is named


def in_our_words(text: str) -> str:
    """A tidy text with such words put into ours; the rest, sizes above all, stays as it is."""
    for pattern, means in _words():
        text = pattern.sub(means, text)
    if re.search(r"\bprofile?\b|nutenstein|hammermutter", text):
        text = _SLOT_OF_A_PROFILE.sub(r"slot \1", text)
    return text


@cache
def _words() -> tuple[tuple[re.Pattern[str], str], ...]:
    text = files("trysquare.stock").joinpath("tongues.csv").read_text(encoding="utf-8")
    return tuple((re.compile(row["words"]), row["means"]) for row in csv.DictReader(text.splitlines()))
