"""Ways in: of single parts, of units, of carriages onto their rails, of closed belts and of plugs."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from sequence.folders import STOPS, Bench, is_clean, only

# -- parts that nothing joins -----------------------------------------------------------------------

CUP = Bench(
    parts="""
[part.cup]
kind = "printed"
material = "PETG"
solid = [{ box_mm = [60, 40, 30] }, { cylinder_mm = [20, 20], at_mm = [20, 20, 10], cut = true }]
hole = [{ name = "t", at_mm = [50, 20, 30], depth_mm = 12, thread = "M4" }]
[part.spring]
kind = "bought"
solid = [{ cylinder_mm = [19, 20] }]
[part.cap]
kind = "plate"
size_mm = [60, 40, 4]
hole = [{ name = "c", at_mm = [50, 20], diameter_mm = 4.5 }]
""",
    place="""
cup = { part = "cup" }
spring = { part = "spring", at_mm = [20, 20, 10] }
cap = { part = "cap", at_mm = [0, 0, 30] }
""",
    joint="""
[joint.cap]
recipe = "through-bolt"
through = ["cap:c"]
into = "cup:t"
screw = "ISO 4762 M4x12"
""",
    steps="""
cup: place cup
spring: place spring
cap: place cap; start cap; tighten cap
""",
)


def test_a_captured_part_goes_in_before_its_cap(tmp_path: Path) -> None:
    assert is_clean(CUP, tmp_path)


def test_a_captured_part_has_no_way_in_once_its_cap_is_on(tmp_path: Path) -> None:
    finding = only(CUP.ordered("cup", "cap", "spring"), tmp_path)
    assert (finding.code, finding.step) == ("no-way-in", "spring")
    assert finding.parts[0] == "w/spring"
    assert "w/cap" in finding.parts
    assert finding.remedy == "Bring it in before step cap, where w/cap comes there."


# -- parts and units that a joint brings --------------------------------------------------------------

SHELL = Bench(
    parts="""
[part.shell]
kind = "printed"
material = "PETG"
solid = [{ box_mm = [80, 100, 50] }, { box_mm = [60, 90, 30], at_mm = [10, 0, 10], cut = true }]
hole = [
  { name = "roof", at_mm = [40, 50, 50], thickness_mm = 10, diameter_mm = 4.5 },
  { name = "door", at_mm = [5, 0, 25], direction = "-y", depth_mm = 15, thread = "M4" },
]
[part.tray]
kind = "plate"
material = "aluminium"
size_mm = [56, 84, 8]
hole = [{ name = "t", at_mm = [28, 45], thread = "M4" }, { name = "k", at_mm = [28, 10], thread = "M4" }]
[part.knob]
kind = "plate"
size_mm = [20, 16, 6]
hole = [{ name = "k", at_mm = [10, 8], diameter_mm = 4.5 }]
[part.door]
kind = "plate"
size_mm = [80, 50, 4]
hole = [{ name = "d", at_mm = [5, 25], diameter_mm = 4.5 }]
""",
    place="""
shell = { part = "shell" }
tray = { part = "tray", at_mm = [12, 5, 32] }
door = { part = "door", up = "-y", at_mm = [0, 0, 0] }
""",
    joint="""
tray = { recipe = "through-bolt", through = ["shell:roof"], into = "tray:t", screw = "ISO 4762 M4" }
door = { recipe = "through-bolt", through = ["door:d"], into = "shell:door", screw = "ISO 4762 M4x12" }
""",
    steps="""
