"""A rule of readings: what a characteristic speaks of must be there when it is read."""

from __future__ import annotations

from collections.abc import Sequence

from trysquare.ground.findings import Finding
from trysquare.sequence.state import Event
from trysquare.sequence.walk import Walk


def read_of_absent(walk: Walk, event: Event, name: str) -> list[Finding]:
    """A reading of parts that a later step brings; once for each characteristic. What no step brings is
    told as never placed."""
    one = walk.characteristic.get(name)
    if one is None or name in walk.said_absent:
        return []
    absent = {key: _later(walk, event, parts) for key, parts in (("of", one.of), ("against", one.against))}
    late = [part for parts in absent.values() for part in parts]
    if not late:
        return []
    walk.said_absent.add(name)
    whole = {"of": one.of, "against": one.against}
    keep = [
        f"{key} = [{', '.join(quoted)}]"
        for key, parts in absent.items()
        if parts and (quoted := [f'"{part}"' for part in whole[key] if part not in parts])
    ]
    named = (
        f"If only what is there is meant, write {' and '.join(keep)}" if keep else "Correct what it speaks of"
    )
    return [
        Finding(
            code="read-before-there",
            says=f"{name} is read, and part of what it speaks of is not there yet: {_listed(late)}.",
            parts=tuple(late[:4]),
            step=event.step_id,
            remedy=f"{named}; else read it after step {walk.comes_in[late[-1]]}.",
        )
    ]


def _later(walk: Walk, event: Event, parts: Sequence[str]) -> list[str]:
    return [
        part
        for part in parts
        if part not in walk.state.present and walk.comes_in.get(part, event.step_id) != event.step_id
    ]


def _listed(parts: Sequence[str]) -> str:
    if len(parts) <= 4:
        return ", ".join(parts)
    return f"{', '.join(parts[:3])} and {len(parts) - 3} more"
