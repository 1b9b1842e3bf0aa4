"""Papers: who takes precedence, what each may change, when two contradict, what a ruling settles."""

from __future__ import annotations

from pathlib import Path

import pytest

from machine.folders import GOOD, good, problem_of, problems_of, read_well
from trysquare.machine.says_so import line_of, says_so, where_of
from trysquare.machine.values import Machine

SCREW = "unit.frame.joint.plate-screws"
BARE = {"papers/erratum.toml": 'title = "E"\nkind = "erratum"\nedition = "2"\nover = ["manual"]\n'}
"""The good folder with an erratum that says nothing: its joint keeps M5x8."""


ANEW = """\
[[add]]
line = "part.plate"
[add.with]
kind = "plate"
size_mm = [40, 30, 4]
hole = [{ name = "m", at_mm = [[10, 15], [30, 15]], diameter_mm = 5.5 }]

[[remove]]
line = "part.plate"
"""
"""Puts a whole line anew; the order of the rows does not matter."""


def paper(body: str, kind: str = "upgrade", over: str = "") -> str:
    head = f'title = "A paper"\nkind = "{kind}"\nedition = "1"\n'
    return head + (f"over = [{over}]\n" if over else "") + body


def screw(word: str) -> str:
    return f'[[replace]]\nline = "{SCREW}"\nwith = {{ screw = "ISO 7380-1 {word}" }}\n'


def ruling(line: str, take: str) -> str:
    return f'[[ruling]]\nline = "{line}"\ntake = "{take}"\nreason = "Measured."\n'


def used(machine: Machine) -> str:
    (length,) = {one.screw_type.length_mm for one in machine.joint["frame/plate-screws"].fastenings}
    return f"M5x{length:g}"


def with_papers(folder: Path, papers: dict[str, str], rulings: str = "") -> Path:
    files = {f"papers/{name}.toml": text for name, text in papers.items()}
    return good(folder, {**BARE, **files, "rulings.toml": rulings})


# precedence


def test_an_erratum_over_the_manual_stands_and_the_manual_is_still_heard(tmp_path: Path) -> None:
    machine = read_well(good(tmp_path))
    assert used(machine) == "M5x10"
    said = [(saying.paper, saying.does, saying.read, saying.stands) for saying in machine.sayings]
    assert said == [
        ("manual", "says", "'ISO 7380-1 M5x8'", False),
        ("erratum", "replaces", "'ISO 7380-1 M5x10'", True),
    ]
    erratum = machine.sayings[1]
    assert (erratum.line, erratum.reason, erratum.page) == (f"{SCREW}.screw", "M5x8 does not reach.", "3")
    assert str(erratum.where) == f"papers/erratum.toml:8, {SCREW}.screw"


@pytest.mark.parametrize("kind", ["upgrade", "modification", "erratum"])
def test_every_paper_but_a_base_takes_precedence_of_base_papers_without_saying_so(
    tmp_path: Path, kind: str
) -> None:
    machine = read_well(with_papers(tmp_path, {"a": paper(screw("M5x12"), kind)}))
    assert (used(machine), machine.findings) == ("M5x12", ())


def test_a_paper_over_another_takes_precedence_whatever_their_names(tmp_path: Path) -> None:
    for number, (low, high) in enumerate((("a", "z"), ("z", "a"))):
        papers = {low: paper(screw("M5x12")), high: paper(screw("M5x16"), over=f'"{low}"')}
        machine = read_well(with_papers(tmp_path / str(number), papers))
        assert (used(machine), machine.findings) == ("M5x16", ())


def test_precedence_passes_on_from_paper_to_paper(tmp_path: Path) -> None:
    papers = {"c": paper(screw("M5x12")), "b": paper("", over='"c"'), "a": paper(screw("M5x16"), over='"b"')}
    machine = read_well(with_papers(tmp_path, papers))
    assert (used(machine), machine.findings) == ("M5x16", ())


