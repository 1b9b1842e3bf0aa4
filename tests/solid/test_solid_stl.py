"""Reading STL files, good and bad."""

from __future__ import annotations

import contextlib
import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from manifold3d import Manifold

from trysquare.ground.errors import ReadingError
from trysquare.machine.values import Kind, PartType
from trysquare.solid import stl
from trysquare.solid.shapes import solid_of
from trysquare.solid.stl import read_stl, solid_from_stl, welded


def corners_of(body: Manifold) -> np.ndarray:
    mesh = body.to_mesh64()
    return np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)]


def binary(corners: np.ndarray, header: bytes = b"made by a test", count: int | None = None) -> bytes:
    record = np.zeros(len(corners), np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("x", "<u2")]))
    record["c"] = corners
    number = len(corners) if count is None else count
    return header.ljust(80, b" ") + struct.pack("<I", number) + record.tobytes()


def text(corners: np.ndarray) -> bytes:
    lines = ["solid part"]
    for triangle in corners:
        lines += ["facet normal 0 0 0", "outer loop"]
        lines += [f"vertex {x:.6e} {y:.6e} {z:.6e}" for x, y, z in triangle]
        lines += ["endloop", "endfacet"]
    return "\n".join([*lines, "endsolid part", ""]).encode()


def shape() -> Manifold:
    return Manifold.cube((20, 10, 5)) - Manifold.cylinder(9, 2, 2, 32).translate((6, 5, -1))


def refusal(data: bytes) -> ReadingError:
    with pytest.raises(ReadingError) as caught:
        solid_from_stl(data, "parts/foot.stl")
    assert caught.value.where.file == "parts/foot.stl"
    assert caught.value.remedy
    return caught.value


@pytest.mark.parametrize("write", [binary, text])
def test_a_good_file_gives_the_volume_that_was_written(write) -> None:  # type: ignore[no-untyped-def]
    body = solid_from_stl(write(corners_of(shape())), "a.stl")
    assert body.volume() == pytest.approx(shape().volume(), rel=1e-6)


def test_another_library_reads_the_same_volume_and_area(tmp_path: Path) -> None:
    path = tmp_path / "a.stl"
    path.write_bytes(binary(corners_of(shape())))
    mesh, body = trimesh.load_mesh(path), read_stl(path)
    assert mesh.is_watertight
    assert body.volume() == pytest.approx(float(mesh.volume), rel=1e-6)
    assert body.surface_area() == pytest.approx(float(mesh.area), rel=1e-6)


def test_a_binary_file_may_begin_with_the_word_solid() -> None:
    body = solid_from_stl(binary(corners_of(shape()), header=b"solid facet"), "a.stl")
    assert body.volume() == pytest.approx(shape().volume(), rel=1e-6)


def test_a_part_drawn_inside_out_is_turned_right() -> None:
    body = solid_from_stl(binary(corners_of(shape())[:, ::-1]), "a.stl")
    assert body.volume() == pytest.approx(shape().volume(), rel=1e-6)


def test_two_shells_in_one_file_are_both_read() -> None:
    two = np.concatenate([corners_of(shape()), corners_of(shape().translate((40, 0, 0)))])
    assert solid_from_stl(binary(two), "a.stl").volume() == pytest.approx(2 * shape().volume(), rel=1e-6)


def test_triangles_without_area_are_left_out() -> None:
    corners = corners_of(shape())
    needle = np.array([[corners[0, 0], corners[0, 1], corners[0, 1]]])
    body = solid_from_stl(binary(np.concatenate([corners, needle])), "a.stl")
    assert body.volume() == pytest.approx(shape().volume(), rel=1e-6)


def test_an_open_surface_is_refused_with_the_number_of_open_edges_and_a_place() -> None:
    error = refusal(binary(corners_of(Manifold.cube((20, 10, 5)))[1:]))
    assert "3 open edges" in str(error.read)
    assert "near (" in str(error.read)
    assert error.expected == "a closed surface"


def test_a_face_turned_the_wrong_way_is_refused() -> None:
    corners = corners_of(shape()).copy()
    corners[0] = corners[0, ::-1]
    assert "open edges" in str(refusal(binary(corners)).read) or "turned" in str(
        refusal(binary(corners)).read
    )


