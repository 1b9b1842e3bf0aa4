"""`trysquare changes`: papers over the old version, steps by number, and odd input."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line import Run
from odd_frames import with_odd_words
from small_frame import UPGRADE, write_frame


@pytest.fixture
def built(tmp_path: Path) -> Path:
    """The version that somebody has built from."""
    return write_frame(tmp_path / "built")


@pytest.fixture
def erratum(tmp_path: Path) -> Path:
    """A paper from outside any folder."""
    file = tmp_path / "erratum-1.toml"
    file.write_text(UPGRADE, encoding="utf-8")
    return file


def test_a_paper_over_the_old_version_is_a_new_version(
    built: Path, folder: Path, erratum: Path, run: Run
) -> None:
    alone = run("changes", built, "--paper", erratum, "--built", "plate", "--json").json
    other = run("changes", built, folder, "--built", "plate", "--json").json
    for key in ("swaps", "undo", "do_now", "read_again", "next_step", "unaffected", "matters"):
        assert alone[key] == other[key]
    assert alone["papers"] == [str(erratum)]
    assert alone["new"] == str(built)


def test_the_paper_is_named_in_the_head(built: Path, erratum: Path, run: Run) -> None:
    answer = run("changes", built, "--paper", erratum)
    assert answer.status == 1
    assert "erratum-1.toml" in " ".join(answer.out.split())


def test_papers_lie_over_the_second_folder_only(built: Path, folder: Path, erratum: Path, run: Run) -> None:
    facts = run("changes", built, built, "--paper", erratum, "--json").json
    assert facts["swaps"] == run("changes", built, folder, "--json").json["swaps"]


def test_without_a_new_version_it_asks_for_one(built: Path, run: Run) -> None:
    answer = run("changes", built)
    assert answer.status == 2
    assert "Name the new version" in answer.err


def test_the_last_step_done_is_told_by_its_number_too(built: Path, folder: Path, run: Run) -> None:
    by_number = run("changes", built, folder, "--built", "4", "--json").json
    assert by_number == run("changes", built, folder, "--built", "plate", "--json").json
    assert run("changes", built, folder, "--built", "6").status == 2


def test_a_paper_that_cannot_be_read_is_told(built: Path, tmp_path: Path, run: Run) -> None:
    answer = run("changes", built, "--paper", tmp_path / "nowhere.toml")
    assert answer.status == 2
    assert "nowhere.toml" in answer.err


def test_a_paper_whose_name_is_no_id_is_told(built: Path, erratum: Path, run: Run) -> None:
    odd = erratum.rename(erratum.with_name("erratum #1.toml"))
    answer = run("changes", built, "--paper", odd)
    assert answer.status == 2
    assert "an id of letters" in " ".join(answer.err.split())


def test_nothing_is_kept_beside_either_version(built: Path, folder: Path, run: Run) -> None:
    run("changes", built, folder, "--built", "plate")
    assert not (built / ".trysquare-cache").exists()
    assert not (folder / ".trysquare-cache").exists()


def test_odd_words_are_told_on_one_line_each(built: Path, tmp_path: Path, run: Run) -> None:
    answer = run("changes", built, with_odd_words(tmp_path / "odd #1"), "--built", "plate")
    assert answer.status in (0, 1)
    assert "\u202e" not in answer.out
    assert "\x1b" not in answer.out
