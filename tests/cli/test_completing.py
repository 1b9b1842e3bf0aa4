"""The Tab key: files, folders, and names of the machine that the line has named so far."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.shell_completion import ShellComplete

from trysquare.cli.main import trysquare

ROOT = Path(__file__).resolve().parents[2]
REED = str(ROOT / "demo" / "reed-joints")


def offered(*words: str) -> list[tuple[str, str]]:
    """Sort and text of what is offered for the last word."""
    tab = ShellComplete(trysquare, {}, "trysquare", "_TRYSQUARE_COMPLETE")
    return [(one.type, one.value) for one in tab.get_completions(list(words[:-1]), words[-1])]


@pytest.mark.parametrize(
    ("words", "sort"),
    [
        (("check", "de"), "dir"),
        (("check", REED, "--paper", "pa"), "file"),
        (("draw", REED, "feet", "--out", "c"), "file"),
        (("export", REED, "--step", "c"), "file"),
        (("import", "li"), "file"),
        (("import", "list.csv", ""), "dir"),
        (("tune", "belt", "pl"), "file"),
        (("tune", "heat", "--machine", "d"), "dir"),
        (("changes", "ol"), "file"),
    ],
)
def test_files_and_folders_are_left_to_the_shell(words: tuple[str, ...], sort: str) -> None:
    assert offered(*words) == [(sort, words[-1])]


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (("state", REED, "rail-t"), "rail-true"),
        (("draw", REED, "fe"), "feet"),
        (("slots", REED, "track/b"), "track/base"),
        (("show", REED, "track/rail-sc"), "track/rail-screws"),
        (("why", "nut-shut"), "nut-shut-out"),
    ],
)
def test_a_name_of_the_machine_is_offered(words: tuple[str, ...], name: str) -> None:
    assert ("plain", name) in offered(*words)


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (("need", REED, "--step", ""), "feet"),
        (("true", REED, "--step", "rail-t"), "rail-true"),
        (("need", REED, "--why", ""), "carriage-plate"),
    ],
)
def test_an_option_without_its_value_still_finds_the_folder(
    monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], name: str
) -> None:
    monkeypatch.setenv("COMP_WORDS", " ".join(["trysquare", *words]))
    assert ("plain", name) in offered(*words)


@pytest.mark.parametrize("folder", ["nowhere", str(ROOT / "docs"), ""])
def test_a_folder_that_cannot_be_read_offers_nothing(folder: str) -> None:
    assert offered("state", folder, "") == []


def test_a_broken_machine_offers_nothing_and_says_nothing(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "machine.toml").write_text("not = [toml", "utf-8")
    assert offered("state", str(tmp_path), "") == []
    assert capfd.readouterr() == ("", "")
