"""A file or folder that is not there is answered with the nearest name beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from machine.folders import problem_of
from trysquare.machine.not_there import nearest_beside, unread


def test_a_name_with_a_slip_leads_to_the_file_beside_it(tmp_path: Path) -> None:
    (tmp_path / "bed-step.csv").write_text("")
    assert nearest_beside(tmp_path / "bed-stp.csv") == f"Did you mean {tmp_path / 'bed-step.csv'}?"
    assert nearest_beside(tmp_path / "quite-another.txt") == ""


def test_a_folder_that_is_not_there_is_named_with_the_nearest(tmp_path: Path) -> None:
    (tmp_path / "readings").mkdir()
    said = nearest_beside(tmp_path / "reading" / "a.csv")
    assert said == f"There is no folder {tmp_path / 'reading'}. Did you mean {tmp_path / 'readings'}?"


@pytest.mark.parametrize("name", ["a" * 5000, "a\0b", "a/b/c" * 900])
def test_a_name_that_no_disk_takes_has_none_beside_it(tmp_path: Path, name: str) -> None:
    assert isinstance(nearest_beside(tmp_path / name), str)


def test_each_reason_has_our_words(tmp_path: Path) -> None:
    file = tmp_path / "x.csv"
    assert unread(file, FileNotFoundError(2, "No such file or directory"))[0] == "no such file"
    assert unread(file, PermissionError(13, "Permission denied"))[0] == "a file that you may not read"
    assert unread(file, IsADirectoryError(21, "Is a directory")) == ("a folder", "Name the file in it.")
    assert unread(file, OSError(5, "Input/output error"))[0] == "Input/output error"


def test_a_machine_folder_with_a_slip_in_its_name_is_answered_with_the_right_one(tmp_path: Path) -> None:
    (tmp_path / "larch").mkdir()
    problem = problem_of(tmp_path / "larh")
    assert problem.read == "no folder"
    assert problem.remedy.startswith(f"Did you mean {tmp_path / 'larch'}?")
