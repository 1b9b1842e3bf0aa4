"""Rules of holding: carriages stay on their rails, units stand, nothing hangs free at a step's end."""

from __future__ import annotations

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from trysquare.ground.findings import Finding
from trysquare.ground.placement import DIRECTIONS, Array, unit
from trysquare.machine.values import PlacedPart
from trysquare.sequence.state import Event, State, Tightness
from trysquare.sequence.walk import Walk
from trysquare.solid.shapes import makes_solid, solid_of

ON_TABLE_MM = 0.5
TIPS_MM = 1.0  # the centre of mass must lie this far inside the feet


def holding(walk: Walk, event: Event) -> list[Finding]:
    """Findings at the end of a step, on the state after its last event; of turning, at once."""
    found: list[Finding] = []
    turning = event.action.verb == "turn"
    if event.last_of_step or turning:
        found += _carriages(walk, event, turning)
    if event.last_of_step:
        found += _free_parts(walk, event)
    return found


def _carriages(walk: Walk, event: Event, turning: bool) -> list[Finding]:
    found: list[Finding] = []
    state = walk.state
    for block_id, rail_id in walk.rail_of.items():
        if block_id not in state.present or rail_id not in state.present:
            continue
        if block_id in state.held or rail_id in state.held or block_id in walk.said_carriage:
            continue
        block, rail = walk.machine.part[block_id], walk.machine.part[rail_id]
        near = state.at_home(state.home_of(block_id)) - {block_id, rail_id}
        near -= walk.moves_with(block_id)
        ends = [end for end, probe in walk.rail_ways(block, rail) if walk.reach.is_free(probe, near)]
        if not ends or walk.is_tied(block_id):
            continue
        walk.said_carriage.add(block_id)
        while_turning = " when the work is turned" if turning else ""
        found.append(
            Finding(
                code="carriage-can-run-off",
                says=f"{block_id} can run off {rail_id} at end {' and '.join(ends)}{while_turning}: "
                "its balls would be lost.",
                parts=(block_id, rail_id),
                step=event.step_id,
                remedy=f"Put a stop at end {' and '.join(ends)} of {rail_id}, or hold the carriage with tape.",
            )
        )
    return found


def rests(state: State, walk: Walk, parts: set[str]) -> list[set[str]]:
    """Present parts in groups that hang together by started joints, by slots and by rails."""
    root = {part: part for part in parts}

    def find(part: str) -> str:
        while root[part] != part:
            root[part] = root[root[part]]
            part = root[part]
        return part

    def tie(one: str, other: str) -> None:
        if one in root and other in root:
            root[find(one)] = find(other)

    for joint in walk.machine.joints:
        made = any(state.tightness(one.id) >= Tightness.STARTED for one in joint.fastenings)
        laid = joint.belt is not None and joint.id in state.routed
        if made or laid:
            here = [part for part in joint.parts if part in root]
            for part in here[1:]:
                tie(here[0], part)
        for piece in joint.brings:
            if piece.id in root:
                for part in joint.parts:
                    if part in root:
                        tie(piece.id, part)
                        break
        for block, rail in joint.slides_on.items():
            tie(block, rail)
    groups: dict[str, set[str]] = {}
    for part in parts:
        groups.setdefault(find(part), set()).add(part)
    return list(groups.values())


def _free_parts(walk: Walk, event: Event) -> list[Finding]:
    """Groups that neither rest on the table nor on something below them, and are not held."""
    found: list[Finding] = []
    state = walk.state
    up = DIRECTIONS.get(state.up)
    if up is None:
        return found
    way = np.asarray(up)
    for home in sorted({state.home_of(part) for part in state.present}):
        parts = state.at_home(home)
        structural = {part for part in parts if makes_solid(walk.machine.part[part].type)}
        groups = rests(state, walk, structural)
        if len(groups) <= 1:
            continue
        table = min(walk.extent(part, way)[0] for part in structural)
        for group in groups:
            if group & set(state.held):
                continue
            names = sorted(group)
            key = names[0]
            if key in walk.said_free:
                continue
            low = min(walk.extent(part, way)[0] for part in group)
            if low - table <= ON_TABLE_MM:
                continue
            # Something of another group right below carries it: a plate laid on a frame.
            drop = -way * 1.0
            below = any(
                not walk.reach.is_free(walk.reach.path(part, drop, 1.0), structural, group) for part in group
            )
            if below:
                continue
            walk.said_free.add(key)
            found.append(
                Finding(
                    code="part-hangs-free",
                    says=f"{names[0]}{' and what hangs on it' if len(names) > 1 else ''} is held by nothing at "
                    "the end of this step.",
                    parts=tuple(names[:4]),
                    step=event.step_id,
                    remedy="Start its joint in this step, or hold it (tie, tape, prop).",
                )
            )
    return found


def stands(points_mm: Array, centre_mm: Array, up: Array, table_mm: float) -> bool:
    """Whether a body with these corner points and this centre of mass stands on the table.

    The centre's shadow must lie `TIPS_MM` inside the hull of the points that touch the table.
    """
    heights = points_mm @ up
    feet = points_mm[heights - table_mm <= ON_TABLE_MM]
    helper = np.array([1.0, 0.0, 0.0]) if abs(up[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    x = unit(helper - up * float(helper @ up))
    flat = np.column_stack([feet @ x, feet @ np.cross(up, x)])
    spot = np.array([centre_mm @ x, centre_mm @ np.cross(up, x)])
    try:
        hull = ConvexHull(flat)
    except (QhullError, ValueError):
        return False
    return bool((hull.equations[:, :2] @ spot + hull.equations[:, 2] <= -TIPS_MM).all())


def centre_of_mass(parts: list[PlacedPart], folder: str) -> Array:
    """Centre of the solids' volumes weighted by density; parts without a solid weigh nothing."""
    total, moment = 0.0, np.zeros(3)
    for part in parts:
        solid = solid_of(part.type, folder)
        middle = part.placement.point((solid.low_mm + solid.high_mm) / 2)
        weight = part.type.mass_gram or solid.volume_mm3 * density_gram_mm3(part.type.material)
        total += weight
        moment = moment + weight * middle
    return moment / total if total else moment


def density_gram_mm3(material: str) -> float:
    """Density by the material's name. Common practice, no source."""
    name = material.lower()
    for word, density in (("steel", 7.85e-3), ("brass", 8.5e-3), ("aluminium", 2.7e-3), ("glass", 2.5e-3)):
        if word in name:
            return density
    return 1.25e-3
