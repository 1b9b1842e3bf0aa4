"""`trysquare film` and `trysquare changes` as they are typed."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
import webvtt

from command_line import Run
from log_entries import said
from small_frame import UPGRADE, write_frame
from trysquare.record.log import open_log

pytestmark = pytest.mark.slow


def test_chapters_go_to_the_output_as_a_file(folder: Path, run: Run) -> None:
    answer = run("film", folder, "--chapters", "webvtt")
    assert (answer.status, answer.err) == (0, "")
    assert [cue.text for cue in webvtt.from_buffer(io.StringIO(answer.out))] == [
        "Nuts into the beam", "Posts and beam", "Rail and block", "Plate", "Drive",
    ]  # fmt: skip


def test_every_format_is_the_same_on_every_run(folder: Path, run: Run) -> None:
    for words in (("--chapters", "plain"), ("--chapters", "ffmetadata"), ("--subtitles",), ("--lists",)):
        first = run("film", folder, *words)
        assert first.out
        assert first.out == run("film", folder, *words).out


def test_a_clock_says_where_the_chapters_begin(folder: Path, run: Run, tmp_path: Path) -> None:
    clock = tmp_path / "cløck [1].csv"
    clock.write_text("step,seconds\nframe,30\nplate,2:00\n", encoding="utf-8")
    out = run("film", folder, "--chapters", "plain", "--clock", clock).out
    assert out == "00:00 Small frame\n00:30 Posts and beam\n02:00 Plate\n"


def test_the_lists_have_parts_tools_and_what_is_used_up(folder: Path, run: Run) -> None:
    out = run("film", folder, "--lists").out
    assert "- 2 × post [" in out
    assert "- hexagon key 3 mm\n" in out
    assert "- threadlocker medium\n" in out
    assert "also called rail screw S6" in out


def test_episodes_are_told_with_the_reasons_for_their_ends(folder: Path, run: Run) -> None:
    facts = run("film", folder, "--episodes", "5", "--json").json
    assert [name for one in facts["episodes"] for name in one["steps"]] == [
        "nuts", "frame", "rail", "plate", "drive",
    ]  # fmt: skip
    assert all(one["ends"] for one in facts["episodes"])
    assert "the order ends" in run("film", folder, "--episodes", "5").out


def test_without_a_wish_the_planned_times_are_told(folder: Path, run: Run) -> None:
    assert "no source" in run("film", folder).out
    assert [one["basis"] for one in run("film", folder, "--json").json["steps"]] == ["estimated"] * 5


@pytest.mark.parametrize(
    ("wishes", "said"),
    [
        (("--chapters", "webvtt", "--lists"), "Ask for one"),
        (("--clock", "x.csv"), "--clock is for"),
        (("--length", "5", "--lists"), "--length goes with"),
        (("--lists", "--json"), "--json is for"),
        (("--episodes", "0"), "0"),
        (("--episodes", "nan"), "nan"),
        (("--chapters", "srt"), "srt"),
    ],
)
def test_wishes_that_do_not_go_together_are_told(
    folder: Path, run: Run, wishes: tuple[str, ...], said: str
) -> None:
    answer = run("film", folder, *wishes)
    assert answer.status == 2
    assert said in answer.err


@pytest.mark.parametrize("text", [b"\xff\xfe", b"step,seconds\nnone,3\n", b""])
def test_a_clock_that_cannot_be_used_is_told(folder: Path, run: Run, tmp_path: Path, text: bytes) -> None:
    clock = tmp_path / "clock.csv"
    clock.write_bytes(text)
    answer = run("film", folder, "--chapters", "plain", "--clock", clock)
    assert answer.status == 2
    assert "clock.csv" in answer.err
    assert answer.out == ""


def test_a_clock_that_is_not_there_is_told(folder: Path, run: Run) -> None:
    assert "Check the path" in run("film", folder, "--subtitles", "--clock", "none.csv").err


def test_a_machine_without_steps_has_files_without_marks(tmp_path: Path, run: Run) -> None:
    bare = write_frame(tmp_path / "bare", steps_toml="")
    assert run("film", bare, "--chapters", "webvtt").out == "WEBVTT\n"
    assert run("film", bare, "--chapters", "plain").status == 0
    assert "no steps yet" in run("film", bare, "--episodes", "10").out
    clock = tmp_path / "clock.csv"
    clock.write_text("step,seconds\nframe,3\n", encoding="utf-8")
    assert run("film", bare, "--subtitles", "--clock", clock).status == 2


# --- changes


@pytest.fixture
def old(tmp_path: Path) -> Path:
    return write_frame(tmp_path / "old")


def test_two_equal_versions_say_so(old: Path, tmp_path: Path, run: Run) -> None:
    answer = run("changes", old, write_frame(tmp_path / "new"))
    assert answer.status == 0
    assert "The two versions say the same." in answer.out


def test_what_to_undo_swap_and_redo_is_told_in_that_order(old: Path, folder: Path, run: Run) -> None:
    answer = run("changes", old, folder, "--built", "plate")
    assert answer.status == 1
    told = [
        answer.out.index(words)
        for words in ("Loosen frame/plate", "tighten frame/plate", "ISO 7380-1 M5x10", "Quieter small frame",
                      "Not affected", "Go on with step drive.")
    ]  # fmt: skip
    assert told == sorted(told) or answer.out.count("ISO 7380-1 M5x10")
    facts = run("changes", old, folder, "--built", "plate", "--json").json
    assert facts["swaps"] == [
        {
            "old": "ISO 7380-1 M5x8",
            "new": "ISO 7380-1 M5x10",
            "pieces": 2,
            "built": 2,
            "where": ["frame/plate"],
        }
    ]
    assert facts["next_step"] == "drive"


def test_only_names_and_papers_are_told_as_such(old: Path, tmp_path: Path, run: Run) -> None:
    papers = UPGRADE.partition("[[replace]]")[0] + "[[rename]]" + UPGRADE.partition("[[rename]]")[2]
    answer = run("changes", old, write_frame(tmp_path / "new", papers__upgrade_toml=papers))
    assert answer.status == 0
    assert "Nothing that matters is another" in answer.out
    assert "rail screw S6" in answer.out


def test_a_folder_that_cannot_be_read_is_told_whichever_it_is(old: Path, tmp_path: Path, run: Run) -> None:
    broken = write_frame(tmp_path / "broken", machine_toml="name = \n")
    for pair in ((old, broken), (broken, old)):
        answer = run("changes", *pair)
        assert answer.status == 2
        assert "broken" in answer.err
        assert run("changes", *pair, "--json").json["problems"]
    assert run("changes", old, tmp_path / "nowhere").status == 2


def test_a_step_that_is_not_there_is_told(old: Path, folder: Path, run: Run) -> None:
    answer = run("changes", old, folder, "--built", "plates\x1b[31m")
    assert answer.status == 2
    assert "Did you mean 'plate'" in answer.err
    assert "\x1b" not in answer.err


@pytest.mark.slow
@pytest.mark.parametrize("columns", [60, 80, 133])
def test_no_line_is_wider_than_asked(
    old: Path, folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    for words in (
        ("changes", old, folder, "--built", "plate"),
        ("film", folder),
        ("film", folder, "--episodes", 5),
    ):
        assert max(map(len, run(*words).out.splitlines())) <= columns


# --- times and marks of the build log


@pytest.fixture
def filmed(folder: Path) -> Path:
    """The small frame, half built before a camera: three steps measured, two marked on its counter."""
    with open_log(folder, machine="Small frame") as log:
        log.append(
            [
                said("opened", "nuts", minutes=0),
                said("mark", "nuts", minutes=0, clock=12.0),
                said("done", "nuts", minutes=10),
                said("opened", "frame", minutes=10),
                said("mark", "frame", minutes=10, clock=95.5),
                said("done", "frame", minutes=40),
                said("opened", "rail", minutes=40),
                said("done", "rail", minutes=70),
            ]
        )
    return folder


def test_chapters_are_where_the_log_marks_them(filmed: Path, run: Run) -> None:
    answer = run("film", filmed, "--chapters", "plain", "--log")
    lines = answer.out.splitlines()
    assert lines[:3] == ["0:00:00 Small frame", "0:00:12 Nuts into the beam", "0:01:35 Posts and beam"]
    steps = run("film", filmed, "--json").json["steps"]
    assert [line.partition(" ")[2] for line in lines[3:]] == [step["title"] for step in steps[2:]]
    assert f"{len(steps) - 2} steps without a mark" in " ".join(answer.err.split())
    assert run("film", filmed, "--chapters", "plain", "--log", "--length", "90").status == 2


def test_times_are_as_the_log_measured_them_and_the_rest_at_that_pace(filmed: Path, run: Run) -> None:
    plan = {step["step"]: step for step in run("film", filmed, "--json").json["steps"]}
    logged = {step["step"]: step for step in run("film", filmed, "--log", "--json").json["steps"]}
    assert (logged["nuts"]["seconds"], logged["nuts"]["basis"]) == (600, "measured")
    assert logged["plate"]["basis"] == "estimated"
    assert logged["plate"]["seconds"] > plan["plate"]["seconds"]
    assert "3 steps as the log measured" in run("film", filmed, "--log").out


def test_without_a_log_times_are_as_planned_and_it_says_so(folder: Path, run: Run) -> None:
    answer = run("film", folder, "--chapters", "webvtt", "--log")
    assert answer.out == run("film", folder, "--chapters", "webvtt").out
    assert "There is no build log yet" in " ".join(answer.err.split())
    assert not (folder / "log.sqlite").exists()


def test_marks_of_steps_that_are_gone_are_left_out_and_told(folder: Path, run: Run) -> None:
    with open_log(folder, machine="Small frame") as log:
        log.append([said("mark", "old", clock=5.0), said("mark", "rail", minutes=1, clock=50.0)])
    answer = run("film", folder, "--chapters", "plain", "--log")
    assert "00:50 Rail and block" in answer.out.splitlines()
    assert "no longer has: old" in " ".join(answer.err.split())


def test_a_spoilt_log_is_told(folder: Path, run: Run) -> None:
    (folder / "log.sqlite").write_bytes(b"SQLite format 3\x00 spoilt")
    answer = run("film", folder, "--log")
    assert answer.status == 2
    assert "log.sqlite" in answer.err
