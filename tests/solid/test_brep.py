"""Exact bodies hold what the bodies of flats hold, and have round faces where the part is round."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import trimesh

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Profile
from trysquare.ground.placement import Triple
from trysquare.machine.standard_types import standard_type
from trysquare.machine.values import Hole, Kind, PartType, Primitive
from trysquare.solid import bodies, drilled, profiles, screws
from trysquare.solid.brep import exact_of
from trysquare.solid.brep_bodies import Shape, area_mm2, is_sound, volume_mm3
from trysquare.solid.brep_faceted import faceted
from trysquare.solid.shapes import forget_solids, solid_of

FINE = 360  # flats of a round: their error is 3e-5 of its area
STANDARD = (
    "ISO 4762 M3x8", "ISO 4762 M5x25", "ISO 7380-1 M4x10", "ISO 10642 M4x20", "ISO 4026 M3x6",
    "ISO 4032 M4", "ISO 7089 M5", "heat-set insert M3x5.7", "slide-in nut slot 6 M5", "roll-in nut slot 6 M4",
    "quarter-turn nut slot 6 M5", "rail 9x280", "block 9 standard", "block 9 long",
    "pulley 2 mm pitch 24 teeth bore 5", "lead screw 8x2 starts 4 length 250",
)  # fmt: skip


@pytest.fixture
def fine_flats(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Bodies of flats with so many flats that they are round."""
    for module in (bodies, drilled, profiles, screws):
        monkeypatch.setattr(module, "facets", lambda _: FINE)
    monkeypatch.setattr(screws, "DOME_STEPS", 100)
    profiles.section.cache_clear()
    forget_solids()
    yield
    profiles.section.cache_clear()
    forget_solids()


def hole(name: str, at_mm: Triple, direction: Triple, **more: object) -> Hole:
    values: dict[str, object] = {"diameter_mm": 5.0, "depth_mm": 20.0, "through": True} | more
    return Hole(name=name, at_mm=at_mm, direction=direction, **values)  # type: ignore[arg-type]


def member(*holes: Hole, tapped: tuple[str, ...] = ("a", "b"), length_mm: float = 120.0) -> PartType:
    profile = lookup("profile 20x40 slot 6")
    assert isinstance(profile, Profile)
    return PartType(
        id="beam", name="beam", kind=Kind.MEMBER, profile=profile, length_mm=length_mm, holes=holes,
        tapped_ends=tapped, tapped_depth_mm=15.0 if tapped else 0.0,
    )  # fmt: skip


def plate(*holes: Hole) -> PartType:
    corners = ((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0))
    return PartType(
        id="plate", name="plate", kind=Kind.PLATE, outline_mm=corners, thickness_mm=6.0, holes=holes
    )


