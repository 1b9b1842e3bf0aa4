"""From which end of a member an offset is stated: as the paper says it, so does the picture."""

from __future__ import annotations

from collections.abc import Mapping

from trysquare.machine.values import Machine


def stated_end(machine: Machine, part: str, member: str) -> str:
    """The end of `member`, "a" or "b", from which `part`'s place on it is stated; "" when its place is
    stated in another way, or on something else, or nobody knows it."""
    placed = machine.part.get(part)
    if machine.tree is None or placed is None:
        return ""
    name = part.removeprefix(f"{placed.unit}/") if placed.unit else part
    row = machine.tree.get(("unit", placed.unit, "place", name))
    if not isinstance(row, Mapping):
        return ""
    on = str(row.get("on", "")).rpartition(":")[0]
    if on not in (member, member.removeprefix(f"{placed.unit}/")) or "offset_mm" not in row:
        return ""
    end = row.get("from", "a")
    return end if end in ("a", "b") else ""
