"""Volumes and areas of drawn solids against closed forms and another mesh library."""

from __future__ import annotations

import math

import pytest
import trimesh

from trysquare.catalogue.lookup import designations, lookup
from trysquare.catalogue.values import Profile
from trysquare.machine.values import Hole, Kind, PartType, Primitive
from trysquare.solid.bodies import bore, facets, hexagon, shaft
from trysquare.solid.profiles import section
from trysquare.solid.shapes import Solid, makes_solid, solid_from, solid_of


def bought(designation: str) -> PartType:
    return PartType(id=designation, name=designation, kind=Kind.BOUGHT, standard=lookup(designation))


def member(designation: str, length_mm: float, **more: object) -> PartType:
    profile = lookup(designation)
    assert isinstance(profile, Profile)
    return PartType(
        id="m",
        name="member",
        kind=Kind.MEMBER,
        profile=profile,
        length_mm=length_mm,
        **more,  # type: ignore[arg-type]
    )


def inscribed_area(diameter_mm: float) -> float:
    n = facets(diameter_mm)
    return n / 2 * (diameter_mm / 2) ** 2 * math.sin(2 * math.pi / n)


def circumscribed_area(diameter_mm: float) -> float:
    n = facets(diameter_mm)
    return n * (diameter_mm / 2) ** 2 * math.tan(math.pi / n)


def section_area(profile: Profile) -> float:
    """Square less its slots and its cores, from the measures of the slot's outline."""
    slot = (
        profile.mouth_mm * profile.lip_mm
        + profile.inside_mm * (profile.shoulder_mm - profile.lip_mm)
        + (profile.inside_mm + profile.floor_mm) / 2 * (profile.depth_mm - profile.shoulder_mm)
    )
    slots = 2 * (profile.cells_y + profile.cells_z)
    cores = profile.cells_y * profile.cells_z * circumscribed_area(profile.core_mm)
    return profile.size_y_mm * profile.size_z_mm - slots * slot - cores


@pytest.mark.parametrize("diameter_mm", [1.6, 3.0, 5.0, 8.0, 12.0, 40.0])
def test_a_drawn_shaft_is_inside_and_a_drawn_hole_outside_the_true_cylinder(diameter_mm: float) -> None:
    true_mm3 = math.pi * diameter_mm**2 / 4 * 10
    assert shaft(diameter_mm, 0, 10).volume() == pytest.approx(10 * inscribed_area(diameter_mm), rel=1e-12)
    assert bore(diameter_mm, 0, 10).volume() == pytest.approx(10 * circumscribed_area(diameter_mm), rel=1e-12)
    assert 0.98 * true_mm3 < shaft(diameter_mm, 0, 10).volume() < true_mm3
    assert true_mm3 < bore(diameter_mm, 0, 10).volume() < 1.02 * true_mm3


def test_a_hexagonal_prism_has_the_volume_and_area_of_its_closed_form() -> None:
    # area of a hexagon across flats s: √3/2 · s²; its side is s / √3
    prism = hexagon(5.5, 0, 2.4)
    assert prism.volume() == pytest.approx(math.sqrt(3) / 2 * 5.5**2 * 2.4, rel=1e-12)
    assert prism.surface_area() == pytest.approx(
        math.sqrt(3) * 5.5**2 + 6 * 5.5 / math.sqrt(3) * 2.4, rel=1e-12
    )


def test_a_hexagon_nut_is_a_prism_less_its_round_hole() -> None:
    solid = solid_of(bought("ISO 4032 M3"))
    expected = (math.sqrt(3) / 2 * 5.5**2 - circumscribed_area(3.0)) * 2.4
    assert solid.volume_mm3 == pytest.approx(expected, rel=1e-9)


def test_a_set_screw_is_a_cylinder_less_its_socket() -> None:
    screw = lookup("ISO 4026 M3x6")
    socket = math.sqrt(3) / 2 * screw.key_mm**2 * screw.key_depth_mm  # type: ignore[union-attr]
    assert solid_of(bought("ISO 4026 M3x6")).volume_mm3 == pytest.approx(
        inscribed_area(3.0) * 6 - socket, rel=1e-9
    )


@pytest.mark.parametrize("name", [d for d in designations() if d.startswith("profile")])
def test_a_profile_has_the_area_of_its_outline(name: str) -> None:
    profile = lookup(name)
    assert isinstance(profile, Profile)
    assert section(profile, profile.core_mm).area() == pytest.approx(section_area(profile), rel=1e-9)
    solid = solid_of(member(name, 123.0))
    assert solid.volume_mm3 == pytest.approx(123.0 * section_area(profile), rel=1e-9)


def test_tapping_a_member_end_widens_its_core_over_the_tapped_depth() -> None:
    name = "profile 20x20 slot 6"
    plain, tapped = (
        solid_of(member(name, 100.0)),
        solid_of(member(name, 100.0, tapped_ends=("a", "b"), tapped_depth_mm=16.0)),
    )
    core_mm = lookup(name).core_mm  # type: ignore[union-attr]
    ring = circumscribed_area(5.0) - circumscribed_area(core_mm)
    assert plain.volume_mm3 - tapped.volume_mm3 == pytest.approx(2 * 16.0 * ring, rel=1e-6)


