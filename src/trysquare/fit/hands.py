"""Parts that come in pairs: mirror twins one each, and drives of one axis with one travel per turn."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from trysquare.catalogue.values import LeadScrew, Pulley
from trysquare.ground.findings import Finding
from trysquare.machine.values import Axis, Joint, Machine, PartType, PlacedPart

_OTHER = {"left": "right", "right": "left"}
_ALONG = 0.999  # cosine; a lead screw drives the axis that it lies along


def hand_findings(machine: Machine) -> Iterator[Finding]:
    """Mirror twins of which more of one hand stand in the machine than of the other.

    Twins are two part types of opposite `hand` whose names differ in that word alone. A hand without a
    twin is left alone: some parts are wanted twice.
    """
    placed: dict[str, list[PlacedPart]] = {}
    for part in machine.placed:
        placed.setdefault(part.type.id, []).append(part)
    for kind in machine.types.values():
        twin = twin_of(machine, kind)
        mine = placed.get(kind.id, [])
        if twin is None or len(mine) <= len(placed.get(twin.id, [])):
            continue
        others = placed.get(twin.id, [])
        yield Finding(
            code="two-of-one-hand",
            says=f"{kind.id} stands in {len(mine)} places, its mirror twin {twin.id} in {len(others)}.",
            parts=tuple(part.id for part in (*mine, *others)),
            value=float(len(mine)),
            limit=float(len(others)),
            unit="pieces",
            remedy=f"Look at each place: one of them wants the {twin.hand} one.",
            where=mine[0].where,
        )


def twin_of(machine: Machine, kind: PartType) -> PartType | None:
    """The mirror twin of a part type, None when it has none."""
    other = _OTHER.get(kind.hand)
    if other is None:
        return None
    word = re.compile(rf"(?<![a-z]){kind.hand}(?![a-z])")
    twin = machine.types.get(word.sub(other, kind.id))
    return twin if twin is not None and twin.hand == other else None


def drive_findings(machine: Machine) -> Iterator[Finding]:
    """Drives that must go the same way per turn and do not: motor pulleys of belts that must be equal, and
    lead screws along one axis."""
    said: set[frozenset[str]] = set()
    for joint in machine.joints:
        other = machine.joint.get(joint.belt.equal_to) if joint.belt else None
        both = frozenset({joint.id, other.id}) if other is not None else frozenset()
        if other is None or both in said:
            continue
        said.add(both)
        turns = {
            part.id: size.teeth * size.pitch_mm
            for one in (joint, other)
            for part, size in _driving(machine, one)
        }
        yield from _unlike(turns, f"{joint.id} and {other.id} must be equal", joint.id)
    for axis in machine.axes:
        alike = [one for one in machine.axes if abs(float(np.dot(one.direction, axis.direction))) > _ALONG]
        if len(alike) == 1:  # of two axes that run the same way it is not known which is driven
            turns = {part.id: size.lead_mm for part, size in _screws_along(machine, axis)}
            yield from _unlike(turns, f"axis {axis.id} is driven by several", "")


def _driving(machine: Machine, joint: Joint) -> Iterator[tuple[PlacedPart, Pulley]]:
    for name in joint.parts:
        size = machine.part[name].type.standard
        if isinstance(size, Pulley) and size.teeth and not size.driven:
            yield machine.part[name], size


def _screws_along(machine: Machine, axis: Axis) -> Iterator[tuple[PlacedPart, LeadScrew]]:
    for part in machine.placed:
        size = part.type.standard
        along = part.placement.turn[:, 2] @ np.asarray(axis.direction)
        if isinstance(size, LeadScrew) and abs(float(along)) > _ALONG:
            yield part, size


def _unlike(turns: dict[str, float], what: str, joint: str) -> Iterator[Finding]:
    if len({round(travel, 6) for travel in turns.values()}) < 2:
        return
    low, high = min(turns, key=turns.__getitem__), max(turns, key=turns.__getitem__)
    yield Finding(
        code="travel-per-turn-differs",
        says=f"{what}, but {low} goes {turns[low]:g} mm a turn and {high} {turns[high]:g} mm.",
        parts=tuple(turns),
        joint=joint,
        value=turns[high],
        limit=turns[low],
        unit="mm",
        remedy="Take drives of one tooth count or lead.",
    )
