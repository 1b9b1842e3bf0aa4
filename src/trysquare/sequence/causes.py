"""One cause, one finding: what only follows from another finding is left out, what is the same is told once.

A member that stands end for end has its access holes elsewhere, too, and then no key reaches the screws
behind it. Three rooms say so, each in its own words; a builder mends one thing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from trysquare.catalogue.values import Screw
from trysquare.ground.findings import Finding
from trysquare.machine.values import Machine

_NO_HOLE = ("access-hole-missing", "access-hole-too-small")
_WRONG_PLACE = ("overlap", "hole-missing", "hole-off-line", "hole-over-no-slot")
_NO_WAY = ("no-way-in", "unit-has-no-way-in", "screw-cannot-get-in")


def one_for_each_cause(machine: Machine, findings: Iterable[Finding]) -> list[Finding]:
    """All findings of reading, fit and order of one machine without those that only follow from others."""
    found = list(findings)
    consequences = [
        *_holes_of_turned_members(found),
        *_keys_without_holes(found),
        *_ways_of_clashing(found),
        *_hands_of_clashing(found),
    ]
    left_out = {id(one) for one in consequences}
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for one in found:
        if id(one) not in left_out:
            groups.setdefault(_cause(machine, one), []).append(one)
    return [_told_once(machine, group) for group in groups.values()]


def _holes_of_turned_members(found: Sequence[Finding]) -> list[Finding]:
    """Access holes missing in a member whose own end meets no slot: it stands end for end, or elsewhere."""
    turned = {one.parts[0] for one in found if one.code == "end-meets-no-slot" and one.parts}
    return [one for one in found if one.code in _NO_HOLE and one.parts[1] in turned]


def _keys_without_holes(found: Sequence[Finding]) -> list[Finding]:
    """No key line to screws whose neighbour lacks the access hole, where nothing else is in the way."""
    lacking = {part for one in found if one.code in _NO_HOLE for part in one.parts}
    return [one for one in found if one.code == "no-key-line" and lacking.issuperset(one.parts)]


def _ways_of_clashing(found: Sequence[Finding]) -> list[Finding]:
    """No way in for a part that shares its place with another: whether it has one cannot be told before
    that is settled."""
    clashing = {part for one in found if one.code == "overlap" for part in one.parts}
    return [one for one in found if one.code in _NO_WAY and one.parts and one.parts[0] in clashing]


def _hands_of_clashing(found: Sequence[Finding]) -> list[Finding]:
    """Two of one hand, one of which does not fit where it is: that says it already, and says which."""
    clashing = {part for one in found if one.code in _WRONG_PLACE for part in one.parts}
    return [one for one in found if one.code == "two-of-one-hand" and not clashing.isdisjoint(one.parts)]


def _cause(machine: Machine, one: Finding) -> tuple[object, ...]:
    """Findings with the same answer have one cause; most have their own."""
    if one.code in ("end-not-tapped", "end-meets-no-slot"):
        return one.code, one.parts[0]  # the wrong member, or one turned: both its ends say so
    if one.code in _NO_HOLE:
        return one.code, one.parts[1]  # the member that lacks the holes
    if one.code == "iron-cannot-reach":
        return one.code, one.step, one.joint, one.parts[1:]
    if one.code == "plug-larger-than-hole":
        return one.code, one.step, one.joint
    standing = machine.part.get(one.parts[0]) if one.code == "in-moving-path" else None
    if standing is not None and standing.joint:
        return one.code, standing.joint  # a screw together with its nut
    return (id(one),)


def _told_once(machine: Machine, group: Sequence[Finding]) -> Finding:
    if len(group) == 1:
        return group[0]
    first = next((one for one in group if _is_screw(machine, one)), group[0])
    others = [one for one in group if one is not first]
    joints = list(dict.fromkeys(one.joint for one in others if one.joint != first.joint))
    likewise = f"Likewise {', '.join(joints)}." if joints else f"{len(group)} places alike."
    parts = tuple(dict.fromkeys(part for one in (first, *others) for part in one.parts))
    return replace(first, parts=parts, says=f"{first.says} {likewise}")


def _is_screw(machine: Machine, one: Finding) -> bool:
    part = machine.part.get(one.parts[0]) if one.parts else None
    return part is not None and isinstance(part.type.standard, Screw)
