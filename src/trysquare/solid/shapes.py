"""The solid of any part type, made once for each different content.

What a solid is made from, first that is there: `shape_file`, `primitives`, `outline_mm` with
`thickness_mm`, `profile`, `standard`. Own holes are cut last.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NamedTuple

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

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
from trysquare.ground.placement import Array
from trysquare.machine.values import Kind, PartType
from trysquare.solid.drives import lead_screw_body, pulley_body
from trysquare.solid.guides import block_body, rail_body
from trysquare.solid.primitives import plate_body, primitives_body, thread_mm, with_holes
from trysquare.solid.profiles import member_body, slot_nut_body
from trysquare.solid.screws import insert_body, nut_body, screw_body, washer_body
from trysquare.solid.sizes import Size, name_of
from trysquare.solid.stl import read_stl

KEPT_SOLIDS = 4000  # different solids kept in memory; a large machine has some hundreds


class Mesh(NamedTuple):
    """A body of the solid kernel, its points (n, 3) and its triangles (m, 3)."""

    manifold: Manifold
    points_mm: Array
    triangles: NDArray[np.int64]


class Solid:
    """A closed body with flat faces, in the coordinates of whatever it is the solid of.

    `points_mm`: array (n, 3). `triangles`: array (m, 3), rows of point numbers, counter-clockwise
    from outside. `low_mm`, `high_mm`: arrays (3,), corners of its box. `digest`: names the shape by
    its content; equal digests are equal shapes. Arrays are read-only. A solid whose size is known from
    an earlier run makes its mesh when it is first looked at.
    """

    __slots__ = ("_make", "_mesh", "area_mm2", "digest", "high_mm", "low_mm", "size", "triangle_count",
                 "volume_mm3")  # fmt: skip

    def __init__(self, size: Size, mesh: Mesh | Callable[[], Mesh]) -> None:
        self.size = size
        self.digest, self.triangle_count = size.digest, size.triangle_count
        self.low_mm, self.high_mm = size.low_mm, size.high_mm
        self.volume_mm3, self.area_mm2 = size.volume_mm3, size.area_mm2
        self._mesh = mesh if isinstance(mesh, Mesh) else None
        self._make = None if isinstance(mesh, Mesh) else mesh

    @property
    def mesh(self) -> Mesh:
        """The body itself, made now if it was not."""
        if self._mesh is None:
            assert self._make is not None  # by construction: a solid has the one or the other
            self._mesh = self._make()
        return self._mesh

    @property
    def is_made(self) -> bool:
        return self._mesh is not None

    @property
    def manifold(self) -> Manifold:
        return self.mesh.manifold

    @property
    def points_mm(self) -> Array:
        return self.mesh.points_mm

    @property
    def triangles(self) -> NDArray[np.int64]:
        return self.mesh.triangles

    @property
    def box_mm(self) -> Array:
        """Array (2, 3): lowest and highest corner."""
        return np.stack([self.low_mm, self.high_mm])


def solid_from(manifold: Manifold) -> Solid:
    """Wraps a body of the solid kernel with its points, triangles, box and digest."""
    return _solid(mesh_of(manifold))


def solid_of_mesh(manifold: Manifold, points: Array, triangles: NDArray[np.int64]) -> Solid:
    """A body of the solid kernel whose points (n, 3) and triangles (m, 3) are at hand already."""
    points.setflags(write=False)
    triangles.setflags(write=False)
    return _solid(Mesh(manifold, points, triangles))


def mesh_of(manifold: Manifold) -> Mesh:
    """A body of the solid kernel with its points and triangles."""
    mesh = manifold.to_mesh64()
    points = np.ascontiguousarray(np.asarray(mesh.vert_properties)[:, :3], dtype=np.float64)
    triangles = np.asarray(mesh.tri_verts).astype(np.int64)
    points.setflags(write=False)
    triangles.setflags(write=False)
    return Mesh(manifold, points, triangles)


def _solid(mesh: Mesh) -> Solid:
    points, triangles = mesh.points_mm, mesh.triangles
    # to 1e-7 mm, so that the last bits of rounding do not make two shapes out of one
    content = np.round(points * 1e7).astype(np.int64).tobytes() + triangles.tobytes()
    there = len(points) > 0
    size = Size(
        digest=hashlib.blake2b(content, digest_size=16).digest(),
        low_mm=points.min(axis=0) if there else np.zeros(3),
        high_mm=points.max(axis=0) if there else np.zeros(3),
        volume_mm3=float(mesh.manifold.volume()),
        area_mm2=float(mesh.manifold.surface_area()),
        triangle_count=len(triangles),
    )
    return Solid(size, mesh)


def makes_solid(part_type: PartType) -> bool:
    """Whether `solid_of` can make something. Belts, wires and grease have a solid only by an outline,
    primitives or a shape file."""
    if part_type.shape_file or part_type.primitives or part_type.outline_mm or part_type.profile:
        return True
    if part_type.kind in (Kind.WIRE, Kind.CONSUMABLE):
        return False
    return isinstance(part_type.standard, _STANDARD_SORTS)


def solid_of(part_type: PartType, folder: str | Path = "") -> Solid:
    """The solid of a part type in its own coordinates, made once for each different content.

    `folder`: the machine folder that `shape_file` is relative to. Raises ReadingError when there is
    nothing to make a solid from (ask `makes_solid` first), or when the shape file is unusable.
    """
    key = content_of(part_type, folder)
    known = _solids.get(key)
    if known is None:
        size = _sizes.get(_name(key)) if _sizes else None
        if size is None:
            known = solid_from(_body(part_type, folder))
        else:
            known = Solid(size, lambda: mesh_of(_body(part_type, folder)))
        _solids[key] = known
        if len(_solids) > KEPT_SOLIDS:
            _solids.popitem(last=False)
    return known


def forget_solids() -> None:
    """Drops all solids kept in memory and all known sizes, for measuring a cold start."""
    _solids.clear()
    _sizes.clear()


def know_sizes(sizes: Mapping[bytes, Size]) -> None:
    """Takes over what an earlier run knew of solids."""
    if len(_sizes) + len(sizes) > KEPT_SOLIDS:
        _sizes.clear()
    _sizes.update(sizes)


def known_sizes() -> dict[bytes, Size]:
    """The sizes of all solids that were asked for, by what they follow from, to be kept for the next run.

    A shape file without a digest is left out: its name and time do not say what is in it for ever.
    """
    named = {_name(key): solid.size for key, solid in _solids.items()}
    named.pop(b"", None)
    return named


_STANDARD_SORTS = (Screw, Nut, Washer, Insert, SlotNut, RailSize, BlockSize, Pulley, LeadScrew)
_solids: OrderedDict[tuple[object, ...], Solid] = OrderedDict()
_sizes: dict[bytes, Size] = {}


def _name(key: tuple[object, ...]) -> bytes:
    """The content's name in what is kept; nothing for a shape file that has no digest."""
    return name_of(repr(key).encode()) if isinstance(key[0], str) else b""


