"""The exact solid of any part type: from the same content that `shapes` makes meshes of.

A part that is only a mesh (an STL) becomes a body with that mesh's flat faces, its threaded holes cut round
where the CAD kernel can; where it cannot, all of it is flat. `Exact.faceted` says so.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from trysquare.catalogue.values import (
    BlockSize,
    Insert,
    LeadScrew,
    Nut,
    Pulley,
    RailSize,
    Screw,
    SlotNut,
    Washer,
)
from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import unit
from trysquare.machine.values import Hole, PartType, Primitive
from trysquare.solid import brep_parts as parts
from trysquare.solid.bodies import ABOVE_MM, section_of
from trysquare.solid.brep_bodies import (
    Shape,
    aimed,
    box,
    cylinder,
    hole_shape,
    is_sound,
    joined,
    less,
    prism_z,
    single,
    volume_mm3,
)
from trysquare.solid.brep_faceted import faceted
from trysquare.solid.primitives import countersink_mm, hole_diameter_mm, is_cut, thread_mm
from trysquare.solid.shapes import Solid, content_of, mesh_of, solid_of
from trysquare.solid.stl import read_stl

KEPT = 2000
SAME_VOLUME = 0.04  # a slip of the kernel loses or doubles a body; flats for rounds lose less than this


@dataclass(frozen=True, slots=True, eq=False)
class Exact:
    """A body of the CAD kernel in the part's own coordinates. `faceted`: it came as a mesh and has flat faces
    where the part itself is round."""

    shape: Shape
    faceted: bool


def exact_of(part_type: PartType, folder: str | Path = "") -> Exact:
    """The exact solid of a part type, made once for each different content.

    Raises ReadingError as `shapes.solid_of` does (ask `shapes.makes_solid` first).
    """
    key = content_of(part_type, folder)
    known = _made.get(key)
    if known is None:
        known = _made[key] = _exact(part_type, folder)
        if len(_made) > KEPT:
            _made.popitem(last=False)
    return known


_made: OrderedDict[tuple[object, ...], Exact] = OrderedDict()


def _exact(part_type: PartType, folder: str | Path) -> Exact:
    if part_type.shape_file:
        return _from_file(part_type, folder)
    mesh = solid_of(part_type, folder)  # also says in words what is wrong with a part
    where = part_type.id or part_type.name
    try:
        shape = with_holes(_body(part_type, where), _own_holes(part_type), where)
        good = _is(shape, mesh)
    except Exception:  # noqa: BLE001  # the kernel's failures share no class; the mesh is there all the same
        good = False
    if good:
        return Exact(single(shape), faceted=False)
    return Exact(faceted(mesh.points_mm, mesh.triangles), faceted=True)


def _is(shape: Shape, mesh: Solid) -> bool:
    """Whether the kernel made what was meant: sound, and as large as the same body of flats."""
    return is_sound(shape) and abs(volume_mm3(shape) - mesh.volume_mm3) <= SAME_VOLUME * mesh.volume_mm3


def _own_holes(part_type: PartType) -> list[Hole]:
    """The holes that are cut, as in `shapes`."""
    return [
        hole for hole in part_type.holes if is_cut(hole) and (part_type.cutter or hole.thread or hole.insert)
    ]


def _from_file(part_type: PartType, folder: str | Path) -> Exact:
    whole = solid_of(part_type, folder)
    holes = _own_holes(part_type)
    if holes:
        drawn = mesh_of(read_stl(Path(folder) / part_type.shape_file, part_type.shape_file))
        try:
            shape = with_holes(faceted(drawn.points_mm, drawn.triangles), holes, part_type.id)
            if (
                is_sound(shape)
                and abs(volume_mm3(shape) - whole.volume_mm3) <= SAME_VOLUME * whole.volume_mm3
            ):
                return Exact(single(shape), faceted=True)
        except Exception:  # noqa: BLE001  # as above: all of it flat, then
            pass
    return Exact(faceted(whole.points_mm, whole.triangles), faceted=True)


def _body(part_type: PartType, where: str) -> Shape:
    if part_type.primitives:
        return primitives_shape(part_type.primitives, where)
    if part_type.outline_mm:
        rings = [np.round(ring, parts.SETTLED) for ring in section_of(part_type.outline_mm)]
        return prism_z(rings, 0.0, part_type.thickness_mm)
    if part_type.profile is not None:
        return parts.member_shape(
            part_type.profile,
            part_type.length_mm,
            part_type.tapped_ends,
            part_type.tapped_depth_mm,
            thread_mm(part_type.profile.core_thread),
        )
    return standard_shape(part_type, where)


def standard_shape(part_type: PartType, where: str) -> Shape:
    """The exact body of a part of the catalogue."""
    match part_type.standard:
        case Screw() as screw:
            return parts.screw_shape(screw)
        case Nut() as nut:
            return parts.nut_shape(nut)
        case Washer() as washer:
            return parts.washer_shape(washer)
        case Insert() as insert:
            return parts.insert_shape(insert)
        case SlotNut() as nut:
            return parts.slot_nut_shape(nut)
        case RailSize() as rail:
            return parts.rail_shape(rail)
        case BlockSize() as block:
            return parts.block_shape(block)
        case Pulley() as pulley:
            return parts.pulley_shape(pulley)
        case LeadScrew() as screw:
            return parts.lead_screw_shape(screw)
        case _:
            raise ReadingError(
                where=where, read="no shape", expected="a part with a solid",
                remedy="Give the part a shape, or leave it out.",
            )  # fmt: skip


def primitives_shape(primitives: Sequence[Primitive], where: str) -> Shape:
    """Bodies joined and cut in the order they are listed, as `primitives.primitives_body` does."""
    body: Shape | None = None
    group: list[Shape] = []
    cutting = False
    for primitive in (*primitives, None):
        if (primitive is None or primitive.cut is not cutting) and group:
            if cutting:
                body = None if body is None else less(body, group, where)
            else:
                body = joined([*([] if body is None else [body]), *group], where)
            group = []
        if primitive is not None:
            cutting = primitive.cut
            group.append(_primitive(primitive))
    if body is None:
        raise ReadingError(
            where=where, read=f"{len(primitives)} primitives", expected="bodies with something left",
            remedy="List the bodies first, then the cuts.",
        )  # fmt: skip
    return body


def _primitive(primitive: Primitive) -> Shape:
    if primitive.shape == "box":
        x, y, z = primitive.at_mm
        dx, dy, dz = primitive.size_mm
        return box((x, y, z), (x + dx, y + dy, z + dz))
    diameter_mm, length_mm = primitive.size_mm
    return aimed(cylinder(diameter_mm, 0.0, length_mm), primitive.at_mm, primitive.along)


def hole_cutter(hole: Hole) -> Shape:
    """All the air of one hole, placed: bore, counterbore, countersink, as `primitives.hole_cutter`."""
    diameter_mm = hole_diameter_mm(hole)
    depth_mm = hole.depth_mm + (ABOVE_MM if hole.through else 0.0)
    sink_mm, wide_mm = 0.0, hole.counterbore_mm
    if hole.countersunk:
        wide_mm = hole.counterbore_mm or countersink_mm(diameter_mm)
        sink_mm = min((wide_mm - diameter_mm) / 2, hole.depth_mm)
    shelf_mm = min(hole.counterbore_depth_mm, depth_mm)
    air = hole_shape(diameter_mm, depth_mm, wide_mm, shelf_mm, sink_mm)
    return aimed(air, hole.at_mm, unit(np.asarray(hole.direction, dtype=float)))


def with_holes(body: Shape, holes: Sequence[Hole], where: str = "") -> Shape:
    """The body with the holes cut out of it."""
    return less(body, [hole_cutter(hole) for hole in holes], where)


__all__ = ["Exact", "exact_of", "hole_cutter", "primitives_shape", "standard_shape", "with_holes"]
