"""True before tight: readings between snug and final, tightening orders, threadlocker, nothing left snug."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sequence.folders import BEAM, POST, Bench, is_clean, only, order_of
from trysquare.sequence.row_orders import order_by_joint

TRUE = Bench(
    head="""
[characteristic.square]
sort = "squareness"
of = ["w/beam", "w/left"]
limit = 0.1
unit = "mm/100"
""",
    parts=BEAM
    + POST
    + """
[part.corner]
kind = "bought"
material = "aluminium"
solid = [{ box_mm = [18, 18, 3], at_mm = [0, -9, 0] }, { box_mm = [3, 18, 18], at_mm = [0, -9, 0] }]
hole = [
  { name = "x-leg", at_mm = [11, 0, 3], direction = "+z", diameter_mm = 5.5, thickness_mm = 3 },
  { name = "z-leg", at_mm = [3, 0, 11], direction = "+x", diameter_mm = 5.5, thickness_mm = 3 },
]
""",
    place="""
beam = { part = "beam" }
left = { part = "post", at_mm = [-10, 0, -50], along = "+z" }
right = { part = "post", at_mm = [210, 0, -50], along = "+z" }
""",
    joint="""
ends = { recipe = "blind-joint", ends = ["beam:a", "beam:b"], screw = "ISO 7380-1 M5", align = "square" }
[joint.corner]
recipe = "bracket"
bracket = "corner"
corners = [{ end = "beam:a", toward = "+z" }]
screw = "ISO 7380-1 M5x8"
nut = "slide-in"
""",
    steps="""
beam: place beam left right; insert corner; start ends
snug: snug ends
read: read beam reads=square
final: tighten ends
corner: start corner; tighten corner
again: read beam reads=square
""",
)


def test_a_joint_read_between_snug_and_final_is_clean(tmp_path: Path) -> None:
    assert is_clean(TRUE, tmp_path)


def test_a_reading_before_all_is_snug_tells_nothing(tmp_path: Path) -> None:
    finding = only(TRUE.but(("start ends", "start ends; read beam reads=square")), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("read-before-snug", "beam", "w/ends")
    assert finding.remedy == "Snug w/ends first, then read."


def test_a_joint_is_not_final_before_its_reading(tmp_path: Path) -> None:
    finding = only(TRUE.ordered("beam", "snug", "final", "read", "corner", "again"), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("final-before-read", "final", "w/ends")
    assert finding.remedy == "Snug it, read square, correct, then tighten."
    assert {"w/beam", "w/left", "w/right"} == set(finding.parts)


PAIR = Bench(
    head="""
[characteristic.parallel]
sort = "parallelism"
of = ["w/left", "w/right"]
limit = 0.05
unit = "mm"
""",
    parts=BEAM,
    place="""
near = { part = "beam" }
far = { part = "beam", at_mm = [0, 100, 0] }
left = { part = "rail 9x160", on = "near:+z", offset_mm = 20 }
right = { part = "rail 9x160", on = "far:+z", offset_mm = 20 }
""",
    joint="""
left = { recipe = "rail-on-slot", rail = "left", screw = "ISO 4762 M3", align = "parallel" }
right = { recipe = "rail-on-slot", rail = "right", screw = "ISO 4762 M3", align = "parallel" }
""",
    steps="""
left: place near far; insert left right; place left; start left; snug left; tighten left
right: place right; start right; snug right; read right reads=parallel; tighten right
""",
)
"""Two rails, the reference first and final; the two members hang together by nothing."""


def test_a_reference_rail_made_final_first_is_told_to_go_without_the_pair_s_align(tmp_path: Path) -> None:
    told = [one for one in order_of(PAIR, tmp_path) if one.code == "final-before-read"]
    assert [one.joint for one in told] == ["w/left"]
    assert "take align out of joint w/left" in told[0].remedy
    assert "leave align in w/right" in told[0].remedy
    without = replace(PAIR, joint=PAIR.joint.replace(', align = "parallel"', "", 1))
    after = {one.code for one in order_of(without, tmp_path / "without")}
    assert not after & {"final-before-read", "read-before-snug"}


def test_a_reading_made_before_the_last_snugging_does_not_count(tmp_path: Path) -> None:
    bench = TRUE.but(("read: read beam reads=square", "read: read beam reads=square; snug ends"))
    finding = only(bench, tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("final-before-read", "final", "w/ends")


@pytest.mark.parametrize("verb", ["snug", "start"])
def test_loosening_what_was_true_is_said(verb: str, tmp_path: Path) -> None:
    loosened = f"again: {verb} ends; snug ends; read beam reads=square; tighten ends; read"
    finding = only(TRUE.but(("again: read", loosened)), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("loosened-after-truing", "again", "w/ends")
    assert "Read square again before it is tightened" in finding.remedy


def test_a_joint_clamped_later_disturbs_what_was_true(tmp_path: Path) -> None:
    finding = only(TRUE.ordered("beam", "snug", "read", "final", "corner"), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("disturbed-after-truing", "corner", "w/corner")
    assert finding.remedy == "Read square once more after this step."


def test_a_joint_clamped_before_truing_disturbs_nothing(tmp_path: Path) -> None:
    assert is_clean(TRUE.ordered("beam", "snug", "corner", "read", "final"), tmp_path)


# -- two rails and one gantry -------------------------------------------------------------------------

GANTRY = Bench(
    head="""
