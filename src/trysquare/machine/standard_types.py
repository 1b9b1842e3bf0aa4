"""Part types of the catalogue's standard parts, with the holes and shafts that recipes use."""

from __future__ import annotations

from functools import cache

from trysquare.catalogue.lookup import lookup, thread
from trysquare.catalogue.values import (
    BeltSize,
    BlockSize,
    Grease,
    Insert,
    LeadScrew,
    Nut,
    Profile,
    Pulley,
    RailSize,
    Screw,
    SlotNut,
    StandardPart,
    Washer,
    Wire,
)
from trysquare.ground.placement import Triple
from trysquare.machine.values import Hole, Kind, PartType, Shaft

_KIND_OF: dict[type, Kind] = {
    Screw: Kind.FASTENER,
    Nut: Kind.FASTENER,
    Washer: Kind.FASTENER,
    Insert: Kind.FASTENER,
    SlotNut: Kind.FASTENER,
    RailSize: Kind.GUIDE,
    BlockSize: Kind.GUIDE,
    BeltSize: Kind.DRIVE,
    Pulley: Kind.DRIVE,
    LeadScrew: Kind.DRIVE,
    Wire: Kind.WIRE,
    Grease: Kind.CONSUMABLE,
    Profile: Kind.MEMBER,
}


@cache
def standard_type(designation: str) -> PartType:
    """The part type of a catalogue designation. Raises UnknownDesignation."""
    part = lookup(designation)
    if part.designation != designation:
        return standard_type(part.designation)  # however it is spelt, one part is one value
    shafts: tuple[Shaft, ...] = ()
    if isinstance(part, LeadScrew):
        shafts = (
            Shaft(
                name="shaft",
                at_mm=(0.0, 0.0, 0.0),
                direction=(0.0, 0.0, 1.0),
                diameter_mm=part.diameter_mm,
                length_mm=part.length_mm,
                flat=False,
            ),
        )
    return PartType(
        id=part.designation,
        name=part.designation,
        kind=_KIND_OF[type(part)],
        standard=part,
        holes=_standard_holes(part),
        shafts=shafts,
        material="steel",
        cutter=False,
    )


def _standard_holes(part: StandardPart) -> tuple[Hole, ...]:
    up: Triple = (0.0, 0.0, 1.0)
    if isinstance(part, RailSize):
        return tuple(
            Hole(
                name=f"rail.{index}",
                at_mm=(at_mm, 0.0, part.height_mm),
                direction=up,
                diameter_mm=part.hole_mm,
                depth_mm=part.height_mm,
                through=True,
                counterbore_mm=part.counterbore_mm,
                counterbore_depth_mm=part.counterbore_depth_mm,
            )
            for index, at_mm in enumerate(part.holes_mm, start=1)
        )
    if isinstance(part, BlockSize):
        along = (-0.5, 0.5) if part.pattern_along_mm else (0.0,)
        spots = [(a * part.pattern_along_mm, b * part.pattern_across_mm) for a in along for b in (-0.5, 0.5)]
        return tuple(
            Hole(
                name=f"top.{index}",
                at_mm=(x, y, part.height_mm),
                direction=up,
                diameter_mm=thread(part.thread).diameter_mm,
                depth_mm=part.thread_depth_mm,
                through=False,
                thread=part.thread,
            )
            for index, (x, y) in enumerate(spots, start=1)
        )
    if isinstance(part, Pulley) and part.set_screw:
        # Two set screws at 90° in the hub, pointing at the shaft.
        size = lookup(part.set_screw)
        assert isinstance(size, Screw)
        hub_middle = (part.belt_centre_mm + part.belt_width_mm / 2 + part.length_mm) / 2
        if part.belt_centre_mm > part.length_mm / 2:
            hub_middle = (part.belt_centre_mm - part.belt_width_mm / 2) / 2
        radius = part.hub_mm / 2
        return tuple(
            Hole(
                name=f"set.{index}",
                at_mm=(radius * x, radius * y, hub_middle),
                direction=(x, y, 0.0),
                diameter_mm=size.thread.diameter_mm,
                depth_mm=radius - part.bore_mm / 2,
                through=True,
                thread=size.thread.name,
            )
            for index, (x, y) in enumerate(((1.0, 0.0), (0.0, 1.0)), start=1)
        )
    return ()