def round_faces(shape: Shape) -> list[tuple[float, float]]:
    """Radius and height of each cylinder of a body."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_SurfaceType
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    found = []
    walk = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
    while walk.More():
        face = BRepAdaptor_Surface(TopoDS.Face(walk.Current()))
        if face.GetType() == GeomAbs_SurfaceType.GeomAbs_Cylinder:
            height = face.LastVParameter() - face.FirstVParameter()
            found.append((round(face.Cylinder().Radius(), 6), round(height, 6)))
        walk.Next()
    return found


@pytest.mark.slow
@pytest.mark.parametrize("designation", STANDARD)
@pytest.mark.usefixtures("fine_flats")
def test_an_exact_standard_part_holds_what_its_mesh_holds(designation: str) -> None:
    part = standard_type(designation)
    exact, mesh = exact_of(part), solid_of(part)
    assert not exact.faceted
    assert is_sound(exact.shape)
    assert volume_mm3(exact.shape) == pytest.approx(mesh.volume_mm3, rel=2e-4)
    assert area_mm2(exact.shape) == pytest.approx(mesh.area_mm2, rel=2e-4)


@pytest.mark.usefixtures("fine_flats")
def test_an_exact_member_holds_what_its_mesh_holds() -> None:
    key = hole("key", (30.0, 0.0, 20.0), (0.0, 0.0, 1.0), diameter_mm=6.0, depth_mm=40.0)
    sunk = hole("sunk", (70.0, 10.0, 10.0), (0.0, 1.0, 0.0), countersunk=True, depth_mm=20.0)
    for part in (member(), member(tapped=()), member(key, sunk), member(key, tapped=("b",))):
        exact = exact_of(part)
        assert not exact.faceted
        assert volume_mm3(exact.shape) == pytest.approx(solid_of(part).volume_mm3, rel=2e-4)


@pytest.mark.usefixtures("fine_flats")
def test_an_exact_plate_holds_what_its_mesh_holds() -> None:
    part = plate(
        hole("through", (10.0, 10.0, 6.0), (0.0, 0.0, 1.0), depth_mm=6.0),
        hole("blind", (30.0, 10.0, 0.0), (0.0, 0.0, -1.0), depth_mm=4.0, through=False, thread="M5"),
        hole("sunk", (45.0, 10.0, 6.0), (0.0, 0.0, 1.0), depth_mm=6.0, diameter_mm=4.5, countersunk=True),
        hole("bore", (10.0, 30.0, 6.0), (0.0, 0.0, 1.0), depth_mm=6.0, counterbore_mm=9.0,
             counterbore_depth_mm=3.0),
        hole("edge", (60.0, 25.0, 3.0), (1.0, 0.0, 0.0), diameter_mm=2.5, depth_mm=12.0, through=False),
    )  # fmt: skip
    exact = exact_of(part)
    assert is_sound(exact.shape)
    assert volume_mm3(exact.shape) == pytest.approx(solid_of(part).volume_mm3, rel=2e-5)


@pytest.mark.usefixtures("fine_flats")
def test_boxes_and_cylinders_are_joined_and_cut_as_their_meshes_are() -> None:
    up: Triple = (0.0, 0.0, 1.0)
    part = PartType(
        id="motor", name="motor", kind=Kind.BOUGHT,
        primitives=(
            Primitive(
                shape="box", size_mm=(42.0, 42.0, 40.0), at_mm=(-21.0, -21.0, -40.0), along=up, cut=False
            ),
            Primitive(shape="cylinder", size_mm=(22.0, 2.0), at_mm=(0.0, 0.0, 0.0), along=up, cut=False),
            Primitive(shape="cylinder", size_mm=(10.0, 50.0), at_mm=(0.0, 0.0, -45.0), along=up, cut=True),
            Primitive(shape="box", size_mm=(5.0, 5.0, 5.0), at_mm=(30.0, 0.0, 0.0), along=up, cut=False),
        ),
        holes=(
            hole("m.1", (15.5, 15.5, 0.0), up, diameter_mm=3.0, thread="M3", depth_mm=5.0, through=False),
        ),
    )  # fmt: skip
    exact = exact_of(part)
    assert volume_mm3(exact.shape) == pytest.approx(solid_of(part).volume_mm3, rel=2e-5)


def test_a_round_hole_of_a_countersunk_plate_takes_a_cylinder_and_a_cone_away() -> None:
    # Source: volume of a cylinder and of a truncated cone, school geometry; sink 2.24 × 4 wide, 90°.
    part = plate(
        hole("one", (30.0, 20.0, 6.0), (0.0, 0.0, 1.0), depth_mm=6.0, diameter_mm=4.5, countersunk=True)
    )
    wide, narrow = 2.24 * 4 / 2, 2.25
    deep = wide - narrow
    cone = math.pi * deep * (wide**2 + wide * narrow + narrow**2) / 3
    air = cone + math.pi * narrow**2 * (6.0 - deep)
    assert volume_mm3(exact_of(part).shape) == pytest.approx(60 * 40 * 6 - air, rel=1e-9)


def test_a_screw_has_a_round_shank_and_a_washer_two_round_walls() -> None:
    assert (1.5, 8.0) in round_faces(exact_of(standard_type("ISO 4762 M3x8")).shape)
    # Source: ISO 7089:2000, table 1, M5: 5.3 inside, 10 outside, 1 thick, as in the catalogue's rows.
    assert sorted(round_faces(exact_of(standard_type("ISO 7089 M5")).shape)) == [(2.65, 1.0), (5.0, 1.0)]


def test_a_tapped_end_is_as_wide_as_its_thread_and_as_deep_as_said() -> None:
    walls = round_faces(exact_of(member(tapped=("a",), length_mm=100.0)).shape)
    profile = lookup("profile 20x40 slot 6")
    assert isinstance(profile, Profile)
    wide = float(profile.core_thread.removeprefix("M")) / 2
    assert walls.count((wide, 15.0)) == 2
    assert walls.count((profile.core_mm / 2, 85.0)) == 2


def test_a_part_that_is_only_a_mesh_becomes_a_solid_of_its_flat_faces(tmp_path: Path) -> None:
    mesh = trimesh.creation.box((30.0, 20.0, 10.0))
    (tmp_path / "shapes").mkdir()
    mesh.export(tmp_path / "shapes" / "block.stl")
    part = PartType(id="block", name="block", kind=Kind.PRINTED, shape_file="shapes/block.stl", cutter=False)
    exact = exact_of(part, tmp_path)
    assert exact.faceted
    assert is_sound(exact.shape)
    assert volume_mm3(exact.shape) == pytest.approx(6000.0, rel=1e-9)
    assert area_mm2(exact.shape) == pytest.approx(2 * (600 + 200 + 300), rel=1e-9)
    assert len(faces_of(exact.shape)) == 6  # twelve triangles, six faces


def test_an_insert_hole_of_a_mesh_is_cut_round(tmp_path: Path) -> None:
    (tmp_path / "shapes").mkdir()
    trimesh.creation.box((30.0, 20.0, 10.0)).export(tmp_path / "shapes" / "boss.stl")
    part = PartType(
        id="boss", name="boss", kind=Kind.PRINTED, shape_file="shapes/boss.stl", cutter=False,
        holes=(hole("i.1", (0.0, 0.0, 5.0), (0.0, 0.0, 1.0), diameter_mm=4.0, depth_mm=6.0, through=False,
                    insert="heat-set insert M3x5.7"),),
    )  # fmt: skip
    assert [height for _, height in round_faces(exact_of(part, tmp_path).shape)] == [
        pytest.approx(6.05, abs=0.06)
    ]


def test_a_curved_mesh_keeps_its_volume_and_area_to_rounding() -> None:
    ball = trimesh.creation.icosphere(subdivisions=2, radius=12.0)
    body = faceted(np.asarray(ball.vertices), np.asarray(ball.faces))
    # Source: trimesh, an outside judge of a mesh's volume and area.
    assert volume_mm3(body) == pytest.approx(float(ball.volume), rel=1e-9)
    assert area_mm2(body) == pytest.approx(float(ball.area), rel=1e-9)


def test_a_ring_of_flats_has_faces_with_openings() -> None:
    ring = trimesh.creation.annulus(r_min=5.0, r_max=10.0, height=4.0, sections=24)
    body = faceted(np.asarray(ring.vertices), np.asarray(ring.faces))
    assert is_sound(body)
    assert volume_mm3(body) == pytest.approx(float(ring.volume), rel=1e-9)
    assert len(faces_of(body)) == 24 + 24 + 2


def faces_of(shape: Shape) -> list[object]:
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer

    found: list[object] = []
    walk = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
    while walk.More():
        found.append(walk.Current())
        walk.Next()
    return found