tray: place shell tray; start tray; tighten tray
door: place door; start door; tighten door
""",
)
WITH_KNOB = Bench(
    parts=SHELL.parts,
    place=SHELL.place + 'knob = { part = "knob", at_mm = [30, 7, 26] }\n',
    joint=SHELL.joint
    + 'knob = { recipe = "through-bolt", through = ["knob:k"], into = "tray:k", screw = "ISO 4762 M4", '
    'from = "back" }\n',
    steps="knob: place tray knob; start knob; tighten knob\n"
    + SHELL.steps.replace("place shell tray", "place shell"),
)


def test_a_part_goes_in_by_the_side_that_is_open(tmp_path: Path) -> None:
    assert is_clean(SHELL, tmp_path)


def test_a_part_has_no_way_in_once_its_door_is_shut(tmp_path: Path) -> None:
    bench = SHELL.ordered("door", "tray").but(
        ("place shell tray", "place tray"), ("place door", "place shell door")
    )
    finding = only(bench, tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("no-way-in", "tray", "w/tray")
    assert finding.parts[0] == "w/tray"
    assert "w/door" in finding.parts
    assert finding.remedy == "Bring it in before step door, where w/door comes there."


def test_the_way_a_paper_names_is_the_one_that_is_asked(tmp_path: Path) -> None:
    finding = only(CUP.but(("place spring", "place spring toward=+x")), tmp_path)
    assert (finding.code, finding.step) == ("no-way-in", "spring")
    assert set(finding.parts) == {"w/spring", "w/cup"}
    assert finding.remedy.startswith("No order helps, for it goes to w/cup")


def test_a_unit_built_apart_goes_in_whole(tmp_path: Path) -> None:
    assert is_clean(WITH_KNOB, tmp_path)


def test_a_unit_has_no_way_in_once_its_door_is_shut(tmp_path: Path) -> None:
    bench = WITH_KNOB.ordered("knob", "door", "tray").but(
        ("; start tray", "; start tray"), ("place door", "place shell door"), ("place shell;", "note x;")
    )
    finding = only(bench, tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("unit-has-no-way-in", "tray", "w/tray")
    assert "w/door" in finding.parts
    assert "before step door, where w/door comes there" in finding.remedy


# -- carriages --------------------------------------------------------------------------------------

STOPPED = replace(
    STOPS,
    steps="""
rail: place beam; insert rail stop-a stop-b; place rail; start rail; tighten rail
one: place stop-a; start stop-a; tighten stop-a
block: place block; hold block means=tape
two: place stop-b; start stop-b; tighten stop-b; release block
""",
)


def test_a_carriage_goes_on_by_the_rail_s_open_end(tmp_path: Path) -> None:
    assert is_clean(STOPPED, tmp_path)


def test_a_carriage_does_not_go_onto_a_rail_between_two_stops(tmp_path: Path) -> None:
    finding = only(STOPPED.ordered("rail", "one", "two", "block").but(("; release block", "")), tmp_path)
    assert (finding.code, finding.step) == ("no-open-rail-end", "block")
    assert finding.parts == ("w/block", "w/rail", "w/stop-a", "w/stop-b")
    assert finding.remedy == "Push the carriage on before step two, where w/stop-b closes end b."


# -- belts ------------------------------------------------------------------------------------------

BELT = Bench(
    parts="""
[part.base]
kind = "printed"
material = "PETG"
solid = [
  { box_mm = [160, 60, 10] },
  { cylinder_mm = [5, 30], at_mm = [40, 30, 10] },
  { cylinder_mm = [5, 30], at_mm = [120, 30, 10] },
]
shaft = [
  { name = "one", at_mm = [40, 30, 10], direction = "+z", diameter_mm = 5, length_mm = 30 },
  { name = "two", at_mm = [120, 30, 10], direction = "+z", diameter_mm = 5, length_mm = 30 },
]
hole = [{ name = "in", at_mm = [80, 55, 10], depth_mm = 9, insert = "heat-set insert M3x5.7" }]
[part.bridge]
kind = "printed"
material = "PETG"
solid = [
  { box_mm = [20, 10, 45], at_mm = [70, 50, 0] },
  { box_mm = [140, 60, 5], at_mm = [10, 0, 45] },
  { box_mm = [20, 10, 10], at_mm = [70, 50, 45], cut = true },
  { cylinder_mm = [7, 40], at_mm = [80, 55, 5], cut = true },
]
hole = [{ name = "b", at_mm = [80, 55, 5], thickness_mm = 5, diameter_mm = 3.4 }]
""",
    place="""