[axis.x]
travel_mm = 100
direction = "+x"
moves = ["w/block-*", "w/bridge"]
at_mm = 50
[characteristic.runs]
sort = "free-motion"
of = ["w/bridge"]
limit = 5
unit = "newton"
""",
    parts=BEAM
    + """
[part.bed]
kind = "plate"
material = "aluminium"
size_mm = [60, 140, 4]
hole = [{ name = "m", at_mm = [[10, 20], [50, 20], [10, 120], [50, 120]], diameter_mm = 5.5 }]
[part.bridge]
kind = "plate"
material = "aluminium"
size_mm = [20, 130, 5]
hole = [
  { name = "near", at_mm = [[5, 7.5], [15, 7.5], [5, 22.5], [15, 22.5]], diameter_mm = 3.4 },
  { name = "far", at_mm = [[5, 107.5], [15, 107.5], [5, 122.5], [15, 122.5]], diameter_mm = 3.4 },
]
""",
    place="""
near = { part = "beam" }
far = { part = "beam", at_mm = [0, 100, 0] }
bed = { part = "bed", at_mm = [70, 120, -10], along = "+x", up = "-z" }
rail-near = { part = "rail 9x160", on = "near:+z", offset_mm = 20 }
rail-far = { part = "rail 9x160", on = "far:+z", offset_mm = 20 }
block-near = { part = "block 9 standard", on = "rail-near", at_mm = [80, 0, 0] }
block-far = { part = "block 9 standard", on = "rail-far", at_mm = [80, 0, 0] }
bridge = { part = "bridge", on = "block-near", at_mm = [-10, -15, 10] }
""",
    joint="""
bed = { recipe = "plate-on-slots", through = ["bed:m"], screw = "ISO 7380-1 M5", nut = "slide-in" }
rail-near = { recipe = "rail-on-slot", rail = "rail-near", screw = "ISO 4762 M3", nut = "slide-in" }
rail-far = { recipe = "rail-on-slot", rail = "rail-far", screw = "ISO 4762 M3", nut = "slide-in" }
[joint.bridge-near]
recipe = "block-on-rail"
rail = "rail-near"
blocks = ["block-near"]
through = ["bridge:near"]
screw = "ISO 4762 M3x8"
[joint.bridge-far]
recipe = "block-on-rail"
rail = "rail-far"
blocks = ["block-far"]
through = ["bridge:far"]
screw = "ISO 4762 M3x8"
""",
    steps="""
