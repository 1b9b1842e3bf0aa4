"""Parts written by kernels and programs that have nothing of ours are read and recognised.

Source: each file's row in `files/writers/expected.csv`: what its writer was asked for (see files/README.md).
"""

from __future__ import annotations

import csv
import lzma
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
import trimesh

from intake.made_step import some_placement
from trysquare.ground.errors import ReadingError
from trysquare.intake.bodies import Assembly, FaceKind, Sort
from trysquare.intake.cad_file import read_cad
from trysquare.intake.faces_meshed import faces_of_mesh
from trysquare.intake.recognise import recognised

FILES = Path(__file__).parent / "files" / "writers"
ROWS = list(csv.DictReader((FILES / "expected.csv").read_text(encoding="utf-8").splitlines()))


def read(row: dict[str, str], folder: Path) -> Assembly:
    """The file of a row, unpacked under a name that says nothing."""
    packed = FILES / row["file"]
    data = packed.read_bytes()
    if packed.suffix == ".xz":
        data = lzma.decompress(data)
    path = folder / f"x.{packed.name.split('.')[1]}"
    path.write_bytes(data)
    return read_cad(path)


@pytest.mark.slow
@pytest.mark.outside
@pytest.mark.parametrize("row", ROWS, ids=[row["file"] for row in ROWS])
def test_a_part_of_another_writer_is_recognised(row: dict[str, str], tmp_path: Path) -> None:
    # Source: expected.csv, what the writer was asked for
    (shape,) = read(row, tmp_path).shapes
    found = recognised(shape)
    assert found.sort == row["sort"]
    assert found.designation == row["designation"]
    if row["length_mm"]:
        assert found.parameters["length_mm"] == pytest.approx(float(row["length_mm"]), abs=0.03)
    if row["holes"]:
        assert len(found.holes) == int(row["holes"])


@pytest.mark.outside
def test_faces_that_share_no_edges_are_sewn_into_a_solid_and_told(tmp_path: Path) -> None:
    # Source: expected.csv; the volume of a plate 60 × 40 × 5 with four holes Ø5.5, by hand
    row = next(row for row in ROWS if row["file"].startswith("solvespace/plate"))
    assembly = read(row, tmp_path)
    assert [problem.code for problem in assembly.problems] == ["sewn"]
    assert assembly.shapes[0].closed
    volume = 5 * (60 * 40 - 4 * math.pi * 2.75**2)
    assert assembly.shapes[0].volume_mm3 == pytest.approx(volume, rel=1e-5)


@pytest.mark.outside
def test_what_came_as_a_mesh_is_less_sure_and_says_so(tmp_path: Path) -> None:
    # Source: expected.csv, which says that it is a nut
    row = next(row for row in ROWS if row["file"].startswith("openscad/nut"))
    found = recognised(read(row, tmp_path).shapes[0])
    assert "came as a mesh" in found.evidence[-1]
    assert found.confidence < 0.9


@pytest.mark.outside
@pytest.mark.parametrize("sections", [12, 24, 64])
def test_a_meshed_ring_has_its_two_rounds_and_two_flats(sections: int) -> None:
    # Source: trimesh draws the ring; corners of its flats lie on the circles
    mesh = trimesh.creation.annulus(3, 10, 5, sections=sections)
    mesh.apply_transform(np.vstack([some_placement(sections).matrix(), [0, 0, 0, 1]]))
    faces = faces_of_mesh(np.asarray(mesh.vertices), np.asarray(mesh.faces))
    rounds = sorted((face.radius_mm, face.hollow) for face in faces if face.kind is FaceKind.CYLINDER)
    assert [hollow for _radius, hollow in rounds] == [True, False]
    assert [radius for radius, _hollow in rounds] == pytest.approx([3, 10], rel=1e-6)
    assert all(face.is_round for face in faces if face.kind is FaceKind.CYLINDER)
    assert sum(face.kind is FaceKind.PLANE for face in faces) == 2


def test_rounds_that_cannot_be_put_together_make_a_plate_asked(tmp_path: Path) -> None:
    outline = trimesh.creation.box([60, 40, 5])
    ball = trimesh.creation.icosphere(subdivisions=2, radius=6)
    ball.apply_translation([10, 5, 3.5])
    trimesh.boolean.difference([outline, ball], engine="manifold").export(tmp_path / "x.stl")
    found = recognised(read_cad(tmp_path / "x.stl").shapes[0])
    assert found.sort is Sort.PLATE
    assert not found.is_sure
    assert "pieces of rounds" in found.doubts[-1]


@pytest.mark.parametrize("count", [4, 6, 8])
def test_a_prism_with_few_sides_is_no_round(count: int) -> None:
    mesh = trimesh.creation.cylinder(5, 4, sections=count)
    faces = faces_of_mesh(np.asarray(mesh.vertices), np.asarray(mesh.faces))
    assert {face.kind for face in faces} == {FaceKind.PLANE}
    assert len(faces) == count + 2


@pytest.mark.slow
def test_a_free_form_mesh_stays_an_own_part_to_print(tmp_path: Path) -> None:
    ball = trimesh.creation.icosphere(subdivisions=5, radius=20)
    ball.export(tmp_path / "x.stl")
    found = recognised(read_cad(tmp_path / "x.stl").shapes[0])
    assert found.sort is Sort.OWN
    assert "printed" in found.evidence[0]


def test_a_sheet_that_encloses_nothing_is_still_refused(tmp_path: Path) -> None:
    # Source: expected.csv; six tenths of a solid's faces are no solid
    row = next(row for row in ROWS if row["file"].startswith("solvespace/washer"))
    text = lzma.decompress((FILES / row["file"]).read_bytes()).decode()
    path = tmp_path / "x.step"
    path.write_text(_with_fewer_faces(text, 4))
    with pytest.raises(ReadingError, match="enclose nothing"):
        read_cad(path)


def _with_fewer_faces(text: str, left: int) -> str:
    head, _, rest = text.partition("CLOSED_SHELL('',(")
    names, _, tail = rest.partition("))")
    kept: Sequence[str] = names.split(",")[:left]
    return f"{head}CLOSED_SHELL('',({','.join(kept)})){tail}"
