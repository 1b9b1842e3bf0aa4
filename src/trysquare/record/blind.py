"""Which entries speak of one thing without knowing of each other. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from trysquare.record.events import Logged


def is_blind(later: Logged, earlier: Logged) -> bool:
    """Whether the later entry's device could not know of the earlier entry, another device's.

    A device that says which entry it had seen is believed. Else its event's time decides: what it said before
    the log received the earlier entry, it said without it. That hangs on the device's clock.
    """
    if later.event.device == earlier.event.device:
        return False
    if later.event.seen is not None:
        return later.event.seen < earlier.seq
    # Both are UTC with milliseconds, so they compare as text.
    return later.event.at < earlier.received


def standing_conflict(
    entries: Iterable[Logged], says: Callable[[Logged], str]
) -> tuple[Logged, Logged] | None:
    """The two entries that contradict each other, as long as nobody who knew of both spoke since.

    entries: all in force on one thing, in order.
    """
    conflict: tuple[Logged, Logged] | None = None
    last: dict[str, Logged] = {}  # what each device said last, in order
    for entry in entries:
        others = reversed(last.values())
        against = next((one for one in others if says(entry) != says(one) and is_blind(entry, one)), None)
        if against is not None:
            conflict = (against, entry)
        elif conflict is not None and not any(is_blind(entry, one) for one in conflict):
            conflict = None
        last.pop(entry.event.device, None)
        last[entry.event.device] = entry
    return conflict