def test_a_coordinate_that_is_no_number_is_refused() -> None:
    corners = corners_of(shape()).copy()
    corners[3, 1, 2] = np.nan
    assert refusal(binary(corners)).read == "triangle 4 with a coordinate that is no number"


def test_a_huge_coordinate_is_refused() -> None:
    corners = corners_of(shape()).copy()
    corners[3, 1, 2] = 1e30
    assert "1e+30" in str(refusal(binary(corners)).read)


def test_an_empty_file_and_one_without_triangles_are_refused() -> None:
    assert refusal(b"").read == "0 bytes"
    assert refusal(binary(np.zeros((0, 3, 3)))).read == "no triangles"
    assert refusal(b"solid nothing\nendsolid nothing\n").read is not None


@pytest.mark.parametrize("count", [3, 10_000, 4_294_967_295])
def test_a_wrong_number_of_triangles_is_refused_without_reserving_memory(count: int) -> None:
    corners = corners_of(shape())
    error = refusal(binary(corners, header=b"\x00\x01binary", count=count))
    assert f"{len(corners)} triangles" in error.expected


def test_words_instead_of_a_shape_are_refused() -> None:
    error = refusal(b"Dear builder, please find the shape attached. " * 30)
    assert error.expected == "an STL file"


def test_a_text_file_that_stops_midway_is_refused() -> None:
    data = text(corners_of(shape()))
    assert "cut short" in refusal(data[: len(data) // 2]).remedy


def test_a_word_in_the_place_of_a_number_is_refused() -> None:
    data = text(corners_of(shape())).replace(b"vertex 2.000000e+01", b"vertex twenty", 1)
    assert refusal(data).expected == "numbers after `vertex`"


def test_a_flat_surface_that_closes_on_itself_is_refused() -> None:
    triangle = np.array([[[0.0, 0, 0], [10, 0, 0], [0, 10, 0]]])
    assert "encloses" in str(refusal(binary(np.concatenate([triangle, triangle[:, ::-1]]))).read)


def test_a_file_above_the_limit_is_refused_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "big.stl"
    path.write_bytes(binary(corners_of(shape())))
    monkeypatch.setattr(stl, "LARGEST_BYTES", 1000)
    with pytest.raises(ReadingError, match="coarser tolerance"):
        read_stl(path)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    part = PartType(id="p", name="p", kind=Kind.PRINTED, shape_file="shapes/missing.stl")
    with pytest.raises(ReadingError) as caught:
        solid_of(part, tmp_path)
    assert caught.value.where.file == "shapes/missing.stl"


def test_welding_keeps_every_corner_in_its_place() -> None:
    corners = np.random.default_rng(3).integers(-4, 4, (500, 3, 3)).astype(float)
    points, triangles = welded(corners)
    assert np.array_equal(points[triangles], corners)
    assert len(np.unique(points, axis=0)) == len(points)


def test_a_file_is_read_again_when_it_has_changed(tmp_path: Path) -> None:
    path = tmp_path / "a.stl"
    part = PartType(id="p", name="p", kind=Kind.PRINTED, shape_file="a.stl")
    path.write_bytes(binary(corners_of(shape())))
    before = solid_of(part, tmp_path).volume_mm3
    path.write_bytes(binary(corners_of(shape().scale((2, 1, 1)) + Manifold.cube((1, 1, 9)))))
    assert solid_of(part, tmp_path).volume_mm3 > 1.9 * before


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_with_a_remedy(data: bytes) -> None:
    for start in (b"", b"solid x facet ", bytes(80) + b"\x02\x00\x00\x00"):
        with pytest.raises(ReadingError):
            solid_from_stl(start + data, "a.stl")


@pytest.mark.slow
@given(st.data())
def test_a_damaged_file_is_read_or_refused_with_a_remedy(data: st.DataObject) -> None:
    whole = data.draw(st.sampled_from([binary(corners_of(shape())), text(corners_of(shape()))]))
    damaged = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 4))):
        damaged[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    with contextlib.suppress(ReadingError):  # whose being raised is right; any other error is not
        assert solid_from_stl(bytes(damaged[: data.draw(st.integers(0, len(whole)))]), "a.stl").volume() > 0
