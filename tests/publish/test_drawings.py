"""Small drawings: ends, faces and holes as they are, and codes without a wrong square."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from publish.machines import listed
from trysquare.machine.values import PartType
from trysquare.publish.cut_drawing import face_holes
from trysquare.publish.drawing import Circle, Word
from trysquare.publish.member_drawing import ends_alike, ends_words, member_drawing, openings, plate_drawing
from trysquare.publish.qr_code import loops_of
from trysquare.publish.shadow import shadow_drawing, sides_mm


def member(tmp_path: Path, keys: str) -> PartType:
    row = f'[part]\nm = {{ kind = "member", profile = "profile 20x20 slot 6", length_mm = 200, {keys} }}\n'
    return listed(tmp_path / "m", row, {"m": 1}).types["m"]


def hole(face: str, at: object, more: str = "") -> str:
    return f'{{ name = "h{face[1]}", face = "{face}", at_mm = {at}, diameter_mm = 5 {more} }}'


@pytest.mark.parametrize(
    ("keys", "alike"),
    [
        ("tapped = []", True),
        ('tapped = ["a", "b"]', True),
        ('tapped = ["a"]', False),
        (f"hole = [{hole('+z', [10, 190])}]", True),
        (f"hole = [{hole('+z', [10, 180])}]", False),
        # Two holes on neighbouring faces: turned end for end and rolled a quarter they change places.
        (f"hole = [{hole('+z', 10, ', depth_mm = 5')}, {hole('+y', 190, ', depth_mm = 5')}]", True),
        (f"hole = [{hole('+z', 10, ', depth_mm = 5')}, {hole('+y', 180, ', depth_mm = 5')}]", False),
    ],
)
def test_ends_are_alike_only_if_the_member_can_be_turned_onto_itself(
    tmp_path: Path, keys: str, alike: bool
) -> None:
    part = member(tmp_path, keys)
    assert ends_alike(part) is alike
    assert ("ends alike" in ends_words(part)) is alike


def test_a_hole_right_through_opens_on_both_faces(tmp_path: Path) -> None:
    part = member(tmp_path, f"hole = [{hole('+z', 60)}]")
    assert {(one.face, one.x_mm) for one in openings(part)} == {("+z", 60.0), ("-z", 60.0)}
    assert "hole right through" in ends_words(part)


def test_a_blind_hole_opens_on_one_face_and_only_that_face_is_drawn(tmp_path: Path) -> None:
    part = member(tmp_path, f"hole = [{hole('-y', [50, 100], ', depth_mm = 5')}]")
    drawn = member_drawing(part, 80, 3, most_mm=12)
    circles = [shape for shape in drawn.shapes if isinstance(shape, Circle)]
    assert len(circles) == 2
    words = [shape.text for shape in drawn.shapes if isinstance(shape, Word)]
    assert words == ["50", "100", "a", "b"]


def test_holes_lie_along_the_drawn_member_as_on_the_real_one(tmp_path: Path) -> None:
    part = member(tmp_path, f"hole = [{hole('+z', [50, 100])}]")
    drawn = member_drawing(part, 80, 3, most_mm=12)
    first, second = (shape.centre[0] for shape in drawn.shapes if isinstance(shape, Circle))
    ends = [shape for shape in drawn.shapes if isinstance(shape, Word) and shape.text in "ab"]
    assert ends[0].at[0] < first < second < ends[1].at[0]
    # A quarter and a half of the way along.
    start = 2 * first - second
    assert second - start == pytest.approx(2 * (first - start))


def test_holes_on_neighbouring_faces_are_drawn_on_neighbouring_strips(tmp_path: Path) -> None:
    part = member(
        tmp_path, f"hole = [{hole('+y', 50, ', depth_mm = 5')}, {hole('+z', 50, ', depth_mm = 5')}]"
    )
    names = [
        shape.text for shape in member_drawing(part, 80, 2, most_mm=20).shapes if isinstance(shape, Word)
    ]
    assert [name for name in names if name in ("+y", "-y", "+z", "-z")] == ["+y", "+z"]


@pytest.mark.parametrize("faces", [("+y", "+z"), ("-y", "+z"), ("-z", "+y"), ("-y", "-z")])
def test_a_hole_right_through_has_the_same_face_on_its_label_and_on_the_drilling_drawing(
    tmp_path: Path, faces: tuple[str, str]
) -> None:
    one, other = faces
    part = member(tmp_path, f"hole = [{hole(one, [38, 45])}, {hole(other, 100)}]")
    drawn = member_drawing(part, 80, 3, most_mm=20)
    label = {shape.text for shape in drawn.shapes if isinstance(shape, Word)} & {"+y", "-y", "+z", "-z"}
    assert label == {each.face for each in face_holes(part, {})} == set(faces)


def test_a_member_stays_within_its_room(tmp_path: Path) -> None:
    part = member(tmp_path, f"hole = [{hole('+y', 50)}, {hole('+z', 60)}]")
    drawn = member_drawing(part, 60, 4, most_mm=5)
    assert drawn.height_mm <= 5.5
    assert drawn.width_mm == 60


@given(st.lists(st.lists(st.booleans(), min_size=6, max_size=6), min_size=1, max_size=8))
def test_the_outline_of_a_code_filled_even_and_odd_gives_its_squares_back(squares: list[list[bool]]) -> None:
    loops = loops_of(squares)
    for y, row in enumerate(squares):
        for x, dark in enumerate(row):
            # A ray to the right of the square's middle crosses the outline an odd number of times inside.
            crossed = sum(
                crosses(one, other, x + 0.5, y + 0.5)
                for loop in loops
                for one, other in zip(loop, [*loop[1:], loop[0]], strict=True)
            )
            assert crossed % 2 == dark


def crosses(one: tuple[int, int], other: tuple[int, int], x: float, y: float) -> bool:
    return one[0] == other[0] and one[0] > x and min(one[1], other[1]) < y < max(one[1], other[1])


def test_a_plate_is_turned_to_fit_and_never_mirrored(tmp_path: Path) -> None:
    row = (
        '[part]\np = { kind = "plate", size_mm = [30, 90, 4], '
        'hole = [{ name = "h", at_mm = [[5, 80]], diameter_mm = 5 }] }\n'
    )
    drawn = plate_drawing(listed(tmp_path / "p", row, {"p": 1}).types["p"], 60, 12)
    assert drawn is None or drawn.width_mm > drawn.height_mm


def test_a_solid_casts_the_shadow_of_its_widest_side(tmp_path: Path) -> None:
    machine = listed(tmp_path / "s")
    part = machine.types["clip"]
    assert sides_mm(part, machine.folder) == (20, 15, 10)
    drawn = shadow_drawing(part, machine.folder, 40, 30)
    assert drawn is not None
    assert (drawn.width_mm - 0.3) / (drawn.height_mm - 0.3) == pytest.approx(20 / 15)
    assert "20 by 15 by 10 mm" in drawn.says


def test_a_part_without_a_solid_has_no_drawing(tmp_path: Path) -> None:
    machine = listed(tmp_path / "n", '[part]\nn = { kind = "bought" }\n', {"n": 1})
    assert shadow_drawing(machine.types["n"], machine.folder, 40, 30) is None
