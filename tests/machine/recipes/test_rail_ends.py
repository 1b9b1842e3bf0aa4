"""Rails whose ends differ: nuts follow them, and a rail laid end for end is told by its first holes."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.catalogue.values import RailSize
from trysquare.ground.errors import ReadingErrors
from trysquare.machine.load import load_machine
from trysquare.machine.recipes.rail_ends import ends_words
from trysquare.machine.values import Machine
from trysquare.publish.member_drawing import rail_drawing
from trysquare.sequence.wrong_ways import wrong_ways
from trysquare.stock.features import features_of

PARTS = """
[part.beam]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 300

[part.plate]
kind = "plate"
material = "steel"
size_mm = [300, 40, 8]
hole = [{ name = "row", at_mm = [[ROW]], thread = "M3" }]

[part.cut]
kind = "guide"
standard = "rail 9x280"
first_hole_mm = [ENDS]
"""
ROW = ", ".join(f"[{15 + 20 * index}, 20]" for index in range(14))
STEPS = """
[[step]]
id = "rail"
title = "Rail"
unit = "frame"
actions = [{ place = ["beam"] }, { place = ["rail"] }]

[[step]]
id = "screws"
title = "Screws"
unit = "frame"
actions = [{ insert = ["screws"] }, { start = ["screws"] }, { tighten = ["screws"] }]
"""


def machine(folder: Path, place: str, joint: str, ends: str = "5, 15", steps: str = "") -> Machine:
    (folder / "units").mkdir()
    (folder / "machine.toml").write_text('format = 1\nname = "test"\n')
    (folder / "parts.toml").write_text(PARTS.replace("[ROW]", ROW).replace("ENDS", ends))
    bed = '{ part = "plate" }' if "plate" in place else '{ part = "beam" }'
    name = "plate" if "plate" in place else "beam"
    unit = f"[place]\n{name} = {bed}\nrail = {place}\n[joint]\nscrews = {joint}\n"
    (folder / "units" / "frame.toml").write_text(unit)
    if steps:
        (folder / "steps.toml").write_text(steps)
    return load_machine(folder)


def on_slot(part: str = "cut", turn: int = 0) -> str:
    return f'{{ part = "{part}", on = "beam:+z", offset_mm = 10, turn_deg = {turn} }}'


def slot_screws(more: str = "") -> str:
    return f'{{ recipe = "rail-on-slot", rail = "rail", screw = "ISO 4762 M3", nut = "roll-in"{more} }}'


def nuts_mm(found: Machine) -> list[float]:
    """Where the nuts lie along the beam, from its end a."""
    return sorted(round(one.head_mm[0], 3) for one in found.joint["frame/screws"].fastenings)


def test_nuts_lie_under_the_holes_of_a_rail_with_unequal_ends(tmp_path: Path) -> None:
    found = machine(tmp_path, on_slot(), slot_screws())
    assert nuts_mm(found) == [15 + 20 * index for index in range(14)]


def test_turned_end_for_end_they_lie_half_a_pitch_on(tmp_path: Path) -> None:
    found = machine(tmp_path, on_slot(turn=180), slot_screws())
    assert nuts_mm(found) == [25 + 20 * index for index in range(14)]


def test_a_designation_says_the_ends_as_well_as_the_key(tmp_path: Path) -> None:
    found = machine(tmp_path, on_slot("rail 9x280 ends 5/15"), slot_screws())
    assert nuts_mm(found)[0] == 15
    assert found.part["frame/rail"].type.standard == found.types["cut"].standard


def test_nuts_laid_as_the_paper_says_under_a_rail_the_right_way_round_are_no_finding(tmp_path: Path) -> None:
    assert not machine(tmp_path, on_slot(), slot_screws(", first_nut_mm = 15")).findings


def test_a_rail_turned_over_nuts_laid_for_it_is_told_with_the_way_it_would_fit(tmp_path: Path) -> None:
    (finding,) = machine(tmp_path, on_slot(turn=180), slot_screws(", first_nut_mm = 15")).findings
    assert finding.code == "rail-turned"
    assert finding.value == pytest.approx(10.0)
    assert finding.unit == "mm"
    assert "turned end for end they would meet" in finding.says
    assert "the end with the first hole 5 mm from the end goes to the left" in finding.remedy
    assert "the one with 15 mm to the right" in finding.remedy


@pytest.mark.parametrize(("ends", "first"), [("10, 10", 20), ("10, 30", 20)])
def test_a_turned_rail_whose_ends_are_equal_or_whole_pitches_apart_is_no_finding(
    tmp_path: Path, ends: str, first: int
) -> None:
    # `common practice, no source`: with equal phase a rail turned end for end is harmless.
    found = machine(tmp_path, on_slot(turn=180), slot_screws(f", first_nut_mm = {first}"), ends)
    assert not [one for one in found.findings if one.code in ("rail-turned", "nuts-off-rail")]


def test_nuts_that_no_way_round_meets_are_told_with_where_to_lay_them(tmp_path: Path) -> None:
    (finding,) = machine(tmp_path, on_slot(), slot_screws(", first_nut_mm = 20")).findings
    assert finding.code == "nuts-off-rail"
    assert finding.remedy == "Lay the nuts from 15 mm, or correct the rail's offset."


def test_a_rail_turned_over_tapped_holes_is_one_finding_not_one_a_hole(tmp_path: Path) -> None:
    joint = '{ recipe = "through-bolt", through = "rail:rail", into = "plate:row", screw = "ISO 4762 M3" }'
    right = '{ part = "cut", on = "plate", at_mm = [10, 20, 8] }'
    turned = '{ part = "cut", on = "plate", at_mm = [290, 20, 8], along = "-x" }'
    for folder in ("right", "turned"):
        (tmp_path / folder).mkdir()
    assert not machine(tmp_path / "right", right, joint).findings
    (finding,) = machine(tmp_path / "turned", turned, joint).findings
    assert (finding.code, finding.parts) == ("rail-turned", ("frame/rail", "frame/plate"))
    assert "5 mm from the end goes to the left" in finding.remedy


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ("5, 12", "280 - 5 - 12 = 263 mm is not"),
        ("1, 19", "at least 1.75 mm"),
        ("5", "two distances"),
    ],
)
def test_ends_that_no_rail_has_are_told_with_file_line_and_what_to_do(
    tmp_path: Path, ends: str, words: str
) -> None:
    with pytest.raises(ReadingErrors) as caught:
        machine(tmp_path, on_slot(), slot_screws(), ends)
    first = caught.value.problems[0]
    assert (first.where.file, first.where.key) == ("parts.toml", "part.cut.first_hole_mm")
    assert first.where.line == 16
    assert words in first.expected
    assert first.remedy.startswith(("Measure", "Write"))


def test_a_designation_with_wrong_ends_says_which_end_would_be_right(tmp_path: Path) -> None:
    with pytest.raises(ReadingErrors) as caught:
        machine(tmp_path, on_slot("rail 9x280 ends 5/12"), slot_screws())
    (problem,) = caught.value.problems
    assert problem.where.file == "units/frame.toml"
    assert "with 5 mm at end a, end b has 15 mm" in problem.remedy


def test_ends_beside_another_part_than_a_rail_are_told(tmp_path: Path) -> None:
    text = PARTS.replace('standard = "rail 9x280"', 'standard = "block 9 long"')
    (tmp_path / "units").mkdir()
    (tmp_path / "machine.toml").write_text('format = 1\nname = "test"\n')
    (tmp_path / "parts.toml").write_text(text.replace("[ROW]", ROW).replace("ENDS", "5, 15"))
    with pytest.raises(ReadingErrors, match="only beside a rail"):
        load_machine(tmp_path)


def test_words_drawing_and_sorting_key_tell_the_ends_apart(tmp_path: Path) -> None:
    found = machine(tmp_path, on_slot(), slot_screws())
    rail = found.part["frame/rail"]
    size = rail.type.standard
    assert isinstance(size, RailSize)
    assert ends_words(rail, size) == (
        "the end with the first hole 5 mm from the end goes to the left, the one with 15 mm to the right"
    )
    drawn = rail_drawing(size, 60, 2.6)
    assert drawn.says == "Rail from above, 14 holes, first hole 5 mm from one end, 15 mm from the other."
    hole = features_of(rail.type).sizes["hole_1"]
    assert hole is not None
    assert hole.value == 5  # an equal-ended rail of this length shows 10
    assert rail.type.aliases == ("rail 9x280 ends 5/15",)


def test_a_rail_put_in_end_for_end_is_told_by_measuring_to_its_first_hole(tmp_path: Path) -> None:
    ways = wrong_ways(machine(tmp_path, on_slot(), slot_screws(), steps=STEPS))
    (way,) = [one for one in ways if (one.part, one.way) == ("frame/rail", "turned half round")]
    assert (way.noticed, way.steps_to_undo) == ("screws", 1)
    assert way.tells == "Measure from the left end to the first hole: 5 mm; the wrong way round 15 mm."
