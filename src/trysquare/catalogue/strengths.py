"""Property classes of screws and nuts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from trysquare.catalogue.designation import near, tidy
from trysquare.catalogue.rows import rows
from trysquare.catalogue.unknown import UnknownDesignation


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """What a property class promises; 0 where its standard states no such value.

    Hardness classes of set screws (45H) have no tensile values, nut classes only a proof stress.
    """

    name: str  # "8.8", "A2-70"
    yield_mpa: float  # 0.2 % proof strength Rp0.2, the least
    ultimate_mpa: float  # tensile strength Rm, the least
    proof_mpa: float  # stress under proof load Sp
    source: str


@cache
def strength(name: str) -> Strength:
    """The property class of a name such as "8.8" or "A2-70"; raises UnknownDesignation."""
    asked = tidy(name).upper()
    for row in rows("strengths"):
        if row["name"] == asked:
            return Strength(
                name=row["name"],
                yield_mpa=float(row["yield_mpa"]),
                ultimate_mpa=float(row["ultimate_mpa"]),
                proof_mpa=float(row["proof_mpa"]),
                source=row["source"],
            )
    known = strength_names()
    raise UnknownDesignation(
        read=name,
        expected=f"a property class: {', '.join(known)}",
        suggestions=near(name, known),
        where="strength",
    )


def strength_names() -> tuple[str, ...]:
    """All property classes, in table order."""
    return tuple(row["name"] for row in rows("strengths"))


def strength_among(written: str, allowed: Sequence[str]) -> str | None:
    """The allowed class that the words mean; None when none of them.

    A bare steel group means the first allowed class of that group ("A2" → "A2-70"), as dealers
    mean it (common practice, no source). The leading zeros by which ISO 7380-1 and ISO 10642 mark
    a reduced load ("010.9", "A2-070") are read as the class itself.
    """
    word = tidy(written).upper().replace(" ", "")
    for name in allowed:
        steel, dash, number = name.rpartition("-")
        if word in (name, f"0{name}", f"{steel}{dash}0{number}", f"{steel}{number}"):
            return name
    return next((name for name in allowed if name.startswith(f"{word}-")), None) if word else None
