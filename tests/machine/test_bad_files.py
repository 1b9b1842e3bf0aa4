"""A file that cannot be read is refused as a whole: quickly, with its line, and nothing else is touched."""

from __future__ import annotations

import os
import tracemalloc
from collections.abc import Mapping
from pathlib import Path

import pytest

from machine.folders import GOOD, good, line_of, problem_of, problems_of, read_well, spoiled, write
from trysquare.ground.errors import ReadingErrors
from trysquare.machine.folder import folder_digest, read_folder
from trysquare.machine.load import load_machine

ERRATUM = "papers/erratum.toml"


def test_a_path_that_is_no_machine_folder_says_what_it_is(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    (tmp_path / "empty").mkdir()
    (tmp_path / "odd" / "machine.toml").mkdir(parents=True)
    reads = [problem_of(tmp_path / name).read for name in ("nothing", "file", "empty", "odd")]
    assert reads == ["no folder", "a file", "a folder without machine.toml", "a folder named machine.toml"]


def test_every_other_file_may_be_missing(tmp_path: Path) -> None:
    machine = read_well(write(tmp_path, {"machine.toml": 'format = 1\nname = "Bare"\n'}))
    assert (machine.name, machine.placed, machine.steps) == ("Bare", (), ())


def test_an_empty_machine_file_lacks_its_keys(tmp_path: Path) -> None:
    problems = problems_of(write(tmp_path, {"machine.toml": ""}))
    assert [problem.expected for problem in problems] == [
        "the key 'format': format of this folder; 1",
        "the key 'name': the machine's name",
    ]


def test_empty_files_say_nothing(tmp_path: Path) -> None:
    names = ("parts.toml", "units/frame.toml", "steps.toml", "rulings.toml")
    files = {"machine.toml": 'format = 1\nname = "Bare"\n', **dict.fromkeys(names, "")}
    assert read_well(write(tmp_path, files)).units == ("frame",)


def test_an_empty_paper_lacks_its_keys_and_an_empty_list_its_heading(tmp_path: Path) -> None:
    problems = problems_of(good(tmp_path, {"papers/q.toml": "", "list.csv": ""}))
    assert [(problem.where.file, problem.expected.partition(":")[0]) for problem in problems] == [
        ("list.csv", "a heading row with the columns part and pieces, once each"),
        ("papers/q.toml", "the key 'title'"),
        ("papers/q.toml", "the key 'kind'"),
        ("papers/q.toml", "the key 'edition'"),
    ]


def test_a_file_that_is_not_utf_8_is_refused_at_its_byte(tmp_path: Path) -> None:
    text = GOOD["parts.toml"].replace('kind = "plate"', 'kind = "plate" # für').encode("latin-1")
    problem = problem_of(good(tmp_path, {"parts.toml": text}))
    assert (problem.where.file, problem.where.line) == ("parts.toml", line_of("parts.toml", 'kind = "plate"'))
    assert problem.read == f"byte 0xfc at position {text.index(0xFC)}"
    assert (problem.expected, problem.remedy) == ("UTF-8 text", "Save the file as UTF-8 in your editor.")


def test_a_mark_at_the_beginning_does_not_move_the_byte_that_is_wrong(tmp_path: Path) -> None:
    problem = problem_of(good(tmp_path, {"parts.toml": b"\xef\xbb\xbf# \xff\n"}))
    assert problem.read == "byte 0xff at position 5"


def test_utf_16_is_refused(tmp_path: Path) -> None:
    assert (
        problem_of(good(tmp_path, {"parts.toml": GOOD["parts.toml"].encode("utf-16")})).expected
        == "UTF-8 text"
    )


def test_a_mark_at_the_beginning_and_windows_line_ends_change_nothing(tmp_path: Path) -> None:
    changed = {name: b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode() for name, text in GOOD.items()}
    one, other = read_well(good(tmp_path / "a")), read_well(good(tmp_path / "b", changed))
    assert one.findings == other.findings == ()
    assert list(one.part) == list(other.part)
    assert [str(joint.where) for joint in one.joints] == [str(joint.where) for joint in other.joints]
    assert one.listed == other.listed


def test_a_fault_of_grammar_is_refused_at_its_line(tmp_path: Path) -> None:
    problem = problem_of(spoiled(tmp_path, "parts.toml", 'kind = "plate"', 'kind = "plate'))
    assert (problem.where.line, problem.where.key) == (line_of("parts.toml", 'kind = "plate"'), "kind")
    assert problem.read == 'kind = "plate'
    assert problem.expected == 'a closing " on the same line'


def test_line_marks_inside_a_text_do_not_shift_the_line_that_is_read(tmp_path: Path) -> None:
    problem = problem_of(good(tmp_path, {"parts.toml": "# \u2028 \u0085 \u2029\nx = \n"}))
    assert (problem.where.line, problem.read) == (2, "x =")


def test_a_file_that_ends_in_the_middle_of_a_text_is_refused_where_the_text_begins(tmp_path: Path) -> None:
    problem = problem_of(good(tmp_path, {"parts.toml": 'x = """\nabc\n'}))
    assert problem.read == 'x = """'
    assert problem.where.line == 1


@pytest.mark.parametrize("again", ['[part.beam]\nkind = "plate"\n', "[part]\nbeam = 1\n"])
def test_an_id_given_twice_in_a_file_is_refused_at_the_second(tmp_path: Path, again: str) -> None:
    problem = problem_of(good(tmp_path, {"parts.toml": GOOD["parts.toml"] + again}))
    assert problem.where.line > line_of("parts.toml", "[part.plate]")
    assert " of its own; " in problem.expected


def test_an_id_given_in_two_parts_files_is_refused_with_the_first_place(tmp_path: Path) -> None:
    problem = problem_of(good(tmp_path, {"parts/more.toml": '[part.beam]\nkind = "bought"\n'}))
    assert (problem.where.file, problem.where.line, problem.where.key) == ("parts/more.toml", 1, "part.beam")
    at = line_of("parts.toml", "[part.beam]")
    assert problem.expected == f"an id of its own; 'beam' stands already at parts.toml:{at}"


def test_a_step_given_twice_is_refused_with_the_first_place(tmp_path: Path) -> None:
    step = '[[step]]\nid = "plate"\ntitle = "P"\nunit = "frame"\nactions = [{ note = "x" }]\n'
    problem = problem_of(good(tmp_path, {"steps/more.toml": step}))
    assert (problem.where.file, problem.where.line, problem.where.key) == ("steps/more.toml", 2, "step.1.id")
    at = line_of("steps.toml", 'id = "plate"')
    assert problem.expected == f"an id of its own; 'plate' stands already at steps.toml:{at}"


def test_a_step_without_an_id_is_refused(tmp_path: Path) -> None:
    problems = problems_of(
        good(tmp_path, {"steps/more.toml": '[[step]]\ntitle = "P"\n', "steps/z.toml": "step = 3\n"})
    )
    assert [(problem.where.file, problem.where.line) for problem in problems] == [
        ("steps/more.toml", 1),
        ("steps/z.toml", 1),
    ]
    assert problems[0].expected == "the key 'id': id of the step"


def test_two_papers_of_one_id_are_refused(tmp_path: Path) -> None:
    paper = write(tmp_path / "elsewhere", {"erratum.toml": GOOD[ERRATUM]}) / "erratum.toml"
    assert problem_of(good(tmp_path / "m"), paper).expected == "a paper id of its own"


def test_a_paper_from_elsewhere_is_laid_over_and_a_missing_one_refused(tmp_path: Path) -> None:
    text = (
        'title = "Mine"\nkind = "modification"\nedition = "1"\n'
        '[[remove]]\nline = "unit.frame.joint.plate-screws"\n[[void]]\nstep = "plate"\n'
    )
    paper = write(tmp_path / "elsewhere", {"mine.toml": text}) / "mine.toml"
    text_of_steps = GOOD["papers/erratum.toml"]
    folder = good(tmp_path / "m", {"papers/erratum.toml": text_of_steps.partition("[[replace]]")[0]})
    assert "frame/plate-screws" not in load_machine(folder, [paper]).joint
    problem = problem_of(folder, tmp_path / "elsewhere" / "none.toml")
    assert (problem.where.file, problem.expected) == ("none.toml", "a file that can be read")


FLOODS: Mapping[str, str] = {
    "brackets": "x = " + "[" * 200_000,
    "braces": "x = " + "{a=" * 100_000,
    "closed brackets": "x = " + "[" * 400 + "]" * 400,
    "a few too many": "x = " + "[" * 30 + "]" * 30,
    "header": "[" + ".".join("a" * 3_000_000) + "]",
    "spaced header": "[ " + " . ".join("a" * 1_000_000) + " ]",
    "quoted header": "[" + ".".join(['"a"'] * 1_000_000) + "]",
    "dotted key": ".".join("a" * 3_000_000) + " = 1",
    "deep tables": "\n".join("[" + ".".join(["a"] * count) + "]" for count in range(1, 60)),
    "digits": "x = " + "7" * 7_000_000,
    "hexadecimal": "x = 0x" + "7" * 7_000_000,
    "quotes": "x = " + '"' * 7_000_000,
    "backslashes": 'x = "' + "\\" * 7_000_000,
    "equals": "=" * 7_000_000,
    "one long word": "a" * 7_000_000,
    "zero bytes": "\0" * 7_000_000,
    "one long text": 'name = "' + "x" * 7_000_000 + '"',
    "stars": "also = [" + '"' + "*a" * 3_000_000 + '"]',
}


@pytest.mark.slow
@pytest.mark.parametrize("flood", FLOODS)
@pytest.mark.parametrize("name", ["parts.toml", "units/frame.toml"])
def test_a_flood_is_refused(tmp_path: Path, flood: str, name: str) -> None:
    problems = problems_of(good(tmp_path, {name: FLOODS[flood]}))
    assert name in {problem.where.file for problem in problems}
    assert all(len(str(problem)) < 600 for problem in problems)


def test_nonsense_of_a_hundred_megabytes_is_refused_by_its_size_alone(tmp_path: Path) -> None:
    folder = good(tmp_path)
    with (folder / "parts.toml").open("wb") as stream:
        stream.truncate(100_000_000)
    tracemalloc.start()
    problem = problem_of(folder)
    _, peak_bytes = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert (problem.read, problem.expected) == ("100.0 MB", "a text file of at most 8 MB")
    assert peak_bytes < 5_000_000


@pytest.mark.slow
def test_seven_megabytes_of_parts_are_read(tmp_path: Path) -> None:
    rows = [
        f'[part.p{i:06}]\nkind = "bought"\nsize_mm = [1, 2, 3]\nmaterial = "aluminium"\n'
        for i in range(100_000)
    ]
    folder = good(tmp_path, {"parts/many.toml": "".join(rows)})
    assert 7_000_000 < (folder / "parts/many.toml").stat().st_size < 8_000_000
    assert len(read_well(folder).types) > 100_000


@pytest.mark.slow
def test_faults_without_end_are_cut_short(tmp_path: Path) -> None:
    rows = [f'[part.p{i:06}]\nkind = "bougth"\nsize = [1, 2, 3]\n' for i in range(130_000)]
    problems = problems_of(good(tmp_path, {"parts/many.toml": "".join(rows)}))
    assert len(problems) == 501
    assert problems[-1].read == "more than 500 problems"


def test_a_folder_named_like_a_file_is_refused(tmp_path: Path) -> None:
    folder = good(tmp_path)
    (folder / "units" / "more.toml").mkdir()
    problem = problem_of(folder)
    assert (problem.where.file, problem.read, problem.expected) == (
        "units/more.toml",
        "a folder",
        "a text file",
    )


def test_a_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    folder = good(tmp_path)
    os.mkfifo(folder / "units" / "more.toml")
    assert problem_of(folder).read == "no ordinary file"


def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = good(tmp_path)
    honest = Path.read_bytes

    def locked(self: Path) -> bytes:  # whoever runs as root may read everything
        if self.name == "steps.toml":
            raise PermissionError(13, "Permission denied")
        return honest(self)

    monkeypatch.setattr(Path, "read_bytes", locked)
    problem = problem_of(folder)
    assert (problem.where.file, problem.read) == ("steps.toml", "a file that you may not read")
    assert problem.expected == "a file that can be read"


@pytest.mark.parametrize(
    "name", ["machine.toml", "parts.toml", "units/frame.toml", "rulings.toml", "list.csv"]
)
def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path, name: str) -> None:
    outside = write(tmp_path / "outside", {"secret.toml": "secret = 1\n"}) / "secret.toml"
    folder = good(tmp_path / "m")
    (folder / name).unlink()
    (folder / name).symlink_to(outside)
    problem = problem_of(folder)
    assert (problem.where.file, problem.read) == (name, "a link out of the folder")
    assert "secret" not in str(problem)


