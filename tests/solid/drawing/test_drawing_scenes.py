from __future__ import annotations

import numpy as np
import pytest
from manifold3d import Manifold

from drawn_bodies import ABOVE, at, box, cylinder
from trysquare.ground.errors import ReadingError
from trysquare.ground.placement import Array, Placement
from trysquare.solid.drawing import (
    GHOST,
    ISOMETRIC,
    NEW,
    OLD,
    Drawing,
    Piece,
    Scene,
    View,
    draw,
    mesh,
    scene_of,
)
from trysquare.solid.drawing import seen as seen_points
from trysquare.solid.drawing.regions import loop_area
from trysquare.solid.shapes import solid_from

FRONT = View((0.0, 1.0, 0.0))


def length_of(drawing: Drawing, id: str = "") -> float:  # noqa: A002
    """Ink on paper, of one part or of all."""
    return sum(
        float(np.linalg.norm(np.diff(line.points_mm, axis=0), axis=1).sum())
        for part in drawing.parts
        if id in ("", part.id)
        for line in part.lines
    )


def area_of(drawing: Drawing, id: str) -> float:  # noqa: A002
    return abs(sum(loop_area(loop) for loop in drawing.part[id].region))


def test_a_box_shows_nine_of_its_twelve_edges() -> None:
    drawing = draw(scene_of([at(box(10, 10, 10), 0, 0, 0)]), ISOMETRIC)
    assert length_of(drawing) == pytest.approx(9 * 10 * np.sqrt(2 / 3))
    sorts = [line.sort for line in drawing.parts[0].lines]
    assert sorts.count("outline") == 1  # six edges in one unbroken line
    assert sorts.count("crease") == 3


def test_a_closed_outline_ends_where_it_begins() -> None:
    drawing = draw(scene_of([at(box(10, 20, 30), 0, 0, 0)]), ISOMETRIC)
    (outline,) = [line for line in drawing.parts[0].lines if line.sort == "outline"]
    assert len(outline.points_mm) == 7
    assert outline.points_mm[0] == pytest.approx(outline.points_mm[-1])


def test_scale_multiplies_paper_lengths() -> None:
    scene = scene_of([at(box(10, 20, 30), 0, 0, 0)])
    small = draw(scene, View((1, 1, -1), scale=0.25))
    assert length_of(small) == pytest.approx(length_of(draw(scene, ISOMETRIC)) / 4)


def test_a_part_wholly_behind_another_has_no_lines_and_no_share() -> None:
    drawing = draw(
        scene_of([at(box(30, 5, 30), 0, 0, 0), at(box(10, 10, 10), 10, 20, 10, id="behind")]), FRONT
    )
    behind = drawing.part["behind"]
    assert behind.lines == ()
    assert behind.visible_share == 0
    assert behind.box_mm is None
    assert behind.anchor_mm is None


def test_a_part_half_behind_another_shows_half_its_outline() -> None:
    drawing = draw(
        scene_of(
            [at(box(30, 5, 30), 0, 0, 0, id="wall"), at(box(20, 10, 10), 20, 20, 10, id="behind", role=NEW)]
        ),
        FRONT,
    )
    behind = drawing.part["behind"]
    # 20 × 10 mm, of which the right 10 × 10 look out: three sides of a square, 30 of 60 mm.
    assert behind.visible_share == pytest.approx(0.5)
    assert behind.box_mm == pytest.approx(np.array([[30, -20], [40, -10]]))
    assert area_of(drawing, "behind") == pytest.approx(100)


def test_a_hidden_line_is_cut_where_the_covering_outline_crosses_it() -> None:
    drawing = draw(scene_of([at(box(4, 4, 60), 8, 0, -20), at(box(30, 4, 10), 0, 10, 0, id="behind")]), FRONT)
    ends = sorted({round(float(x), 6) for line in drawing.part["behind"].lines for x in line.points_mm[:, 0]})
    assert ends == [0, 8, 12, 30]


