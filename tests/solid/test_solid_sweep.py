"""The space a moved part passes through, and key lines."""

from __future__ import annotations

import fcl
import numpy as np
import pytest
from manifold3d import CrossSection, FillRule, Manifold
from scipy.spatial.transform import Rotation

from trysquare.catalogue.lookup import lookup
from trysquare.ground.placement import Placement, facing, turned, unit
from trysquare.ground.tolerances import CONTACT_MM, OVERLAP_MM3
from trysquare.machine.values import Hole, Kind, PartType, PlacedPart, Primitive
from trysquare.solid.keyline import key_line, line_blockers, line_free
from trysquare.solid.overlap import standing
from trysquare.solid.shapes import Solid, solid_from, solid_of
from trysquare.solid.shared import forget_standings
from trysquare.solid.sweep import path_blockers, path_free, swept

UP = (0.0, 0.0, 1.0)


def bought(name: str) -> PartType:
    return PartType(id=name, name=name, kind=Kind.FASTENER, standard=lookup(name))


def member(length_mm: float, **more: object) -> PartType:
    return PartType(
        id="m",
        name="m",
        kind=Kind.MEMBER,
        profile=lookup("profile 20x20 slot 6"),
        length_mm=length_mm,
        **more,  # type: ignore[arg-type]
    )


def block(x: float, y: float, z: float) -> PartType:
    body = Primitive(shape="box", size_mm=(x, y, z), at_mm=(0.0, 0.0, 0.0), along=UP, cut=False)
    return PartType(id=f"block {x}x{y}x{z}", name="block", kind=Kind.BOUGHT, primitives=(body,))


def put(
    name: str, part: PartType, at: tuple[float, float, float], turn: np.ndarray | None = None
) -> PlacedPart:
    place = Placement(np.eye(3) if turn is None else turn, np.array(at, dtype=float))
    return PlacedPart(id=name, type=part, placement=place, unit="")


def shadow_mm2(body: Manifold, way: np.ndarray) -> float:
    """Area of the shadow the body throws along the way."""
    turn = np.hstack([facing(way).T, np.zeros((3, 1))])
    return CrossSection(body.transform(turn).project().to_polygons(), FillRule.Positive).area()


SHAPES = [
    "ISO 4762 M5x20",
    "ISO 7380-1 M5x12",
    "ISO 10642 M5x16",
    "ISO 4032 M5",
    "ISO 7089 M5",
    "slide-in nut slot 6 M5",
    "pulley 2 mm pitch 20 teeth bore 5",
    "block 9 standard",
    "rail 9x100",
    "heat-set insert M3x5.7",
]
WAYS = [
    (0.0, 0.0, 1.0),
    (0.0, 0.0, -1.0),
    (1.0, 0.0, 0.0),
    (0.0, -1.0, 0.0),
    (0.3, 0.5, 0.7),
    (-0.9, 0.2, 0.1),
]