def test_a_link_within_the_folder_is_followed(tmp_path: Path) -> None:
    folder = good(tmp_path / "m")
    (folder / "parts.toml").rename(folder / "kept.txt")
    (folder / "parts.toml").symlink_to(folder / "kept.txt")
    assert read_well(folder).findings == ()
    (tmp_path / "alias").symlink_to(folder)
    assert read_well(tmp_path / "alias").findings == ()


@pytest.mark.parametrize("name", ["parts.toml", "list.csv"])
def test_a_link_to_nothing_and_a_circle_of_links_are_refused(tmp_path: Path, name: str) -> None:
    for target in ("none.toml", name):
        folder = good(tmp_path / target.replace(".", "-"))
        (folder / name).unlink()
        (folder / name).symlink_to(folder / target)
        assert problem_of(folder).where.file == name


def shaped(folder: Path, shape: str) -> Path:
    text = GOOD["parts.toml"] + f'[part.clamp]\nkind = "printed"\nshape = "{shape}"\n'
    return good(folder, {"parts.toml": text, "shapes/clamp.stl": b"solid", "shapes/deep/er.stl": b"solid"})


def test_a_shape_is_read_from_the_shapes_folder(tmp_path: Path) -> None:
    one = read_well(shaped(tmp_path / "a", "shapes/clamp.stl"))
    assert len(one.types["clamp"].shape_digest) == 64
    assert (
        read_well(shaped(tmp_path / "b", "shapes/deep/er.stl")).types["clamp"].shape_file
        == "shapes/deep/er.stl"
    )


