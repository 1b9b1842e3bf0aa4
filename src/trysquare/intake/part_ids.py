"""Names of parts as ids: letters, digits and hyphens, each used once."""

from __future__ import annotations

import re
from collections.abc import Mapping

_EMPTY = frozenset({"", "solid", "body", "part", "compound", "shape", "unnamed", "none", "noname"})


def slug(text: str, most: int = 48) -> str:
    """A text as an id: letters, digits and hyphens; "" when nothing is left of it."""
    plain = text.replace("×", "x").replace("Ø", "d")
    return (
        re.sub(r"[^A-Za-z0-9_]+", "-", plain.encode("ascii", "ignore").decode()).strip("-")[:most].strip("-")
    )


def says_nothing(name: str) -> bool:
    """Whether a slug is only what a program writes where nobody gave a name."""
    return name.lower() in _EMPTY


class Names:
    """Ids that are used once each, in their space."""

    def __init__(self, known: Mapping[str, str] | None = None) -> None:
        self._known = dict(known or {})
        self._given: set[str] = set()
        self._used: dict[str, set[str]] = {"": {name.lower() for name in self._known.values()}}

    def one_of(self, wanted: str, space: str = "", digest: str = "") -> str:
        known = self._known.pop(digest, "")
        if known and known not in self._given:  # two revisions' shapes may have had one name
            self._given.add(known)
            return known
        used = self._used.setdefault(space, set())
        name, number = wanted, 2
        while name.lower() in used:
            name = f"{wanted}-{number}"
            number += 1
        used.add(name.lower())
        return name