def test_a_base_paper_does_not_change_what_an_upgrade_says(tmp_path: Path) -> None:
    frame = GOOD["units/frame.toml"].replace('paper = "manual"', 'paper = "kit"')
    folder = good(
        tmp_path,
        {
            "units/frame.toml": frame,
            "papers/kit.toml": paper(""),
            "papers/erratum.toml": paper(screw("M5x12"), "base"),
        },
    )
    machine = read_well(folder)
    assert (used(machine), machine.findings) == ("M5x8", ())
    assert [(saying.paper, saying.stands) for saying in machine.sayings] == [
        ("kit", True),
        ("erratum", False),
    ]


def test_a_paper_over_itself_and_a_circle_of_papers_are_refused_once(tmp_path: Path) -> None:
    problem = problem_of(with_papers(tmp_path / "1", {"a": paper("", over='"a"')}))
    assert str(problem.where) == "papers/a.toml:4, over"
    assert problem.expected == "papers that are not themselves over this one"
    circle = {"a": paper("", over='"b"'), "b": paper("", over='"c"'), "c": paper("", over='"a"')}
    assert problem_of(with_papers(tmp_path / "2", circle)).where.file == "papers/a.toml"


def test_a_base_paper_over_an_upgrade_is_refused(tmp_path: Path) -> None:
    papers = {"a": paper(""), "b": paper("", "base", over='"a"')}
    assert (
        problem_of(with_papers(tmp_path, papers)).expected == "base papers only, as this paper's kind is base"
    )


def test_an_unknown_paper_is_refused_wherever_it_is_named(tmp_path: Path) -> None:
    folder = good(
        tmp_path,
        {
            "parts.toml": GOOD["parts.toml"].replace('"manual"', '"manuel"'),
            "papers/q.toml": paper("", over='"manuall"'),
            "rulings.toml": ruling(f"{SCREW}.screw", "eratum"),
        },
    )
    problems = problems_of(folder)
    assert [str(problem.where) for problem in problems] == [
        "papers/q.toml:4, over", "parts.toml:1, paper", "rulings.toml:1, ruling.1",
    ]  # fmt: skip
    assert [problem.remedy for problem in problems] == [
        "Did you mean 'manual'?", "Did you mean 'manual'?", "Did you mean 'erratum'?",
    ]  # fmt: skip


# contradictions


def test_two_papers_without_precedence_contradict_each_other(tmp_path: Path) -> None:
    machine = read_well(with_papers(tmp_path, {"a": paper(screw("M5x12")), "b": paper(screw("M5x16"))}))
    (finding,) = machine.findings
    assert finding.code == "papers-contradict"
    assert finding.says == (
        f"{SCREW}.screw: “A paper” (edition 1) says 'ISO 7380-1 M5x12', "
        "“A paper” (edition 1) says 'ISO 7380-1 M5x16'."
    )
    assert str(finding.where) == f"papers/b.toml:6, {SCREW}.screw"
    assert used(machine) == "M5x16"


def test_papers_that_say_the_same_do_not_contradict(tmp_path: Path) -> None:
    papers = {"a": paper(screw("M5x12")), "b": paper(screw("M5x12"))}
    machine = read_well(with_papers(tmp_path, papers))
    assert machine.findings == ()
    assert [saying.stands for saying in machine.sayings] == [False, True, True]


def test_papers_on_different_keys_of_a_line_do_not_contradict(tmp_path: Path) -> None:
    note = f'[[replace]]\nline = "{SCREW}"\nwith = {{ note = "Oil it." }}\n'
    machine = read_well(with_papers(tmp_path, {"a": paper(screw("M5x12")), "b": paper(note)}))
    assert machine.findings == ()
    assert (used(machine), machine.joint["frame/plate-screws"].note) == ("M5x12", "Oil it.")


def test_an_erratum_brought_back_by_an_upgrade_that_is_not_over_it_is_found(tmp_path: Path) -> None:
    folder = good(tmp_path, {"papers/upgrade.toml": paper(screw("M5x8"), over='"manual"')})
    (finding,) = read_well(folder).findings
    assert finding.code == "papers-contradict"
    over_both = good(tmp_path / "2", {"papers/upgrade.toml": paper(screw("M5x8"), over='"erratum"')})
    machine = read_well(over_both)
    assert (used(machine), machine.findings) == ("M5x8", ())


