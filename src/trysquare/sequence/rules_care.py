"""Rules of care: one grease to a carriage and its rail."""

from __future__ import annotations

from trysquare.catalogue.designation import tidy
from trysquare.ground.findings import Finding
from trysquare.sequence.state import Event
from trysquare.sequence.walk import Walk


def care(walk: Walk, event: Event) -> list[Finding]:
    """Findings of one event: a second sort of grease on what was greased already.

    Common practice, no source: thickeners of two greases may part and run out; nobody sees it.
    """
    if event.action.verb != "grease":
        return []
    found: list[Finding] = []
    for word in event.action.using:
        if "grease" not in word.casefold():
            continue
        for part in event.action.parts:
            place = walk.rail_of.get(part, part)  # a carriage shares its rail's grease
            first = walk.greased.setdefault(place, word)
            if tidy(first) == tidy(word):
                continue
            found.append(
                Finding(
                    code="greases-mixed",
                    says=f"{part} gets '{word}' where '{first}' was put on before.",
                    parts=tuple(dict.fromkeys((part, place))),
                    step=event.step_id,
                    remedy=f"Stay with '{first}', or wash it out with all its traces first.",
                )
            )
    return found