def test_a_nut_on_a_lip_keeps_the_outline_it_touches_with() -> None:
    plate, nut = box(40, 40, 5), cylinder(8, 6, 6)
    alone = draw(scene_of([at(nut, 20, 20, 8, id="nut")]), ISOMETRIC)
    together = draw(scene_of([at(plate, 0, 0, 0), at(nut, 20, 20, 8, id="nut")]), ISOMETRIC)
    assert length_of(together, "nut") == pytest.approx(length_of(alone, "nut"))
    assert together.part["nut"].visible_share == pytest.approx(1)


@pytest.mark.parametrize("gap", [0.0, 0.015, -0.015])
def test_contact_within_tolerance_draws_the_same_lines_as_exact_contact(gap: float) -> None:
    exact = draw(scene_of([at(box(40, 40, 5), 0, 0, 0), at(box(10, 10, 10), 15, 15, 5)]), ISOMETRIC)
    near = draw(scene_of([at(box(40, 40, 5), 0, 0, 0), at(box(10, 10, 10), 15, 15, 5 + gap)]), ISOMETRIC)
    assert length_of(near) == pytest.approx(length_of(exact), abs=0.2)


def test_a_line_two_touching_parts_share_is_drawn_once() -> None:
    drawing = draw(scene_of([at(box(10, 10, 10), 0, 0, 0), at(box(10, 10, 10), 10, 0, 0)]), FRONT)
    # a 20 × 10 mm rectangle and the joint between the two
    assert length_of(drawing) == pytest.approx(70)


def test_of_a_shared_line_the_new_part_keeps_its_own() -> None:
    drawing = draw(
        scene_of([at(box(10, 10, 10), 0, 0, 0, id="old"), at(box(10, 10, 10), 10, 0, 0, id="new", role=NEW)]),
        FRONT,
    )
    assert length_of(drawing, "new") == pytest.approx(40)
    assert length_of(drawing, "old") == pytest.approx(30)
    assert drawing.part["old"].visible_share == pytest.approx(1)  # nothing stands before it all the same


def test_a_ghost_is_drawn_and_hides_nothing() -> None:
    behind = at(box(10, 10, 10), 10, 20, 10, id="behind")
    drawing = draw(scene_of([at(box(30, 5, 30), 0, 0, 0, id="ghost", role=GHOST), behind]), FRONT)
    assert length_of(drawing, "ghost") == pytest.approx(120)
    assert drawing.part["behind"].visible_share == pytest.approx(1)


def test_a_hole_shows_what_lies_behind_it() -> None:
    plate = solid_from(
        Manifold.cube((40.0, 5.0, 40.0)) - Manifold.cube((20.0, 9.0, 20.0)).translate((10.0, -2.0, 10.0))
    )
    drawing = draw(
        scene_of(
            [at(plate, 0, 0, 0, id="plate", role=NEW), at(box(4, 4, 40), 18, 10, 0, id="bar", role=NEW)]
        ),
        FRONT,
    )
    assert length_of(drawing, "bar") == pytest.approx(2 * 20)
    assert area_of(drawing, "bar") == pytest.approx(4 * 20)
    assert area_of(drawing, "plate") == pytest.approx(40 * 40 - 20 * 20)


def test_a_screw_through_a_plate_is_tinted_only_where_it_stands_out() -> None:
    plate = solid_from(
        Manifold.cube((40.0, 40.0, 5.0)) - Manifold.cylinder(9.0, 5.0, 5.0, 64).translate((20.0, 20.0, -2.0))
    )
    screw = cylinder(4, 25, 64)
    drawing = draw(
        scene_of([at(plate, 0, 0, 0, id="plate", role=NEW), at(screw, 20, 20, 2.5, id="screw", role=NEW)]),
        View((0, 1, -1)),
    )
    # Seen at 45°: the top disc, and 10 mm of shank above the plate to where the hole's near rim covers it.
    whole = np.pi * 16 * np.sqrt(0.5) + 8 * 25 * np.sqrt(0.5)
    above = np.pi * 16 * np.sqrt(0.5) + 8 * 10 * np.sqrt(0.5)
    assert above < area_of(drawing, "screw") < above + 8 * 2 * np.sqrt(0.5) < whole


