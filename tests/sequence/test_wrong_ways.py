"""Parts that also go in wrong: which, how late it shows, and what tells."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequence.folders import Bench
from trysquare.catalogue.lookup import lookup
from trysquare.ground.placement import Array, Placement
from trysquare.machine.load import load_machine
from trysquare.machine.values import Hole, Kind, Machine, PartType, PlacedPart, Primitive
from trysquare.sequence.poses import ROTATIONS, poses, same_shape
from trysquare.sequence.wrong_ways import WrongWay, wrong_findings, wrong_ways
from trysquare.solid.shapes import solid_of

DEMO = Path(__file__).resolve().parents[2] / "demo"
UP = (0.0, 0.0, 1.0)

STOOL = Bench(
    parts="""
[part.base]
name = "base"
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 300
hole = [{ name = "key", face = "-z", from = "a", at_mm = 100, diameter_mm = 6, access = true }]
[part.plain]
name = "plain beam"
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 300
[part.post]
name = "post"
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 200
tapped = ["a"]
""",
    place="""
base = { part = "base" }
post = { part = "post", at_mm = [100, 0, 10], along = "+z" }
""",
    joint='foot = { recipe = "blind-joint", ends = ["post:a"], screw = "ISO 7380-1 M5x12" }\n',
    steps="""
lay: place base
rest: check flat
stand: place post; start foot; snug foot; tighten foot
""",
)
"""A post on a base whose access hole is not in the middle."""

LID = Bench(
    parts="""
[part.box]
name = "box"
kind = "printed"
solid = [{ box_mm = [60, 40, 20] }]
hole = [
  { name = "lid", at_mm = [[10, 10, 20], [50, 30, 20]], thread = "M3", depth_mm = 10 },
  { name = "knob", at_mm = [20, 30, 20], thread = "M3", depth_mm = 10 },
]
[part.lid]
name = "lid"
kind = "plate"
size_mm = [60, 40, 5]
hole = [
  { name = "lid", at_mm = [[10, 10], [50, 30]], diameter_mm = 3.4 },
  { name = "knob", at_mm = [20, 30], diameter_mm = 3.4 },
]
[part.knob]
name = "knob"
kind = "printed"
size_mm = [8, 8, 3]
hole = [{ name = "m", at_mm = [4, 4], diameter_mm = 3.4 }]
""",
    place="""
box = { part = "box" }
lid = { part = "lid", at_mm = [0, 0, 20] }
knob = { part = "knob", at_mm = [16, 26, 25] }
""",
    joint="""
lid = { recipe = "through-bolt", through = ["lid:lid"], into = "box:lid", screw = "ISO 4762 M3x10" }
[joint.knob]
recipe = "through-bolt"
through = ["knob:m", "lid:knob"]
into = "box:knob"
screw = "ISO 4762 M3x16"
""",
    steps="""
close: place box; place lid; start lid; tighten lid
wait: wait paint minutes=5
turn: place knob; start knob; tighten knob
""",
)
"""A lid that two screws hold whichever way round; only the knob's hole tells."""


def ways_of(bench: Bench, folder: Path, part: str) -> list[WrongWay]:
    return [way for way in wrong_ways(bench.machine(folder)) if way.part == f"w/{part}"]


def test_a_base_end_for_end_is_noticed_when_the_key_finds_no_hole(tmp_path: Path) -> None:
    first = ways_of(STOOL, tmp_path, "base")[0]
    assert (first.sort, first.way, first.code) == ("turned", "end for end", "access-hole-missing")
    assert (first.step, first.noticed, first.steps_to_undo) == ("lay", "stand", 2)


def test_what_tells_the_base_is_the_holes_distance_from_its_end(tmp_path: Path) -> None:
    tells = ways_of(STOOL, tmp_path, "base")[0].tells
    assert "'key' (Ø6) is 100 mm from the left end" in tells


