"""The catalogue's part of a word, if it is a designation at all.

Asked for a word it does not know, the catalogue looks for the nearest names, which takes a while; so only
words that have a designation's form are asked.
"""

from __future__ import annotations

import re
from functools import lru_cache

from trysquare.catalogue.designation import LONGEST_READ, tidy
from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.catalogue.values import StandardPart

_FORM = re.compile(
    r"(?:iso|din) ?[0-9]+(?:-[0-9])?[ -]*m[0-9.]+(?:x[0-9.]+)?(?:[ -]+[a-z0-9.-]+)?"
    r"|(?:slide|hex|roll|quarter)[- ]?(?:in[- ]?slot|in|turn)(?: nut)? slot [0-9.]+ m[0-9.]+"
    r"|heat[- ]?set insert m[0-9.]+x[0-9.]+"
    r"|(?:profile )?[0-9.]+x[0-9.]+ slot [0-9.]+"
    r"|rail [0-9.]+x[0-9.]+(?: ends [0-9.]+ ?/ ?[0-9.]+)?"
    r"|block [0-9.]+ (?:standard|long)"
    r"|belt [0-9.]+ mm pitch [0-9.]+ mm wide"
    r"|(?:pulley|idler|smooth idler|idler smooth) [0-9].*"
    r"|lead screw [0-9].*"
    r"|(?:wire )?awg ?[0-9]+|wire [0-9.]+ ?mm\^?2"
    r"|grease nlgi ?[0-9]+"
)


@lru_cache(maxsize=8192)
def standard_of(word: str) -> StandardPart | None:
    """The standard part of a designation, however it is spelt; None for an own id or any other word."""
    text = tidy(word)
    if len(text) > LONGEST_READ or not _FORM.fullmatch(text):
        return None
    try:
        return lookup(word)
    except UnknownDesignation:
        return None
