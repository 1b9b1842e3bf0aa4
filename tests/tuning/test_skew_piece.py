"""The test piece: closed, of the volume that its figures give, and read back as the machine made it."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
import trimesh

from trysquare.publish.mesh_files import stl_bytes, threemf_bytes
from trysquare.solid.bodies import facets
from trysquare.tuning.skew import PLANES, Length, read_piece
from trysquare.tuning.skew_piece import (
    BEVEL_MM,
    DOT_DEEP_MM,
    DOT_MM,
    DOTS,
    HOLE_MM,
    THICK_MM,
    WALL_MM,
    PieceLength,
    piece_body,
    piece_lengths,
    turn_of,
)


def closed_form_mm3(plane: str, size: float) -> float:
    """Octagon of width s: 2 (√2 − 1) s²; its frusta by the prismatoid; rounds are many-sided."""

    def prism(low: float, high: float, height: float) -> float:
        return 2 * (math.sqrt(2) - 1) * height * (low**2 + low * high + high**2) / 3

    def round_(diameter: float, height: float) -> float:
        sides = facets(diameter)
        return sides * math.tan(math.pi / sides) * (diameter / 2) ** 2 * height

    inner, straight = size - 2 * WALL_MM, THICK_MM - 2 * BEVEL_MM
    outside = prism(size, size, straight) + 2 * prism(size - 2 * BEVEL_MM, size, BEVEL_MM)
    inside = prism(inner, inner, straight) + 2 * prism(inner, inner + 2 * BEVEL_MM, BEVEL_MM)
    dots = sum(DOTS[axis] for axis in plane)
    return outside - inside - 4 * round_(HOLE_MM, WALL_MM) - dots * round_(DOT_MM, DOT_DEEP_MM)


def mesh_of(plane: str, size: float = 100.0) -> trimesh.Trimesh:
    mesh = piece_body(plane, size).to_mesh()
    return trimesh.Trimesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts), process=False)


@pytest.mark.parametrize("plane", PLANES)
@pytest.mark.parametrize("size", [60.0, 100.0, 220.0])
def test_the_piece_is_closed_and_has_the_volume_of_its_figures(plane: str, size: float) -> None:
    # Source: trimesh's volume of the mesh, and solid geometry by hand
    mesh = mesh_of(plane, size)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 1
    assert mesh.volume == pytest.approx(closed_form_mm3(plane, size), rel=2e-6)


@pytest.mark.parametrize("plane", PLANES)
def test_the_piece_stands_on_the_bed_in_its_plane(plane: str) -> None:
    low, high = mesh_of(plane).bounds
    thick = ({"x", "y", "z"} - set(plane)).pop()
    assert low[2] == pytest.approx(0, abs=1e-4)
    assert high - low == pytest.approx([THICK_MM if axis == thick else 100 for axis in "xyz"], abs=1e-4)


def measured(mesh: trimesh.Trimesh, one: PieceLength, machine: np.ndarray) -> float:
    """As jaws or a rod would: between two flats of the piece that a skew machine made."""
    middle = mesh.bounds.mean(axis=0)
    way = np.array(one.run_mm) / one.nominal_mm
    across = (mesh.triangles_center - middle) @ way
    facing = mesh.face_normals @ way
    reach = max(across)
    outer_far, outer_near = facing > 0.999, facing < -0.999
    wall = reach - WALL_MM
    choose = {
        "outside": (outer_far & (across > wall + 1), outer_near & (across < -wall - 1)),
        "inside": (outer_near & (across > 1), outer_far & (across < -1)),
        "through": (outer_far & (across > wall + 1), outer_far & (across < -1)),
    }[one.how]
    points = [(mesh.triangles_center[flags] - middle) @ machine.T for flags in choose]
    assert all(len(each) for each in points)
    normal = np.linalg.inv(machine).T @ way  # a plane's normal under a linear map
    normal /= np.linalg.norm(normal)
    far, near = (each @ normal for each in points)
    assert np.ptp(far) < 1e-3
    return float(far.mean() - near.mean())


MACHINE = np.array([[1.0012, 0.0015, -0.0008], [0, 0.9991, 0.0006], [0, 0, 1.0004]])


def test_a_piece_made_by_a_skew_machine_and_measured_gives_its_skew_back() -> None:
    lengths = []
    for plane in PLANES:
        mesh = mesh_of(plane)
        lengths += [
            Length(
                run_mm=one.run_mm, measured_mm=measured(mesh, one, MACHINE), half_width_mm=0.03, side=one.side
            )
            for one in piece_lengths(plane)
        ]
    found = read_piece(lengths)
    # Small strains are linear to their squares: some millionths, and the STL's single precision
    for name, true in (("xy", 0.0015), ("xz", -0.0008), ("yz", 0.0006)):
        assert found.skew[name].value == pytest.approx(true, abs=5e-6)
    for axis, true in (("x", 1.0012), ("y", 0.9991), ("z", 1.0004)):
        assert found.scale[axis].value == pytest.approx(true, abs=5e-6)
    assert found.width_mm is not None
    assert found.width_mm.value == pytest.approx(0, abs=1e-3)
    assert MACHINE @ found.correction == pytest.approx(np.eye(3), abs=1e-5)


@pytest.mark.parametrize("plane", PLANES)
def test_the_dots_look_towards_who_reads_the_piece(plane: str) -> None:
    face = turn_of(plane)[:, 2]
    seen_from = {"xy": (0, 0, 1), "xz": (0, -1, 0), "yz": (1, 0, 0)}[plane]
    assert tuple(face) == seen_from
    assert float(np.linalg.det(turn_of(plane))) == pytest.approx(1)  # never mirrored


@pytest.mark.parametrize("plane", PLANES)
def test_both_files_of_the_piece_open_as_the_same_solid(plane: str) -> None:
    # Source: trimesh's own readers of STL and 3MF
    body = piece_body(plane)
    stl = trimesh.load_mesh(io.BytesIO(stl_bytes(body, "test piece")), file_type="stl")
    other = trimesh.load(io.BytesIO(threemf_bytes({"test piece": body})), file_type="3mf", force="mesh")
    for mesh in (stl, other):
        assert isinstance(mesh, trimesh.Trimesh)
        assert mesh.is_watertight
        assert mesh.volume == pytest.approx(closed_form_mm3(plane, 100), rel=1e-5)
        assert mesh.bounds == pytest.approx(mesh_of(plane).bounds, abs=1e-4)


def test_the_same_piece_gives_the_same_bytes() -> None:
    body = piece_body("xz")
    assert threemf_bytes({"a": body}) == threemf_bytes({"a": body})


@pytest.mark.parametrize(("plane", "size"), [("zx", 100.0), ("xy", 10.0), ("xy", float("nan"))])
def test_what_is_no_piece_is_refused(plane: str, size: float) -> None:
    with pytest.raises(ValueError, match="expected"):
        piece_body(plane, size)