bed: place near far bed; insert bed; start bed; tighten bed
rails: insert rail-near rail-far; place rail-near rail-far; start rail-near rail-far; snug rail-near rail-far
first: tighten rail-near
blocks: place block-near block-far; hold block-near block-far means=tape
bridge: place bridge; start bridge-*; snug bridge-*; tighten bridge-*
run: read bridge reads=runs
second: tighten rail-far
end: note Done.
""",
)


def test_the_second_rail_is_final_after_the_gantry_has_run(tmp_path: Path) -> None:
    assert is_clean(GANTRY, tmp_path)


@pytest.mark.parametrize(
    "order",
    [
        ("bed", "rails", "first", "second", "blocks", "bridge", "run"),
        ("bed", "rails", "first", "blocks", "bridge", "second", "run"),
        ("bed", "rails", "second", "blocks", "bridge", "first", "run"),
    ],
)
def test_both_rails_are_not_final_before_the_gantry_has_run(order: tuple[str, ...], tmp_path: Path) -> None:
    finding = only(GANTRY.ordered(*order), tmp_path)
    last = max(("first", "second"), key=order.index)
    assert (finding.code, finding.step) == ("rails-final-before-run", last)
    assert finding.joint == {"first": "w/rail-near", "second": "w/rail-far"}[last]
    assert "Leave the follower rail snug" in finding.remedy


def test_a_run_before_the_bridge_is_snug_is_no_run(tmp_path: Path) -> None:
    bench = GANTRY.but(("; snug bridge-*; tighten bridge-*", "")).ordered(
        "bed", "rails", "first", "blocks", "bridge", "run", "second", "end"
    )
    bench = bench.but(("note Done.", "tighten bridge-*"))
    finding = only(bench, tmp_path)
    assert (finding.code, finding.step) == ("rails-final-before-run", "second")


# -- orders that a paper states -----------------------------------------------------------------------

ROW = Bench(
    parts=BEAM,
    place='beam = { part = "beam" }\nrail = { part = "rail 9x120", on = "beam:+z", offset_mm = 40 }\n',
    joint='rail = { recipe = "rail-on-slot", rail = "rail", screw = "ISO 4762 M3", nut = "slide-in" }\n',
    steps="rail: place beam; insert rail; place rail; start rail; snug rail; tighten rail@\n",
)
"""A rail with six screws in a row."""


def _row(*numbers: int) -> Bench:
    return ROW.but(("@", " order=" + "+".join(f"rail.{number}" for number in numbers)))


TWIST = """
[characteristic.flat]
sort = "twist"
of = ["w/%s"]
limit = 0.1
unit = "mm"
"""


def test_a_rail_on_the_frame_before_its_rock_test_is_told(tmp_path: Path) -> None:
    bench = replace(ROW.but(("@", "")), head=ROW.head + TWIST % "beam")
    finding = only(bench, tmp_path)
    assert (finding.code, finding.step) == ("rails-before-twist", "rail")


def test_a_rail_on_a_member_on_the_bench_waits_for_no_frame(tmp_path: Path) -> None:
    bench = replace(ROW.but(("@", "")), head=ROW.head + TWIST % "far", parts=ROW.parts + POST)
    bench = replace(bench, place=bench.place + 'far = { part = "post", at_mm = [0, 200, 0], along = "+z" }\n')
    bench = replace(bench, steps=bench.steps + "frame: place far; read far reads=flat\n")
    # the far post hangs free here, which is told, and nothing else is
    assert [one.code for one in order_of(bench, tmp_path)] == ["part-hangs-free"]


@pytest.mark.parametrize(
    "numbers",
    [(3, 4, 2, 5, 1, 6), (4, 3, 5, 2, 6, 1), (1, 2, 3, 4, 5, 6), (6, 5, 4, 3, 2, 1), (2, 3, 1, 4, 5, 6)],
)
def test_a_row_may_be_tightened_outwards_or_from_end_to_end(numbers: tuple[int, ...], tmp_path: Path) -> None:
    assert is_clean(_row(*numbers), tmp_path)


@pytest.mark.parametrize(
    "numbers", [(1, 6, 2, 5, 3, 4), (1, 6, 3, 4, 2, 5), (6, 1, 3, 4, 2, 5), (1, 2, 6, 3, 4, 5)]
)
def test_a_row_is_not_closed_from_both_ends(numbers: tuple[int, ...], tmp_path: Path) -> None:
    finding = only(_row(*numbers), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("tightened-from-the-ends", "rail", "w/rail")
    assert finding.remedy == "Tighten w/rail.3, w/rail.4, w/rail.2, w/rail.5, w/rail.1, w/rail.6."


def test_a_stated_order_leaves_no_screw_out(tmp_path: Path) -> None:
    finding = only(_row(3, 4, 2, 5), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("screws-left-out", "rail", "w/rail")
    assert (finding.value, finding.limit) == (2.0, 0.0)
    assert "w/rail.1, w/rail.6" in finding.says


TWO_RAILS = ROW.but(
    (
        '''rail = { recipe = "rail-on-slot", rail = "rail"''',
        """rail = { recipe = "rail-on-slot", rail = ["rail", "other"]""",
    ),
    (
        """on = "beam:+z", offset_mm = 40 }""",
        """on = "beam:+z", offset_mm = 40 }
