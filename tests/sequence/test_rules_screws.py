"""Screws: started before they are covered, the gap under a blind joint's head, and a key for every turn."""

from __future__ import annotations

from pathlib import Path

import pytest

from sequence.folders import BEAM, POST, Bench, is_clean, only, order_of

FRAME = Bench(
    parts=BEAM + POST,
    place="""
beam = { part = "beam" }
left = { part = "post", at_mm = [-10, 0, -50], along = "+z" }
right = { part = "post", at_mm = [210, 0, -50], along = "+z" }
""",
    joint='ends = { recipe = "blind-joint", ends = ["beam:a", "beam:b"], screw = "ISO 7380-1 M5" }\n',
    steps="""
beam: place beam; start ends gap_mm=2.5
posts: place left right; snug ends
final: tighten ends
""",
)
"""A beam between two posts: its screws' heads slide along the posts' slots."""


def test_a_blind_joint_started_first_is_clean(tmp_path: Path) -> None:
    assert is_clean(FRAME, tmp_path)


def test_a_blind_joint_s_screws_cannot_be_put_in_once_the_neighbour_stands(tmp_path: Path) -> None:
    found = order_of(FRAME.but(("; start ends gap_mm=2.5", "")), tmp_path)
    assert [(one.code, one.step, one.joint) for one in found] == [
        ("screw-cannot-get-in", "posts", "w/ends")
    ] * 2
    assert [one.parts for one in found] == [("w/ends/screw.1", "w/left"), ("w/ends/screw.2", "w/right")]
    assert found[0].remedy == (
        "Start a blind joint's screws in their own member before the neighbour comes: "
        "before step posts, where w/left comes there."
    )


# The slot: lip 1.7, depth 6.1; an M5 button head is 2.75 high, so it slides at 1.9 to 3.25 mm.
@pytest.mark.parametrize("gap_mm", [1.9, 2.5, 3.25])
def test_a_head_with_room_under_the_lip_and_over_the_floor_slides(gap_mm: float, tmp_path: Path) -> None:
    assert is_clean(FRAME.but(("gap_mm=2.5", f"gap_mm={gap_mm}")), tmp_path)


