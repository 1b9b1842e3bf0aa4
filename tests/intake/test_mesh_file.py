"""STL and 3MF files become bodies of triangles with their right place, size and figures."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh

from intake.made_step import some_placement
from trysquare.ground.errors import ReadingError
from trysquare.intake.mesh_file import read_mesh
from trysquare.intake.recognise import recognised

CUBE = """<mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="{0}" y="0" z="0"/>
<vertex x="{0}" y="{0}" z="0"/>
<vertex x="0" y="{0}" z="0"/><vertex x="0" y="0" z="{0}"/><vertex x="{0}" y="0" z="{0}"/>
<vertex x="{0}" y="{0}" z="{0}"/><vertex x="0" y="{0}" z="{0}"/>
</vertices><triangles>{1}</triangles></mesh>"""
SKIN = [(0, 2, 1), (0, 3, 2), (4, 5, 6), (4, 6, 7), (0, 1, 5), (0, 5, 4), (1, 2, 6), (1, 6, 5), (2, 3, 7),
        (2, 7, 6), (3, 0, 4), (3, 4, 7)]  # fmt: skip
RELS = """<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Target="/3D/3dmodel.model" Id="r" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>"""


def cube(size: float, left_out: int = 0) -> str:
    rows = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in SKIN[left_out:])
    return CUBE.format(size, rows)


def three_mf(path: Path, resources: str, build: str, unit: str = "millimeter", head: str = "") -> Path:
    model = (
        f'<?xml version="1.0" encoding="UTF-8"?>{head}<model unit="{unit}" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
        f"<resources>{resources}</resources><build>{build}</build></model>"
    )
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("_rels/.rels", RELS)
        archive.writestr("3D/3dmodel.model", model)
    return path


@pytest.mark.outside
def test_figures_of_a_mesh_agree_with_another_library(tmp_path: Path) -> None:
    # Source: trimesh, an independent implementation of volume, area, centroid and moments of inertia
    mesh = trimesh.creation.annulus(3, 10, 5)
    mesh.apply_transform(np.vstack([some_placement(3).matrix(), [0, 0, 0, 1]]))
    mesh.export(tmp_path / "ring.stl")
    shape = read_mesh(tmp_path / "ring.stl").shapes[0]
    assert shape.volume_mm3 == pytest.approx(mesh.volume, rel=1e-5)
    assert shape.area_mm2 == pytest.approx(mesh.area, rel=1e-5)
    assert shape.centroid_mm == pytest.approx(mesh.center_mass, abs=1e-4)
    assert shape.moments_mm5 == pytest.approx(np.sort(mesh.principal_inertia_components), rel=1e-5)


@pytest.mark.outside
def test_a_3mf_scene_of_another_library_is_read_with_its_places(tmp_path: Path) -> None:
    # Source: trimesh writes the file
    scene = trimesh.Scene()
    moved = np.vstack([some_placement(5).matrix(), [0, 0, 0, 1]])
    scene.add_geometry(trimesh.creation.box([1, 2, 3]), transform=moved)
    scene.add_geometry(trimesh.creation.box([4, 4, 4]))
    scene.export(tmp_path / "two.3mf")
    assembly = read_mesh(tmp_path / "two.3mf")
    volumes = sorted(assembly.shapes[body.shape].volume_mm3 for body in assembly.bodies)
    assert volumes == pytest.approx([6, 64])
    small = next(body for body in assembly.bodies if assembly.shapes[body.shape].volume_mm3 < 7)
    centre = small.placement.point(assembly.shapes[small.shape].centroid_mm)
    assert centre == pytest.approx(some_placement(5).origin_mm, abs=1e-4)


def test_repeats_components_colours_and_inches_of_3mf_are_read(tmp_path: Path) -> None:
    resources = (
        '<basematerials id="9"><base name="blue" displaycolor="#0000FFFF"/></basematerials>'
        f'<object id="1" name="cube" pid="9" pindex="0" type="model">{cube(1)}</object>'
        '<object id="2" name="pair" type="model"><components><component objectid="1"/>'
        '<component objectid="1" transform="1 0 0 0 1 0 0 0 1 3 0 0"/></components></object>'
    )
    build = '<item objectid="2" transform="0 1 0 -1 0 0 0 0 1 0 0 10"/>'
    assembly = read_mesh(three_mf(tmp_path / "a.3mf", resources, build, unit="inch"))
    assert len(assembly.shapes) == 1
    assert assembly.shapes[0].volume_mm3 == pytest.approx(25.4**3)
    assert [body.path for body in assembly.bodies] == [("pair",)] * 2
    assert assembly.bodies[1].placement.point([0.0, 0.0, 0.0]) == pytest.approx([0, 3 * 25.4, 254])
    assert assembly.bodies[0].colour == (0, 0, 1)
    assert [problem.code for problem in assembly.problems] == ["inch"]


def test_a_mirrored_component_becomes_a_shape_of_its_own_the_right_way_out(tmp_path: Path) -> None:
    resources = f'<object id="1" type="model">{cube(10)}</object>'
    build = '<item objectid="1"/><item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>'
    assembly = read_mesh(three_mf(tmp_path / "a.3mf", resources, build))
    assert [shape.volume_mm3 for shape in assembly.shapes] == pytest.approx([1000, 1000])


def test_an_object_that_contains_itself_is_left_out_and_told(tmp_path: Path) -> None:
    resources = (
        f'<object id="1" type="model">{cube(10)}</object><object id="2" name="loop" type="model"><components>'
        '<component objectid="1"/><component objectid="2"/></components></object>'
    )
    assembly = read_mesh(three_mf(tmp_path / "a.3mf", resources, '<item objectid="2"/>'))
    assert len(assembly.bodies) == 1
    assert [problem.code for problem in assembly.problems] == ["refers-to-itself"]


def test_an_open_mesh_is_left_out_and_told_and_alone_it_is_refused(tmp_path: Path) -> None:
    resources = f'<object id="1" name="whole" type="model">{cube(10)}</object>'
    resources += f'<object id="2" name="torn" type="model">{cube(5, left_out=1)}</object>'
    both = '<item objectid="1"/><item objectid="2"/>'
    assembly = read_mesh(three_mf(tmp_path / "a.3mf", resources, both))
    assert [(problem.code, problem.names) for problem in assembly.problems] == [("open-shell", ("torn",))]
    with pytest.raises(ReadingError, match="no bodies"):
        read_mesh(three_mf(tmp_path / "b.3mf", resources, '<item objectid="2"/>'))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda data: data[: len(data) // 2], "archive"),
        (lambda _data: b"PK\x03\x04" + b"\0" * 200, "archive"),
    ],
)
def test_a_damaged_archive_is_told(tmp_path: Path, change: object, says: str) -> None:
    path = three_mf(tmp_path / "a.3mf", f'<object id="1">{cube(10)}</object>', '<item objectid="1"/>')
    path.write_bytes(change(path.read_bytes()))  # type: ignore[operator]
    with pytest.raises(ReadingError, match=says):
        read_mesh(path)


def test_entities_in_3mf_are_refused_before_they_grow(tmp_path: Path) -> None:
    head = '<!DOCTYPE m [<!ENTITY a "aaaaaaaaaa">]>'
    with pytest.raises(ReadingError, match="document type"):
        read_mesh(three_mf(tmp_path / "a.3mf", "", "", head=head))


def test_corners_that_are_not_there_are_told(tmp_path: Path) -> None:
    mesh = cube(10).replace('"7"', '"99"')
    resources = f'<object id="1" name="odd">{mesh}</object>'
    with pytest.raises(ReadingError, match="corner that is not there"):
        read_mesh(three_mf(tmp_path / "a.3mf", resources, '<item objectid="1"/>'))


def test_what_came_as_a_mesh_is_an_own_part_to_print(tmp_path: Path) -> None:
    trimesh.creation.box([10, 20, 5]).export(tmp_path / "foot.stl")
    found = recognised(read_mesh(tmp_path / "foot.stl").shapes[0])
    assert found.sort == "own part"
    assert "printed" in found.evidence[0]