def test_a_removal_contradicts_a_change_of_the_same_line(tmp_path: Path) -> None:
    remove = f'[[remove]]\nline = "{SCREW}"\n[[void]]\nstep = "plate"\n'
    machine = read_well(with_papers(tmp_path, {"a": paper(remove), "b": paper(screw("M5x12"))}))
    assert [finding.code for finding in machine.findings] == ["papers-contradict"]
    assert machine.findings[0].says.startswith(f"{SCREW}: “A paper” (edition 1) removes it")


def test_what_two_papers_both_take_out_is_no_contradiction(tmp_path: Path) -> None:
    remove = f'[[remove]]\nline = "{SCREW}"\n[[void]]\nstep = "plate"\n'
    machine = read_well(with_papers(tmp_path, {"a": paper(remove), "b": paper(remove)}))
    assert machine.findings == ()
    assert "frame/plate-screws" not in machine.joint


def test_the_removal_of_a_unit_contradicts_a_change_in_it(tmp_path: Path) -> None:
    remove = '[[remove]]\nline = "unit.carriage"\n'
    remove += '[[replace]]\nline = "machine.axis.x"\nwith = { moves = ["frame/plate"] }\n'
    remove += '[[replace]]\nline = "step.rail"\nwith = { actions = [{ place = "rail" }] }\n'
    change = '[[replace]]\nline = "unit.carriage.place.block"\nwith = { at_mm = [60, 0, 0] }\n'
    one = with_papers(tmp_path / "1", {"a": paper(remove), "b": paper(change)})
    assert [finding.code for finding in read_well(one).findings] == ["papers-contradict"]
    ruled = with_papers(
        tmp_path / "2", {"a": paper(remove), "b": paper(change)}, ruling("unit.carriage", "a")
    )
    machine = read_well(ruled)
    assert (machine.findings, machine.units) == ((), ("frame",))
    assert [saying.stands for saying in machine.sayings if saying.paper == "b"] == [False]


def test_a_unit_that_has_gone_for_a_paper_cannot_be_changed_by_it(tmp_path: Path) -> None:
    remove = '[[remove]]\nline = "unit.carriage"\n'
    change = '[[replace]]\nline = "unit.carriage.place.block"\nwith = { at_mm = [60, 0, 0] }\n'
    problems = problems_of(with_papers(tmp_path, {"a": paper(remove), "b": paper(change, over='"a"')}))
    (problem,) = [one for one in problems if one.where.file == "papers/b.toml"]
    assert problem.remedy == "Paper 'a' removes it; this paper comes after it."


def test_two_papers_adding_the_same_line_contradict_unless_they_add_the_same(tmp_path: Path) -> None:
    def add(length: int) -> str:
        return f'[[add]]\nline = "part.spacer"\nwith = {{ kind = "plate", size_mm = [9, 9, {length}] }}\n'

    machine = read_well(with_papers(tmp_path / "1", {"a": paper(add(3)), "b": paper(add(4))}))
    assert [finding.code for finding in machine.findings] == ["papers-contradict"]
    assert machine.types["spacer"].thickness_mm == 4
    same = with_papers(tmp_path / "2", {"a": paper(add(3)), "b": paper(add(3))})
    assert read_well(same).findings == ()
    ruled = with_papers(tmp_path / "3", {"a": paper(add(3)), "b": paper(add(4))}, ruling("part.spacer", "a"))
    machine = read_well(ruled)
    assert (machine.findings, machine.types["spacer"].thickness_mm) == ((), 3)


# rulings


@pytest.mark.parametrize("line", [SCREW, f"{SCREW}.screw"])
@pytest.mark.parametrize(("take", "word"), [("a", "M5x12"), ("b", "M5x16"), ("manual", "M5x8")])
def test_a_ruling_settles_a_contradiction_and_is_kept(
    tmp_path: Path, line: str, take: str, word: str
) -> None:
    papers = {"a": paper(screw("M5x12")), "b": paper(screw("M5x16"))}
    machine = read_well(with_papers(tmp_path, papers, ruling(line, take)))
    assert (used(machine), machine.findings) == (word, ())
    assert [(one.line, one.take, one.reason) for one in machine.rulings] == [(line, take, "Measured.")]
    assert {saying.paper for saying in machine.sayings if saying.stands} == {take}
    assert machine.joint["frame/plate-screws"].brings[0].paper == "manual"  # the nut
    screws = [part for part in machine.joint["frame/plate-screws"].brings if "/screw." in part.id]
    assert {part.paper for part in screws} == {take}


