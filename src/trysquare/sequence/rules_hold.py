"""Rules of holding: carriages stay on their rails, units stand, nothing hangs free at a step's end."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from manifold3d import CrossSection

from trysquare.ground.findings import Finding
from trysquare.ground.placement import DIRECTIONS, Array, unit
from trysquare.sequence.state import Event
from trysquare.sequence.walk import Walk
from trysquare.solid.shapes import makes_solid, solid_of

ON_TABLE_MM = 0.5
TIPS_MM = 1.0  # the centre of mass must lie this far inside the feet


def holding(walk: Walk, event: Event) -> list[Finding]:
    """Findings at the end of a step, on the state after its last event; of turning, at once."""
    found: list[Finding] = []
    if event.action.verb == "release":
        walk.let_go |= dict.fromkeys(event.action.parts, event.step_id)
    turning = event.action.verb == "turn"
    if event.last_of_step or turning:
        found += _carriages(walk, event, turning)
    if event.last_of_step:
        found += _standing(walk, event)
    return found


def _carriages(walk: Walk, event: Event, turning: bool) -> list[Finding]:
    found: list[Finding] = []
    state = walk.state
    for block_id, rail_id in walk.rail_of.items():
        if block_id not in state.present or rail_id not in state.present:
            continue
        if block_id in state.held or rail_id in state.held or block_id in walk.said_carriage:
            continue
        # Whatever keeps a carriage came to it, or is a lead screw: until something comes it stays kept.
        around = (len(state.group(rail_id)), len(state.group(block_id)), walk.lead_screws_there())
        if walk.kept_among.get(block_id) == around:
            continue
        block, rail = walk.machine.part[block_id], walk.machine.part[rail_id]
        near = state.group(rail_id) - {block_id, rail_id}
        near -= walk.moves_with(block_id)
        ends = [end for end, probe in walk.over_ends(block, rail) if walk.reach.is_free(probe, near)]
        if not ends or walk.is_tied(block_id):
            walk.kept_among[block_id] = around
            continue
        walk.said_carriage.add(block_id)
        while_turning = " when the work is turned" if turning else ""
        ended = " and ".join(ends)
        let_go = next((name for name in (block_id, rail_id) if name in walk.let_go), None)
        released = f" after step {walk.let_go[let_go]} releases {let_go}" if let_go else ""
        found.append(
            Finding(
                code="carriage-can-run-off",
                says=f"{block_id} can run off {rail_id} at end {ended}{while_turning}{released}: "
                "its balls would be lost.",
                parts=(block_id, rail_id),
                step=event.step_id,
                remedy=_keeps(f"end {ended} of {rail_id}", walk.let_go[let_go] if let_go else ""),
            )
        )
    return found


def _keeps(where: str, released_in: str) -> str:
    """What keeps a carriage. Tape that was there and came off again is no remedy: the stop comes first."""
    if released_in:
        return f"Put a stop at {where} before the release in step {released_in}, or release it later."
    return f"Put a stop at {where}, or hold the carriage with tape."


def _standing(walk: Walk, event: Event) -> list[Finding]:
    """The largest group must stand on the table with the side up that is up now, unless it is held.

    Smaller pieces of work may be laid down as they like.
    """
    state = walk.state
    up = DIRECTIONS.get(state.up)
    groups = {id(group): group for group in state.groups.values()}
    if up is None or not groups or walk.said_unstable:
        return []
    group = min(groups.values(), key=walk.rank)
    solid = [walk.machine.part[name] for name in sorted(group) if name in walk.reach.row]
    if len([part for part in solid if part.type.profile is not None]) < 3 or group & set(state.held):
        return []
    way = np.asarray(up)
    low = walk.lowest(state.up, way, [part.id for part in solid])
    table = min(low[part.id] for part in solid)
    feet = [part for part in solid if low[part.id] - table <= ON_TABLE_MM]
    folder = walk.machine.folder
    points = np.vstack([part.placement.point(solid_of(part.type, folder).points_mm) for part in feet])
    if stands(points, centre_of_mass(walk, [part.id for part in solid]), way, table):
        return []
    walk.said_unstable = True
    return [
        Finding(
            code="cannot-stand",
            says=f"What is built so far ({len(solid)} pieces) tips over: it stands on {feet[0].id} with "
            f"{state.up} up and its weight lies outside its feet.",
            parts=tuple(part.id for part in feet[:4]),
            step=event.step_id,
            remedy="Hold it (clamp, tie, prop), or lay it down.",
        )
    ]


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
    rings = CrossSection.hull_points(flat).to_polygons()
    if not rings:
        return False  # all feet on one line
    corners = np.asarray(rings[0])
    sides = np.roll(corners, -1, axis=0) - corners
    inside = (sides[:, 0] * (spot[1] - corners[:, 1]) - sides[:, 1] * (spot[0] - corners[:, 0])) / np.maximum(
        np.linalg.norm(sides, axis=1), 1e-12
    )
    return bool((inside >= TIPS_MM).all())


def centre_of_mass(walk: Walk, names: Sequence[str]) -> Array:
    """Centre of the solids' boxes weighted by mass or density; parts without a solid weigh nothing."""
    rows = np.zeros((len(names), 4))
    for number, name in enumerate(names):
        known = walk.weighed.get(name)
        if known is None:
            part = walk.machine.part[name]
            solid = solid_of(part.type, walk.machine.folder)
            weight = part.type.mass_gram or solid.volume_mm3 * density_gram_mm3(part.type.material)
            x, y, z = part.placement.point((solid.low_mm + solid.high_mm) / 2)
            known = walk.weighed[name] = (weight, float(x), float(y), float(z))
        rows[number] = known
    total = float(rows[:, 0].sum())
    moment: Array = (rows[:, :1] * rows[:, 1:]).sum(axis=0)
    return moment / total if total else moment


def density_gram_mm3(material: str) -> float:
    """Density by the material's name. Common practice, no source."""
    name = material.lower()
    for word, density in (("steel", 7.85e-3), ("brass", 8.5e-3), ("aluminium", 2.7e-3), ("glass", 2.5e-3)):
        if word in name:
            return density
    return 1.25e-3


def left_apart(walk: Walk) -> list[Finding]:
    """At the end of the order: pieces that never came to the rest of the machine."""
    state = walk.state
    groups = {id(group): group for group in (state.group(name) for name in state.present)}
    if len(groups) < 2:
        return []
    main = min(groups.values(), key=walk.rank)
    found: list[Finding] = []
    for group in groups.values():
        names = sorted(name for name in group if name in state.present)
        loose = [name for name in names if makes_solid(walk.machine.part[name].type)]
        if group is main or not loose or group & set(state.held):
            continue
        found.append(
            Finding(
                code="part-hangs-free",
                says=f"{loose[0]}{f' and {len(loose) - 1} more' if len(loose) > 1 else ''} "
                "is joined to the rest of the machine by nothing.",
                parts=tuple(loose[:4]),
                step=walk.step_of(max(state.present[name] for name in names)),
                remedy="Make the joint that holds it, or describe it.",
            )
        )
    return found