def test_lines_carry_the_depth_of_their_points() -> None:
    drawing = draw(scene_of([at(box(10, 10, 10), 0, 7, 0)]), FRONT)
    depths = {round(float(d), 9) for line in drawing.parts[0].lines for d in line.depth_mm}
    assert depths == {7.0}


def test_a_label_leads_well_inside_what_is_seen() -> None:
    drawing = draw(
        scene_of([at(box(30, 5, 30), 0, 0, 0), at(box(20, 10, 10), 20, 20, 10, id="behind", role=NEW)]), FRONT
    )
    anchor = drawing.part["behind"].anchor_mm
    assert anchor is not None
    assert 32 < anchor[0] < 38
    assert -18 < anchor[1] < -12
    assert anchor[2] == pytest.approx(20)


def test_a_point_is_seen_on_the_near_side_and_hidden_on_the_far_side() -> None:
    scene = scene_of([at(box(10, 10, 10), 0, 0, 0)])
    points = np.array([[5.0, 0, 5], [5, 10, 5], [5, 5, 5], [20, 0, 5]])
    assert seen_points(scene, FRONT, points).tolist() == [True, False, False, True]


def test_an_empty_scene_is_an_empty_picture() -> None:
    drawing = draw(Scene(), ISOMETRIC)
    assert drawing.parts == ()
    assert drawing.size_mm == (0, 0)
    assert drawing.told == ()


def empty_mesh() -> Piece:
    return at(mesh(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)), 0, 0, 0, id="empty")


def point_mesh() -> Piece:
    return at(mesh(np.zeros((3, 3)), np.array([[0, 1, 2]])), 0, 0, 0, id="point")


@pytest.mark.parametrize("odd", [empty_mesh(), point_mesh()], ids=["no triangles", "no size"])
def test_a_part_without_size_is_told_and_the_rest_drawn(odd: Piece) -> None:
    drawing = draw(scene_of([odd, at(box(10, 10, 10), 0, 0, 0)]), ISOMETRIC)
    assert length_of(drawing) == pytest.approx(9 * 10 * np.sqrt(2 / 3))
    assert drawing.told == (f"{odd.id}: not drawn, it has no faces",)


def with_bad_triangles(points: Array, rows: Array) -> tuple[Array, Array]:
    """A mesh's arrays with a triangle on one line, one with the same corner twice, and one of no number."""
    points = np.concatenate([points, [[np.nan, 0, 0]], [points[0] * 0.5 + points[1] * 0.5]])
    n = len(points)
    return points, np.concatenate([rows, [[0, 1, n - 1]], [[2, 2, 3]], [[0, 1, n - 2]]])


def test_degenerate_triangles_do_not_disturb_the_drawing() -> None:
    solid = box(10, 10, 10)
    points, rows = with_bad_triangles(solid.points_mm, solid.triangles)
    drawing = draw(scene_of([at(mesh(points, rows), 0, 0, 0)]), ISOMETRIC)
    assert drawing.told[0].endswith("2 triangles without area left out")
    assert drawing.size_mm == pytest.approx(draw(scene_of([at(solid, 0, 0, 0)]), ISOMETRIC).size_mm)