def test_a_ruling_may_go_against_precedence(tmp_path: Path) -> None:
    folder = good(tmp_path, {"rulings.toml": ruling(f"{SCREW}.screw", "manual")})
    assert used(read_well(folder)) == "M5x8"


@pytest.mark.parametrize("line", [SCREW, f"{SCREW}.screw"])
@pytest.mark.parametrize("take", ["a", "b", "manual"])
def test_a_ruling_on_a_line_or_on_its_key_decides_between_removal_and_change(
    tmp_path: Path, line: str, take: str
) -> None:
    remove = f'[[remove]]\nline = "{SCREW}"\n'
    steps = GOOD["steps.toml"].replace(', { start = "plate-screws" }, { tighten = "plate-screws" }', "")
    folder = with_papers(tmp_path, {"a": paper(remove), "b": paper(screw("M5x12"))}, ruling(line, take))
    (folder / "steps.toml").write_text(steps)
    machine = read_well(folder)
    assert machine.findings == ()
    if take == "a":
        assert "frame/plate-screws" not in machine.joint
    else:
        assert used(machine) == {"b": "M5x12", "manual": "M5x8"}[take]


def test_the_ruling_on_a_key_goes_before_that_on_its_line(tmp_path: Path) -> None:
    both = f'[[replace]]\nline = "{SCREW}"\nwith = {{ screw = "ISO 7380-1 WORD", note = "WORD" }}\n'
    papers = {name: paper(both.replace("WORD", word)) for name, word in (("a", "M5x12"), ("b", "M5x16"))}
    rulings = ruling(SCREW, "a") + ruling(f"{SCREW}.note", "b")
    machine = read_well(with_papers(tmp_path, papers, rulings))
    assert (used(machine), machine.joint["frame/plate-screws"].note, machine.findings) == (
        "M5x12",
        "M5x16",
        (),
    )


def test_a_ruling_of_nothing_or_for_a_silent_paper_is_refused(tmp_path: Path) -> None:
    problem = problem_of(
        good(tmp_path / "1", {"rulings.toml": ruling("unit.frame.joint.plate-screw", "erratum")})
    )
    assert problem.expected == "a line on which papers have something to say"
    assert problem.remedy == f"Did you mean '{SCREW}.screw'?"
    folder = good(tmp_path / "2", {"rulings.toml": ruling(SCREW, "other"), "papers/other.toml": paper("")})
    problem = problem_of(folder)
    assert (problem.read, problem.expected) == ("other", "a paper that says something of this line")


def test_two_rulings_on_one_line_are_refused(tmp_path: Path) -> None:
    problem = problem_of(good(tmp_path, {"rulings.toml": ruling(SCREW, "manual") + ruling(SCREW, "erratum")}))
    assert str(problem.where) == "rulings.toml:5, ruling.2"


# what a paper may change


@pytest.mark.parametrize(
    ("row", "read", "remedy"),
    [
        (
            '[[replace]]\nline = "unit.frame.joint.plate-screw"\nwith = { note = "x" }',
            None,
            f"Did you mean '{SCREW}'?",
        ),
        ('[[remove]]\nline = "unit.frame.place.plat"', None, "Did you mean 'unit.frame.place.plate'?"),
        ('[[remove]]\nline = "part.beem"', None, "Did you mean 'part.beam'?"),
        ('[[remove]]\nline = "unit.fram"', None, "Did you mean 'unit.frame'?"),
        ('[[remove]]\nline = "machine.axis.y"', None, "Did you mean 'machine.axis.x'?"),
        ('[[void]]\nstep = "corner"', "step.corner", "Did you mean 'step.corners'?"),
    ],
)
def test_a_paper_that_changes_what_is_not_there_is_refused(
    tmp_path: Path, row: str, read: str | None, remedy: str
) -> None:
    problem = problem_of(with_papers(tmp_path, {"a": paper(row + "\n")}))
    assert problem.where.file == "papers/a.toml"
    assert problem.where.line == 5
    assert problem.read == (read or row.split('"')[1])
    assert (problem.expected, problem.remedy) == ("a line that is there", remedy)


