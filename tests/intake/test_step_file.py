"""A STEP file's bodies stand where they were put, are counted by shape, and keep their names and colours."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from intake.made_step import Made, bored, box, handed_bracket, mirrored, some_placement, turned, write_step
from trysquare.ground.placement import Placement
from trysquare.intake.step_file import read_step


def nested() -> Made:
    """A part twice in a unit, the unit twice in the whole."""
    part = Made("Winkel ß 角", handed_bracket(), colour=(0.8, 0.1, 0.2))
    unit = Made("unit", inside=((part, some_placement(1), "left"), (part, some_placement(2), "right")))
    return Made("machine", inside=((unit, some_placement(3), "low"), (unit, some_placement(4), "high")))


@pytest.mark.parametrize("schema", ["AP203", "AP214IS", "AP242DIS"])
def test_bodies_of_a_nested_assembly_stand_exactly_where_they_were_put(tmp_path: Path, schema: str) -> None:
    assembly = read_step(write_step(tmp_path / "a.step", nested(), schema=schema))
    expected = [some_placement(outer).then(some_placement(inner)) for outer in (3, 4) for inner in (1, 2)]
    assert len(assembly.shapes) == 1
    for body, placement in zip(assembly.bodies, expected, strict=True):
        assert np.abs(body.placement.matrix() - placement.matrix()).max() < 1e-9
    assert assembly.facts.schema == schema[:5]
    assert not assembly.problems


def test_names_paths_and_colours_are_kept(tmp_path: Path) -> None:
    assembly = read_step(write_step(tmp_path / "a.step", nested()))
    assert [body.name for body in assembly.bodies] == ["left", "right"] * 2
    assert {body.path for body in assembly.bodies} == {("machine", "low"), ("machine", "high")}
    assert assembly.shapes[0].name == "Winkel ß 角"
    assert assembly.bodies[0].colour == pytest.approx((0.8, 0.1, 0.2), abs=1e-3)


def test_a_file_in_inches_is_read_in_millimetres_and_said_to_be(tmp_path: Path) -> None:
    made = Made("plate", box(25.4, 50.8, 12.7))
    assembly = read_step(write_step(tmp_path / "inch.step", made, unit="INCH"))
    assert assembly.shapes[0].size_mm == pytest.approx([25.4, 50.8, 12.7], abs=1e-9)
    assert [problem.code for problem in assembly.problems] == ["inch"]
    assert "1." in (tmp_path / "inch.step").read_text()
    assert assembly.facts.unit == "inch"


def test_equal_solids_exported_flat_are_one_shape(tmp_path: Path) -> None:
    solids = [turned(handed_bracket(), seed) for seed in range(5)]
    made = Made(
        "flat", inside=tuple((Made(f"p{n}", solid), Placement(), f"p{n}") for n, solid in enumerate(solids))
    )
    assembly = read_step(write_step(tmp_path / "flat.step", made))
    assert len(assembly.shapes) == 1
    assert len(assembly.bodies) == 5
    shape = assembly.shapes[0]
    hole = next(face for face in shape.faces if abs(face.radius_mm - 1.5) < 1e-6)
    first, second = some_placement(0), some_placement(3)
    moved = assembly.bodies[3].placement.point(
        assembly.bodies[0].placement.back(first.point([30.0, 18.0, 5.0]))
    )
    assert moved == pytest.approx(second.point([30.0, 18.0, 5.0]), abs=1e-4)
    assert hole.hollow


def test_mirror_images_are_two_shapes_that_name_each_other_and_have_different_digests(tmp_path: Path) -> None:
    left, right = Made("left", handed_bracket()), Made("right", turned(mirrored(handed_bracket()), 5))
    made = Made("pair", inside=((left, Placement(), "l"), (right, some_placement(6), "r")))
    assembly = read_step(write_step(tmp_path / "pair.step", made))
    assert [shape.mirror_of for shape in assembly.shapes] == [None, 0]
    assert assembly.shapes[0].digest != assembly.shapes[1].digest
    assert assembly.shapes[0].volume_mm3 == pytest.approx(assembly.shapes[1].volume_mm3)


def test_a_digest_stays_the_same_when_the_solid_is_turned_and_written_anew(tmp_path: Path) -> None:
    digests = set()
    for seed in range(4):
        made = Made("one", turned(handed_bracket(), seed))
        digests.add(read_step(write_step(tmp_path / f"{seed}.step", made)).shapes[0].digest)
    assert len(digests) == 1


def test_several_solids_in_one_part_are_bodies_of_their_own(tmp_path: Path) -> None:
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    builder, compound = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(compound)
    for solid in (box(10, 20, 30), turned(box(10, 20, 30), 3), box(5, 5, 50)):
        builder.Add(compound, solid)
    assembly = read_step(write_step(tmp_path / "several.step", Made("lump", compound)))
    assert [body.shape for body in assembly.bodies] == [0, 0, 1]


@pytest.mark.outside
def test_volume_area_centroid_and_moments_agree_with_another_library_on_the_mesh(tmp_path: Path) -> None:
    # Source: trimesh, an independent implementation, on our mesh of the solid; a hole of 18 or
    # more flats is smaller than the round one by up to 2 %, which is a thousandth of this block
    trimesh = pytest.importorskip("trimesh")
    solid = turned(bored(handed_bracket(), (20, 10, 9), (0, 0, -1), 9, 20), 7)
    shape = read_step(write_step(tmp_path / "a.step", Made("a", solid))).shapes[0]
    mesh = trimesh.Trimesh(shape.points_mm, shape.triangles, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(shape.volume_mm3, rel=1e-3)
    assert mesh.area == pytest.approx(shape.area_mm2, rel=2e-3)
    assert mesh.center_mass == pytest.approx(shape.centroid_mm, abs=0.01)
    assert np.sort(mesh.principal_inertia_components) == pytest.approx(shape.moments_mm5, rel=2e-3)


def test_faces_say_their_axis_radius_and_side(tmp_path: Path) -> None:
    made = Made("a", bored(box(40, 20, 8), (8, 5, 9), (0, 0, -1), 4, 20))
    shape = read_step(write_step(tmp_path / "a.step", made)).shapes[0]
    hole = next(face for face in shape.faces if face.kind == "cylinder")
    assert hole.hollow
    assert hole.is_round
    assert hole.radius_mm == pytest.approx(2)
    assert hole.length_mm == pytest.approx(8)
    assert abs(hole.direction[2]) == pytest.approx(1)
    top = next(face for face in shape.faces if face.kind == "plane" and face.direction[2] > 0.5)
    assert top.rings == 2
    assert top.area_mm2 == pytest.approx(40 * 20 - np.pi * 4)
    assert len(top.neighbours) == 5
