"""Sign-offs of a log: what was signed, by whom, in which step. Pure.

A step's sign-off is an open item that was settled; a check of the first power is a result. Both stand as long
as nobody takes them back or opens them again.
"""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.record.readout import said_by
from trysquare.record.state import BuildState, Said

SIGN = ": sign "
"""What stands in the item of a sign-off between its step and its words."""
FIRST_POWER = "first power: "
SIGNED_BY = "signed by "


@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff:
    """One sign-off. `of`: the log's name for it; `says`: it in words; `who`: the name, "" where the entry is
    from a time when nobody was asked for one."""

    of: str
    says: str
    who: str
    step: str | None
    said: Said


def sign_offs(state: BuildState) -> tuple[SignOff, ...]:
    """All that stand, in the order in which they were logged."""
    found = [one for one in (_of_step(state, str(cell[-1])) for cell in _points(state)) if one is not None]
    for of, results in state.results.items():
        if of.startswith(FIRST_POWER) and results[-1].says.startswith(SIGNED_BY):
            last = results[-1]
            who = last.says.removeprefix(SIGNED_BY)
            found.append(SignOff(of=of, says=of, who=who, step=last.step, said=last.said))
    return tuple(sorted(found, key=lambda one: one.said.seq))


def _points(state: BuildState) -> list[tuple[str | None, ...]]:
    return [cell for cell in state.memory.cells if cell[0] == "point" and SIGN in str(cell[-1])]


def _of_step(state: BuildState, item: str) -> SignOff | None:
    entries = state.memory.cells.get(("point", item), ())
    standing = [entry for entry in entries if entry.event.id not in state.undone]
    if not standing or standing[-1].event.kind != "settled":
        return None
    event = standing[-1].event
    who = event.data.get("who")
    return SignOff(
        of=item,
        says=item.partition(SIGN)[2],
        who=who if isinstance(who, str) else "",
        step=event.step,
        said=said_by(standing[-1]),
    )
