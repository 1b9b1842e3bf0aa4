"""`trysquare export` and `trysquare need --out`: what they write, and what they refuse."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import openpyxl
import pytest

from command_line import Run
from odd_frames import with_words_only


@pytest.mark.slow
def test_both_files_are_written_and_counted(folder: Path, tmp_path: Path, run: Run) -> None:
    step, glb = tmp_path / "new" / "frame.step", tmp_path / "frame.glb"
    facts = run("export", folder, "--step", step, "--glb", glb, "--json").json
    assert [file["format"] for file in facts["files"]] == ["STEP AP214", "GLB"]
    assert step.read_bytes().startswith(b"ISO-10303-21;")
    assert glb.read_bytes().startswith(b"glTF")
    assert facts["pieces"] > facts["sorts"] > 3
    assert facts["after_step"] is None


def test_a_step_has_fewer_pieces_than_the_machine_and_says_which_it_is(
    folder: Path, tmp_path: Path, run: Run
) -> None:
    whole = run("export", folder, "--glb", tmp_path / "a.glb", "--json").json
    early = run("export", folder, "--glb", tmp_path / "b.glb", "--at", "2", "--json").json
    assert 0 < early["pieces"] < whole["pieces"]
    again = run("export", folder, "--glb", tmp_path / "c.glb", "--at", early["after_step"], "--json").json
    assert again["pieces"] == early["pieces"]
    assert (tmp_path / "b.glb").read_bytes() == (tmp_path / "c.glb").read_bytes()


@pytest.mark.slow
def test_the_text_says_file_pieces_and_size(folder: Path, tmp_path: Path, run: Run) -> None:
    answer = run("export", folder, "--step", tmp_path / "frame.stp")
    assert answer.status == 0
    assert "frame.stp" in answer.out
    assert "sorts" in answer.out


def test_a_machine_without_shapes_writes_nothing(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "none.glb"
    answer = run("export", with_words_only(folder), "--glb", out)
    assert (answer.status, out.exists()) in ((1, False), (0, True))


def test_what_cannot_be_is_told_before_the_work(folder: Path, tmp_path: Path, run: Run) -> None:
    other = tmp_path / "mine.step"
    other.write_text("my own notes", "utf-8")
    for words, said in (
        ((), "--step FILE"),
        (("--step", other), "is no STEP file"),
        (("--step", tmp_path / "x.stl"), "Name it x.step"),
        (("--glb", tmp_path / "x.step"), "Name it x.glb"),
        (("--glb", tmp_path / "x.glb", "--at", "nonesuch"), "no step 'nonesuch'"),
    ):
        answer = run("export", folder, *words)
        assert answer.status == 2
        assert said in " ".join(answer.err.split())
    assert other.read_text("utf-8") == "my own notes"


def test_the_need_is_written_as_a_table_beside_the_answer(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "need.csv"
    facts = run("need", folder, "--out", out, "--json").json
    assert facts["out"] == str(out)
    rows = list(csv.DictReader(io.StringIO(out.read_text("utf-8-sig"))))
    assert {row["part"]: int(row["pieces"]) for row in rows} == {
        one["part"]: one["pieces"] for one in facts["lines"]
    }
    assert run("need", folder, "--out", out).status == 0  # ours may be written over


def test_the_need_is_written_as_a_workbook(folder: Path, tmp_path: Path, run: Run) -> None:
    out = tmp_path / "need.xlsx"
    facts = run("need", folder, "--out", out, "--json").json
    sheet = openpyxl.load_workbook(out)["need"]
    assert sheet.max_row == len(facts["lines"]) + 1


def test_a_table_is_not_written_over_another_file(folder: Path, tmp_path: Path, run: Run) -> None:
    other = tmp_path / "mine.csv"
    other.write_text("a,b\n", "utf-8")
    assert run("need", folder, "--out", other).status == 2
    assert run("need", folder, "--out", tmp_path / "need.ods").status == 2
    assert other.read_text("utf-8") == "a,b\n"