other = { part = "rail 9x120", on = "beam:-z", offset_mm = 40 }""",
    ),
    ("place rail;", "place rail other;"),
)
"""One joint holds two rails: screws 1 to 6 in one row, 7 to 12 in another."""


@pytest.mark.parametrize(
    "numbers",
    [
        (3, 4, 2, 5, 1, 6, 9, 10, 8, 11, 7, 12),
        (9, 3, 10, 4, 8, 2, 11, 5, 7, 1, 12, 6),
        (1, 2, 3, 4, 5, 6, 12, 11, 10, 9, 8, 7),
    ],
)
def test_each_of_two_rails_of_one_joint_is_a_row_of_its_own(numbers: tuple[int, ...], tmp_path: Path) -> None:
    order = " order=" + "+".join(f"rail.{number}" for number in numbers)
    assert is_clean(TWO_RAILS.but(("@", order)), tmp_path)


def test_the_middle_of_two_rails_in_a_row_is_an_end_of_each(tmp_path: Path) -> None:
    order = " order=" + "+".join(f"rail.{number}" for number in (6, 7, 5, 8, 4, 9, 3, 10, 2, 11, 1, 12))
    assert is_clean(TWO_RAILS.but(("@", order)), tmp_path)  # each from one end to the other
    inwards = " order=" + "+".join(f"rail.{number}" for number in (6, 7, 1, 12, 5, 8, 2, 11, 4, 9, 3, 10))
    finding = only(TWO_RAILS.but(("@", inwards)), tmp_path)
    assert finding.code == "tightened-from-the-ends"
    assert (
        finding.remedy
        == "Tighten "
        + ", ".join(f"w/rail.{number}" for number in (3, 4, 2, 5, 1, 6, 9, 10, 8, 11, 7, 12))
        + "."
    )


def test_a_stated_order_of_several_joints_is_told_joint_by_joint() -> None:
    order = ("w/left.2", "w/left.1", "w/right.1", "w/left.3", "w/right.2")
    assert order_by_joint(order) == {"w/left": ("2", "1", "3"), "w/right": ("1", "2")}


# -- threadlocker -----------------------------------------------------------------------------------


@pytest.mark.parametrize("action", ["start ends", "snug ends"])
def test_threadlocker_waits_until_the_joint_was_read(action: str, tmp_path: Path) -> None:
    old = {"start ends": "start ends", "snug ends": "snug: snug ends"}[action]
    finding = only(TRUE.but((old, old.replace(action, f"{action} using=threadlocker"))), tmp_path)
    assert (finding.code, finding.joint) == ("locked-before-truing", "w/ends")
    assert finding.step == {"start ends": "beam", "snug ends": "snug"}[action]
    assert finding.remedy == "Apply it after truing, one screw out at a time."


def test_threadlocker_at_the_last_turn_is_clean(tmp_path: Path) -> None:
    assert is_clean(TRUE.but(("tighten ends", "tighten ends using=threadlocker")), tmp_path)


PLASTIC = Bench(
    parts="""
[part.base]
kind = "plate"
material = "aluminium"
size_mm = [60, 60, 12]
hole = [{ name = "t", at_mm = [30, 30], thread = "M4" }]
[part.guard]
kind = "printed"
material = "PETG"
size_mm = [60, 60, 4]
hole = [{ name = "g", at_mm = [30, 30], diameter_mm = 4.5 }]
""",
    place='base = { part = "base" }\nguard = { part = "guard", at_mm = [0, 0, 12] }\n',
    joint="""
[joint.guard]
recipe = "through-bolt"
through = ["guard:g"]
into = "base:t"
screw = "ISO 4762 M4"
""",
    steps="guard: place base guard; start guard; snug guard; tighten guard\n",
)


@pytest.mark.parametrize("material", ["ABS", "ASA", "PC", "PMMA", "acrylic", "PC-ABS"])
@pytest.mark.parametrize("said_by", ["step", "joint"])
def test_threadlocker_cracks_some_plastics(material: str, said_by: str, tmp_path: Path) -> None:
    bench = PLASTIC.but(('"PETG"', f'"{material}"'))
    assert is_clean(bench, tmp_path / "dry")
    if said_by == "step":
        bench = bench.but(("tighten guard", "tighten guard using=threadlocker"))
    else:
        bench = bench.but(('"ISO 4762 M4"', '"ISO 4762 M4"\nlock = ["threadlocker medium"]'))
    finding = only(bench, tmp_path / "wet")
    assert (finding.code, finding.step, finding.joint) == ("threadlocker-cracks-plastic", "guard", "w/guard")
    assert finding.parts == ("w/guard",)


def test_threadlocker_does_not_crack_petg(tmp_path: Path) -> None:
    assert is_clean(PLASTIC.but(("tighten guard", "tighten guard using=threadlocker")), tmp_path)


# -- left snug --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("last", "word"), [("start guard", "only started"), ("snug guard", "snug")])
def test_a_joint_left_snug_or_started_is_found_at_the_end(last: str, word: str, tmp_path: Path) -> None:
    whole = "start guard; snug guard; tighten guard"
    finding = only(PLASTIC.but((whole, whole[: whole.index(last) + len(last)])), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("left-snug", "guard", "w/guard")
    assert f"are left {word} at the end" in finding.says
    assert finding.remedy == "Add the matching tighten."


def test_one_screw_left_snug_is_counted(tmp_path: Path) -> None:
    singles = " ".join(f"rail.{number}" for number in range(1, 6))
    finding = only(ROW.but(("tighten rail@", f"tighten {singles}")), tmp_path)
    assert (finding.code, finding.value, finding.joint) == ("left-snug", 1.0, "w/rail")


def test_a_joint_that_no_step_makes_is_found(tmp_path: Path) -> None:
    # The guard lies apart then, too: a part that nothing joins is a consequence, told with its own step.
    found = order_of(PLASTIC.but(("; start guard; snug guard; tighten guard", "")), tmp_path)
    assert [(one.code, one.step, one.joint) for one in found] == [
        ("joint-never-made", "", "w/guard"),
        ("part-hangs-free", "guard", ""),
    ]