def test_every_shape_counts_in_the_digest_of_the_folder(tmp_path: Path) -> None:
    folder = shaped(tmp_path, "shapes/deep/er.stl")
    before = folder_digest(folder)
    (folder / "shapes/deep/er.stl").write_bytes(b"other")
    assert folder_digest(folder) != before


def test_a_missing_shape_is_refused_where_it_is_named(tmp_path: Path) -> None:
    problem = problem_of(shaped(tmp_path, "shapes/clmap.stl"))
    assert (problem.where.file, problem.where.key) == ("parts.toml", "part.clamp.shape")
    assert (problem.read, problem.expected) == ("shapes/clmap.stl", "a file that is there")


@pytest.mark.parametrize(
    "shape",
    [
        "../outside.stl", "shapes/../../outside.stl", "/etc/hostname", "clamp.stl", "machine.toml",
        "shapes/link.stl",
        "shapes/\\u0000.stl", "shapes/../machine.toml",
    ],
)  # fmt: skip
def test_a_shape_outside_the_shapes_folder_is_refused(tmp_path: Path, shape: str) -> None:
    (tmp_path / "outside.stl").write_text("solid")
    folder = shaped(tmp_path / "m", shape)
    (folder / "shapes" / "link.stl").symlink_to(tmp_path / "outside.stl")
    problem = problem_of(folder)
    assert problem.where.key == "part.clamp.shape"
    assert "machine folder, under shapes/" in problem.expected or "control characters" in problem.remedy