@pytest.mark.parametrize(
    "line", ["beam", "part", "part.beam.length_mm", "unit.frame.place", "unit.frame.holes.x", "machine.name",
             "machine.axes.x", "part.", "step.a b", "unit.frame.place.beam.at_mm"]
)  # fmt: skip
def test_a_line_is_named_whole(tmp_path: Path, line: str) -> None:
    problem = problem_of(with_papers(tmp_path, {"a": paper(f'[[remove]]\nline = "{line}"\n')}))
    assert problem.read == line
    assert problem.expected.startswith("a line such as part.beam, step.feet")


def test_a_line_that_is_there_is_not_added_again(tmp_path: Path) -> None:
    row = '[[add]]\nline = "part.beam"\nwith = { kind = "plate" }\n'
    assert (
        problem_of(with_papers(tmp_path / "1", {"a": paper(row)})).expected == "a line that is not there yet"
    )
    new = '[[add]]\nline = "part.new"\nwith = { kind = "plate" }\n'
    problem = problem_of(with_papers(tmp_path / "2", {"a": paper(new), "b": paper(new, over='"a"')}))
    assert (problem.where.file, problem.expected) == ("papers/b.toml", "a line that is not there yet")


def test_a_paper_sees_only_the_papers_it_is_over_whatever_their_names(tmp_path: Path) -> None:
    add = '[[add]]\nline = "part.new"\nwith = { kind = "plate", size_mm = [9, 9, 3] }\n'
    change = '[[replace]]\nline = "part.new"\nwith = { size_mm = [9, 9, 4] }\n'
    for number, (low, high) in enumerate((("a", "z"), ("z", "a"))):
        problem = problem_of(with_papers(tmp_path / f"{number}", {low: paper(add), high: paper(change)}))
        assert problem.where.file == f"papers/{high}.toml"
        assert problem.remedy == f"Paper '{low}' adds it; if this paper follows it, name it under over."
        folder = with_papers(
            tmp_path / f"{number}over", {low: paper(add), high: paper(change, over=f'"{low}"')}
        )
        assert read_well(folder).types["new"].thickness_mm == 4


def test_a_paper_that_removes_and_adds_a_line_puts_it_in_the_place_of_the_old(tmp_path: Path) -> None:
    machine = read_well(with_papers(tmp_path, {"a": paper(ANEW)}))
    assert machine.types["plate"].thickness_mm == 4
    assert [(saying.paper, saying.does, saying.stands) for saying in machine.sayings] == [
        ("manual", "says", False), ("a", "replaces", True),
    ]  # fmt: skip
    assert machine.types["plate"].paper == "a"


def test_a_paper_over_one_that_puts_a_line_anew_changes_it_further(tmp_path: Path) -> None:
    change = '[[replace]]\nline = "part.plate"\nwith = { size_mm = [40, 30, 6], material = "steel" }\n'
    machine = read_well(with_papers(tmp_path / "1", {"z": paper(ANEW), "a": paper(change, over='"z"')}))
    assert (machine.types["plate"].thickness_mm, machine.types["plate"].material, machine.findings) == (
        6,
        "steel",
        (),
    )
    apart = read_well(with_papers(tmp_path / "2", {"z": paper(ANEW), "a": paper(change)}))
    assert {finding.code for finding in apart.findings} == {"papers-contradict"}


def test_keys_said_twice_in_one_paper_are_refused(tmp_path: Path) -> None:
    problem = problem_of(with_papers(tmp_path, {"a": paper(screw("M5x12") + screw("M5x16"))}))
    assert (str(problem.where), problem.expected) == (
        "papers/a.toml:9, replace.2.with.screw",
        "each key once in a paper",
    )


