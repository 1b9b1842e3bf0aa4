"""Which threads a sort of slot nut is made with, for a screw that has none of them."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence

from trysquare.catalogue.lookup import UnknownDesignation
from trysquare.machine.types import standard_type

COARSE = ("M2", "M2.5", "M3", "M4", "M5", "M6", "M8")


def threads_of(sort: str) -> list[str]:
    """The threads that a sort of slot nut is made with."""
    found = []
    for thread in COARSE:
        with contextlib.suppress(UnknownDesignation):
            standard_type(f"{sort} {thread}")
            found.append(thread)
    return found


def nearest_thread(thread: str, known: Sequence[str]) -> str:
    """The known thread whose diameter is the nearest to another's."""

    def diameter(name: str) -> float:
        digits = name.removeprefix("M").partition("x")[0]
        return float(digits) if digits.replace(".", "", 1).isdigit() else 0.0

    return min(known, key=lambda one: abs(diameter(one) - diameter(thread)))
