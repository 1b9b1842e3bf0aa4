"""`trysquare check`: exit status, text and JSON of the same facts, and folders that cannot be read."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from command_line import DEMO, Run
from small_frame import PARTS, UNIT, write_files, write_frame

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
SHORT_LIST = "part,pieces\npost,1\n"
BRACKETS = {"machine.toml": 'format = 1\nname = "[bold]x[/bold]"\n'}
BARE = {"machine.toml": 'format = 1\nname = "Bare"\n', "list.csv": "part,pieces\nISO 4762 M3x8,24\n"}


def test_a_machine_whose_findings_stop_the_build_ends_with_one(tmp_path: Path, run: Run) -> None:
    answer = run("check", write_frame(tmp_path, list_csv=SHORT_LIST))
    assert answer.status == 1
    assert "list-short" in answer.out


def test_a_machine_without_such_a_finding_ends_with_zero(tmp_path: Path, run: Run) -> None:
    answer = run("check", write_files(tmp_path, BARE))
    assert (answer.status, answer.err) == (0, "")
    assert "no joints: screws, nuts and stacks not checked" in answer.out


def test_the_exit_status_agrees_with_the_weights(folder: Path, run: Run) -> None:
    answer = run("check", folder, "--json")
    assert answer.status == (1 if answer.json["weights"]["stop"] else 0)


def test_text_and_json_name_the_same_codes_and_parts(tmp_path: Path, run: Run) -> None:
    folder = write_frame(tmp_path, list_csv=SHORT_LIST)
    facts = run("check", folder, "--json").json
    text = run("check", folder, "--all").out
    flat = "".join(text.split())
    assert facts["findings"]
    for finding in facts["findings"]:
        for word in (
            finding["code"],
            *finding["parts"],
            finding["joint"],
            finding["step"],
            finding["remedy"],
        ):
            assert "".join(word.split()) in flat, word
        if finding["where"]:
            assert finding["where"]["file"] in text


def test_json_is_sorted_and_the_same_on_every_run(folder: Path, run: Run) -> None:
    first, second = (run("check", folder, "--json", "--no-cache").out for _ in range(2))
    assert first == second
    facts = run("check", folder, "--json").json
    assert list(facts) == sorted(facts)
    weights = [("stop", "doubt", "note").index(finding["weight"]) for finding in facts["findings"]]
    assert weights == sorted(weights)


def test_every_finding_in_json_has_every_key_and_lengths_carry_their_unit(tmp_path: Path, run: Run) -> None:
    facts = run("check", write_frame(tmp_path, list_csv=SHORT_LIST), "--json").json
    assert set(facts) == {
        "counts", "findings", "folder", "levels", "machine", "not_checked", "weights",
    }  # fmt: skip
    for finding in facts["findings"]:
        assert set(finding) == {
            "at_mm", "code", "follows_from", "joint", "limit", "parts", "remedy", "says", "step", "unit",
            "value", "value_unit", "weight", "where",
        }  # fmt: skip


def test_many_findings_of_one_code_are_folded_unless_all_are_asked_for(tmp_path: Path, run: Run) -> None:
    folder = write_frame(tmp_path, list_csv=SHORT_LIST)
    folded, whole = run("check", folder).out, run("check", folder, "--all").out
    assert "more list-short; --all tells them." in folded
    assert (whole.count("    list-short\n"), folded.count("    list-short\n")) == (18, 5)


def test_a_paper_from_outside_is_laid_over(tmp_path: Path, run: Run) -> None:
    folder = write_frame(tmp_path / "frame")
    paper = tmp_path / "mine.toml"
    paper.write_text(
        'title = "Mine"\nkind = "modification"\nedition = "1"\n[[remove]]\nline = "unit.frame.place.plate"\n'
        '[[remove]]\nline = "unit.frame.joint.plate"\n[[void]]\nstep = "plate"\n'
        '[[replace]]\nline = "step.nuts"\n'
        'with = { actions = [ { place = ["beam"] }, { insert = ["rail"] } ] }\n',
        encoding="utf-8",
    )
    plain = run("check", folder, "--json").json["counts"]
    over = run("check", folder, "--json", "--paper", paper).json["counts"]
    assert (plain["steps"], over["steps"]) == (5, 4)
    assert plain["joints"] - over["joints"] == 1


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    return write_frame(
        tmp_path,
        parts_toml=PARTS.replace("length_mm = 200", 'length_mm = "long"').replace('kind = "jig"', "kin = 1"),
        units__frame_toml=UNIT.replace("at_mm = [330, 10, 0]", "at_mm = [330, 10]"),
    )


def test_an_unreadable_folder_ends_with_two_and_names_all_problems(broken: Path, run: Run) -> None:
    answer = run("check", broken)
    assert (answer.status, answer.out) == (2, "")
    assert "parts.toml:6  part.post.length_mm" in answer.err
    assert "'long'" in answer.err
    assert "kin" in answer.err
    assert "units/frame.toml:7" in answer.err


def test_problems_in_json_have_place_read_expected_and_remedy(broken: Path, run: Run) -> None:
    answer = run("check", broken, "--json")
    assert answer.status == 2
    assert len(answer.json["problems"]) >= 3
    for problem in answer.json["problems"]:
        assert set(problem) == {"column", "expected", "file", "key", "line", "read", "remedy"}
        assert problem["expected"]
        assert problem["remedy"]


@pytest.mark.parametrize("name", ["nowhere", "no where", "ohne-Maß/ß", "[bold]x[/bold]", "a\nb"])
def test_a_folder_that_is_not_there_ends_with_two_and_one_sentence(
    tmp_path: Path, run: Run, name: str
) -> None:
    for command in ("check", "need", "show"):
        answer = run(command, tmp_path / name)
        assert answer.status == 2
        assert "Traceback" not in answer.err
        assert "machine.toml" in answer.err


@pytest.mark.parametrize("name", ["with blanks", "größe 3×3", "[red]", "-dash", "%s {x}", "\x1b[31mred"])
def test_odd_folder_names_work_and_cannot_steer_the_terminal(tmp_path: Path, run: Run, name: str) -> None:
    folder = write_files(tmp_path / name, BARE)
    answer = run("check", folder)
    assert answer.status == 0
    assert "\x1b" not in answer.out
    if name.isprintable():
        assert "".join(name.split()) in "".join(answer.out.split())


@pytest.mark.skipif(os.name == "nt", reason="names there are text, not bytes")
def test_a_folder_name_of_bytes_that_are_no_text_is_no_obstacle(tmp_path: Path, run: Run) -> None:
    folder = write_files(tmp_path / os.fsdecode(b"odd\xff"), BARE)
    assert run("check", folder).status == 0
    assert run("check", folder, "--json").status == 0


def test_a_file_instead_of_a_folder_is_said(tmp_path: Path, run: Run) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    assert run("check", tmp_path / "file").status == 2


def test_names_in_the_machine_cannot_steer_the_terminal(tmp_path: Path, run: Run) -> None:
    for name in ("\\u001b[31mRed", "[bold]x[/bold]", "back \\u202e wards"):
        folder = write_files(tmp_path, {**BARE, "machine.toml": f'format = 1\nname = "{name}"\n'})
        answer = run("check", folder)
        assert not {"\x1b", "\u202e"} & set(answer.out + answer.err)
    assert "[bold]x[/bold]" in run("check", write_files(tmp_path, BRACKETS)).out


def test_a_bare_list_reaches_the_first_level_and_says_so(tmp_path: Path, run: Run) -> None:
    facts = run("check", write_files(tmp_path, BARE), "--json").json
    assert facts["levels"] == {"list": True, "joints": False, "steps": False, "shapes": False}
    assert facts["counts"]["pieces"] == 24
    assert len(facts["not_checked"]) == 3


@pytest.mark.slow
def test_a_list_is_not_missed_where_boxes_are_checked(run: Run) -> None:
    facts = run("check", LARCH, "--json").json
    assert not [says for says in facts["not_checked"] if "list.csv" in says or "boxes" in says]


def test_without_boxes_and_list_the_need_is_compared_with_nothing(folder: Path, run: Run) -> None:
    told = run("check", folder, "--json").json["not_checked"]
    assert "no boxes and no list.csv: need not compared with what came" in told


@pytest.mark.slow
def test_what_no_rule_looks_at_is_said_of_machines_that_have_it(tmp_path: Path, run: Run) -> None:
    told = " ".join(run("check", LARCH, "--json").json["not_checked"])
    assert "tune wiring" in told
    assert "belt tension" in told
    bare = run("check", write_files(tmp_path, BARE), "--json").json["not_checked"]
    assert not [says for says in bare if "no rule yet" in says or "tune" in says]


def test_the_cause_of_a_finding_is_told_before_it_in_text_and_json(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "larch"
    shutil.copytree(DEMO / "larch", folder, ignore=shutil.ignore_patterns(".trysquare-cache"))
    panels = folder / "units" / "panels.toml"
    panels.write_text(panels.read_text("utf-8").replace("offset_mm = 280 }", "offset_mm = 500 }"), "utf-8")
    found = [one for one in run("check", folder, "--json").json["findings"] if one["weight"] == "stop"]
    assert [one["code"] for one in found] == ["hole-over-no-slot"] * 2 + ["part-hangs-free"] * 2
    assert found[0]["follows_from"] is None
    assert {one["follows_from"]["joint"] for one in found[2:]} == {"panels/catch-holder"}
    assert "from hole-over-no-slot of panels/catch-holder: settle that first" in run("check", folder).out