def test_a_unit_itself_can_be_added_changed_and_taken_out(tmp_path: Path) -> None:
    add = (
        '[[add]]\nline = "unit.lid"\nwith = { title = "Lid", in = "frame", at_mm = [0, 0, 300] }\n'
        '[[add]]\nline = "unit.lid.place.cover"\nwith = { part = "plate", at_mm = [1, 2, 3] }\n'
    )
    change = '[[replace]]\nline = "unit.lid"\nwith = { at_mm = [0, 0, 400] }\n'
    machine = read_well(with_papers(tmp_path / "1", {"a": paper(add), "b": paper(change, over='"a"')}))
    assert machine.part["lid/cover"].placement.origin_mm.tolist() == [1, 2, 403]
    assert machine.part["lid/cover"].paper == "a"
    assert str(machine.part["lid/cover"].where) == "papers/a.toml:9, unit.lid.place.cover"
    typo = '[[replace]]\nline = "unit.frame"\nwith = { att_mm = [0, 0, 400] }\n'
    problem = problem_of(with_papers(tmp_path / "2", {"a": paper(typo)}))
    assert (str(problem.where), problem.remedy) == (
        "papers/a.toml:6, unit.frame.att_mm",
        "Did you mean 'at_mm'?",
    )


def test_a_place_in_a_unit_that_is_not_there_is_refused(tmp_path: Path) -> None:
    add = '[[add]]\nline = "unit.fram.place.cover"\nwith = { part = "plate" }\n'
    problem = problem_of(with_papers(tmp_path, {"a": paper(add)}))
    assert (problem.expected, problem.remedy) == ("a unit 'fram' that is there", "Did you mean 'frame'?")


def test_what_a_paper_adds_is_checked_like_any_other_line(tmp_path: Path) -> None:
    body = (
        '[[add]]\nline = "machine.axis.y"\n'
        'with = { travel_mm = "30 cm", direction = "+y", moves = "frame/plate" }\n'
        '[[add]]\nline = "part.x"\nwith = { kind = "plat" }\n'
        '[[replace]]\nline = "unit.frame.place.beam"\nwith = { at_mm = [1, 2] }\n'
        f'[[replace]]\nline = "{SCREW}"\nwith = {{ screws = "M5" }}\n'
    )
    problems = problems_of(with_papers(tmp_path, {"a": paper(body)}))
    assert [str(problem.where) for problem in problems] == [
        "papers/a.toml:6, machine.axis.y.travel_mm",
        "papers/a.toml:9, part.x.kind",
        "papers/a.toml:12, unit.frame.place.beam.at_mm",
        f"papers/a.toml:15, {SCREW}.screws",
    ]


def test_an_axis_of_a_paper_is_read_like_any_other(tmp_path: Path) -> None:
    body = '[[add]]\nline = "machine.axis.y"\n'
    body += 'with = { travel_mm = 30, direction = "-y", moves = "frame/plate" }\n'
    machine = read_well(with_papers(tmp_path, {"a": paper(body)}))
    assert [(axis.id, axis.direction) for axis in machine.axes] == [("x", (1, 0, 0)), ("y", (0, -1, 0))]


# steps


def steps_of(folder: Path) -> list[str]:
    return [step.id for step in read_well(folder).steps]


def step(name: str, anchor: str = "") -> str:
    table = '{ title = "T", unit = "frame", actions = [{ note = "x" }] }'
    return f'[[add]]\nline = "step.{name}"\n{anchor}\nwith = {table}\n'


def test_steps_are_added_after_before_and_last(tmp_path: Path) -> None:
    body = step("one", 'after = "corners"') + step("two", 'before = "corners"') + step("three")
    assert steps_of(with_papers(tmp_path, {"a": paper(body)})) == [
        "two",
        "corners",
        "one",
        "plate",
        "rail",
        "three",
    ]


def test_steps_added_after_one_step_keep_their_order(tmp_path: Path) -> None:
    body = (
        step("one", 'after = "corners"') + step("two", 'after = "corners"') + step("three", 'after = "one"')
    )
    assert steps_of(with_papers(tmp_path, {"a": paper(body)})) == [
        "corners",
        "one",
        "three",
        "two",
        "plate",
        "rail",
    ]