@pytest.mark.parametrize("way", WAYS)
def test_a_convex_body_sweeps_its_volume_and_its_shadow_along_the_way(
    way: tuple[float, float, float],
) -> None:
    for body in (Manifold.cube((3, 4, 5)), Manifold.cylinder(7, 3, 1, 24), Manifold.sphere(4, 24)):
        solid = solid_from(body)
        expected = body.volume() + shadow_mm2(body, unit(way)) * 11.0
        assert swept(solid, way, 11.0).volume_mm3 == pytest.approx(expected, rel=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("way", WAYS)
def test_a_sweep_there_is_as_large_as_the_sweep_back(name: str, way: tuple[float, float, float]) -> None:
    # the sweep back is the sweep there, shifted: an equation that no wrongly joined face would keep
    solid = solid_of(bought(name))
    back = (-way[0], -way[1], -way[2])
    assert swept(solid, way, 9.0).volume_mm3 == pytest.approx(swept(solid, back, 9.0).volume_mm3, rel=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("way", WAYS)
def test_a_sweep_holds_the_body_in_every_place_on_its_way(name: str, way: tuple[float, float, float]) -> None:
    solid = solid_of(bought(name))
    whole = swept(solid, way, 14.0)
    for along_mm in (0.0, 3.3, 9.1, 14.0):
        left = solid.manifold.translate(tuple(unit(way) * along_mm)) - whole.manifold
        assert abs(left.volume()) < 1e-6


def test_a_long_sweep_of_a_body_is_the_union_of_shorter_ones() -> None:
    solid, way = solid_of(bought("block 9 standard")), np.array([0.3, 0.5, 0.7])
    first = swept(solid, way, 6.0).manifold
    second = swept(solid, way, 6.0).manifold.translate(tuple(unit(way) * 6.0))
    assert swept(solid, way, 12.0).volume_mm3 == pytest.approx((first + second).volume(), rel=1e-6)


def test_a_member_drawn_along_its_length_sweeps_a_longer_member() -> None:
    assert swept(solid_of(member(100.0)), (1.0, 0.0, 0.0), 50.0).volume_mm3 == pytest.approx(
        solid_of(member(150.0)).volume_mm3, rel=1e-9
    )


def test_no_distance_sweeps_the_body_itself_and_a_negative_one_is_refused() -> None:
    solid = solid_of(bought("ISO 4032 M5"))
    assert swept(solid, UP, 0.0) is solid
    for distance_mm in (-1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="distance"):
            swept(solid, UP, distance_mm)


def test_equal_bodies_share_one_sweep() -> None:
    assert swept(solid_of(bought("ISO 4032 M5")), UP, 5.0) is swept(solid_of(bought("ISO 4032 M5")), UP, 5.0)


def test_a_screw_comes_out_of_its_hole_along_its_axis_and_not_sideways() -> None:
    hole = Hole(name="h", at_mm=(20.0, 20.0, 6.0), direction=UP, diameter_mm=5.0, depth_mm=6.0, through=True)
    plate = PartType(
        id="plate",
        name="plate",
        kind=Kind.PLATE,
        thickness_mm=6.0,
        holes=(hole,),
        outline_mm=((0, 0), (40, 0), (40, 40), (0, 40)),
    )
    obstacles = [put("plate", plate, (0, 0, 0))]
    screw = put("screw", bought("ISO 4762 M5x20"), (20, 20, 6))
    assert path_blockers(screw, UP, 60.0, obstacles) == ()
    assert [one.b_id for one in path_blockers(screw, (1, 0, 0), 60.0, obstacles)] == ["plate"]
    lid = put("lid", block(40, 40, 2), (0, 0, 40))
    found = path_blockers(screw, UP, 60.0, [*obstacles, lid])
    assert [(one.a_id, one.b_id) for one in found] == [("screw", "lid")]
    assert found[0].at_mm == pytest.approx((20, 20, 41), abs=0.2)
    assert path_blockers(screw, UP, 29.0, [*obstacles, lid]) == ()  # its head is 5 mm high: it just touches


def test_a_slide_in_nut_slides_out_along_the_slot_and_cannot_leave_through_the_mouth() -> None:
    profile = lookup("profile 20x20 slot 6")
    rail = put("member", member(200.0), (0, 0, 0))
    seat = 10.0 - profile.lip_mm  # type: ignore[union-attr]
    nut = put("nut", bought("slide-in nut slot 6 M5"), (100, 0, seat), turned((1, 0, 0), UP))
    assert path_blockers(nut, (1, 0, 0), 150.0, [rail]) == ()
    assert path_blockers(nut, (-1, 0, 0), 150.0, [rail]) == ()
    assert path_blockers(nut, UP, 30.0, [rail])
    cap = put("cap", block(5, 20, 20), (200, -10, -10))
    assert [one.b_id for one in path_blockers(nut, (1, 0, 0), 150.0, [rail, cap])] == ["cap"]


def test_the_part_itself_absent_and_ignored_parts_are_not_in_the_way() -> None:
    mine = put("mine", block(5, 5, 5), (0, 0, 0))
    wall = put("wall", block(5, 5, 5), (10, 0, 0))
    ready = standing([mine, wall])
    assert [one.b_id for one in path_blockers(mine, (1, 0, 0), 20.0, ready)] == ["wall"]
    assert path_blockers(mine, (1, 0, 0), 20.0, ready, present={"mine"}) == ()
    assert path_blockers(mine, (1, 0, 0), 20.0, ready, ignoring={"wall"}) == ()
    cable = put("cable", PartType(id="c", name="c", kind=Kind.WIRE), (0, 0, 0))
    assert path_blockers(cable, (1, 0, 0), 20.0, ready) == ()


def test_a_key_passes_an_access_hole_of_its_size_and_is_stopped_by_what_covers_it() -> None:
    hole = Hole(
        name="key",
        at_mm=(50.0, 0.0, 10.0),
        direction=UP,
        diameter_mm=4.0,
        depth_mm=20.0,
        through=True,
        access=True,
    )
    post = put("post", member(100.0, holes=(hole,)), (0, 0, 0))
    assert line_blockers((50, 0, -30), UP, 4.0, 80.0, [post]) == ()
    assert [one.b_id for one in line_blockers((50, 0, -30), UP, 5.0, 80.0, [post])] == ["post"]
    assert [one.b_id for one in line_blockers((60, 0, -30), UP, 4.0, 80.0, [post])] == ["post"]
    near, far = put("near", block(20, 20, 2), (40, -10, 15)), put("far", block(20, 20, 2), (40, -10, 30))
    found = line_blockers((50, 0, -30), UP, 4.0, 80.0, [far, near, post])
    assert [one.b_id for one in found] == ["near", "far"]
    assert line_free((50, 0, -30), UP, 4.0, 80.0, [post])
    assert not line_free((50, 0, -30), UP, 4.0, 80.0, [far, near, post])
    assert line_free((50, 0, -30), UP, 4.0, 80.0, [far, near, post], ignoring={"near", "far"})
    assert [one.b_id for one in line_blockers((50, 0, -30), UP, 4.0, 46.0, [far, near, post])] == ["near"]


def test_a_key_line_is_a_cylinder_from_its_beginning_along_its_direction() -> None:
    line = key_line((1.0, 2.0, 3.0), (0.0, -2.0, 0.0), 4.0, 30.0)
    assert line.low_mm == pytest.approx((-1, -28, 1))
    assert line.high_mm == pytest.approx((3, 2, 5))
    with pytest.raises(ValueError, match="diameter"):
        key_line((0, 0, 0), UP, 0.0, 30.0)


def tree(solid: Solid) -> fcl.BVHModel:
    model = fcl.BVHModel()
    model.beginModel(len(solid.points_mm), len(solid.triangles))
    model.addSubModel(np.array(solid.points_mm), np.array(solid.triangles))
    model.endModel()
    return model


@pytest.mark.slow
@pytest.mark.outside
def test_two_hundred_random_paths_agree_with_a_collision_library_asked_step_by_step() -> None:
    # The library sees surfaces only, in single places. Free for us must be free in all its places; what
    # is blocked for us must be blocked in one of its places, or by booleans of the two bodies there.
    names = [*SHAPES, "m"]
    solids = {name: solid_of(member(60.0) if name == "m" else bought(name)) for name in names}
    trees = {name: tree(solid) for name, solid in solids.items()}
    random = np.random.default_rng(17)
    turns = Rotation.random(400, random_state=17).as_matrix()
    request = fcl.CollisionRequest()
    blocked = free = 0
    for n in range(200):
        moving, other = (names[int(random.integers(len(names)))] for _ in range(2))
        turn, way = turns[2 * n], unit(random.normal(size=3))
        start = -way * 30 + random.uniform(-18, 18, 3)
        mover = put("moving", member(60.0) if moving == "m" else bought(moving), tuple(start), turn)
        wall = put("wall", member(60.0) if other == "m" else bought(other), (0, 0, 0), turns[2 * n + 1])
        found = path_blockers(mover, way, 60.0, [wall])
        fixed = fcl.CollisionObject(trees[other], fcl.Transform(wall.placement.turn, np.zeros(3)))
        hits = []
        for step in np.linspace(0, 60, 241):
            loose = fcl.CollisionObject(trees[moving], fcl.Transform(turn, start + way * step))
            if fcl.collide(loose, fixed, request, fcl.CollisionResult()):
                hits.append(step)
        forget_standings()
        assert path_free(mover, way, 60.0, [wall]) == (not found)
        if found:
            blocked += 1
            depth = found[0].volume_mm3
            assert hits or depth < 1.0 or inside(solids, moving, other, mover, wall, way), (moving, other, n)
        else:
            free += 1
            assert all(grazes(solids[moving], solids[other], mover, wall, way * step) for step in hits), (
                moving,
                other,
                n,
            )
    assert blocked > 50
    assert free > 50


def common_mm3(a: Solid, b: Solid, mover: PlacedPart, wall: PlacedPart, shift: np.ndarray) -> Manifold:
    moved = a.manifold.transform(mover.placement.matrix()).translate(tuple(shift))
    return moved ^ b.manifold.transform(wall.placement.matrix())


def grazes(a: Solid, b: Solid, mover: PlacedPart, wall: PlacedPart, shift: np.ndarray) -> bool:
    """Surfaces meet in that place, but hardly."""
    common = common_mm3(a, b, mover, wall, shift)
    thickness = 2 * common.volume() / max(common.surface_area(), 1e-12)
    return common.volume() <= OVERLAP_MM3 or thickness <= CONTACT_MM


def inside(
    solids: dict[str, Solid], moving: str, other: str, mover: PlacedPart, wall: PlacedPart, way: np.ndarray
) -> bool:
    return any(
        common_mm3(solids[moving], solids[other], mover, wall, way * step).volume() > OVERLAP_MM3
        for step in np.linspace(0, 60, 61)
    )
