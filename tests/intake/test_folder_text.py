"""The folder's text: names of any sort, assemblies far away, plates, hands, and exact places."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.made_step import bored, box, handed_bracket, mirrored, shape_of, some_placement
from intake.taken import written
from trysquare.ground.placement import Placement
from trysquare.intake.bodies import Assembly, Body, FileFacts, Shape
from trysquare.intake.folder_lines import placement_keys
from trysquare.intake.folder_text import value_text
from trysquare.intake.part_ids import slug
from trysquare.intake.pieces import FARTHEST_MM
from trysquare.intake.rulings import Memory, Ruling
from trysquare.intake.taken_in import taken_in
from trysquare.machine.load import load_machine
from trysquare.solid.stl import read_stl

FACTS = FileFacts(name="made.step", kind="step", size_bytes=1, digest="0")
ODD = (
    "",
    "Teil/Größe: Ø5 × 3",
    'quote " and \\',
    "部品",
    "line\nend",
    "\udc80half",
    "x" * 9000,
    "-",
    "../../etc",
)


def assembly(shapes: list[Shape], bodies: list[Body]) -> Assembly:
    numbered = tuple(replace(shape, number=number) for number, shape in enumerate(shapes))
    return Assembly(facts=FACTS, shapes=numbered, bodies=tuple(bodies))


def body(shape: int, placement: Placement | None = None, name: str = "", path: tuple[str, ...] = ()) -> Body:
    return Body(name=name, path=path, shape=shape, placement=placement or Placement())


@pytest.mark.parametrize("name", ODD)
def test_any_name_makes_a_folder_that_loads(tmp_path: Path, name: str) -> None:
    block = replace(shape_of(box(10, 20, 30)), name=name)
    bodies = [
        body(0, name=name, path=("root", name)),
        body(0, some_placement(1), name=name, path=("root", name)),
    ]
    written(tmp_path, taken_in(assembly([block], bodies), Memory(), name=name))
    machine = load_machine(tmp_path)
    assert len(machine.placed) == 2
    assert {file.parent.name for file in tmp_path.rglob("*.stl")} <= {"shapes"}


@given(st.text())
def test_a_slug_is_an_id_or_nothing(text: str) -> None:
    assert all(char.isascii() and (char.isalnum() or char in "-_") for char in slug(text))
    assert len(slug(text)) <= 48


@given(
    st.floats(-1e5, 1e5)
    | st.integers(-(10**9), 10**9)
    | st.booleans()
    | st.text(st.characters(codec="utf-8"))
)
def test_a_value_reads_back_the_same(value: object) -> None:
    back = tomllib.loads(f"value = {value_text(value)}")["value"]
    assert back == (pytest.approx(value, abs=1e-12) if isinstance(value, float) else value)


@pytest.mark.parametrize("seed", range(6))
def test_a_part_stands_where_it_stood_however_it_is_turned(tmp_path: Path, seed: int) -> None:
    place = some_placement(seed)
    written(tmp_path, taken_in(assembly([shape_of(handed_bracket())], [body(0, place)]), Memory()))
    (piece,) = load_machine(tmp_path).placed
    corners = (
        taken_in(assembly([shape_of(handed_bracket())], [body(0)]), Memory()).assembly.shapes[0].points_mm
    )
    frame = piece.type
    solid = read_stl(tmp_path / frame.shape_file).to_mesh() if frame.shape_file else None
    drawn = place.point(corners)
    if solid is not None:
        back = piece.placement.point(np.asarray(solid.vert_properties)[:, :3].astype(float))
        assert back.min(axis=0) == pytest.approx(drawn.min(axis=0), abs=1e-4)
        assert back.max(axis=0) == pytest.approx(drawn.max(axis=0), abs=1e-4)


def test_directions_along_an_axis_are_written_by_their_names() -> None:
    assert placement_keys(Placement()) == {"at_mm": [0, 0, 0]}
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    assert placement_keys(Placement(turn, np.array([1.5, 0.0, -2.0]))) == {
        "at_mm": [1.5, 0, -2],
        "along": "+y",
    }


def test_an_assembly_too_far_away_for_a_folder_is_brought_near(tmp_path: Path) -> None:
    far = np.array([3 * FARTHEST_MM, 0.0, 0.0])
    bodies = [
        body(0, Placement(np.eye(3), far)),
        body(0, Placement(np.eye(3), far + np.array([0.0, 0.0, 30.0]))),
    ]
    taken = taken_in(assembly([shape_of(box(10, 20, 30))], bodies), Memory())
    assert taken.pieces.moved_mm != (0, 0, 0)
    written(tmp_path, taken)
    first, second = (piece.placement.origin_mm for piece in load_machine(tmp_path).placed)
    assert second - first == pytest.approx([0, 0, 30])


def test_mirror_twins_get_their_hands(tmp_path: Path) -> None:
    left = replace(shape_of(handed_bracket()), name="bracket left")
    right = replace(shape_of(mirrored(handed_bracket())), name="bracket right", number=1, mirror_of=0)
    bodies = [body(0), body(1, Placement(np.eye(3), np.array([100.0, 0.0, 0.0])))]
    written(tmp_path, taken_in(assembly([left, right], bodies), Memory()))
    types = load_machine(tmp_path).types
    assert (types["bracket-left"].hand, types["bracket-right"].hand) == ("left", "right")


def test_a_rectangular_plate_is_said_by_its_sizes_and_any_other_by_its_mesh(tmp_path: Path) -> None:
    plain = replace(shape_of(bored(box(60, 40, 4), (10, 10, 4), (0, 0, -1), 5.5, 4)), name="plain")
    notched = replace(shape_of(bored(box(60, 40, 4), (0, 0, 4), (0, 0, -1), 20, 4)), name="notched")
    bodies = [body(0), body(1, Placement(np.eye(3), np.array([0.0, 0.0, 50.0])))]
    written(tmp_path, taken_in(assembly([plain, notched], bodies), Memory()))
    types = load_machine(tmp_path).types
    assert types["plain"].outline_mm
    assert types["plain"].holes[0].diameter_mm == pytest.approx(5.5)
    assert types["notched"].shape_file == "shapes/notched.stl"


def test_a_part_ruled_to_be_printed_is_printed_and_keeps_its_id(tmp_path: Path) -> None:
    block = shape_of(handed_bracket())
    known = Memory(
        rulings={block.digest: Ruling(shape=block.digest, printed=True)}, types={block.digest: "old-name"}
    )
    written(tmp_path, taken_in(assembly([block], [body(0)]), known))
    assert load_machine(tmp_path).types["old-name"].kind == "printed"
