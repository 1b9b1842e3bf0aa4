"""How many things wait for somebody: the figure beside the flag, of the page behind it."""

from __future__ import annotations

from trysquare.bench.now import Now
from trysquare.bench.show_readings import to_read_anywhere
from trysquare.bench.verdicts import BAD
from trysquare.bench.views_step import ToReadView


def read_and_bad(now: Now) -> tuple[ToReadView, ...]:
    """Characteristics whose last reading that counts is out of its limit."""
    order = now.shown.order
    rows = (to_read_anywhere(now, one) for one in order.to_read) if order is not None else ()
    return tuple(one for one in rows if one.settled == BAD)


def open_count(now: Now) -> int:
    """What was left open, what two devices say differently, and what was read and is not good."""
    return len(now.state.open_points) + len(now.state.conflicts) + len(read_and_bad(now))