def test_half_a_turn_about_a_through_hole_in_the_middle_is_no_mistake(tmp_path: Path) -> None:
    ways = {way.way for way in ways_of(STOOL, tmp_path, "base")}
    assert ways == {
        "end for end",
        "a quarter turn about its length",
        "end for end and a quarter turn about its length",
    }


def test_an_untapped_end_is_noticed_at_once_where_the_joint_is_made_at_once(tmp_path: Path) -> None:
    assert ways_of(STOOL, tmp_path, "post") == []


def test_an_untapped_end_is_noticed_late_where_the_joint_is_made_late(tmp_path: Path) -> None:
    bench = STOOL.but(("lay: place base", "lay: place base post"), ("stand: place post; ", "stand: "))
    (way,) = ways_of(bench, tmp_path, "post")
    assert (way.code, way.noticed, way.steps_to_undo) == ("end-not-tapped", "stand", 2)
    assert way.tells == "The bottom end is tapped (M5); the wrong way round it is not."


def test_a_plain_beam_of_the_same_size_is_a_look_alike(tmp_path: Path) -> None:
    bench = STOOL.but(
        (
            'base = { part = "base" }',
            'base = { part = "base" }\nspare = { part = "plain", at_mm = [0, 99, 0] }',
        )
    )
    (way,) = [way for way in ways_of(bench, tmp_path, "base") if way.instead]
    assert (way.sort, way.instead, way.way, way.noticed) == (
        "look-alike",
        "plain",
        "the same way round",
        "stand",
    )
    assert "'plain beam' there is none" in way.tells


def test_two_types_that_are_the_same_are_no_look_alikes(tmp_path: Path) -> None:
    twin = STOOL.parts.partition("[part.post]")[2].replace("post", "twin").replace('"a"', '"b"')
    bench = Bench(
        parts=STOOL.parts + "[part.twin]" + twin,
        place=STOOL.place + 'other = { part = "twin", at_mm = [0, 99, 0] }\n',
        joint=STOOL.joint,
        steps=STOOL.steps,
    )
    assert [way for way in wrong_ways(bench.machine(tmp_path)) if way.instead == "twin"] == []


def test_a_lid_half_round_shows_when_the_knob_finds_no_hole(tmp_path: Path) -> None:
    ways = ways_of(LID, tmp_path, "lid")
    assert [(way.way, way.code, way.joint, way.noticed, way.steps_to_undo) for way in ways] == [
        ("turned half round", "hole-missing", "w/knob", "turn", 2)
    ]
    assert ways[0].tells == (
        "The hole 'knob' (Ø3.4) is 20 mm from the left edge, 10 mm from the back edge, "
        "through from top to bottom; the wrong way round there is none."
    )


def test_a_part_that_comes_later_notices_what_stands_in_its_place(tmp_path: Path) -> None:
    bench = Bench(
        parts='[part.ell]\nkind = "printed"\nsolid = [{ box_mm = [40, 44, 5] }, { box_mm = [10, 44, 20] }]\n'
        '[part.cube]\nkind = "printed"\nsolid = [{ box_mm = [20, 20, 14] }]\n',
        place='ell = { part = "ell" }\ncube = { part = "cube", at_mm = [10, 10, 5] }\n',
        joint="",
        steps="one: place ell\ntwo: check it\nthree: place cube\n",
    )
    found = {way.way: way for way in ways_of(bench, tmp_path, "ell")}
    assert found["upside down, front and back kept"].noticed == "three"
    assert found["upside down, front and back kept"].code == "in-the-way"
    assert found["turned half round"].steps_to_undo == 0  # the cube touches it either way


