"""Whether there is enough material round a heat-set insert."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from trysquare.catalogue.lookup import UnknownDesignation, lookup
from trysquare.catalogue.values import Insert
from trysquare.ground.findings import Finding
from trysquare.machine.values import Hole, Machine, PartType
from trysquare.solid.bodies import shaft
from trysquare.solid.keyline import key_place
from trysquare.solid.shapes import Solid, makes_solid, solid_of
from trysquare.solid.shared import found_apart, is_apart
from trysquare.solid.sizes import name_of

BOSS_SHARE = 0.9  # of the least boss, which is "about twice the hole": common practice, no source
WHOLE_RING = 0.995  # of the boss must be material; rounding takes the rest
END_MM = 0.3  # left out at both ends: chamfers and the pocket that takes the plastic
_HALVINGS = 6  # of the boss, to say how wide the material goes


def boss_findings(machine: Machine) -> Iterator[Finding]:
    """Inserts with clearly less material round them than the least boss of their size, part by part.

    Parts without a solid, and inserts that no table knows, are left out.
    """
    kinds = {part.type.id: part.type for part in machine.placed if not part.joint}
    for kind in kinds.values():
        holes = [hole for hole in kind.holes if hole.insert]
        if not holes or not makes_solid(kind):
            continue
        solid = solid_of(kind, machine.folder)
        thin: dict[str, tuple[float, Hole, Insert]] = {}
        for hole in holes:
            try:
                insert = lookup(hole.insert)
            except UnknownDesignation:
                continue  # reading it says so
            if isinstance(insert, Insert) and not _is_whole(solid, hole, insert, BOSS_SHARE * insert.boss_mm):
                thin[hole.name] = (_widest(solid, hole, insert), hole, insert)
        if thin:
            yield _thin(machine, kind, thin)


def _thin(machine: Machine, kind: PartType, thin: dict[str, tuple[float, Hole, Insert]]) -> Finding:
    widest, hole, insert = min(thin.values(), key=lambda one: one[0])
    return Finding(
        code="insert-near-edge",
        says=f"{kind.id}: round {', '.join(thin)} the material is only {widest:.1f} mm across; {hole.insert} "
        f"wants a boss of {insert.boss_mm:g} mm.",
        parts=tuple(part.id for part in machine.placed if part.type.id == kind.id),
        value=round(widest, 1),
        limit=insert.boss_mm,
        unit="mm",
        at_mm=_first_place(machine, kind, hole),
        remedy="Move the hole inwards, or thicken the part there.",
        where=kind.where,
    )


def _first_place(machine: Machine, kind: PartType, hole: Hole) -> tuple[float, float, float]:
    placed = next(part for part in machine.placed if part.type.id == kind.id)
    x, y, z = placed.placement.point(np.asarray(hole.at_mm)).tolist()
    return x, y, z


def _is_whole(solid: Solid, hole: Hole, insert: Insert, across_mm: float) -> bool:
    """Whether a ring round the hole, this wide outside, is material all round."""
    deep = min(insert.length_mm, hole.depth_mm) - 2 * END_MM
    inner = max(insert.hole_mm, hole.diameter_mm) + 0.1
    if deep <= 0 or across_mm <= inner:
        return True
    numbers = np.array([*hole.at_mm, *hole.direction, across_mm, inner, deep])
    name = name_of(b"boss", solid.digest, np.round(numbers, 6).tobytes())
    if is_apart(name):  # asked and found whole in an earlier run
        return True
    ring = shaft(across_mm, 0.0, deep) - shaft(inner, -1.0, deep + 2.0)
    into = -np.asarray(hole.direction, dtype=float)
    place = key_place(np.asarray(hole.at_mm) + into * END_MM, into)
    there = float((solid.manifold ^ ring.transform(place.matrix())).volume())
    whole = there >= WHOLE_RING * float(ring.volume())
    if whole:
        found_apart(name)
    return whole


def _widest(solid: Solid, hole: Hole, insert: Insert) -> float:
    """The widest ring that is material all round, mm; the hole itself when there is none."""
    low, high = max(insert.hole_mm, hole.diameter_mm), insert.boss_mm
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if _is_whole(solid, hole, insert, middle):
            low = middle
        else:
            high = middle
    return low
