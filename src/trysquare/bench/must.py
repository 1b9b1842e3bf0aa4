"""What a step must not be left without, unless somebody says why: items by name, and which are open. Pure.

An item is a sign-off, a check that is a matter of safety or alignment, or an alignment to be read. It is
named within the whole machine, so that a log's open point can be found again: step, sort and what is meant.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from trysquare.bench.verdicts import GOOD, verdict_of
from trysquare.bench.views import OpenView
from trysquare.bench.views_step import StepView
from trysquare.record.replay import BuildState
from trysquare.record.sign_offs import SIGN

LONGEST_WORDS = 160


def read_item(step: str, characteristic: str) -> str:
    """The item of an alignment that a step reads."""
    return f"{step}: read {characteristic}"


def check_item(step: str, says: str) -> str:
    """The item of a check, by its words: another check than was seen to is another item."""
    return f"{step}: check {says[:LONGEST_WORDS]}"


def sign_item(step: str, says: str) -> str:
    """The item of a sign-off, by its words."""
    return f"{step}{SIGN}{says[:LONGEST_WORDS]}"


def settled_by(state: BuildState, item: str) -> str:
    """The id of the event that settled an item; "" while nobody has, or when it was opened after that."""
    entries = state.memory.cells.get(("point", item), ())
    standing = [entry for entry in entries if entry.event.id not in state.undone]
    return standing[-1].event.id if standing and standing[-1].event.kind == "settled" else ""


def open_items(page: StepView, state: BuildState) -> tuple[OpenView, ...]:
    """What of a step nobody has settled, read good, or left open with a reason."""
    return tuple(one for one in unsettled(page, state) if one.item not in state.open_points)


def unsettled(page: StepView, state: BuildState) -> tuple[OpenView, ...]:
    """What of a step nobody has settled or read good, whether it was left open or not."""
    good = {one.must for one in page.to_read if verdict_of(state, page.id, one) == GOOD}
    return tuple(one for one in page.must if one.item not in good and not settled_by(state, one.item))


def still_open(items: Iterable[OpenView], said: Iterable[Mapping[str, object]]) -> tuple[OpenView, ...]:
    """Items that events of the same post, said before, do not answer: each with `kind` and `item`."""
    answered = {one.get("item") for one in said if one.get("kind") in ("left-open", "settled")}
    return tuple(one for one in items if one.item not in answered)