def content_of(part_type: PartType, folder: str | Path) -> tuple[object, ...]:
    """All that the solid follows from; two types with the same content share one solid."""
    shape: object = ""
    if part_type.shape_file:
        path = Path(folder) / part_type.shape_file
        shape = part_type.shape_digest or (str(path), _stamp(path))
    return (
        shape,
        part_type.primitives,
        part_type.outline_mm,
        part_type.thickness_mm,
        part_type.profile,
        part_type.length_mm,
        part_type.tapped_ends,
        part_type.tapped_depth_mm,
        part_type.standard,
        part_type.holes,
        part_type.cutter,
    )


def _stamp(path: Path) -> tuple[int, int]:
    """Size and time of change of a file without a digest; zeros when it is not there."""
    try:
        stat = path.stat()
    except OSError:
        return (0, 0)
    return (stat.st_size, stat.st_mtime_ns)


def _body(part_type: PartType, folder: str | Path) -> Manifold:
    where = part_type.id or part_type.name
    # A drawn shape has its holes already. But many are drawn at tap-drill size: bring those that
    # hold a thread or an insert to what we draw screws and inserts at, so that a fit is no clash.
    holes = [hole for hole in part_type.holes if part_type.cutter or hole.thread or hole.insert]
    if part_type.shape_file:
        body = read_stl(Path(folder) / part_type.shape_file, part_type.shape_file)
    elif part_type.primitives:
        return primitives_body(part_type.primitives, where, holes)
    elif part_type.outline_mm:
        return plate_body(part_type.outline_mm, part_type.thickness_mm, where, holes)
    elif part_type.profile is not None:
        if not part_type.length_mm > 0:
            raise ReadingError(
                where=where, read=part_type.length_mm, expected="a member's length above 0 mm",
                remedy="Give the member its length in mm.",
            )  # fmt: skip
        body = member_body(
            part_type.profile,
            part_type.length_mm,
            part_type.tapped_ends,
            part_type.tapped_depth_mm,
            thread_mm(part_type.profile.core_thread),
        )
    else:
        body = _standard_body(part_type, where)
    return with_holes(body, holes)


def _standard_body(part_type: PartType, where: str) -> Manifold:
    match part_type.standard:
        case Screw() as screw:
            return screw_body(screw)
        case Nut() as nut:
            return nut_body(nut)
        case Washer() as washer:
            return washer_body(washer)
        case Insert() as insert:
            return insert_body(insert)
        case SlotNut() as nut:
            return slot_nut_body(nut)
        case RailSize() as rail:
            return rail_body(rail)
        case BlockSize() as block:
            return block_body(block)
        case Pulley() as pulley:
            return pulley_body(pulley)
        case LeadScrew() as screw:
            return lead_screw_body(screw)
        case _:
            raise ReadingError(
                where=where,
                read="no shape",
                expected="a standard part with a solid, a profile, an outline, primitives or a shape file",
                remedy="Give the part a shape, or leave it out of checks on solids.",
            )