def test_what_stands_there_already_keeps_a_part_from_going_in_wrong(tmp_path: Path) -> None:
    bench = Bench(
        parts='[part.ell]\nkind = "printed"\nsolid = [{ box_mm = [40, 44, 5] }, { box_mm = [10, 44, 20] }]\n'
        '[part.cube]\nkind = "printed"\nsolid = [{ box_mm = [20, 20, 14] }]\n',
        place='ell = { part = "ell" }\ncube = { part = "cube", at_mm = [10, 10, 5] }\n',
        joint="",
        steps="one: place cube\ntwo: place ell\n",
    )
    assert {way.way for way in ways_of(bench, tmp_path, "ell")} == {"turned half round"}


def test_a_cover_the_wrong_way_round_shuts_a_later_key_out(tmp_path: Path) -> None:
    bench = Bench(
        parts="""
[part.tray]
kind = "printed"
solid = [{ box_mm = [60, 40, 10] }, { box_mm = [2, 40, 20] }, { box_mm = [2, 40, 20], at_mm = [58, 0, 0] }]
hole = [{ name = "m", at_mm = [20, 20, 10], thread = "M3", depth_mm = 10 }]
[part.clip]
kind = "plate"
size_mm = [10, 10, 3]
hole = [{ name = "m", at_mm = [5, 5], diameter_mm = 3.4 }]
[part.cover]
kind = "plate"
size_mm = [60, 40, 3]
hole = [{ name = "key", at_mm = [20, 20], diameter_mm = 8 }]
""",
        place="""
tray = { part = "tray" }
clip = { part = "clip", at_mm = [15, 15, 10] }
cover = { part = "cover", at_mm = [0, 0, 20] }
""",
        joint="""
[joint.m]
recipe = "through-bolt"
through = ["clip:m"]
into = "tray:m"
screw = "ISO 4762 M3x8"
""",
        steps="clip: place tray clip; start m\ncover: place cover\ntight: tighten m\n",
    )
    (way,) = ways_of(bench, tmp_path, "cover")
    assert (way.way, way.code, way.joint, way.noticed) == ("turned half round", "no-key-line", "w/m", "tight")


def test_a_countersunk_plate_inside_out_is_never_noticed(tmp_path: Path) -> None:
    ways = [way for way in wrong_ways(load_machine(DEMO / "reed-joints")) if way.part == "track/end-left"]
    assert [(way.code, way.noticed) for way in ways] == [("head-proud", "")]
    assert ways[0].steps_to_undo == 2  # placed in the last step but one, and nobody looks again
    assert ways[0].tells.startswith("The countersink of hole 'core' looks to the left")


def test_a_hand_is_named_as_what_tells(tmp_path: Path) -> None:
    solid = "solid = [{ box_mm = [20, 30, 4] }, { box_mm = [6, 6, 10], at_mm = [@, 0, 0] }]\n"
    bench = Bench(
        parts='[part.left]\nname = "horn left"\nkind = "printed"\nhand = "left"\n' + solid.replace("@", "0")
        + '[part.right]\nname = "horn right"\nkind = "printed"\nhand = "right"\n' + solid.replace("@", "14"),
        place='one = { part = "left" }\ntwo = { part = "right", at_mm = [100, 0, 0] }\n',
        joint="",
        steps="all: place one two\n",
    )  # fmt: skip
    twins = [way for way in ways_of(bench, tmp_path, "one") if way.instead]
    assert [(way.sort, way.instead) for way in twins] == [("mirrored twin", "right")]
    assert twins[0].tells.startswith("It must be the left one; 'horn right' is the right one.")


def test_a_part_that_would_not_lie_flat_under_its_screw_is_noticed_at_once(tmp_path: Path) -> None:
    bench = Bench(
        parts='[part.beam]\nkind = "member"\nprofile = "profile 20x20 slot 6"\nlength_mm = 100\n'
        '[part.tag]\nkind = "bought"\nsolid = [{ box_mm = [30, 10, 1] }, { box_mm = [10, 10, 6] }]\n'
        'hole = [{ name = "m", at_mm = [15, 5, 1], thickness_mm = 1, diameter_mm = 5.5 }]\n',
        place="""
beam = { part = "beam" }
tag = { part = "tag", on = "beam:+z", offset_mm = 40, across_mm = -5 }
""",
        joint='tag = { recipe = "plate-on-slots", through = ["tag:m"], screw = "ISO 7380-1 M5x8" }\n',
        steps="all: place beam; insert tag; place tag; start tag; tighten tag\n",
    )
    assert [(way.way, way.code) for way in ways_of(bench, tmp_path, "tag")] == [("turned half round", "")]