def test_a_step_may_be_anchored_to_a_later_added_one_and_to_another_papers(tmp_path: Path) -> None:
    papers = {
        "a": paper(step("one", 'after = "two"') + step("two", 'before = "rail"')),
        "b": paper(step("x", 'before = "one"')),
    }
    assert steps_of(with_papers(tmp_path, papers)) == ["corners", "plate", "two", "x", "one", "rail"]


def test_an_upgrade_voids_a_base_step_and_others_may_still_be_anchored_to_it(tmp_path: Path) -> None:
    papers = {
        "a": paper(
            '[[void]]\nstep = "plate"\nreason = "No plate any more."\n' + step("one", 'after = "plate"')
        ),
        "b": paper(step("two", 'before = "plate"')),
    }
    folder = with_papers(tmp_path, papers)
    assert steps_of(folder) == ["corners", "two", "one", "rail"]
    machine = read_well(folder)
    voids = [saying for saying in machine.sayings if saying.does == "voids"]
    assert [(saying.line, saying.paper, saying.stands, saying.reason) for saying in voids] == [
        ("step.plate", "a", True, "No plate any more.")
    ]


def test_a_ruling_for_the_base_keeps_a_voided_step(tmp_path: Path) -> None:
    folder = with_papers(tmp_path, {"a": paper('[[void]]\nstep = "plate"\n')}, ruling("step.plate", "manual"))
    assert steps_of(folder) == ["corners", "plate", "rail"]


def test_an_anchor_that_is_no_step_is_refused(tmp_path: Path) -> None:
    problem = problem_of(with_papers(tmp_path / "1", {"a": paper(step("one", 'after = "corner"'))}))
    assert (problem.read, problem.expected, problem.remedy) == (
        "corner",
        "the id of a step",
        "Did you mean 'corners'?",
    )
    assert str(problem.where) == "papers/a.toml:6, add.1.after"
    circle = step("one", 'after = "two"') + step("two", 'after = "one"')
    assert "circle" in problem_of(with_papers(tmp_path / "2", {"a": paper(circle)})).remedy
    both = step("one", 'after = "corners"\nbefore = "rail"')
    assert (
        problem_of(with_papers(tmp_path / "3", {"a": paper(both)})).expected
        == "after or before, and only with a step"
    )


def test_a_step_keeps_its_id(tmp_path: Path) -> None:
    body = '[[replace]]\nline = "step.plate"\nwith = { id = "plates" }\n'
    assert problem_of(with_papers(tmp_path, {"a": paper(body)})).expected == "the id 'plate', as in line"


# names


def test_another_name_never_makes_a_second_part(tmp_path: Path) -> None:
    body = (
        '[[rename]]\npart = "plate"\nto = "Mounting plate A"\n'
        '[[rename]]\npart = "ISO 7380-1 M5x8"\nto = "button screw"\n'
        '[[add]]\nline = "unit.frame.place.second"\n'
        'with = { part = "Mounting plate A", at_mm = [0, 300, 0] }\n'
    )
    folder = with_papers(tmp_path, {"a": paper(body)})
    (folder / "list.csv").write_text("part,pieces\nMounting plate A,1\nplate,1\nbutton screw,2\n")
    machine = read_well(folder)
    assert machine.part["frame/second"].type is machine.part["frame/plate"].type
    assert "Mounting plate A" not in machine.types
    assert machine.listed == {"plate": 2, "ISO 7380-1 M5x8": 2}
    assert machine.aliases == {"Mounting plate A": "plate", "button screw": "ISO 7380-1 M5x8"}
    assert [saying.read for saying in machine.sayings if saying.does == "renames"] == [
        "'Mounting plate A'",
        "'button screw'",
    ]