def test_a_shape_that_is_a_folder_or_has_an_endless_name_is_refused(tmp_path: Path) -> None:
    assert problem_of(shaped(tmp_path / "a", "shapes/deep")).expected == "a file that is there"
    assert problem_of(shaped(tmp_path / "b", "shapes/" + "x" * 300)).where.key == "part.clamp.shape"


def test_a_shape_that_may_not_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = shaped(tmp_path, "shapes/clamp.stl")
    honest = Path.open

    def locked(self: Path, *arguments: object, **named: object) -> object:
        if self.name == "clamp.stl":
            raise PermissionError(13, "Permission denied")
        return honest(self, *arguments, **named)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", locked)
    problem = problem_of(folder)
    assert problem.read == "shapes/clamp.stl: Permission denied"


LIST = "list.csv"


@pytest.mark.parametrize("text", ["part;pieces\nplate;2\n", "part\tpieces\nplate\t2\n",
                                  "Pieces , PART\n2,plate\n",
                                  '"part","pieces"\n"plate","2"\n', "part,pieces,remark\nplate,2,\n\n,,\n",
                                  "part,pieces\rplate,2\r", "part,pieces\nplate,1\nplate,1\n",
                                  'name,part,pieces\n"a, b",plate,2\n'])  # fmt: skip