def test_a_screw_in_a_slot_lets_a_part_go_in_half_round_with_its_hole_shifted() -> None:
    # The stop's hole is 1 mm off its middle: the nut slides 2 mm along the slot, and nothing notices.
    ways = [way for way in wrong_ways(load_machine(DEMO / "reed-joints")) if way.part == "track/stop-left"]
    assert [(way.way, way.code, way.steps_to_undo) for way in ways] == [("turned half round", "", 0)]


def test_findings_are_made_of_the_ways_that_cost_something(tmp_path: Path) -> None:
    ways = wrong_ways(STOOL.machine(tmp_path))
    found = wrong_findings(ways)
    assert [(one.code, one.parts, one.step, one.value) for one in found][:1] == [
        ("can-go-in-wrong", ("w/base",), "lay", 2.0)
    ]
    assert len(found) == sum(way.steps_to_undo > 0 for way in ways)


def test_the_costliest_way_comes_first() -> None:
    costs = [way.steps_to_undo for way in wrong_ways(load_machine(DEMO / "reed-joints"))]
    assert costs == sorted(costs, reverse=True)


def test_without_steps_nobody_knows_how_late(tmp_path: Path) -> None:
    machine = STOOL.machine(tmp_path)
    (tmp_path / "steps.toml").unlink()
    ways = [way for way in wrong_ways(load_machine(tmp_path)) if way.part == "w/base"]
    assert machine.steps
    assert {(way.step, way.noticed, way.steps_to_undo) for way in ways} == {("", "", 0)}
    assert ways[0].consequence.startswith("noticed when its joint is made")


# -- laws -------------------------------------------------------------------------------------------


def lone(part_type: PartType, place: Placement) -> Machine:
    """A machine of one part that nothing holds."""
    part = PlacedPart(id="p", type=part_type, placement=place, unit="")
    return Machine(
        id="m", name="m", folder="", types={part_type.id: part_type}, placed=(part,), joints=(), units=("",),
        steps=(), papers=(), sayings=(), rulings=(), aliases={},
    )  # fmt: skip


HALF_TURNS = {
    "x": np.diag([1.0, -1.0, -1.0]),
    "y": np.diag([-1.0, 1.0, -1.0]),
    "z": np.diag([-1.0, -1.0, 1.0]),
}
PLACES = st.sampled_from(ROTATIONS).map(lambda turn: Placement(turn, np.array([3.0, 5.0, 7.0])))
SPOTS = st.lists(
    st.tuples(st.sampled_from(range(10, 300, 7)), st.sampled_from(("+y", "-y", "+z", "-z"))),
    min_size=1,
    max_size=4,
)
WAY = {"+y": (0.0, 1.0, 0.0), "-y": (0.0, -1.0, 0.0), "+z": (0.0, 0.0, 1.0), "-z": (0.0, 0.0, -1.0)}


def blind_hole(name: str, at: Array, way: Array) -> Hole:
    x, y, z = (float(number) for number in at)
    dx, dy, dz = (float(number) + 0.0 for number in way)
    return Hole(
        name=name, at_mm=(x, y, z), direction=(dx, dy, dz), diameter_mm=4.0, depth_mm=3.0, through=False
    )


