"""Each wrong value is refused with its file, line, key, what was read, what was expected and what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from machine.folders import GOOD, good, line_of, problem_of, problems_of, read_well, spoiled

PARTS = "parts.toml"
FRAME = "units/frame.toml"
STEPS = "steps.toml"


def test_the_good_folder_is_read_without_a_finding(tmp_path: Path) -> None:
    machine = read_well(good(tmp_path))
    assert machine.findings == ()
    assert len(machine.joints) == 4


def test_an_unknown_key_is_refused_with_the_nearest_known_one(tmp_path: Path) -> None:
    problem = problem_of(spoiled(tmp_path, PARTS, 'tapped = ["a", "b"]', 'taped = ["a", "b"]'))
    assert (problem.where.file, problem.where.line) == (PARTS, line_of(PARTS, "tapped"))
    assert problem.where.key == "part.beam.taped"
    assert problem.read == "taped"
    assert problem.remedy == "Did you mean 'tapped'?"


def test_a_length_with_its_unit_in_the_text_is_refused(tmp_path: Path) -> None:
    problem = problem_of(spoiled(tmp_path, PARTS, "length_mm = 300", 'length_mm = "30 cm"'))
    assert (problem.where.file, problem.where.line) == (PARTS, line_of(PARTS, "length_mm = 300"))
    assert problem.where.key == "part.beam.length_mm"
    assert problem.read == "30 cm"
    assert problem.expected == "a number above 0, from 0.0001 to 100000"
    assert problem.remedy.startswith("Write a bare number; the key's name says the unit.")


@pytest.mark.parametrize(
    "value",
    [
        "nan",
        "inf",
        "-inf",
        "0",
        "0.0",
        "-300",
        "1e-9",
        "100001",
        "1e300",
        "true",
        "[300]",
        "9223372036854775807",
    ],
)
def test_a_length_that_no_part_can_have_is_refused(tmp_path: Path, value: str) -> None:
    problem = problem_of(spoiled(tmp_path, PARTS, "length_mm = 300", f"length_mm = {value}"))
    assert problem.where.line == line_of(PARTS, "length_mm = 300")
    assert problem.expected == "a number above 0, from 0.0001 to 100000"


@pytest.mark.parametrize("value", ["99999999999999999999999", "0x" + "f" * 5000, "1" * 4200, "1" * 5000])
def test_a_number_beyond_any_computer_is_refused_with_its_line(tmp_path: Path, value: str) -> None:
    problem = problem_of(spoiled(tmp_path, PARTS, "length_mm = 300", f"length_mm = {value}"))
    assert problem.where.line == line_of(PARTS, "length_mm = 300")
    assert "a number of" in str(problem.read)


@pytest.mark.parametrize(
    "value", ["[nan, 0, 0]", "[1, 2]", '"0 0 0"', "[1, 2, inf]", "[[1, 2, 3]]", "[1, 2, 1e7]"]
)
def test_a_point_that_is_no_point_is_refused(tmp_path: Path, value: str) -> None:
    problem = problem_of(
        spoiled(
            tmp_path,
            FRAME,
            'left = { part = "post", at_mm = [10, 10, 0]',
            f'left = {{ part = "post", at_mm = {value}',
        )
    )
    assert problem.where.key == "unit.frame.place.left.at_mm"
    assert problem.expected == "three numbers, x y z"


def test_a_direction_needs_a_length_and_a_known_name(tmp_path: Path) -> None:
    for value in ("[0, 0, 0]", '"up"', "[1, 0]"):
        problem = problem_of(
            good(
                tmp_path,
                {FRAME: GOOD[FRAME].replace('0], along = "+z" }\nright', f"0], along = {value} }}\nright")},
            )
        )
        assert problem.where.key == "unit.frame.place.left.along"
        assert problem.expected.startswith("a direction: +x")


def test_a_direction_may_have_any_length(tmp_path: Path) -> None:
    machine = read_well(
        good(
            tmp_path, {FRAME: GOOD[FRAME].replace('along = "+z"', "along = [0, 0, 25.4], up = [1e-4, 0, 0]")}
        )
    )
    assert machine.findings == ()
    assert len(machine.fastening) == 14


def test_along_and_up_must_not_be_parallel(tmp_path: Path) -> None:
    problem = problem_of(
        spoiled(tmp_path, FRAME, "at_mm = [20, 10, 10] }", 'at_mm = [20, 10, 10], along = "+y", up = "-y" }')
    )
    assert problem.where.key == "unit.frame.place.beam"
    assert problem.read == "along +y and up -y"


def test_texts_are_neither_empty_nor_endless_nor_full_of_control_characters(tmp_path: Path) -> None:
    for value in ('""', '"  "', '"a\\u0000b"', f'"{"x" * 5000}"', "3"):
        problem = problem_of(spoiled(tmp_path, FRAME, 'title = "Frame"', f"title = {value}"))
        assert problem.where.key == "unit.frame.title"
        assert problem.expected == "a text in quotes"


def test_a_choice_is_refused_with_the_nearest_one(tmp_path: Path) -> None:
    problem = problem_of(spoiled(tmp_path, PARTS, 'kind = "plate"', 'kind = "plates"'))
    assert problem.remedy == "Did you mean 'plate'?"
    assert problem.expected.startswith("one of member, plate")


def test_a_missing_key_is_named_with_its_meaning(tmp_path: Path) -> None:
    problem = problem_of(
        spoiled(
            tmp_path,
            FRAME,
            'recipe = "blind-joint"\nends = ["beam:a", "beam:b"]\n',
            'recipe = "blind-joint"\n',
        )
    )
    assert problem.where.line == line_of(FRAME, "[joint.ends]")
    assert problem.read == "nothing"
    assert problem.expected == "the key 'ends': members' tapped ends: beam:a"


def test_a_required_list_must_not_be_empty(tmp_path: Path) -> None:
    problem = problem_of(spoiled(tmp_path, FRAME, 'ends = ["beam:a", "beam:b"]', "ends = []"))
    assert problem.where.key == "unit.frame.joint.ends.ends"
    assert problem.expected == "at least one: members' tapped ends: beam:a"


@pytest.mark.parametrize(
    ("old", "new", "key", "expected"),
    [
        ("at_mm = 10, diameter", "at_mm = 0, diameter", "at_mm", "a distance inside the member's 200 mm"),
        ("at_mm = 10, diameter", "at_mm = 200, diameter", "at_mm", "a distance inside the member's 200 mm"),
        ("at_mm = 10, diameter", "at_mm = [10, 350], diameter", "at_mm", "a distance inside the member's 200 mm"),
        ('face = "-z", ', "", "", "face, from, and at_mm as distances from that end"),
        ("at_mm = 10, ", 'at_mm = "10", ', "", "face, from, and at_mm as distances from that end"),
        ("at_mm = 10, ", "at_mm = 10, across_mm = 11, ", "across_mm", "less than half the face's 20 mm to either side"),
        ("at_mm = 10, ", 'at_mm = 10, direction = "+z", ', "direction", "face, as this is a member"),
        ("at_mm = 10, ", "at_mm = 10, depth_mm = 21, ", "depth_mm", "at most the 20 mm of material there"),
    ],
)  # fmt: skip
def test_a_hole_outside_its_member_is_refused(
    tmp_path: Path, old: str, new: str, key: str, expected: str
) -> None:
    problem = problem_of(spoiled(tmp_path, PARTS, old, new))
    assert problem.where.line == line_of(PARTS, 'hole = [{ name = "key"')
    assert problem.where.key == ("part.post.hole.1." + key).rstrip(".")
    assert problem.expected == expected


@pytest.mark.parametrize(
    ("old", "new", "key", "expected"),
    [
        ("[[10, 15], [30, 15]]", "[[10, 15], [41, 15]]", "at_mm", "a point of the plate"),
        ("[[10, 15], [30, 15]]", "[10, 15, 4]", "at_mm", "a point of the plate"),
        ("[[10, 15], [30, 15]]", "[10]", "at_mm", "points of two or three numbers"),
        ("[[10, 15], [30, 15]]", "[[10, nan]]", "at_mm", "points of two or three numbers"),
        (
            "at_mm = [[10, 15], [30, 15]], ", "", "",
            "the key 'at_mm': where: [x, y], [x, y, z] or a list of such; on a member distances from an end",
        ),
        ("diameter_mm = 5.5", 'diameter_mm = 5.5, thread = "M5"', "", "one of diameter_mm, thread, insert"),
        (", diameter_mm = 5.5", "", "", "one of diameter_mm, thread, insert"),
        ("diameter_mm = 5.5", 'thread = "M5.5"', "thread", "a metric thread such as M5"),
        ("diameter_mm = 5.5", 'insert = "ISO 4032 M3"', "insert", "an insert such as heat-set insert M3x5.7"),
        ("diameter_mm = 5.5", "diameter_mm = 5.5, depth_mm = 4", "depth_mm", "at most the 3 mm of material there"),
        (
            "diameter_mm = 5.5", "diameter_mm = 5.5, counterbore_mm = [10, 3]", "counterbore_mm",
            "a counterbore less deep than the hole's 3 mm",
        ),
        (
            "diameter_mm = 5.5", "diameter_mm = 5.5, counterbore_mm = [5, 1]", "counterbore_mm",
            "its diameter, above the hole's 5.5, and its depth",
        ),
        ("diameter_mm = 5.5", 'diameter_mm = 5.5, from = "a"', "from", "this key only on a member, a part with a profile"),
        (
            "diameter_mm = 5.5", 'diameter_mm = 5.5, direction = "+x"', "at_mm",
            "three numbers, as this is no face of a plate",
        ),
        ('name = "m"', 'name = "m.1"', "name", "a name of letters, digits, - and _"),
    ],
)  # fmt: skip
def test_a_hole_that_a_plate_cannot_have_is_refused(
    tmp_path: Path, old: str, new: str, key: str, expected: str
) -> None:
    text = GOOD[PARTS].replace(old, new)
    problems = problems_of(good(tmp_path, {PARTS: text}))
    assert [problem.where.key for problem in problems] == [("part.plate.hole.1." + key).rstrip(".")]
    assert problems[0].expected == expected


@pytest.mark.parametrize(
    ("rows", "key", "expected"),
    [
        ('size_mm = [4, 4, 4]\nprofile = "profile 20x20 slot 6"\nlength_mm = 9', "", "one way to say the solid"),
        ('profile = "profile 20x20 slot 6"', "", "the cut length"),
        ('profile = "ISO 4762 M3x8"\nlength_mm = 9', "profile", "a profile such as profile 20x20 slot 6"),
        ('standard = "rail 9"', "standard", "a designation of the catalogue"),
        ("size_mm = [4, 4]", "size_mm", "three sizes: x, y, thickness"),
        ("outline_mm = [[0, 0], [9, 0]]\nthickness_mm = 3", "outline_mm", "three corners or more, at most 2000"),
        ("outline_mm = [[0, 0], [9, 0], [9, 9]]", "outline_mm", "thickness_mm beside it"),
        ("outline_mm = [[0, 0], [9, 9], [18, 18]]\nthickness_mm = 3", "outline_mm", "an outline with an area"),
        (
            "outline_mm = [[0, 0], [9, 9], [9, 0], [0, 12]]\nthickness_mm = 3", "outline_mm",
            "an outline that does not meet itself",
        ),
        (
            "outline_mm = [[0, 0], [9, 0], [9, 0], [0, 9]]\nthickness_mm = 3", "outline_mm",
            "an outline that does not meet itself",
        ),
        ("solid = [{ box_mm = [4, 4, 4], cylinder_mm = [4, 4] }]", "solid.1", "either box_mm or cylinder_mm"),
        ("solid = [{ cylinder_mm = [4, 4, 4] }]", "solid.1", "diameter and length"),
        ("solid = [{ box_mm = [4, 4, 4], cut = true }]", "solid", "at least one body that adds material"),
        ("length_mm = 12", "length_mm", "this key only beside profile"),
        ("thickness_mm = 12", "thickness_mm", "this key only beside outline_mm"),
        ("points = { a = [1, 2] }", "points", "a table of named points, each name an id"),
        ("points = { \"a:b\" = [1, 2, 3] }", "points", "a table of named points, each name an id"),
        ('also_called = [""]', "also_called", "a text or a list of texts"),
    ],
)  # fmt: skip
def test_a_part_that_cannot_be_made_is_refused(tmp_path: Path, rows: str, key: str, expected: str) -> None:
    text = GOOD[PARTS] + f'[part.odd]\nkind = "bought"\n{rows}\n'
    problem = problem_of(good(tmp_path, {PARTS: text}))
    assert problem.where.key == ("part.odd." + key).rstrip(".")
    assert problem.expected == expected


def test_hole_groups_and_shafts_of_a_part_have_names_of_their_own(tmp_path: Path) -> None:
    shaft = '{ name = "s", at_mm = [0, 0, 0], direction = "+z", diameter_mm = 5, length_mm = 20 }'
    problem = problem_of(
        good(tmp_path, {PARTS: GOOD[PARTS] + f'[part.motor]\nkind = "bought"\nshaft = [{shaft}, {shaft}]\n'})
    )
    assert problem.where.key == "part.motor.shaft.2.name"
    hole = '{ name = "h", at_mm = [1, 1, 1], diameter_mm = 3, depth_mm = 1 }'
    problem = problem_of(
        good(tmp_path, {PARTS: GOOD[PARTS] + f'[part.motor]\nkind = "bought"\nhole = [{hole}, {hole}]\n'})
    )
    assert problem.expected == "hole groups of different names"


@pytest.mark.parametrize(
    ("old", "new", "key", "read", "remedy"),
    [
        ('through = "plate:m"', 'through = "plate:n"', "through", "plate:n", "Known: m, m.1, m.2."),
        ('through = "plate:m"', 'through = "plats:m"', "through", "plats:m", "Did you mean 'plate'?"),
        ('through = "plate:m"', 'through = "plate"', "through", "plate", "Write, for example, beam:a"),
        ('ends = ["beam:a", "beam:b"]', 'ends = ["beam:a", "beam:c"]', "ends", "beam:c", "Members have the ends a and b."),
        ('rail = "rail"', 'rail = "beam"', "rail", "frame/beam", "Name a part whose type is a rail."),
        ('rail = "rail"', 'rail = "rial*"', "rail", "rial*", "Did you mean 'rail'?"),
        ('screw = "ISO 4762 M3"', 'screw = "a screw"', "screw", "a screw", "Write the standard, the thread"),
        ('screw = "ISO 4762 M3"', 'screw = "ISO 4762 M3,5"', "screw", "ISO 4762 M3,5", "Did you mean M3?"),
        ('nut = "slide-in"', 'nut = "slide-on"', "nut", "slide-on", "Did you mean 'slide-in'?"),
        ('align = "corners-square"', 'align = "corner-square"', "align", "corner-square", "Did you mean 'corners-square'?"),
        ('recipe = "rail-on-slot"', 'recipe = "rails-on-slot"', "recipe", "rails-on-slot", "Did you mean 'rail-on-slot'?"),
    ],
)  # fmt: skip
def test_a_joint_that_names_what_is_not_there_is_refused(
    tmp_path: Path, old: str, new: str, key: str, read: str, remedy: str
) -> None:
    problems = problems_of(spoiled(tmp_path, FRAME, old, new))
    assert {problem.where.key.rpartition(".")[2] for problem in problems} == {key}
    assert {problem.where.line for problem in problems} == {line_of(FRAME, old)}
    assert problems[0].read in (read, read.partition(":")[0])
    assert remedy in problems[0].remedy


@pytest.mark.parametrize(
    ("row", "key", "expected"),
    [
        ('{ part = "plate", on = "beam:+x" }', "on", "a slot of 'beam'"),
        ('{ part = "plate", on = "plate:+z" }', "on", "a member, which has slots"),
        ('{ part = "plate", on = "beem" }', "on", "a placed part"),
        ('{ part = "plate", on = "beam:+z", at_mm = [0, 0, 0] }', "at_mm", "this key not on a member's slot"),
        ('{ part = "plate", on = "beam", offset_mm = 3 }', "offset_mm", "this key only on a member's slot"),
        ('{ part = "plate", turn_deg = 3 }', "turn_deg", "this key only on a member's slot"),
        ('{ part = "plat" }', "part", "a part of parts.toml or a designation of the catalogue"),
    ],
)  # fmt: skip
def test_a_place_that_cannot_be_found_is_refused(tmp_path: Path, row: str, key: str, expected: str) -> None:
    text = GOOD[FRAME].replace("[joint.ends]", f"odd = {row}\n[joint.ends]")
    problem = problem_of(good(tmp_path, {FRAME: text}))
    assert problem.where.key == f"unit.frame.place.odd.{key}"
    assert problem.where.line == line_of(FRAME, "[joint.ends]", {FRAME: text}) - 1
    assert problem.expected == expected


@pytest.mark.parametrize(
    ("old", "new", "key", "expected"),
    [
        ('{ snug = ["ends"] }', '{ snug = ["end"] }', "snug", "a joint"),
        ('{ snug = ["ends"] }', '{ snug = ["beam"] }', "snug", "a joint"),
        ('{ snug = ["ends"] }', '{ snugly = ["ends"] }', "snugly", "a key that is known here"),
        ('{ snug = ["ends"] }', '{ snug = ["ends"], start = ["ends"] }', "", "one verb: place, insert"),
        ('{ snug = ["ends"] }', "{ snug = [] }", "snug", "joints"),
        ('{ snug = ["ends"] }', '{ snug = ["ends"], gap_mm = 1 }', "gap_mm", "this key only with start"),
        ('"ends.2", "ends.1"', '"ends.2", "ends.3"', "order", "a joint"),
        ('reads = ["corners-square"]', 'reads = ["corner-square"]', "reads", "a characteristic of machine.toml"),
        ('{ place = "plate" }', '{ place = ["plate", "x*"] }', "place", "a placed part or a joint"),
    ],
)  # fmt: skip
def test_a_step_that_names_what_is_not_there_is_refused(
    tmp_path: Path, old: str, new: str, key: str, expected: str
) -> None:
    problems = problems_of(spoiled(tmp_path, STEPS, old, new))
    problem = problems[0]
    assert (problem.where.file, problem.where.line) == (STEPS, line_of(STEPS, old))
    assert problem.where.key.rpartition(".")[2] == key or not key
    assert problem.expected.startswith(expected)


def test_a_step_of_an_unknown_unit_is_refused(tmp_path: Path) -> None:
    text = GOOD[STEPS].replace('unit = "frame"', 'unit = "fram"', 1)
    problem = problem_of(good(tmp_path, {STEPS: text}))
    assert problem.where.key == "step.corners.unit"
    assert problem.remedy == "Did you mean 'frame'?"


def test_an_axis_is_drawn_within_its_travel(tmp_path: Path) -> None:
    problem = problem_of(spoiled(tmp_path, "machine.toml", "at_mm = 50", "at_mm = 101"))
    assert problem.where.key == "machine.axis.x.at_mm"
    assert problem.expected == "a place within the travel of 100 mm"


def test_a_machine_of_another_format_is_refused(tmp_path: Path) -> None:
    problem = problem_of(spoiled(tmp_path, "machine.toml", "format = 1", "format = 2"))
    assert (problem.where.line, problem.read, problem.expected) == (1, 2, "format 1")


@pytest.mark.parametrize("odd", ["a b", "a:b", "a/b", "a.b", "é", "", "-a", "x" * 40 + "\u202e"])
def test_an_id_is_made_of_letters_digits_and_dashes(tmp_path: Path, odd: str) -> None:
    texts = {
        "parts.toml": GOOD[PARTS] + f'[part."{odd}"]\nkind = "bought"\n',
        "units/q.toml": f'[place]\n"{odd}" = {{ part = "plate" }}\n[joint."{odd}"]\nrecipe = "bracket"\n',
        "machine.toml": GOOD["machine.toml"] + f'[instrument."{odd}"]\nsort = "tape"\nhalf_width_mm = 1\n',
        "steps.toml": GOOD[STEPS]
        + f'[[step]]\nid = "{odd}"\ntitle = "T"\nunit = "frame"\nactions = [{{ note = "x" }}]\n',
        "papers/q.toml": 'title = "Q"\nkind = "upgrade"\nedition = "1"\n'
        f'[[add]]\nline = "part.x{odd} "\nwith = {{ kind = "bought" }}\n',
    }
    problems = problems_of(good(tmp_path, texts))
    files = [problem.where.file for problem in problems]
    assert files == [
        "machine.toml",
        "papers/q.toml",
        "parts.toml",
        "steps.toml",
        "units/q.toml",
        "units/q.toml",
    ]
    assert {problem.expected for problem in problems if problem.where.file != "papers/q.toml"} == {
        "an id of letters, digits, - and _"
    }


def test_twelve_faults_in_five_files_are_twelve_problems_in_file_order(tmp_path: Path) -> None:
    folder = good(
        tmp_path,
        {
            "list.csv": "part,pieces\nplate,-1\nno such part,2\n",
            "machine.toml": GOOD["machine.toml"]
            .replace("half_width_mm = 0.02", "half_width_mm = nan")
            .replace('"frame/beam"]', '"frame/beem"]'),
            "parts.toml": GOOD[PARTS]
            .replace("length_mm = 200", 'length_mm = "200 mm"')
            .replace("size_mm = [40, 30, 3]", "size_mm = [40, 30]")
            .replace("taped", "tapped"),
            "steps.toml": GOOD[STEPS]
            .replace("gap_mm = 2", "gap_mm = -2")
            .replace('title = "Plate"', 'titel = "Plate"')
            .replace('"ends.1"', '"ends.9"'),
            "units/frame.toml": GOOD[FRAME]
            .replace('on = "beam:+z"', 'on = "beam:+q"')
            .replace('recipe = "blind-joint"', 'recipe = "blind"')
            .replace('screw = "ISO 4762 M3"', "screw = 3"),
        },
    )
    problems = problems_of(folder)
    assert [(problem.where.file, problem.where.key) for problem in problems] == [
        ("list.csv", "pieces"),
        ("list.csv", "pieces"),
        ("machine.toml", "machine.instrument.square.half_width_mm"),
        ("machine.toml", "machine.characteristic.corners-square.of"),
        ("parts.toml", "part.post.length_mm"),
        ("parts.toml", "part.plate.size_mm"),
        ("steps.toml", "step.corners.actions.2.gap_mm"),
        ("steps.toml", "step.plate"),
        ("steps.toml", "step.plate.titel"),
        ("units/frame.toml", "unit.frame.place.rail.on"),
        ("units/frame.toml", "unit.frame.joint.ends.recipe"),
        ("units/frame.toml", "unit.frame.joint.rail-screws.screw"),
    ]
    assert len(problems) == 12


def test_a_part_of_another_unit_is_suggested_however_its_name_was_typed(tmp_path: Path) -> None:
    for word in ("Frame/Beam:+z", "fraem/beam:+z", "FRAME/beam:+z"):
        files = {
            "units/top.toml": f'[unit]\ntitle = "Top"\n[place]\nlid = {{ part = "plate", on = "{word}" }}\n'
        }
        problem = problem_of(good(tmp_path / word.partition(":")[0].replace("/", "-"), files))
        assert problem.remedy == "Did you mean 'frame/beam'?", word


@pytest.mark.parametrize(
    ("right", "wrong", "means"),
    [("ISO 7380-1 M5", "ISO 7380-1 M5,5", "'M5'"), ("ISO 4762 M3", "ISO 4762 M3,5", "M3")],
)
def test_a_thread_with_a_decimal_comma_is_told_with_its_file_and_line(
    tmp_path: Path, right: str, wrong: str, means: str
) -> None:
    problem = problem_of(spoiled(tmp_path, FRAME, f'screw = "{right}"', f'screw = "{wrong}"'))
    assert (problem.where.file, problem.where.line) == (FRAME, line_of(FRAME, f'screw = "{right}"'))
    assert problem.read == wrong
    assert f"Did you mean {means}" in problem.remedy


def test_an_instrument_s_sort_that_is_misspelt_is_asked_about_and_another_word_is_the_builder_s_own(
    tmp_path: Path,
) -> None:
    def folder(sort: str, name: str) -> Path:
        text = GOOD["machine.toml"] + f'\n[instrument.gauge]\nsort = "{sort}"\nhalf_width_mm = 0.01\n'
        return good(tmp_path / name, {"machine.toml": text})

    problem = problem_of(folder("dail", "one"))
    assert "Did you mean 'dial'?" in problem.remedy
    assert problem.where.line > 0
    assert "laser" in {one.sort for one in read_well(folder("laser", "two")).instruments}
