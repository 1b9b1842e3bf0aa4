"""Stops of one gantry's two rails: pushed against stops that do not stand level, it is set askew."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from trysquare.catalogue.designation import written
from trysquare.catalogue.values import BlockSize, RailSize
from trysquare.fit.axes import Motion
from trysquare.ground.findings import Finding
from trysquare.ground.placement import Array, side
from trysquare.ground.tolerances import STOPS_LEVEL_MM
from trysquare.machine.values import Machine, PlacedPart
from trysquare.solid.shapes import makes_solid, solid_of

_PARALLEL = 1 - 1e-6


def stop_findings(machine: Machine, moving: list[Motion]) -> Iterator[Finding]:
    """For each pair of parallel rails whose carriages one axis moves, in both directions: the first thing
    that each carriage comes against, compared where both are stops of one sort."""
    for motion in moving:
        ridden = list({block.id: (block, rail) for block, rail in _ridden(machine, motion)}.values())
        # what joints bring, such as the rail's own screws, lies within the parts it holds
        standing = [
            part
            for part in machine.placed
            if part.id not in motion.moves and not part.joint and makes_solid(part.type)
        ]
        for (first, one), (second, other) in combinations(ridden, 2):
            if abs(float(one.placement.turn[:, 0] @ other.placement.turn[:, 0])) < _PARALLEL:
                continue
            for way in (-motion.way, motion.way):
                yield from _pair(machine, motion, way, (first, one), (second, other), standing)


def _ridden(machine: Machine, motion: Motion) -> Iterator[tuple[PlacedPart, PlacedPart]]:
    """Blocks that the axis moves on rails that stand, with their rails."""
    for joint in machine.joints:
        for block_id, rail_id in joint.slides_on.items():
            block, rail = machine.part[block_id], machine.part[rail_id]
            sizes = isinstance(block.type.standard, BlockSize) and isinstance(rail.type.standard, RailSize)
            if sizes and block_id in motion.moves and rail_id not in motion.moves:
                yield block, rail


def _pair(
    machine: Machine,
    motion: Motion,
    way: Array,
    one: tuple[PlacedPart, PlacedPart],
    other: tuple[PlacedPart, PlacedPart],
    standing: list[PlacedPart],
) -> Iterator[Finding]:
    met = [_first_met(machine, block, rail, way, standing) for block, rail in (one, other)]
    if met[0] is None or met[1] is None or met[0][0].type is not met[1][0].type:
        return  # no stop on one side, or things that are no pair
    (stop, near_mm), (twin, far_mm) = sorted((each for each in met if each), key=lambda each: each[1])
    apart_mm = far_mm - near_mm
    if stop.id == twin.id or apart_mm <= STOPS_LEVEL_MM:
        return
    across = one[1].placement.origin_mm - other[1].placement.origin_mm
    span_mm = float(np.linalg.norm(across - float(across @ way) * way))
    lean = f", {written(round(100 * apart_mm / span_mm, 2))} mm/100" if span_mm else ""
    yield Finding(
        code="stops-unequal",
        says=f"Towards the {side(way) or 'end'} axis {motion.axis.id} comes against {stop.id} "
        f"{written(round(apart_mm, 2))} mm before it comes against {twin.id}: squared against its stops it "
        f"is racked by that over {written(round(span_mm, 1))} mm{lean}.",
        parts=(stop.id, twin.id, one[0].id, other[0].id),
        value=apart_mm,
        limit=STOPS_LEVEL_MM,
        unit="mm",
        at_mm=_triple(stop.placement.origin_mm),
        remedy=f"Set {twin.id} {written(round(apart_mm, 2))} mm nearer, or {stop.id} back by as much; "
        "measure both gaps, and read the square rather than trust the stops.",
        where=stop.where,
    )


def _first_met(
    machine: Machine, block: PlacedPart, rail: PlacedPart, way: Array, standing: list[PlacedPart]
) -> tuple[PlacedPart, float] | None:
    """What the block's box comes against first along the rail, and how far away it is."""
    size = block.type.standard
    assert isinstance(size, BlockSize)  # by the caller's choice
    sign = 1.0 if float(way @ rail.placement.turn[:, 0]) > 0 else -1.0
    at = float(rail.placement.back(block.placement.origin_mm)[0])
    face_mm = sign * at + size.length_mm / 2
    best: tuple[PlacedPart, float] | None = None
    for part in standing:
        if part.id == rail.id:
            continue
        solid = solid_of(part.type, machine.folder)
        corners = np.array(np.meshgrid(*np.stack([solid.low_mm, solid.high_mm], axis=1))).reshape(3, -1).T
        box = rail.placement.back(part.placement.point(corners))
        low, high = box.min(axis=0), box.max(axis=0)
        beside = low[1] >= size.width_mm / 2 - _GRAZE_MM or high[1] <= -size.width_mm / 2 + _GRAZE_MM
        above = low[2] >= size.height_mm - _GRAZE_MM or high[2] <= size.gap_mm + _GRAZE_MM
        gap_mm = (low[0] if sign > 0 else -high[0]) - face_mm
        if beside or above or gap_mm < -_GRAZE_MM:
            continue
        if best is None or gap_mm < best[1]:
            best = (part, float(gap_mm))
    return best


_GRAZE_MM = 0.05  # boxes that only touch do not stop anything


def _triple(at: Array) -> tuple[float, float, float]:
    return (float(at[0]), float(at[1]), float(at[2]))