def test_a_plate_loses_the_volume_of_its_holes() -> None:
    square = ((0.0, 0.0), (50.0, 0.0), (50.0, 40.0), (0.0, 40.0))
    out = (0.0, 0.0, 1.0)

    def hole(x_mm: float, **more: object) -> Hole:
        given = {
            "name": "h",
            "at_mm": (x_mm, 20.0, 6.0),
            "direction": out,
            "diameter_mm": 3.4,
            "depth_mm": 6.0,
            "through": True,
            **more,
        }
        return Hole(**given)  # type: ignore[arg-type]

    holes = (
        hole(8.0),
        hole(18.0, counterbore_mm=6.5, counterbore_depth_mm=3.4),
        hole(28.0, thread="M3", diameter_mm=2.5, depth_mm=4.0, through=False),
        hole(40.0, countersunk=True, counterbore_mm=7.0),
    )
    part = PartType(id="p", name="p", kind=Kind.PLATE, outline_mm=square, thickness_mm=6.0, holes=holes)
    low, high = 3.4 / 2, 7.0 / 2  # the cone of the countersink, as the prism that stands for it
    n = facets(7.0)
    depth = high - low
    cone = n * math.tan(math.pi / n) * depth / 3 * (low**2 + low * high + high**2)
    cut = (
        3 * 6.0 * circumscribed_area(3.4)
        + 3.4 * (circumscribed_area(6.5) - circumscribed_area(3.4))
        + 4.0 * circumscribed_area(3.0)
        + cone
        - depth * circumscribed_area(3.4)
    )
    assert solid_of(part).volume_mm3 == pytest.approx(50 * 40 * 6 - cut, rel=1e-9)


def test_primitives_are_joined_and_cut_in_their_order() -> None:
    part = PartType(
        id="q",
        name="q",
        kind=Kind.BOUGHT,
        primitives=(
            Primitive(
                shape="box",
                size_mm=(10.0, 20.0, 5.0),
                at_mm=(0.0, 0.0, 0.0),
                along=(0.0, 0.0, 1.0),
                cut=False,
            ),
            Primitive(
                shape="cylinder", size_mm=(4.0, 7.0), at_mm=(5.0, 5.0, -1.0), along=(0.0, 0.0, 1.0), cut=True
            ),
            Primitive(
                shape="cylinder", size_mm=(4.0, 6.0), at_mm=(5.0, 15.0, 5.0), along=(0.0, 0.0, 1.0), cut=False
            ),
        ),
    )
    expected = 1000 - 5 * circumscribed_area(4.0) + 6 * inscribed_area(4.0)
    assert solid_of(part).volume_mm3 == pytest.approx(expected, rel=1e-9)


def as_mesh(solid: Solid) -> trimesh.Trimesh:
    return trimesh.Trimesh(solid.points_mm, solid.triangles, process=False)


@pytest.mark.outside
@pytest.mark.parametrize(
    "name",
    [
        "ISO 4762 M3x8",
        "ISO 7380-1 M5x12",
        "ISO 10642 M4x12",
        "ISO 4029 M4x6",
        "ISO 4032 M5",
        "DIN 562 M3",
        "ISO 7089 M5",
        "heat-set insert M3x5.7",
        "slide-in nut slot 6 M5",
        "hex-in-slot nut slot 5 M4",
        "rail 9x200",
        "block 9 standard",
        "pulley 2 mm pitch 20 teeth bore 5",
        "idler smooth 12 bore 5",
        "lead screw 8x2 starts 4 length 250",
    ],
)
def test_every_standard_sort_is_one_closed_body_whose_volume_another_library_agrees_with(name: str) -> None:
    solid = solid_of(bought(name))
    mesh = as_mesh(solid)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 1
    assert float(mesh.volume) == pytest.approx(solid.volume_mm3, rel=1e-9)
    assert float(mesh.area) == pytest.approx(solid.area_mm2, rel=1e-9)
    assert mesh.bounds == pytest.approx(solid.box_mm)


@pytest.mark.slow
def test_every_designation_of_the_catalogue_either_has_a_solid_or_says_it_has_none() -> None:
    without = set()
    for name in designations():
        part = member(name, 100.0) if name.startswith("profile") else bought(name)
        if makes_solid(part):
            assert solid_of(part).volume_mm3 > 0, name
        else:
            without.add(type(part.standard).__name__)
    assert without == {"BeltSize", "Wire", "Grease"}


def test_two_types_with_the_same_content_share_one_solid() -> None:
    assert solid_of(bought("ISO 4762 M3x8")) is solid_of(bought("ISO 4762 M3x8"))
    assert solid_of(bought("ISO 4762 M3x8")).digest != solid_of(bought("ISO 4762 M3x10")).digest


def test_a_digest_follows_the_shape_and_not_the_way_it_was_made() -> None:
    assert solid_from(shaft(5, 0, 10)).digest == solid_from(shaft(5, 0, 10)).digest
    assert solid_from(shaft(5, 0, 10)).digest != solid_from(bore(5, 0, 10)).digest