@pytest.mark.slow
@given(SPOTS, st.sampled_from(("x", "y", "z")), PLACES)
def test_a_part_never_goes_in_wrong_about_an_axis_of_its_own_symmetry(
    spots: list[tuple[int, str]], axis: str, place: Placement
) -> None:
    middle, turn = np.array([150.0, 0.0, 0.0]), HALF_TURNS[axis]
    holes: list[Hole] = []
    for index, (x, face) in enumerate(spots):
        out = np.array(WAY[face])
        at = np.array([float(x), 0.0, 0.0]) + 10.0 * out
        holes.append(blind_hole(f"one.{index}", at, out))
        holes.append(blind_hole(f"two.{index}", turn @ (at - middle) + middle, turn @ out))
    ends = ("a", "b") if axis != "x" else ("a",)
    beam = PartType(
        id="beam", name="beam", kind=Kind.MEMBER, profile=lookup("profile 20x20 slot 6"), length_mm=300.0,  # type: ignore[arg-type]
        holes=tuple(holes), tapped_ends=ends, tapped_depth_mm=15.0,
    )  # fmt: skip
    for way in wrong_ways(lone(beam, place)):
        own = place.turn.T @ way.placement.turn
        assert np.abs(own - turn).max() > 0.5, way.way


@given(st.integers(2, 40), st.integers(2, 40), st.integers(2, 40), PLACES)
def test_a_plain_box_never_goes_in_wrong(x: int, y: int, z: int, place: Placement) -> None:
    body = Primitive(
        shape="box", size_mm=(float(x), float(y), float(z)), at_mm=(1.0, 2.0, 3.0), along=UP, cut=False
    )
    box = PartType(id="box", name="box", kind=Kind.PRINTED, primitives=(body,))
    assert wrong_ways(lone(box, place)) == ()


@given(st.sampled_from(ROTATIONS))
def test_a_wrong_way_takes_the_parts_own_box(turn: Array) -> None:
    steps = (
        Primitive(shape="box", size_mm=(20.0, 30.0, 4.0), at_mm=(0.0, 0.0, 0.0), along=UP, cut=False),
        Primitive(shape="box", size_mm=(6.0, 6.0, 10.0), at_mm=(0.0, 0.0, 0.0), along=UP, cut=False),
    )
    horn = PartType(id="horn", name="horn", kind=Kind.PRINTED, primitives=steps)
    place = Placement(turn, np.array([1.0, 2.0, 3.0]))
    points = solid_of(horn).points_mm
    right = place.point(points)
    ways = wrong_ways(lone(horn, place))
    assert len(ways) == 3
    for way in ways:
        wrong = way.placement.point(points)
        assert np.allclose([wrong.min(0), wrong.max(0)], [right.min(0), right.max(0)])


@pytest.mark.parametrize("size", [(20.0, 30.0, 40.0), (20.0, 20.0, 40.0), (20.0, 20.0, 20.0)])
def test_a_box_has_as_many_poses_as_its_symmetry_allows(size: tuple[float, float, float]) -> None:
    body = Primitive(shape="box", size_mm=size, at_mm=(0.0, 0.0, 0.0), along=UP, cut=False)
    solid = solid_of(PartType(id="b", name="b", kind=Kind.PRINTED, primitives=(body,)))
    expected = {3: 4, 2: 8, 1: 24}[len(set(size))]
    assert len(poses(solid, solid)) == expected
    assert all(same_shape(solid, solid, pose) for pose in poses(solid, solid))


def test_shapes_that_differ_by_a_notch_are_told_apart() -> None:
    body = Primitive(shape="box", size_mm=(20.0, 20.0, 10.0), at_mm=(0.0, 0.0, 0.0), along=UP, cut=False)
    notch = Primitive(shape="box", size_mm=(2.0, 2.0, 2.0), at_mm=(0.0, 0.0, 8.0), along=UP, cut=True)
    solid = solid_of(PartType(id="b", name="b", kind=Kind.PRINTED, primitives=(body, notch)))
    same = [same_shape(solid, solid, pose) for pose in poses(solid, solid)]
    assert same.count(True) == 1
