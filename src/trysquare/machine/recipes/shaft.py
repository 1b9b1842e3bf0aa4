"""A pulley, coupling or hub on a shaft, with its set or clamp screws."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from trysquare.catalogue.values import Head, Pulley, Screw
from trysquare.ground.placement import Array
from trysquare.machine.recipes.builder import Bite, JointBuilder, material_sort
from trysquare.machine.values import Hole, Host, PlacedPart, Shaft

ON_THE_FLAT_DEGREES = 10.0  # from here on a tip pulls itself square; common practice, no source
_BORE_PLAY_MM = 0.15  # a bore more than this over its shaft runs out; common practice, no source


def shaft_and_coupling(joint: JointBuilder) -> None:
    """Checks that the bore sits on the shaft and places the screws that hold it."""
    found = joint.scene.shaft(joint.raw.get("shaft", ""), joint.unit, joint.where("shaft"))
    onto = joint.scene.find(joint.raw.get("onto", ""), joint.unit, joint.where("onto"))
    if found is None or onto is None:
        return
    owner, shaft = found
    joint.joins(owner, onto)
    _on_shaft(joint, owner, shaft, onto)
    word = joint.raw.get("screw")
    if word is None and isinstance(onto.type.standard, Pulley) and onto.type.standard.set_screw:
        joint.raw = {**joint.raw, "screw": onto.type.standard.set_screw}
    if "screw" not in joint.raw:
        return
    group = joint.raw.get("holes", "set")
    holes = onto.type.holes_of(group)
    if not holes:
        joint.problem("holes", group, f"a hole group of '{onto.type.id}'", "Name the holes of its screws.")
        return
    grubs = [hole for hole in holes if _screw(joint, onto, hole, owner, shaft)]
    if grubs and shaft.flat_toward is not None:
        _on_flat(joint, onto, grubs, owner, shaft)


def _on_shaft(joint: JointBuilder, owner: PlacedPart, shaft: Shaft, onto: PlacedPart) -> None:
    axis = owner.placement.direction(shaft.direction)
    begin = owner.placement.point(shaft.at_mm)
    delta = onto.placement.origin_mm - begin
    beside = float(np.linalg.norm(delta - float(delta @ axis) * axis))
    bore = getattr(onto.type.standard, "bore_mm", None)
    if bore is None:
        bores = onto.type.holes_of("bore")
        bore = bores[0].diameter_mm if bores else None
        if bores:
            mouth = onto.placement.point(bores[0].at_mm) - begin
            beside = float(np.linalg.norm(mouth - float(mouth @ axis) * axis))
    if beside > 0.05:
        joint.scene.say(
            "off-the-shaft",
            f"{onto.id} stands {beside:.2f} mm beside the axis of {owner.id} ({shaft.name}).",
            parts=(onto.id, owner.id),
            joint=joint.id,
            value=beside,
            limit=0.05,
            unit="mm",
            at_mm=onto.placement.origin_mm,
            where=joint.where("onto"),
        )
    if bore is not None and not -1e-6 <= bore - shaft.diameter_mm <= _BORE_PLAY_MM:
        joint.scene.say(
            "bore-unlike-shaft",
            f"{onto.id} has a {bore:g} mm bore, {owner.id} ({shaft.name}) a {shaft.diameter_mm:g} mm shaft.",
            parts=(onto.id, owner.id),
            joint=joint.id,
            value=bore,
            limit=shaft.diameter_mm,
            unit="mm",
            where=joint.where("onto"),
        )


def _on_flat(
    joint: JointBuilder, onto: PlacedPart, holes: Sequence[Hole], owner: PlacedPart, shaft: Shaft
) -> None:
    """Where the flat's way is said, one set screw at least must stand on it, as everything is placed."""
    line = owner.placement.direction(shaft.direction)
    flat = _across(owner.placement.direction(shaft.flat_toward or shaft.direction), line)
    if flat is None:
        joint.problem(
            "shaft", shaft.flat_toward, f"a flat of {owner.type.id} that looks across its shaft",
            f"The shaft goes along {shaft.direction}: write another flat_toward in its part.",
        )  # fmt: skip
        return
    off = [
        math.degrees(math.atan2(float(np.cross(way, flat) @ line), float(way @ flat)))
        for hole in holes
        if (way := _across(onto.placement.direction(hole.direction), line)) is not None
    ]
    nearest = min(off, key=abs, default=0.0)
    if abs(nearest) <= ON_THE_FLAT_DEGREES:
        return
    turn = "anticlockwise" if nearest > 0 else "clockwise"
    joint.scene.say(
        "grub-beside-flat",
        f"The nearest set screw of {onto.id} stands {abs(nearest):.0f}° beside the flat of {owner.id} "
        f"({shaft.name}).",
        parts=(onto.id, owner.id),
        joint=joint.id,
        value=round(abs(nearest), 1),
        limit=ON_THE_FLAT_DEGREES,
        unit="°",
        at_mm=onto.placement.origin_mm,
        remedy=f"Turn {onto.id} by {abs(nearest):.0f}° {turn} on the shaft, looking onto its free end.",
        where=joint.where("onto"),
    )


def _across(way: Array, line: Array) -> Array | None:
    """The part of a direction across a line, as a unit vector; None for one along it."""
    across = way - float(way @ line) * line
    length = float(np.linalg.norm(across))
    return across / length if length > 1e-6 else None


def _screw(joint: JointBuilder, onto: PlacedPart, hole: Hole, owner: PlacedPart, shaft: Shaft) -> bool:
    """Adds the screw of one hole; whether it is a set screw on the shaft."""
    words = joint.screw_words()
    if words is None:
        return False
    axis: Array = onto.placement.direction(hole.direction)
    opening: Array = onto.placement.point(hole.at_mm)
    begin = owner.placement.point(shaft.at_mm)
    line = owner.placement.direction(shaft.direction)
    to_axis = begin - opening
    reach = float(np.linalg.norm(to_axis - float(to_axis @ line) * line))  # opening to the shaft's axis
    surface = reach - shaft.diameter_mm / 2
    bite = Bite(
        host=Host.TAPPED,
        part=onto.id,
        thread=hole.thread,
        material=material_sort(onto.type.material or "steel"),
        from_mm=0.0,
        to_mm=hole.depth_mm,
        room_mm=math.inf,
    )
    screw_type = joint.screw(bite)
    if screw_type is None or not isinstance(screw_type.standard, Screw):
        return False
    screw = screw_type.standard
    if screw.head is not Head.NONE:  # a clamp screw across the slit of a hub
        joint.fasten(head_mm=opening, axis=axis, grips=(), bite=bite)
        return False
    sunk = surface - screw.length_mm  # the tip stands on the shaft
    joint.fasten(
        head_mm=opening - axis * sunk,
        axis=axis,
        grips=(),
        bite=Bite(
            host=bite.host,
            part=bite.part,
            thread=bite.thread,
            material=bite.material,
            from_mm=max(0.0, -sunk),
            to_mm=hole.depth_mm - sunk,
            room_mm=math.inf,
        ),
    )
    return True