@pytest.mark.parametrize(("gap_mm", "limit_mm"), [(0.5, 1.9), (1.8, 1.9), (3.4, 3.25), (6.0, 3.25)])
def test_a_head_gap_outside_the_slot_s_room_is_wrong(gap_mm: float, limit_mm: float, tmp_path: Path) -> None:
    finding = only(FRAME.but(("gap_mm=2.5", f"gap_mm={gap_mm}")), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("head-gap-wrong", "beam", "w/ends")
    assert finding.value == gap_mm
    assert finding.limit == pytest.approx(limit_mm)
    assert {"w/ends/screw.1", "w/left"} == set(finding.parts)
    assert finding.remedy == "Leave 2.6 mm."


def test_a_post_without_an_access_hole_lets_no_key_through(tmp_path: Path) -> None:
    bench = FRAME.but((POST, POST.replace("at_mm = 50", "at_mm = 80")))
    found = order_of(bench, tmp_path)
    assert [(one.code, one.step) for one in found] == [("no-key-line", "posts")] * 2 + [
        ("no-key-line", "final")
    ] * 2
    assert {"w/ends/screw.1", "w/left"} == set(found[0].parts)
    assert {"w/ends/screw.2", "w/right"} == set(found[1].parts)
    assert "before step posts" in found[2].remedy


# -- keys under a lid -------------------------------------------------------------------------------

CELLAR = "{ cylinder_mm = [32, 32], at_mm = [80, 80, 0], cut = true }"
LID = Bench(
    parts=f"""
[part.base]
kind = "plate"
material = "aluminium"
size_mm = [240, 200, 12]
hole = [{{ name = "t", at_mm = [[40, 100], [80, 100], [220, 100]], thread = "M5" }}]
[part.strip]
kind = "plate"
size_mm = [60, 20, 3]
hole = [{{ name = "s", at_mm = [[10, 10], [50, 10]], diameter_mm = 5.5 }}]
[part.lid]
kind = "printed"
material = "PETG"
solid = [
  {{ box_mm = [160, 160, 60] }},
  {{ box_mm = [160, 22, 4], at_mm = [0, 69, 0], cut = true }},
  {{ cylinder_mm = [32, 60], at_mm = [40, 80, 0], cut = true }},
  {CELLAR},
  {{ box_mm = [60, 20, 5], at_mm = [160, 70, 0] }},
]
hole = [{{ name = "foot", at_mm = [220, 80, 5], thickness_mm = 5, diameter_mm = 5.5 }}]
""".replace("[220, 80, 5]", "[210, 80, 5]").replace("[220, 100]]", "[210, 100]]"),
    place="""
base = { part = "base" }
strip = { part = "strip", at_mm = [30, 90, 12] }
lid = { part = "lid", at_mm = [0, 20, 12] }
""",
    joint="""
near = { recipe = "through-bolt", through = ["strip:s.1"], into = "base:t.1", screw = "ISO 7380-1 M5x10" }
far = { recipe = "through-bolt", through = ["strip:s.2"], into = "base:t.2", screw = "ISO 7380-1 M5x10" }
lid = { recipe = "through-bolt", through = ["lid:foot"], into = "base:t.3", screw = "ISO 7380-1 M5x12" }
""",
    steps="""
strip: place base strip; start near; tighten near
start: start far
snug: snug far
final: tighten far
lid: place lid; start lid; tighten lid
""",
)
"""A strip under a lid: the lid's cellar has room for the far screw, not for a key."""


def test_a_screw_made_final_before_its_lid_comes_is_clean(tmp_path: Path) -> None:
    assert is_clean(LID, tmp_path)


@pytest.mark.parametrize(
    ("before", "blocked"),
    [("start", ["start", "snug", "final"]), ("snug", ["snug", "final"]), ("final", ["final"])],
)
def test_a_lid_keeps_the_key_from_starting_snugging_and_tightening(
    before: str, blocked: list[str], tmp_path: Path
) -> None:
    order = ["strip", "start", "snug", "final"]
    order.insert(order.index(before), "lid")
    found = order_of(LID.ordered(*order), tmp_path)
    assert [(one.code, one.step, one.joint) for one in found] == [
        ("no-key-line", step, "w/far") for step in blocked
    ]
    for finding in found:
        assert set(finding.parts) == {"w/far/screw.1", "w/lid"}
        assert finding.remedy == "Turn it before step lid, where w/lid comes there."
        assert (finding.value, finding.unit) == (3.0, "mm")


@pytest.mark.parametrize(("hole_mm", "passes"), [(6.0, True), (3.5, True), (3.2, False)])
def test_a_straight_key_reaches_through_an_access_hole_wider_than_its_corners(
    hole_mm: float, *, passes: bool, tmp_path: Path
) -> None:
    # A 3 mm key is 3.46 mm across its corners.
    hole = f"{{ cylinder_mm = [{hole_mm}, 70], at_mm = [80, 80, 0], cut = true }}"
    bench = LID.but((CELLAR, f"{CELLAR}, {hole}")).ordered("strip", "start", "snug", "lid", "final")
    assert [one.code for one in order_of(bench, tmp_path)] == ([] if passes else ["no-key-line"])


# The head's top lies 5.75 mm over the base; a 3 mm key's short arm is 23 mm, its long arm 66 mm.
@pytest.mark.parametrize(
    ("wide_mm", "high_mm", "passes"),
    [(150, 30.0, True), (150, 28.0, False), (32, 30.0, False)],
    ids=["room to swing", "too low", "too narrow to swing"],
)
def test_a_short_arm_saves_a_screw_under_a_roof_when_it_swings_sixty_degrees(
    wide_mm: int, high_mm: float, *, passes: bool, tmp_path: Path
) -> None:
    room = f"{{ box_mm = [100, {wide_mm}, {high_mm}], at_mm = [-10, {80 - wide_mm / 2}, 0], cut = true }}"
    bench = LID.but((CELLAR, room)).ordered("strip", "start", "snug", "lid", "final")
    assert [one.code for one in order_of(bench, tmp_path)] == ([] if passes else ["no-key-line"])


# -- a carriage over a rail's screws ------------------------------------------------------------------

RAIL = Bench(
    head='[axis.x]\ntravel_mm = 80\ndirection = "+x"\nmoves = ["w/block"]\nat_mm = 40\n',
    parts=BEAM,
    place="""
beam = { part = "beam" }
rail = { part = "rail 9x160", on = "beam:+z", offset_mm = 20 }
block = { part = "block 9 standard", on = "rail", at_mm = [80, 0, 0] }
""",
    joint="""
rail = { recipe = "rail-on-slot", rail = "rail", screw = "ISO 4762 M3", nut = "slide-in" }
block = { recipe = "block-on-rail", rail = "rail", blocks = ["block"] }
""",
    steps="""
rail: place beam; insert rail; place rail; start rail; snug rail
block: place block; hold block means=tape
final: tighten rail
""",
)


def test_a_carriage_is_run_aside_for_the_screws_under_it(tmp_path: Path) -> None:
    assert is_clean(RAIL, tmp_path)


def test_a_carriage_that_cannot_run_aside_covers_its_rail_s_screws(tmp_path: Path) -> None:
    finding = only(RAIL.but((RAIL.head, "")), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("no-key-line", "final", "w/rail")
    assert "w/block" in finding.parts
    assert {"w/rail/screw.4", "w/rail/screw.5"} < set(finding.parts)
    assert finding.remedy == "Turn it before step block, where w/block comes there."


def test_a_carriage_whose_travel_is_too_short_does_not_clear_the_screws(tmp_path: Path) -> None:
    short = RAIL.head.replace("travel_mm = 80", "travel_mm = 8").replace("at_mm = 40", "at_mm = 4")
    assert only(RAIL.but((RAIL.head, short)), tmp_path).code == "no-key-line"


# -- hot irons --------------------------------------------------------------------------------------

HOOD = Bench(
    parts="""
[part.holder]
kind = "printed"
material = "PETG"
solid = [{ box_mm = [100, 40, 12] }]
hole = [
  { name = "in", at_mm = [20, 20, 12], depth_mm = 9, insert = "heat-set insert M3x5.7" },
  { name = "hood", at_mm = [90, 20, 12], depth_mm = 9, insert = "heat-set insert M3x5.7" },
]
[part.hood]
kind = "printed"
material = "PETG"
solid = [
  { box_mm = [10, 40, 50] },
  { box_mm = [80, 40, 5], at_mm = [-70, 0, 50] },
  { box_mm = [20, 40, 5], at_mm = [10, 0, 0] },
]
hole = [{ name = "h", at_mm = [20, 20, 5], thickness_mm = 5, diameter_mm = 3.4 }]
[part.tag]
kind = "plate"
size_mm = [20, 20, 3]
hole = [{ name = "t", at_mm = [10, 10], diameter_mm = 3.4 }]
""",
    place="""
holder = { part = "holder" }
hood = { part = "hood", at_mm = [70, 0, 12] }
tag = { part = "tag", at_mm = [10, 10, 12] }
""",
    joint="""
hood = { recipe = "insert-and-screw", through = ["hood:h"], into = "holder:hood", screw = "ISO 4762 M3" }
tag = { recipe = "insert-and-screw", through = ["tag:t"], into = "holder:in", screw = "ISO 4762 M3" }
""",
    steps="""
holder: place holder; press hood
press: press tag
hood: place hood; start hood; tighten hood
tag: place tag; start tag; tighten tag
""",
)


def test_an_insert_pressed_before_its_surroundings_come_is_clean(tmp_path: Path) -> None:
    assert is_clean(HOOD, tmp_path)


def test_a_hot_iron_cannot_reach_an_insert_under_a_hood(tmp_path: Path) -> None:
    finding = only(HOOD.ordered("holder", "hood", "press", "tag"), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("iron-cannot-reach", "press", "w/tag")
    assert set(finding.parts) == {"w/tag/insert.1", "w/hood"}
    assert finding.remedy == "Press the inserts in before step hood, where w/hood comes there."
