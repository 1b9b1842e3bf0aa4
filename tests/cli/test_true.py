"""`trysquare true`: what it says, in words and as facts, and how it takes what it cannot use."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import pytest

from command_line import Run

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


@pytest.fixture
def larch_folder(tmp_path: Path) -> Path:
    """A copy of the demo machine, to write readings into."""
    folder = tmp_path / "larch"
    shutil.copytree(LARCH, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "boxes"))
    return folder


def test_the_demo_s_base_is_bad_and_a_corner_is_pushed(run: Run) -> None:
    answer = run("true", LARCH)
    assert answer.status == 1
    assert "base-square" in answer.out
    assert "Push the back end of right-base left by 0.80 mm." in answer.out
    assert "readings/base.csv:11" in answer.out
    assert "a digit slipped: 380.0" in answer.out


def test_the_facts_are_those_of_the_text(run: Run) -> None:
    facts = run("true", LARCH, "--json").json
    square = next(one for one in facts["characteristics"] if one["characteristic"] == "base-square")
    worst = square["components"][square["worst"]]
    assert square["verdict"] == worst["verdict"] == "bad"
    assert worst["value"] == pytest.approx(-0.24, abs=0.02)
    assert facts["advice"]["pushes"][0]["by_mm"] > 0
    assert facts["next"]["owned"][0]["readings"][0]["sort"] == "gap"
    assert {one["value"] for one in facts["readings"] if not one["counts"]} == {386.0}


def test_a_folder_without_readings_says_how_to_begin(run: Run, folder: Path) -> None:
    answer = run("true", folder)
    assert answer.status == 2
    assert "has no readings yet" in answer.err


@pytest.mark.slow
def test_readings_that_cannot_be_used_are_all_named(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "mine.csv"
    file.write_text("sort,from,to,value\nlength,left-bas,,380\ndiagonal,left-base:a,,x\n", encoding="utf-8")
    answer = run("true", LARCH, "--readings", file)
    assert answer.status == 2
    assert "Did you mean 'left-base'?" in answer.err
    assert "mine.csv:3" in answer.err
    facts = run("true", LARCH, "--readings", file, "--json").json
    assert len(facts["problems"]) == 5


def test_a_step_that_is_not_there_is_answered(run: Run) -> None:
    answer = run("true", LARCH, "--step", "base-tru")
    assert answer.status == 2
    assert "Did you mean 'base-true'?" in answer.err


def test_a_rectangle_needs_no_machine(run: Run) -> None:
    answer = run("true", "--rectangle", "350x350", "--diagonals", "494.6,495.2", "--instrument", "tape")
    assert answer.status == 1
    assert answer.out.startswith("Cannot tell: out of square by 0.12 ± 0.14 mm per 100 mm")
    good = run(
        "true", "--rectangle", "350x350", "--diagonals", "495,495", "--instrument", "pinch-rod", "--json"
    )
    assert (good.status, good.json["lean_mm_per_100"]["verdict"]) == (0, "good")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--rectangle", "350"), "expected two numbers of millimetres"),
        (("--rectangle", "350x350"), "--diagonals is missing"),
        (("--rectangle", "350x350", "--diagonals", "49.5,49.5"), "is no diagonal of 350 by 350 mm"),
        (("--rectangle", "0x350", "--diagonals", "350,350"), "sizes from 1 to 100000 mm"),
        (("--rectangle", "350x350", "--diagonals", "495,495", "--instrument", "tap"), "Did you mean 'tape'?"),
        (
            ("--rectangle", "350x350", "--diagonals", "495,495", "--instrument", "caliper"),
            "beyond the 150 mm of the caliper",
        ),
        ((), "Name a machine folder"),
    ],
)
def test_a_question_that_cannot_be_answered_is_answered_with_a_sentence(
    run: Run, arguments: tuple[str, ...], words: str
) -> None:
    answer = run("true", *arguments)
    assert answer.status == 2
    assert words in " ".join(answer.err.split())


def test_before_the_build_and_hot_need_no_readings(run: Run, folder: Path) -> None:
    facts = run("true", folder, "--before", "--hot", "50", "--json").json
    assert facts["hot"]["hot_celsius"] == 50
    assert facts["before"]["components"][0]["characteristic"] == "corner"
    text = run("true", folder, "--before", "--hot", "50").out
    assert "Before the build" in text
    assert "From 20 to 50 °C" in text


@pytest.mark.slow
def test_the_plot_is_written_and_nothing_else_is_overwritten(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "plot.svg"
    assert run("true", LARCH, "--plot", out).status == 1
    assert out.read_text(encoding="utf-8").startswith("<svg")
    other = tmp_path / "notes.svg"
    other.write_text("my notes", encoding="utf-8")
    answer = run("true", LARCH, "--plot", other)
    assert answer.status == 2
    assert other.read_text(encoding="utf-8") == "my notes"


def test_typed_readings_are_kept_before_they_are_judged(
    run: Run, larch_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (larch_folder / "readings" / "base.csv").unlink()
    monkeypatch.setattr("sys.stdin", io.StringIO("0.02\n0.03\nabout 3\nabout 3\nstop\n"))
    answer = run("true", larch_folder, "--ask", "--step", "base-true")
    kept = (larch_folder / "readings" / "typed.csv").read_text(encoding="utf-8").splitlines()
    assert len(kept) in (2, 3)
    assert kept[1].split(",")[3] == "0.02"
    assert "Nothing was kept of it." in " ".join(answer.err.split())
    assert "base-true" in kept[1]


def test_typed_readings_are_added_to_those_that_are_there(tmp_path: Path) -> None:
    from trysquare.cli.true_ask import keep

    file = tmp_path / "readings" / "typed.csv"
    row = {"sort": "length", "from": "left-base", "value": "380.1", "instrument": "tape"}
    keep(file, [row])
    file.write_text(file.read_text(encoding="utf-8").rstrip("\n"), encoding="utf-8")
    keep(file, [row, row])
    lines = file.read_text(encoding="utf-8").splitlines()
    assert len(lines) == 4
    assert lines[0].startswith("sort,from,to,value_mm")


def test_readings_that_judge_nothing_are_not_called_good(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "one.csv"
    file.write_text(
        "sort,from,to,value_mm,instrument,step\n"
        "diagonal,left-base:a-y,right-base:b+y,537.9,pinch-rod,base-true\n"
    )
    answer = run("true", LARCH, "--readings", file)
    assert "1 reading counts" in answer.out or "1 reading count." in answer.out
    assert answer.status == 1
