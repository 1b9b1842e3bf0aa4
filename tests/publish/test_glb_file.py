"""The machine as a GLB file, read back by trimesh and by a reader that did not write it."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import trimesh

from small_frame import write_frame
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.publish.given_tree import given_tree, left_out
from trysquare.publish.glb_file import glb_bytes
from trysquare.solid.shapes import solid_of

pytestmark = pytest.mark.outside


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    return load_machine(write_frame(tmp_path_factory.mktemp("frame")), [])


@pytest.fixture(scope="module")
def content(machine: Machine) -> bytes:
    return glb_bytes(given_tree(machine), machine.folder)


def test_the_same_machine_gives_the_same_glb(machine: Machine, content: bytes) -> None:
    assert glb_bytes(given_tree(machine), machine.folder) == content


def test_an_outside_reader_finds_every_piece_and_each_mesh_once(
    machine: Machine, content: bytes, tmp_path: Path
) -> None:
    # Source: pygltflib, a reader of glTF 2.0 that shares nothing with the library that wrote the file.
    from pygltflib import GLTF2

    file = tmp_path / "frame.glb"
    file.write_bytes(content)
    read = GLTF2().load(str(file))
    assert read is not None
    pieces = list(given_tree(machine).all_pieces())
    assert {node.name for node in read.nodes if node.mesh is not None} == {piece.id for piece in pieces}
    assert len(read.meshes) == len({piece.type.id for piece in pieces})
    assert {mesh.name for mesh in read.meshes} == {piece.type.id for piece in pieces}
    assert len(read.scenes[0].nodes) == 1


def test_a_viewer_sees_the_machine_in_metres_with_y_up(machine: Machine, content: bytes) -> None:
    scene = trimesh.load_scene(io.BytesIO(content), file_type="glb")
    points = np.concatenate(
        [
            piece.placement.point(solid_of(piece.type, machine.folder).points_mm)
            for piece in given_tree(machine).all_pieces()
        ]
    )
    x, y, z = (points / 1000).T
    as_seen = np.column_stack([x, z, -y])
    assert np.allclose(scene.bounds, [as_seen.min(axis=0), as_seen.max(axis=0)], atol=1e-6)


def test_only_what_is_there_is_given_out(machine: Machine) -> None:
    some = {piece.id for piece in machine.placed[:3]}
    tree = given_tree(machine, some)
    assert {piece.id for piece in tree.all_pieces()} <= some
    assert all(unit.pieces or unit.units for unit in tree.units)
    assert left_out(machine, set()) == []