base = { part = "base" }
left = { part = "pulley 2 mm pitch 20 teeth bore 5", at_mm = [40, 30, 14] }
right = { part = "pulley 2 mm pitch 20 teeth bore 5", at_mm = [120, 30, 14] }
bridge = { part = "bridge", at_mm = [0, 0, 10] }
""",
    joint="""
left = { recipe = "shaft-and-coupling", shaft = "base:one", onto = "left" }
right = { recipe = "shaft-and-coupling", shaft = "base:two", onto = "right" }
bridge = { recipe = "insert-and-screw", through = ["bridge:b"], into = "base:in", screw = "ISO 4762 M3" }
[joint.belt]
recipe = "belt-path"
belt = "belt 2 mm pitch 6 mm wide"
over = [{ pulley = "left", turn = "anticlockwise" }, { pulley = "right", turn = "anticlockwise" }]
""",
    steps="""
pulleys: place base; press bridge; place left right; start left right; tighten left right
belt: route belt
bridge: place bridge; start bridge; tighten bridge
""",
)


def test_a_closed_belt_goes_over_open_shafts(tmp_path: Path) -> None:
    assert is_clean(BELT, tmp_path)


def test_a_closed_belt_is_shut_out_once_its_shafts_are_closed_on_both_sides(tmp_path: Path) -> None:
    finding = only(BELT.ordered("pulleys", "bridge", "belt"), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("closed-belt-shut-out", "belt", "w/belt")
    assert set(finding.parts) == {"w/belt/belt.1", "w/bridge"}
    assert finding.remedy == "Lay it over its pulleys before step bridge, where w/bridge comes there."


# -- cables -----------------------------------------------------------------------------------------

CABLE = Bench(
    parts="""
[part.wall]
kind = "plate"
size_mm = [60, 60, 3]
hole = [{ name = "cable", at_mm = [30, 30], diameter_mm = 12 }]
[part.wall.points]
here = [30, 30, 40]
there = [30, 30, -40]
""",
    place='wall = { part = "wall" }\n',
    joint="""
[joint.cable]
recipe = "cable-run"
wire = "wire AWG 22"
cores = 4
from = "wall:here"
to = "wall:there"
through = ["wall:cable"]
ampere = 1
volt = 24
plug_mm = 15
label = "M1"
role = "motor"
""",
    steps="""
wall: place wall
route: route cable
crimp: crimp cable
""",
)


def test_a_cable_is_routed_before_its_plug_is_crimped(tmp_path: Path) -> None:
    assert is_clean(CABLE, tmp_path)


def test_a_crimped_plug_does_not_pass_a_smaller_hole(tmp_path: Path) -> None:
    finding = only(CABLE.ordered("wall", "crimp", "route"), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("plug-larger-than-hole", "route", "w/cable")
    assert finding.parts == ("w/wall",)
    assert (finding.value, finding.limit, finding.unit) == (15.0, 12.0, "mm")
    assert finding.remedy == "Route the cable first, then crimp the housing."


def test_a_crimped_plug_passes_a_larger_hole(tmp_path: Path) -> None:
    bench = CABLE.ordered("wall", "crimp", "route").but(("diameter_mm = 12", "diameter_mm = 16"))
    assert is_clean(bench, tmp_path)


def test_a_belt_or_cable_that_nobody_lays_is_missed(tmp_path: Path) -> None:
    finding = only(CABLE.ordered("wall"), tmp_path / "cable")
    assert (finding.code, finding.step, finding.joint) == ("never-routed", "", "w/cable")
    assert (only(BELT.ordered("pulleys", "bridge"), tmp_path / "belt")).code == "never-routed"
