"""Rails whose ends differ: whether a row of holes misses what it is screwed to, and would meet it turned."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from trysquare.catalogue.designation import written
from trysquare.catalogue.values import RailSize
from trysquare.ground.placement import Array, side
from trysquare.ground.tolerances import NUT_PLACE_MM, ON_AXIS_MM
from trysquare.machine.recipes.builder import JointBuilder
from trysquare.machine.values import Hole, PlacedPart

if TYPE_CHECKING:
    from trysquare.machine.recipes.screw_lines import ScrewLine


def meets_turned(rail: PlacedPart, other: PlacedPart, holes: Sequence[Hole]) -> bool:
    """Whether all holes of a rail would stand over holes of another part if the rail lay end for end."""
    size = rail.type.standard
    if not isinstance(size, RailSize) or not size.turned_off_mm:
        return False
    axis = rail.placement.direction((0.0, 0.0, 1.0))

    def met(spot: Array) -> bool:
        for hole in holes:
            if abs(float(other.placement.direction(hole.direction) @ axis)) < 1 - 1e-6:
                continue
            away = spot - other.placement.point(hole.at_mm)
            if float(np.linalg.norm(away - float(away @ axis) * axis)) <= ON_AXIS_MM:
                return True
        return False

    return all(met(rail.placement.point((size.length_mm - x, 0.0, 0.0))) for x in size.holes_mm)


def say_turned(joint: JointBuilder, rail: PlacedPart, other: PlacedPart, key: str) -> None:
    """Tells once for a rail that its holes miss another part's and would meet them end for end."""
    where = joint.where(key) if key else joint.where()
    told = (rail.id, other.id)
    if any(one.code == "rail-turned" and one.parts == told for one in joint.scene.findings):
        return
    size = rail.type.standard
    assert isinstance(size, RailSize)
    joint.scene.say(
        "rail-turned",
        f"{joint.id}: the holes of {rail.id} stand {written(size.turned_off_mm)} mm beside those of "
        f"{other.id}; turned end for end they would meet.",
        parts=told,
        joint=joint.id,
        at_mm=rail.placement.point((size.first_hole_mm, 0.0, 0.0)),
        value=size.turned_off_mm,
        limit=0.0,
        unit="mm",
        where=where,
        remedy=f"Turn the rail end for end: {ends_words(rail, size, turned=True)}.",
    )


def ends_words(rail: PlacedPart, size: RailSize, *, turned: bool = False) -> str:
    """Which end of a rail with unequal ends goes where, by the distance of its first hole.

    >>> # "the end with the first hole 5 mm from the end goes to the front, the one with 15 mm to the back"
    """
    towards_b = rail.placement.turn[:, 0] * (-1.0 if turned else 1.0)
    ends = sorted(((size.first_hole_mm, -towards_b), (size.last_hole_mm, towards_b)), key=lambda end: end[0])
    near, far = ((written(mm), side(way)) for mm, way in ends)
    if not near[1]:
        return f"its ends have the first hole at {near[0]} and {far[0]} mm"
    return (
        f"the end with the first hole {near[0]} mm from the end goes to the {near[1]}, "
        f"the one with {far[0]} mm to the {far[1]}"
    )


def check_first_nut(joint: JointBuilder, rail: PlacedPart, lines: Sequence[ScrewLine], every: int) -> None:
    """The paper's place of the first nut against the rail's holes, over whole pitches: nuts are shifted along
    their slot by one place without harm, but a row laid half a pitch off must be laid anew."""
    stated_mm = joint.raw.get("first_nut_mm")
    size = rail.type.standard
    if stated_mm is None or not lines or not isinstance(size, RailSize):
        return
    hit = joint.scene.channels.below(
        lines[0].head_mm - lines[0].axis * (lines[0].end_mm - 0.2),
        lines[0].axis,
        beside_mm=ON_AXIS_MM,
        reach_mm=30.0,
    )
    if hit is None:
        return  # said already
    channel, pitch_mm = hit.channel, size.hole_pitch_mm * every
    used_mm = sorted(line.hole.at_mm[0] for line in lines)

    def row_mm(places: Sequence[float]) -> float:
        """Where a row of holes has the one nearest to the member's end a."""
        spots = [rail.placement.point((x, 0.0, 0.0)) - channel.start_mm for x in places]
        return min(float(spot @ channel.along) for spot in spots)

    def off_mm(first_mm: float) -> float:
        beyond = (first_mm - float(stated_mm)) % pitch_mm
        return min(beyond, pitch_mm - beyond)

    now_mm = row_mm(used_mm)
    if off_mm(now_mm) <= NUT_PLACE_MM:
        return
    turned_mm = row_mm([size.length_mm - x for x in used_mm])
    fits_turned = bool(size.turned_off_mm) and off_mm(turned_mm) <= NUT_PLACE_MM
    remedy = (
        f"Turn the rail end for end: {ends_words(rail, size, turned=True)}. Measure it on the rail: nothing "
        "else tells the ends apart."
        if fits_turned
        else f"Lay the nuts from {written(round(now_mm, 1))} mm, or correct the rail's offset."
    )
    then = "; turned end for end they would meet" if fits_turned else ""
    joint.scene.say(
        "rail-turned" if fits_turned else "nuts-off-rail",
        f"{joint.id}: the paper lays the nuts from {written(stated_mm)} mm from end a of {channel.member}, "
        f"every {written(pitch_mm)} mm; the holes of {rail.id} begin at {written(round(now_mm, 1))} mm, "
        f"{written(round(off_mm(now_mm), 1))} mm off{then}.",
        parts=(rail.id, channel.member),
        joint=joint.id,
        at_mm=lines[0].surface_mm,
        value=off_mm(now_mm),
        limit=NUT_PLACE_MM,
        unit="mm",
        where=joint.where("first_nut_mm"),
        remedy=remedy,
    )