def test_a_parts_list_may_be_written_in_several_ways(tmp_path: Path, text: str) -> None:
    assert read_well(good(tmp_path, {LIST: text})).listed == {"plate": 2}


def test_a_designation_is_read_tolerantly_and_its_pieces_add_up(tmp_path: Path) -> None:
    text = "part,pieces\niso 7380-1 m5 x 10,3\nISO 7380-1 M5×10,4\n"
    assert read_well(good(tmp_path, {LIST: text})).listed == {"ISO 7380-1 M5x10": 7}


@pytest.mark.parametrize(
    "pieces", ["-1", "2.5", "1e3", "1.000", "24 pcs", "", "٣", "+2", "1000000000", "0x1"]
)
def test_pieces_that_are_no_whole_number_are_refused(tmp_path: Path, pieces: str) -> None:
    problem = problem_of(good(tmp_path, {LIST: f"part,pieces\nplate,1\nplate,{pieces}\n"}))
    assert (problem.where.file, problem.where.line, problem.where.key) == (LIST, 3, "pieces")
    assert (problem.read, problem.expected) == (pieces, "a whole number of pieces")


def test_a_thousands_mark_is_not_taken_for_another_column(tmp_path: Path) -> None:
    problem = problem_of(good(tmp_path, {LIST: "part,pieces\nplate,1,000\n"}))
    assert (problem.where.line, problem.read) == (2, "plate,1,000")
    assert problem.expected == "2 columns as in the heading"


@pytest.mark.parametrize(
    "text", ["plate,2\n", "part,number\nplate,2\n", "part,part,pieces\n", "\npart,pieces\n", "\x00"]
)
def test_a_parts_list_without_its_heading_is_refused(tmp_path: Path, text: str) -> None:
    problem = problem_of(good(tmp_path, {LIST: text}))
    assert problem.where.line == 1
    assert problem.expected == "a heading row with the columns part and pieces, once each"


def test_a_parts_list_with_an_open_quote_is_refused_not_read(tmp_path: Path) -> None:
    folder = good(tmp_path, {LIST: 'part,pieces\n"plate,2\n' + "plate,1\n" * 40_000})
    assert problem_of(folder).where.file == LIST
    assert problem_of(good(tmp_path, {LIST: '"' + "x" * 200_000})).expected == "comma-separated text"


def test_a_row_of_nothing_but_a_number_is_refused(tmp_path: Path) -> None:
    problem = problem_of(good(tmp_path, {LIST: "part,pieces\n,3\n"}))
    assert (problem.where.key, problem.expected) == ("part", "a part's id or designation")


def test_a_listed_part_that_is_unknown_is_refused_at_its_row(tmp_path: Path) -> None:
    problem = problem_of(good(tmp_path, {LIST: "part,pieces\nplate,1\nplaet,1\n"}))
    assert (problem.where.line, problem.remedy) == (3, "Did you mean 'plate'?")


@pytest.mark.slow
def test_an_endless_parts_list_is_cut_short(tmp_path: Path) -> None:
    problem = problem_of(good(tmp_path, {LIST: "part,pieces\n" + "plate,1\n" * 100_001}))
    assert problem.read == "more than 100000 rows"


def test_reading_a_folder_raises_only_when_there_is_nothing_to_read(tmp_path: Path) -> None:
    assert read_folder(good(tmp_path, {"parts.toml": "["})).problems
    with pytest.raises(ReadingErrors):
        read_folder(tmp_path / "none")


def test_files_under_a_wrong_name_are_doubts(tmp_path: Path) -> None:
    folder = good(tmp_path)
    (folder / "paper").mkdir()
    for name in ("steps2.toml", "paper/erratum.toml", "units/more.TOML"):
        (folder / name).write_text("", encoding="utf-8")
    found = read_well(folder).findings
    assert {(one.code, one.where.file) for one in found if one.where is not None} == {
        ("file-not-read", "steps2.toml"), ("file-not-read", "paper/erratum.toml"),
        ("file-not-read", "units/more.TOML"),
    }  # fmt: skip
