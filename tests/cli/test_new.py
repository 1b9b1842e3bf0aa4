"""`trysquare new`: a first folder that checks, and nothing written over."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line import Run
from trysquare.ground.errors import ReadingError
from trysquare.machine.first_folder import LEAST_MM, PROFILES, FirstFrame, first_folder
from trysquare.machine.load import load_machine


@pytest.mark.slow
@pytest.mark.parametrize("profile", list(PROFILES))
@pytest.mark.parametrize("sizes", [(200, 220, 240), (420, 420, 480), (1000, 300, 700)])
def test_a_new_folder_checks_without_any_finding(
    tmp_path: Path, run: Run, profile: str, sizes: tuple[int, int, int]
) -> None:
    place = tmp_path / "mine"
    width, depth, height = sizes
    answer = run("new", place, "--profile", profile, "--width-mm", width, "--depth-mm", depth,
                 "--height-mm", height, "--json")  # fmt: skip
    assert answer.status == 0
    assert answer.json["findings"] == []
    assert answer.json["parts"] == 12 + 16
    checked = run("check", place, "--json")
    assert checked.status == 0
    assert checked.json["findings"] == []


def test_a_new_folder_says_how_to_go_on(tmp_path: Path, run: Run) -> None:
    answer = run("new", tmp_path / "mine", "--no-questions")
    assert answer.status == 0
    assert "nothing to find fault with" in answer.out
    assert "trysquare bench" in answer.out


def test_a_name_with_quotes_and_other_letters_stays_as_it_is(tmp_path: Path, run: Run) -> None:
    name = 'The "Ölberg" \\ 2'
    assert run("new", tmp_path / "mine", "--name", name, "--json").json["name"] == name
    assert load_machine(tmp_path / "mine").name == name


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path, run: Run) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "notes.txt").write_text("mine", "utf-8")
    answer = run("new", tmp_path / "mine")
    assert answer.status == 2
    assert "nothing was written" in answer.err.replace("\n", " ")
    assert [file.name for file in (tmp_path / "mine").iterdir()] == ["notes.txt"]


def test_a_file_is_no_place_for_a_folder(tmp_path: Path, run: Run) -> None:
    (tmp_path / "mine").write_text("mine", "utf-8")
    assert run("new", tmp_path / "mine").status == 2


@pytest.mark.parametrize("size", ["5", "-300", "1e9", "nan"])
def test_a_size_that_no_frame_has_is_told(tmp_path: Path, run: Run, size: str) -> None:
    answer = run("new", tmp_path / "mine", "--width-mm", size)
    assert answer.status == 2
    assert "width" in answer.err
    assert not (tmp_path / "mine").exists()


def test_a_frame_checks_itself() -> None:
    with pytest.raises(ReadingError, match="depth_mm"):
        FirstFrame(name="x", width_mm=300, depth_mm=LEAST_MM - 1, height_mm=300, profile=PROFILES["20x20"])
    with pytest.raises(ReadingError, match="name"):
        FirstFrame(name="a\nb", width_mm=300, depth_mm=300, height_mm=300, profile=PROFILES["20x20"])


def test_the_same_frame_gives_the_same_text() -> None:
    frame = FirstFrame(name="x", width_mm=300, depth_mm=300, height_mm=300, profile=PROFILES["20x20"])
    assert first_folder(frame) == first_folder(frame)


def test_the_commands_to_go_on_with_can_be_typed_as_they_stand(tmp_path: Path, run: Run) -> None:
    answer = run("new", tmp_path / "my machine", "--no-questions")
    assert "my machine'" in " ".join(answer.out.split())