def test_a_sliver_between_two_faces_adds_no_line() -> None:
    # A box's top edge split by a triangle of no height, as booleans leave them.
    solid = box(10, 10, 10)
    middle = np.array([[5.0, 0, 10 + 1e-9]])
    points = np.concatenate([solid.points_mm, middle])
    corner = {tuple(p): n for n, p in enumerate(np.round(solid.points_mm, 6).tolist())}
    left, right = corner[0.0, 0.0, 10.0], corner[10.0, 0.0, 10.0]
    rows = []
    for row in solid.triangles.tolist():
        if left in row and right in row and all(solid.points_mm[n][2] > 9 for n in row):
            (other,) = [n for n in row if n not in (left, right)]
            rows += [[left, len(points) - 1, other], [len(points) - 1, right, other]]
            rows += [[left, right, len(points) - 1]]
        else:
            rows.append(row)
    drawing = draw(scene_of([at(mesh(points, np.array(rows)), 0, 0, 0)]), ISOMETRIC)
    assert length_of(drawing) == pytest.approx(9 * 10 * np.sqrt(2 / 3), rel=1e-6)


def test_a_mesh_that_is_inside_out_is_drawn_like_the_right_one() -> None:
    solid = box(10, 10, 10)
    drawing = draw(scene_of([at(mesh(solid.points_mm, solid.triangles[:, ::-1].copy()), 0, 0, 0)]), ISOMETRIC)
    assert length_of(drawing) == pytest.approx(9 * 10 * np.sqrt(2 / 3))


def test_an_open_mesh_shows_its_rim_and_its_inside() -> None:
    solid = box(10, 10, 10)
    top = (solid.points_mm[solid.triangles][:, :, 2] > 9).all(axis=1)
    drawing = draw(scene_of([at(mesh(solid.points_mm, solid.triangles[~top]), 0, 0, 0)]), ISOMETRIC)
    # all nine edges of the closed box, and the inner far corner down to where the near walls cover it
    assert length_of(drawing) > 9 * 10 * np.sqrt(2 / 3) + 1


@pytest.mark.parametrize("times", [1000, 1e-3])
def test_a_part_a_thousand_times_larger_or_smaller_leaves_the_others_right(times: float) -> None:
    small = at(box(10, 10, 10), 0, -50, 0, id="small")
    large = at(box(10 * times, 10 * times, 10 * times), 0, 0, 0, id="large")
    drawing = draw(scene_of([large, small]), FRONT)
    assert length_of(drawing, "small") >= 4 * 10 - 0.02 - 2 * 10 * (times > 1)  # it may share two lines
    assert drawing.part["small"].visible_share == pytest.approx(1)
    assert length_of(drawing) >= 40 * max(times, 1)


def test_a_place_that_is_no_number_is_told() -> None:
    lost = Piece(id="lost", body=box(1, 1, 1), placement=Placement(origin_mm=np.array([np.nan, 0, 0])))
    drawing = draw(scene_of([lost, at(box(10, 10, 10), 0, 0, 0)]), ISOMETRIC)
    assert drawing.told == ("lost: not drawn, its place is no number",)


def test_a_view_along_its_own_up_is_refused_with_advice() -> None:
    with pytest.raises(ReadingError, match=r"give up as \+y"):
        View((0.0, 0.0, -1.0))
    assert draw(scene_of([at(box(10, 20, 5), 0, 0, 0)]), ABOVE).size_mm == pytest.approx((10, 20))


def test_an_unknown_role_is_refused() -> None:
    with pytest.raises(ReadingError, match="new, old, ghost"):
        Piece(id="p", body=box(1, 1, 1), role="next")


def test_a_triangle_of_points_that_are_not_there_is_refused() -> None:
    with pytest.raises(ReadingError, match="points that are there"):
        mesh(np.zeros((2, 3)), np.array([[0, 1, 2]]))


def test_two_pieces_of_one_body_are_drawn_alike() -> None:
    body = cylinder(5, 20, 24)
    drawing = draw(
        scene_of([at(body, 0, 0, 0, id="a", role=OLD), at(body, 50, 0, 0, id="b", role=OLD)]), ISOMETRIC
    )
    assert length_of(drawing, "a") == pytest.approx(length_of(drawing, "b"))