def test_a_part_may_itself_say_what_it_is_also_called_and_names_may_follow_names(tmp_path: Path) -> None:
    parts = GOOD["parts.toml"].replace(
        "size_mm = [40, 30, 3]", 'size_mm = [40, 30, 3]\nalso_called = ["tab"]'
    )
    body = '[[rename]]\npart = "tab"\nto = "flap"\n'
    machine = read_well(
        good(
            tmp_path, {"parts.toml": parts, "papers/a.toml": paper(body), "list.csv": "part,pieces\nflap,3\n"}
        )
    )
    assert machine.listed == {"plate": 3}
    assert machine.aliases == {"flap": "plate", "tab": "plate"}


@pytest.mark.parametrize(
    ("part", "to", "expected"),
    [
        ("plat", "tab", "a part of parts.toml or a designation of the catalogue"),
        ("plate", "beam", "a name that is not itself a part's id"),
        ("ISO 7380-1 M5x8", "ISO 4762 M5x8", "a name that is not itself a part's designation"),
        ("tab", "tab", "a part of parts.toml or a designation of the catalogue"),
    ],
)
def test_a_name_of_nothing_or_of_another_part_is_refused(
    tmp_path: Path, part: str, to: str, expected: str
) -> None:
    problem = problem_of(with_papers(tmp_path, {"a": paper(f'[[rename]]\npart = "{part}"\nto = "{to}"\n')}))
    assert (str(problem.where), problem.expected) == ("papers/a.toml:4, rename.1", expected)


def test_one_name_for_two_parts_is_refused(tmp_path: Path) -> None:
    papers = {
        name: paper(f'[[rename]]\npart = "{part}"\nto = "thing"\n')
        for name, part in (("a", "beam"), ("b", "plate"))
    }
    problem = problem_of(with_papers(tmp_path, papers))
    assert (problem.where.file, problem.expected) == (
        "papers/b.toml",
        "a name of one part; it means 'beam' already",
    )


# who says so


def test_every_thing_in_the_machine_answers_who_says_so(tmp_path: Path) -> None:
    machine = read_well(good(tmp_path))
    for thing in (
        *machine.part,
        *machine.joint,
        *machine.fastening,
        *(one.id for one in machine.steps),
        *machine.units,
    ):
        where, sayings = where_of(machine, thing), says_so(machine, thing)
        assert where is not None, thing
        assert (tmp_path / where.file).is_file()
        assert sayings, thing
        assert any(saying.stands for saying in sayings)
    assert says_so(machine, "frame/nothing") == ()
    assert where_of(machine, "frame/nothing") is None


def test_places_and_papers_stand_on_parts_joints_steps_and_actions(tmp_path: Path) -> None:
    machine = read_well(good(tmp_path))
    assert str(machine.part["frame/beam"].where) == "units/frame.toml:9, unit.frame.place.beam"
    assert str(machine.joint["frame/ends"].where) == "units/frame.toml:13, unit.frame.joint.ends"
    assert {part.paper for part in machine.placed if part.unit == "frame"} == {"manual", "erratum"}
    assert machine.part["frame/plate-screws/screw.1"].paper == "erratum"
    assert machine.part["carriage/block"].paper == ""
    first = machine.steps[0]
    assert (str(first.where), first.paper) == ("steps.toml:3, step.corners", "manual")
    assert str(first.actions[1].where) == "steps.toml:9, step.corners.actions.2"


def test_a_screw_answers_with_its_joint_and_what_papers_say_of_it(tmp_path: Path) -> None:
    machine = read_well(good(tmp_path))
    assert line_of(machine, "frame/plate-screws.2") == SCREW
    assert line_of(machine, "frame/plate-screws/nut.1") == SCREW
    assert [(saying.paper, saying.stands) for saying in says_so(machine, "frame/plate-screws/screw.1")] == [
        ("manual", True), ("manual", False), ("erratum", True),
    ]  # fmt: skip


def test_a_part_and_a_joint_of_one_name_are_told_apart_by_their_line(tmp_path: Path) -> None:
    machine = read_well(good(tmp_path))
    assert line_of(machine, "carriage/block") == "unit.carriage.place.block"
    assert (
        str(where_of(machine, "unit.carriage.joint.block"))
        == "units/carriage.toml:7, unit.carriage.joint.block"
    )
