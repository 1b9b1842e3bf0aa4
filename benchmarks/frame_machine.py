"""A machine of about 500 placed parts to measure with, made from a few numbers.

A cube frame of T-slot members on blind joints, inside brackets from shape files, rails with blocks
and moving plates, two skins and eight clips with heat-set inserts. Everything fits; `faults` adds
known clashes. Copies stand side by side.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from manifold3d import CrossSection, Manifold

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import BlockSize, Profile, RailSize
from trysquare.ground.placement import Array, Placement, Triple, facing, turned
from trysquare.machine.values import Hole, Kind, PartType, PlacedPart, Primitive

SPAN_MM = 400.0
LEVELS_MM = (10.0, 210.0, 410.0)
X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def minus(direction: Triple) -> Triple:
    """The opposite direction."""
    return (-direction[0], -direction[1], -direction[2])


def write_stl(path: Path, body: Manifold) -> None:
    """A binary STL of a body."""
    mesh = body.to_mesh()
    corners = np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)].astype("<f4")
    record = np.zeros(len(corners), np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("x", "<u2")]))
    record["c"] = corners
    path.write_bytes(bytes(80) + struct.pack("<I", len(corners)) + record.tobytes())


def bracket_shape() -> Manifold:
    """An inside bracket with a web, rounded edges and two holes for M5, some 2000 triangles."""
    legs = CrossSection([[(0, 0), (32, 0), (32, 4), (4, 4), (4, 32), (0, 32)]])
    legs = legs.offset(-1.0, join_type=_round(), circular_segments=48).offset(
        1.0, join_type=_round(), circular_segments=48
    )
    body = Manifold.extrude(legs, 19.0).translate((0, 0, -9.5))
    web = Manifold.extrude(CrossSection([[(3, 3), (28, 3), (3, 28)]]), 2.0)
    body = body + web.translate((0, 0, 7.5)) + web.translate((0, 0, -9.5))
    hole = Manifold.cylinder(10.0, 2.75, 2.75, 96)
    body = body - hole.rotate((-90, 0, 0)).translate((20, -1, 0))
    body = body - hole.rotate((0, 90, 0)).translate((-1, 20, 0))
    return body.rotate((90, 0, 0))  # own x and z along the legs


def clip_shape() -> Manifold:
    """A block 40 × 10 × 20 with two M5 holes through y and four holes for M3 inserts in its top."""
    body = Manifold.cube((40, 10, 20)).translate((-20, 0, -10))
    through = Manifold.cylinder(12, 2.75, 2.75, 64).rotate((-90, 0, 0))
    blind = Manifold.cylinder(8, 2.0, 2.0, 64)
    for x in (-12.0, 12.0):
        body = body - through.translate((x, -1, 0))
        for y in (3.0, 7.0):
            body = body - blind.translate((x + (5 if y == 3 else -5), y, 3))
    return body


def _round() -> object:
    from manifold3d import JoinType

    return JoinType.Round


@dataclass
class Workshop:
    """Collects placed parts; part types are shared."""

    folder: Path
    placed: list[PlacedPart] = field(default_factory=list)
    types: dict[str, PartType] = field(default_factory=dict)

    def standard(self, designation: str) -> PartType:
        if designation not in self.types:
            self.types[designation] = PartType(
                id=designation, name=designation, kind=Kind.FASTENER, standard=lookup(designation)
            )
        return self.types[designation]

    def put(self, name: str, part: PartType, turn: Array, at_mm: Iterable[float]) -> PlacedPart:
        one = PlacedPart(
            id=f"{name}.{len(self.placed)}",
            type=part,
            unit="",
            placement=Placement(turn, np.array(list(at_mm), dtype=float)),
        )
        self.placed.append(one)
        return one

    def screw(self, designation: str, bearing_mm: Iterable[float], outwards: Triple) -> PlacedPart:
        return self.put("screw", self.standard(designation), facing(outwards), bearing_mm)


def frame_machine(folder: Path, copies: int = 1, faults: bool = True) -> list[PlacedPart]:
    """The machine; `copies` of it side by side along x. Writes two shape files into `folder`."""
    write_stl(folder / "bracket.stl", bracket_shape())
    write_stl(folder / "clip.stl", clip_shape())
    shop = Workshop(folder)
    _frame(shop)
    _brackets(shop)
    _rails(shop)
    _skins(shop)
    _clips(shop)
    if faults:
        _faults(shop)
    answer = []
    for copy in range(copies):
        shift = np.array([copy * 1000.0, 0.0, 0.0])
        for one in shop.placed:
            place = Placement(one.placement.turn, one.placement.origin_mm + shift)
            answer.append(PlacedPart(id=f"{copy}/{one.id}", type=one.type, placement=place, unit=str(copy)))
    return answer


def _profile() -> Profile:
    found = lookup("profile 20x20 slot 6")
    assert isinstance(found, Profile)
    return found


def _access(name: str, x_mm: float, face: str) -> Hole:
    at = {"y": ((x_mm, 10.0, 0.0), Y), "z": ((x_mm, 0.0, 10.0), Z)}[face]
    return Hole(
        name=name, at_mm=at[0], direction=at[1], diameter_mm=5.0, depth_mm=20.0, through=True, access=True
    )


def _frame(shop: Workshop) -> None:
    profile, lip = _profile(), _profile().lip_mm
    upright = PartType(
        id="upright",
        name="upright",
        kind=Kind.MEMBER,
        profile=profile,
        length_mm=420.0,
        holes=tuple(_access(f"key.{i}{f}", z, f) for i, z in enumerate(LEVELS_MM) for f in "yz"),
    )
    rung = PartType(
        id="rung",
        name="rung",
        kind=Kind.MEMBER,
        profile=profile,
        length_mm=SPAN_MM - 20.0,
        tapped_ends=("a", "b"),
        tapped_depth_mm=16.0,
    )
    beam = PartType(
        id="beam",
        name="beam",
        kind=Kind.MEMBER,
        profile=profile,
        length_mm=SPAN_MM - 20.0,
        tapped_ends=("a", "b"),
        tapped_depth_mm=16.0,
        holes=(_access("key.1", 100.0, "y"), _access("key.2", 280.0, "y")),
    )
    for x in (0.0, SPAN_MM):
        for y in (0.0, SPAN_MM):
            shop.put("upright", upright, turned(Z, X), (x, y, 0.0))
    joint = "ISO 7380-1 M5x12"
    for level, z in enumerate(LEVELS_MM):
        for side in (0.0, SPAN_MM):
            sort = beam if level != 1 else rung
            shop.put("beam", sort, turned(X, Z), (10.0, side, z))
            shop.put("rung", rung, turned(Y, Z), (side, 10.0, z))
            for end, out in ((10.0 - lip, -1.0), (SPAN_MM - 10.0 + lip, 1.0)):
                shop.screw(joint, (end, side, z), (out, 0.0, 0.0))
                shop.screw(joint, (side, end, z), (0.0, out, 0.0))
        if level != 1:
            for x in (110.0, 290.0):
                shop.put("rung", rung, turned(Y, Z), (x, 10.0, z))
                for end, out in ((10.0 - lip, -1.0), (SPAN_MM - 10.0 + lip, 1.0)):
                    shop.screw(joint, (x, end, z), (0.0, out, 0.0))


def _bolt(shop: Workshop, face_mm: Array, outwards: Triple, along: Triple, layer_mm: float, how: str) -> None:
    """A washer, an M5 screw and a nut in the slot under `face_mm`."""
    out = np.array(outwards)
    washer = shop.standard("ISO 7089 M5")
    shop.put("washer", washer, facing(outwards), face_mm + layer_mm * out)
    shop.screw("ISO 7380-1 M5x10", face_mm + (layer_mm + 1.0) * out, outwards)
    shop.put("nut", shop.standard(how), turned(along, outwards), face_mm - _profile().lip_mm * out)


def _brackets(shop: Workshop) -> None:
    bracket = PartType(
        id="bracket",
        name="bracket",
        kind=Kind.PRINTED,
        shape_file="bracket.stl",
        shape_digest="b",
        cutter=False,
    )
    nut = "slide-in nut slot 6 M5"
    for level, z in enumerate(LEVELS_MM):
        up = -1.0 if level == 2 else 1.0
        for side in (0.0, SPAN_MM):
            for end, inwards in ((10.0, 1.0), (SPAN_MM - 10.0, -1.0)):
                for axis in (0, 1):
                    along = np.zeros(3)
                    along[axis] = inwards
                    corner = np.array([side, side, z + 10.0 * up])
                    corner[axis] = end
                    z_axis = np.array([0.0, 0.0, up])
                    shop.put("bracket", bracket, turned(along, z_axis), corner)
                    a, u = _triple(along), _triple(z_axis)
                    _bolt(shop, corner + 20 * along, u, a, 4.0, nut)
                    _bolt(shop, corner + 20 * z_axis, a, u, 4.0, nut)


def _triple(vector: Array) -> Triple:
    return (float(vector[0]), float(vector[1]), float(vector[2]))


def _rails(shop: Workshop) -> None:
    rail_type, block_type = shop.standard("rail 9x300"), shop.standard("block 9 standard")
    rail, block = rail_type.standard, block_type.standard
    assert isinstance(rail, RailSize)
    assert isinstance(block, BlockSize)
    plate = PartType(
        id="saddle",
        name="saddle",
        kind=Kind.PLATE,
        outline_mm=((-25.0, -25.0), (25.0, -25.0), (25.0, 25.0), (-25.0, 25.0)),
        thickness_mm=5.0,
        holes=tuple(
            Hole(
                name=f"block.{x:g}{y:g}",
                at_mm=(x, y, 5.0),
                direction=Z,
                diameter_mm=3.4,
                depth_mm=5.0,
                through=True,
            )
            for x in (-5.0, 5.0)
            for y in (-7.5, 7.5)
        ),
    )
    homes = (
        ((50.0, 0.0, 420.0), Z),
        ((50.0, SPAN_MM, 420.0), Z),
        ((50.0, -10.0, 210.0), minus(Y)),
        ((50.0, SPAN_MM + 10.0, 210.0), Y),
    )
    for n, (at, out) in enumerate(homes):
        place = Placement(turned(X, out), np.array(at))
        shop.put("rail", rail_type, place.turn, at)
        for x in rail.holes_mm:
            seat = rail.height_mm - rail.counterbore_depth_mm
            shop.screw("ISO 4762 M3x8", place.point((x, 0.0, seat)), out)
            under = place.point((x, 0.0, -_profile().lip_mm))
            shop.put("nut", shop.standard("roll-in nut slot 6 M3"), place.turn, under)
        middle = 120.0 + 13.0 * n
        shop.put("block", block_type, place.turn, place.point((middle, 0.0, 0.0)))
        shop.put("saddle", plate, place.turn, place.point((middle, 0.0, block.height_mm)))
        for x in (-5.0, 5.0):
            for y in (-7.5, 7.5):
                shop.screw("ISO 4762 M3x8", place.point((middle + x, y, block.height_mm + 5.0)), out)


def _skins(shop: Workshop) -> None:
    places = [(x, y) for y in (0.0, SPAN_MM) for x in (60.0, 140.0, 200.0, 260.0, 320.0, 350.0)]
    skin = PartType(
        id="skin",
        name="skin",
        kind=Kind.PLATE,
        thickness_mm=4.0,
        outline_mm=((-10.0, -10.0), (410.0, -10.0), (410.0, 410.0), (-10.0, 410.0)),
        holes=tuple(
            Hole(name=f"rim.{n}", at_mm=(x, y, 4.0), direction=Z, diameter_mm=5.5, depth_mm=4.0, through=True)
            for n, (x, y) in enumerate(places)
        ),
    )
    homes = (
        (np.column_stack([X, minus(Y), minus(Z)]), (0.0, SPAN_MM, 0.0)),
        (np.column_stack([Y, minus(Z), minus(X)]), (-10.0, 0.0, 410.0)),
    )
    for turn, origin in homes:
        place = Placement(turn, np.array(origin))
        shop.put("skin", skin, turn, origin)
        for x, y in places:
            out, along = _triple(place.direction(Z)), _triple(place.direction(X))
            _bolt(shop, place.point((x, y, 0.0)), out, along, 4.0, "roll-in nut slot 6 M5")


def _clips(shop: Workshop) -> None:
    clip = PartType(
        id="clip", name="clip", kind=Kind.PRINTED, shape_file="clip.stl", shape_digest="c", cutter=False
    )
    lid = PartType(
        id="lid",
        name="lid",
        kind=Kind.PLATE,
        outline_mm=((-20, 0), (20, 0), (20, 10), (-20, 10)),
        thickness_mm=2.0,
        holes=tuple(
            Hole(name=f"lid.{n}", at_mm=(x, y, 2.0), direction=Z, diameter_mm=3.4, depth_mm=2.0, through=True)
            for n, (x, y) in enumerate(((-7, 3), (-17, 7), (17, 3), (7, 7)))
        ),
    )
    for y, out in ((-10.0, minus(Y)), (SPAN_MM + 10.0, Y)):
        for x in (60.0, 150.0, 240.0, 330.0):
            place = Placement(np.column_stack([np.cross(out, Z), out, Z]), np.array([x, y, 10.0]))
            shop.put("clip", clip, place.turn, place.origin_mm)
            shop.put("lid", lid, place.turn, place.point((0.0, 0.0, 10.0)))
            for hole in lid.holes:
                top = (hole.at_mm[0], hole.at_mm[1], 10.0)
                shop.put("insert", shop.standard("heat-set insert M3x5.7"), place.turn, place.point(top))
                shop.screw("ISO 7380-1 M3x8", place.point((top[0], top[1], 12.0)), Z)
            for along in (-12.0, 12.0):
                shop.screw("ISO 7380-1 M5x16", place.point((along, 10.0, 0.0)), out)
                under = place.point((along, -_profile().lip_mm, 0.0))
                shop.put("nut", shop.standard("slide-in nut slot 6 M5"), turned(X, out), under)


def _faults(shop: Workshop) -> None:
    """Known clashes: a screw too long, a bracket set too deep, a rail set too deep, two clips too near,
    a small box wholly inside a clip."""
    cube = PartType(
        id="lost",
        name="lost",
        kind=Kind.PRINTED,
        primitives=(
            Primitive(shape="box", size_mm=(2.0, 2.0, 2.0), at_mm=(0.0, 0.0, 0.0), along=Z, cut=False),
        ),
    )
    kinds = {one.id.partition(".")[0]: one for one in shop.placed}
    first_clip = next(one for one in shop.placed if one.type.id == "clip")
    shop.put("lost", cube, np.eye(3), first_clip.placement.point((0.0, 4.0, -7.0)))
    for name, shift in (("bracket", (0.0, 0.0, 0.3)), ("clip", (25.0, 0.0, 0.0))):
        one = kinds[name]
        place = one.placement
        shop.put(f"{name}-wrong", one.type, place.turn, place.origin_mm + np.array(shift))
    # on the left side of the lowest rung at the right, half a millimetre into it
    shop.put("rail-wrong", shop.standard("rail 9x100"), turned(Y, minus(X)), (390.5, 150.0, 10.0))
    turn = turned((0.8, 0.6, 0.0), Z)
    shop.put("skew", shop.types["ISO 7380-1 M5x16"], turn, (33.0, 4.0, 200.0))
