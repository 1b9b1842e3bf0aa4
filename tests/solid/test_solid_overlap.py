"""What counts as an overlap, and that the answer is the true one."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold
from scipy.spatial.transform import Rotation

from trysquare.catalogue.lookup import lookup
from trysquare.ground.placement import Placement, facing, turned
from trysquare.ground.tolerances import CONTACT_MM, OVERLAP_MM3
from trysquare.machine.values import Hole, Kind, PartType, PlacedPart, Primitive
from trysquare.solid.broad import candidate_pairs, crowd_of, sweep_and_prune
from trysquare.solid.overlap import boxes, crossings, overlaps, solids_of, standing
from trysquare.solid.shapes import Solid, solid_from, solid_of
from trysquare.solid.shared import is_overlap

UP = (0.0, 0.0, 1.0)


def block(x: float, y: float, z: float) -> PartType:
    body = Primitive(shape="box", size_mm=(x, y, z), at_mm=(0.0, 0.0, 0.0), along=UP, cut=False)
    return PartType(id=f"block {x}x{y}x{z}", name="block", kind=Kind.BOUGHT, primitives=(body,))


def bought(name: str) -> PartType:
    return PartType(id=name, name=name, kind=Kind.FASTENER, standard=lookup(name))


def put(
    name: str, part: PartType, at: tuple[float, float, float], turn: np.ndarray | None = None
) -> PlacedPart:
    place = Placement(np.eye(3) if turn is None else turn, np.array(at, dtype=float))
    return PlacedPart(id=name, type=part, placement=place, unit="")


def pairs_of(placed: list[PlacedPart]) -> set[tuple[str, str]]:
    return {(one.a_id, one.b_id) for one in overlaps(placed)}


def test_two_blocks_share_the_box_they_share() -> None:
    found = overlaps([put("a", block(10, 10, 10), (0, 0, 0)), put("b", block(10, 10, 10), (7, 6, 5))])
    assert len(found) == 1
    assert (found[0].a_id, found[0].b_id) == ("a", "b")
    assert found[0].volume_mm3 == pytest.approx(3 * 4 * 5)
    assert found[0].at_mm == pytest.approx((8.5, 8.0, 7.5))
    assert found[0].low_mm == pytest.approx((7, 6, 5))
    assert found[0].high_mm == pytest.approx((10, 10, 10))


@pytest.mark.parametrize("depth_mm", [0.0, 1e-9, 0.5 * CONTACT_MM, 0.9 * CONTACT_MM])
def test_faces_that_touch_are_no_overlap_however_wide(depth_mm: float) -> None:
    wide = block(400, 400, 5)
    assert not overlaps([put("a", wide, (0, 0, 0)), put("b", wide, (3, 2, 5 - depth_mm))])
    turn = Rotation.from_euler("xyz", (0.3, 0.7, 1.1)).as_matrix()  # and so in any turning of the machine
    shift = turn @ np.array([3, 2, 5 - depth_mm])
    assert not overlaps([put("a", wide, (0, 0, 0), turn), put("b", wide, tuple(shift), turn)])


def test_faces_that_cross_by_more_than_contact_are_an_overlap() -> None:
    wide = block(40, 40, 5)
    assert overlaps([put("a", wide, (0, 0, 0)), put("b", wide, (3, 2, 5 - 1.2 * CONTACT_MM))])


def test_a_bump_is_found_though_a_wide_contact_surrounds_it() -> None:
    bumped = PartType(
        id="bumped",
        name="bumped",
        kind=Kind.BOUGHT,
        primitives=(
            Primitive(shape="box", size_mm=(400.0, 400.0, 5.0), at_mm=(0.0, 0.0, 0.0), along=UP, cut=False),
            Primitive(shape="box", size_mm=(1.0, 1.0, 6.0), at_mm=(200.0, 200.0, 0.0), along=UP, cut=False),
        ),
    )
    found = overlaps([put("a", bumped, (0, 0, 0)), put("b", block(400, 400, 5), (0, 0, 4.99))])
    assert len(found) == 1
    assert not overlaps([put("a", block(400, 400, 5), (0, 0, 0)), put("b", block(400, 400, 5), (0, 0, 4.99))])


def test_a_body_thinner_than_contact_is_no_overlap_in_any_turning() -> None:
    slab, thick = Manifold.cube((30, 30, 0.8 * CONTACT_MM)), Manifold.cube((30, 30, 1.5 * CONTACT_MM))
    for angles in ((0, 0, 0), (0.4, 0.8, 1.2), (math.pi / 4, 0.615, 0.2)):
        turn = np.hstack([Rotation.from_euler("xyz", angles).as_matrix(), np.zeros((3, 1))])
        assert not is_overlap(slab.transform(turn), slab.volume())
        assert is_overlap(thick.transform(turn), thick.volume())


def test_a_part_wholly_inside_another_is_an_overlap_and_one_in_its_hollow_is_not() -> None:
    hollow = PartType(
        id="hollow",
        name="hollow",
        kind=Kind.BOUGHT,
        primitives=(
            Primitive(shape="box", size_mm=(30.0, 30.0, 30.0), at_mm=(0.0, 0.0, 0.0), along=UP, cut=False),
            Primitive(shape="box", size_mm=(20.0, 20.0, 20.0), at_mm=(5.0, 5.0, 5.0), along=UP, cut=True),
        ),
    )
    small = block(3, 3, 3)
    assert pairs_of([put("a", block(30, 30, 30), (0, 0, 0)), put("s", small, (9, 9, 9))]) == {("a", "s")}
    assert not pairs_of([put("a", hollow, (0, 0, 0)), put("s", small, (9, 9, 9))])
    assert not pairs_of([put("a", hollow, (0, 0, 0)), put("s", block(20, 20, 20), (5, 5, 5))])


def test_a_shaft_in_a_hole_of_its_size_is_contact_in_every_turning() -> None:
    pin = PartType(
        id="pin",
        name="pin",
        kind=Kind.BOUGHT,
        primitives=(
            Primitive(shape="cylinder", size_mm=(5.0, 20.0), at_mm=(0.0, 0.0, -5.0), along=UP, cut=False),
        ),
    )
    hole = Hole(
        name="h", at_mm=(20.0, 20.0, 10.0), direction=UP, diameter_mm=5.0, depth_mm=10.0, through=True
    )
    plate = PartType(
        id="plate",
        name="plate",
        kind=Kind.PLATE,
        thickness_mm=10.0,
        holes=(hole,),
        outline_mm=((0, 0), (40, 0), (40, 40), (0, 40)),
    )
    for degrees in np.linspace(0, 15, 11):
        turn = Rotation.from_euler("z", degrees, degrees=True).as_matrix()
        assert not overlaps([put("plate", plate, (0, 0, 0)), put("pin", pin, (20, 20, 0), turn)])
    assert overlaps([put("plate", plate, (0, 0, 0)), put("pin", pin, (20.2, 20, 0))])


def test_a_screw_in_its_nut_with_washer_and_plate_overlaps_nothing() -> None:
    out = facing((0.3, -0.5, 0.8))
    hole = Hole(name="h", at_mm=(0.0, 0.0, 5.0), direction=UP, diameter_mm=3.4, depth_mm=5.0, through=True)
    plate = PartType(
        id="plate",
        name="plate",
        kind=Kind.PLATE,
        thickness_mm=5.0,
        holes=(hole,),
        outline_mm=((-20, -20), (20, -20), (20, 20), (-20, 20)),
    )
    place = Placement(out, np.array([10.0, 20.0, 30.0]))

    def along(name: str, part: PartType, z_mm: float) -> PlacedPart:
        at = place.point((0.0, 0.0, z_mm))
        return PlacedPart(id=name, type=part, placement=Placement(out, at), unit="")

    placed = [
        along("plate", plate, 0.0),
        along("washer", bought("ISO 7089 M3"), 5.0),
        along("screw", bought("ISO 4762 M3x12"), 5.5),
        along("nut", bought("ISO 4032 M3"), 0.0),
    ]
    assert pairs_of(placed) == set()
    assert pairs_of([*placed[:2], along("screw", bought("ISO 4762 M3x12"), 5.3), placed[3]]) == {
        ("washer", "screw")
    }


def test_a_blind_joint_of_two_members_overlaps_nothing_and_a_screw_too_deep_does() -> None:
    profile = lookup("profile 20x20 slot 6")
    one = PartType(
        id="m",
        name="m",
        kind=Kind.MEMBER,
        profile=profile,
        length_mm=200.0,
        tapped_ends=("a",),
        tapped_depth_mm=16.0,  # type: ignore[arg-type]
    )
    lip = profile.lip_mm  # type: ignore[union-attr]
    members = [
        put("post", one, (0, 0, 0), turned(UP, (0, 1, 0))),
        put("rung", one, (10, 0, 100), turned((1, 0, 0), UP)),
    ]
    screw = bought("ISO 7380-1 M5x12")
    assert not overlaps([*members, put("s", screw, (10 - lip, 0, 100), facing((-1, 0, 0)))])
    assert pairs_of([*members, put("s", screw, (10 - lip + 0.3, 0, 100), facing((-1, 0, 0)))]) == {
        ("post", "s")
    }


def test_heat_set_inserts_sit_in_holes_drawn_at_their_drill_size() -> None:
    hole = Hole(
        name="h",
        at_mm=(0.0, 0.0, 10.0),
        direction=UP,
        diameter_mm=3.9,
        depth_mm=8.0,
        through=False,
        insert="heat-set insert M3x5.7",
    )
    boss = PartType(
        id="boss",
        name="boss",
        kind=Kind.PRINTED,
        holes=(hole,),
        thickness_mm=10.0,
        outline_mm=((-5, -5), (5, -5), (5, 5), (-5, 5)),
    )
    placed = [put("boss", boss, (0, 0, 0)), put("insert", bought("heat-set insert M3x5.7"), (0, 0, 10))]
    assert not overlaps([*placed, put("screw", bought("ISO 4762 M3x6"), (0, 0, 10))])


def test_parts_without_a_solid_are_skipped() -> None:
    nothing = PartType(id="cable", name="cable", kind=Kind.WIRE)
    placed = [put("c", nothing, (0, 0, 0)), put("a", block(5, 5, 5), (0, 0, 0))]
    assert overlaps(placed) == ()
    found = boxes(placed)
    assert np.isnan(found[0]).all()
    assert found[1] == pytest.approx([0, 0, 0, 5, 5, 5])


def test_no_parts_and_one_part_overlap_nothing() -> None:
    assert overlaps([]) == ()
    assert overlaps([put("a", block(5, 5, 5), (0, 0, 0))]) == ()


def test_only_present_obstacles_that_are_not_ignored_are_met() -> None:
    row = [put(name, block(5, 5, 5), (4.0 * n, 0, 0)) for n, name in enumerate("abc")]
    ready, probe = standing(row), solid_of(block(30, 2, 2))

    def met(**more: object) -> list[str]:
        return [one.b_id for one in crossings("probe", probe, Placement(), ready, **more)]  # type: ignore[arg-type]

    assert met() == ["a", "b", "c"]
    assert met(present={"a", "c"}) == ["a", "c"]
    assert met(present={"a", "c"}, ignoring={"a"}) == ["c"]


@given(seed=st.integers(0, 10**6), count=st.integers(0, 60))
@settings(max_examples=60, deadline=None)
def test_sweeping_finds_the_same_box_pairs_as_comparing_all_with_all(seed: int, count: int) -> None:
    random = np.random.default_rng(seed)
    low = random.uniform(0, 50, (count, 3))
    found = np.hstack([low, low + random.uniform(0.1, 20, (count, 3))])
    expected = {
        (i, j)
        for i in range(count)
        for j in range(i + 1, count)
        if (
            np.minimum(found[i, 3:], found[j, 3:]) - np.maximum(found[i, :3], found[j, :3]) > CONTACT_MM
        ).all()
        and (np.minimum(found[i, 3:], found[j, 3:]) - np.maximum(found[i, :3], found[j, :3])).prod()
        > OVERLAP_MM3
    }
    assert {(int(i), int(j)) for i, j in sweep_and_prune(found)} == expected


SORTS = [
    "ISO 4762 M5x20",
    "ISO 7380-1 M5x12",
    "ISO 10642 M5x16",
    "ISO 4032 M5",
    "ISO 7089 M5",
    "slide-in nut slot 6 M5",
    "pulley 2 mm pitch 20 teeth bore 5",
    "block 9 standard",
    "lead screw 8x2 starts 4 length 100",
    "rail 9x100",
]


def crowd(seed: int, count: int, spread_mm: float) -> list[PlacedPart]:
    random = np.random.default_rng(seed)
    turns = Rotation.random(count, random_state=seed).as_matrix()
    member = PartType(
        id="m",
        name="m",
        kind=Kind.MEMBER,
        profile=lookup("profile 20x20 slot 6"),
        length_mm=60.0,  # type: ignore[arg-type]
    )
    types = [*(bought(name) for name in SORTS), member, block(30, 6, 12)]
    return [
        put(
            f"p{n}", types[int(random.integers(len(types)))], tuple(random.uniform(0, spread_mm, 3)), turns[n]
        )
        for n in range(count)
    ]


def as_mesh(solid: Solid, placement: Placement) -> trimesh.Trimesh:
    return trimesh.Trimesh(placement.point(solid.points_mm), solid.triangles, process=False)


@pytest.mark.slow
def test_random_crowds_give_the_pairs_that_booleans_of_all_with_all_give() -> None:
    placed = crowd(5, 60, 90.0)
    solids = solids_of(placed)
    expected = set()
    for i, a in enumerate(placed):
        for j in range(i + 1, len(placed)):
            one, other = solids[i], solids[j]
            assert one is not None
            assert other is not None
            b = placed[j]
            common = one.manifold.transform(a.placement.matrix()) ^ other.manifold.transform(
                b.placement.matrix()
            )
            if is_overlap(common, common.volume()):
                expected.add((a.id, b.id))
    assert len(expected) > 40
    assert pairs_of(placed) == expected


@pytest.mark.slow
@pytest.mark.outside
def test_shared_volumes_agree_with_counting_random_points_inside_both() -> None:
    placed = crowd(8, 80, 80.0)
    solids = dict(zip((one.id for one in placed), solids_of(placed), strict=True))
    parts = {one.id: one for one in placed}
    random = np.random.default_rng(4)
    checked = 0
    for one in overlaps(placed)[:40]:
        low, high = np.array(one.low_mm), np.array(one.high_mm)
        points = random.uniform(low, high, (4000, 3))
        hit = np.ones(len(points), dtype=bool)
        for name in (one.a_id, one.b_id):
            solid = solids[name]
            assert solid is not None
            hit &= as_mesh(solid, parts[name].placement).contains(points)
        share, box_mm3 = float(hit.mean()), float((high - low).prod())
        spread = math.sqrt(max(share * (1 - share), 1e-4) / len(points))
        assert abs(share - one.volume_mm3 / box_mm3) < 5 * spread, one
        checked += 1
    assert checked == 40


def test_turning_and_shifting_the_whole_machine_changes_no_volume() -> None:
    placed = crowd(11, 40, 90.0)
    whole = Placement(
        Rotation.from_euler("xyz", (0.2, -0.9, 2.2)).as_matrix(), np.array([900.0, -300.0, 55.0])
    )
    moved = [
        PlacedPart(id=one.id, type=one.type, placement=whole.then(one.placement), unit="") for one in placed
    ]
    before = {(one.a_id, one.b_id): one.volume_mm3 for one in overlaps(placed)}
    after = {(one.a_id, one.b_id): one.volume_mm3 for one in overlaps(moved)}
    assert after.keys() == before.keys()
    for pair, volume in before.items():
        assert after[pair] == pytest.approx(volume, rel=1e-5, abs=1e-3)


def test_boxes_hold_every_point_of_the_placed_solid() -> None:
    placed = crowd(2, 30, 100.0)
    for one, solid, box in zip(placed, solids_of(placed), boxes(placed), strict=True):
        assert solid is not None
        points = one.placement.point(solid.points_mm)
        assert (points >= box[:3] - 1e-9).all()
        assert (points <= box[3:] + 1e-9).all()


def test_no_candidate_is_lost_that_shares_volume() -> None:
    placed = crowd(21, 80, 100.0)
    solids = solids_of(placed)
    found = {(int(i), int(j)) for i, j in candidate_pairs(crowd_of(placed, solids))}
    for i in range(0, 80, 3):
        for j in range(i + 1, 80):
            a, b = solids[i], solids[j]
            assert a is not None
            assert b is not None
            common = a.manifold.transform(placed[i].placement.matrix()) ^ b.manifold.transform(
                placed[j].placement.matrix()
            )
            if common.volume() > OVERLAP_MM3 and is_overlap(common, common.volume()):
                assert (i, j) in found


@pytest.fixture
def generated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, object]:
    monkeypatch.syspath_prepend(str(Path(__file__).parents[2] / "benchmarks"))
    import frame_machine

    yield tmp_path, frame_machine.frame_machine
    sys.modules.pop("frame_machine", None)


def test_a_whole_frame_machine_that_fits_has_no_overlap(generated: tuple[Path, object]) -> None:
    folder, make = generated
    placed = make(folder, faults=False)  # type: ignore[operator]
    assert len(placed) > 500
    assert overlaps(placed, folder) == ()


def test_known_faults_in_a_frame_machine_are_found_and_nothing_else(generated: tuple[Path, object]) -> None:
    folder, make = generated
    found = overlaps(make(folder, faults=True), folder)  # type: ignore[operator]
    wrong = {"lost", "bracket-wrong", "clip-wrong", "rail-wrong", "skew"}
    assert all(
        {id_.partition("/")[2].partition(".")[0] for id_ in (one.a_id, one.b_id)} & wrong for one in found
    )
    assert {one.b_id.partition("/")[2].partition(".")[0] for one in found} == wrong


def test_a_solid_can_be_asked_without_a_part() -> None:
    solid = solid_from(Manifold.cube((2, 2, 2)))
    found = crossings("x", solid, Placement(), standing([put("a", block(5, 5, 5), (1, 1, 1))]))
    assert [(one.a_id, one.b_id, round(one.volume_mm3, 6)) for one in found] == [("x", "a", 1.0)]
