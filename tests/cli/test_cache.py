"""Kept answers: believed when nothing changed, never otherwise."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from command_line import Run
from small_frame import STEPS
from trysquare.cli import cache
from trysquare.machine.folder import folder_files

pytestmark = pytest.mark.slow


def kept(folder: Path) -> list[Path]:
    return sorted((folder / cache.FOLDER_NAME).glob("*.json"))


def test_an_unchanged_folder_is_answered_from_what_was_kept(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = run("check", folder, "--json")
    monkeypatch.setattr("trysquare.cli.check_facts.check_facts", lambda *_: pytest.fail("asked anew"))
    assert run("check", folder, "--json") == first


@pytest.mark.slow
@pytest.mark.parametrize("way", [("check",), ("need",), ("need", "--steps"), ("need", "--why", "beam")])
def test_a_kept_answer_reads_like_a_new_one(folder: Path, run: Run, way: tuple[str, ...]) -> None:
    command, *rest = way
    assert (
        run(command, folder, *rest)
        == run(command, folder, *rest)
        == run(command, folder, *rest, "--no-cache")
    )


@pytest.mark.slow
@pytest.mark.parametrize("command", ["check", "need"])
def test_a_kept_answer_loads_nothing_heavy(folder: Path, command: str) -> None:
    source = Path(cache.__file__).parent.parent.parent
    code = (
        f"import sys; from trysquare.cli.main import main; main([{command!r}, {str(folder)!r}]); "
        "heavy = {'numpy', 'manifold3d', 'trimesh', 'scipy', 'trysquare.machine.load'}; "
        "print(sorted(heavy & set(sys.modules)))"
    )
    for heavy in ("numpy", "[]"):
        done = subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            check=True,
            env=os.environ | {"PYTHONPATH": str(source)},
        )
        assert heavy in done.stdout.splitlines()[-1]


def test_the_help_and_the_version_load_nothing_heavy() -> None:
    source = Path(cache.__file__).parent.parent.parent
    code = (
        "import sys; from trysquare.cli.main import main; main(sys.argv[1:]); "
        "print(sorted({'numpy', 'rich', 'trysquare.catalogue', 'trysquare.machine'} & set(sys.modules)))"
    )
    for arguments in (["--help"], ["--version"], ["check", "--help"]):
        done = subprocess.run(
            [sys.executable, "-c", code, *arguments],
            capture_output=True,
            text=True,
            check=True,
            env=os.environ | {"PYTHONPATH": str(source)},
        )
        assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["steps.toml", "units/frame.toml", "papers/upgrade.toml", "parts.toml", "machine.toml"]
)
def test_an_edited_file_is_read_anew(folder: Path, run: Run, name: str) -> None:
    before = run("check", folder, "--json").json
    file = folder / name
    was = file.stat()
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("Small frame", "Great frame") + "# edited\n", encoding="utf-8")
    os.utime(file, ns=(was.st_atime_ns, was.st_mtime_ns))  # even when its time does not tell
    after = run("check", folder, "--json").json
    assert len(kept(folder)) == 2
    assert (after["machine"] == "Great frame") == (name == "machine.toml")
    assert before["counts"] == after["counts"]


def test_a_removed_step_changes_the_answer(folder: Path, run: Run) -> None:
    assert run("check", folder, "--json").json["counts"]["steps"] == 5
    (folder / "steps.toml").write_text(STEPS.rpartition("[[step]]")[0], encoding="utf-8")
    assert run("check", folder, "--json").json["counts"]["steps"] == 4


def test_a_paper_from_outside_is_part_of_the_key(folder: Path, tmp_path: Path, run: Run) -> None:
    paper = tmp_path / "mine.toml"
    head = 'title = "Mine"\nkind = "modification"\nedition = "1"\n'
    paper.write_text(head, encoding="utf-8")
    assert run("check", folder, "--paper", paper, "--json").json["counts"]["papers"] == 3
    assert run("check", folder, "--json").json["counts"]["papers"] == 2
    paper.write_text(head + '[[void]]\nstep = "plate"\n', encoding="utf-8")
    assert run("check", folder, "--paper", paper, "--json").json["counts"]["steps"] == 4


def test_another_version_or_changed_sources_ask_anew(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("check", folder)
    monkeypatch.setattr(cache, "__version__", "99")
    run("check", folder)
    monkeypatch.setattr(cache, "source_stamp", lambda: "other")
    run("check", folder)
    assert len(kept(folder)) == 3


@pytest.mark.slow
@pytest.mark.parametrize(
    "damage",
    [
        b"",
        b"{",
        b"\xff\xfe\x00",
        b"0" * 64 + b"\n{}",
        json.dumps({"findings": []}).encode(),
    ],
)
def test_a_damaged_answer_is_silently_found_anew(folder: Path, run: Run, damage: bytes) -> None:
    first = run("check", folder, "--json")
    (file,) = kept(folder)
    file.write_bytes(damage)
    assert run("check", folder, "--json") == first
    assert file.read_bytes() != damage


def test_one_turned_bit_is_noticed(folder: Path, run: Run) -> None:
    first = run("check", folder, "--json")
    (file,) = kept(folder)
    data = bytearray(file.read_bytes())
    data[-20] ^= 1
    file.write_bytes(data)
    assert run("check", folder, "--json") == first


def test_the_cache_can_be_deleted_at_any_time(folder: Path, run: Run) -> None:
    first = run("need", folder, "--json")
    for file in (folder / cache.FOLDER_NAME).iterdir():
        file.unlink()
    (folder / cache.FOLDER_NAME).rmdir()
    assert run("need", folder, "--json") == first


def test_a_folder_that_cannot_be_written_uses_the_users_own_cache(folder: Path, run: Run) -> None:
    (folder / cache.FOLDER_NAME).write_text("a file in its place", encoding="utf-8")
    first = run("check", folder, "--json")
    mine = Path(os.environ["XDG_CACHE_HOME"]) / "trysquare"
    assert len(list(mine.glob("check-*.json"))) == 1
    assert run("check", folder, "--json") == first


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write anywhere"
)
def test_a_read_only_folder_is_answered(folder: Path, run: Run) -> None:
    folder.chmod(0o555)
    try:
        assert run("check", folder).status in (0, 1)
        assert not (folder / cache.FOLDER_NAME).exists()
    finally:
        folder.chmod(0o755)


def test_nowhere_to_write_is_no_obstacle(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("", encoding="utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(blocked))
    (folder / cache.FOLDER_NAME).write_text("", encoding="utf-8")
    assert run("check", folder).status in (0, 1)


def test_a_cache_that_is_a_link_is_not_followed(folder: Path, run: Run, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (folder / cache.FOLDER_NAME).symlink_to(elsewhere)
    run("check", folder)
    assert list(elsewhere.iterdir()) == []


def test_no_cache_neither_reads_nor_writes(folder: Path, run: Run) -> None:
    run("check", folder, "--no-cache")
    assert not (folder / cache.FOLDER_NAME).exists()


def test_the_cache_is_bounded_and_drops_only_its_own_oldest(folder: Path) -> None:
    place = folder / cache.FOLDER_NAME
    place.mkdir()
    (place / "mine.txt").write_text("stays", encoding="utf-8")
    for index in range(cache.MOST_FILES + 5):
        facts: dict[str, Any] = {"index": index}
        old = place / f"check-{index:064x}.json"
        assert cache._keep(place, old.name, facts)
        os.utime(old, ns=(index * 10**9, index * 10**9))
    cache._thin(place)
    names = {file.name for file in place.iterdir()}
    assert "mine.txt" in names
    assert sum(name.startswith("check-") for name in names) == cache.MOST_FILES
    assert f"check-{cache.MOST_FILES + 4:064x}.json" in names
    assert not [name for name in names if name.startswith("writing-")]


def test_an_unreadable_folder_is_never_kept(folder: Path, run: Run) -> None:
    (folder / "parts.toml").write_text("[[[", encoding="utf-8")
    assert run("check", folder).status == 2
    assert not kept(folder)


def test_a_file_saved_while_we_read_leaves_nothing_kept(folder: Path) -> None:
    def compute() -> dict[str, Any]:
        (folder / "steps.toml").write_text("", encoding="utf-8")
        return {"steps": 5}

    assert cache.answer("check", folder, [], compute) == {"steps": 5}
    assert not kept(folder)


def test_every_file_that_is_read_is_watched(folder: Path) -> None:
    for name in (
        "list.csv",
        "parts/b.toml",
        "steps/a.toml",
        "shapes/x.stl",
        "shapes/in/y.stl",
        "rulings.toml",
    ):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(name, encoding="utf-8")
    assert len(folder_files(folder)) == 13
    assert set(folder_files(folder)) <= set(cache.watched_files(folder))


def test_the_kept_answers_stay_out_of_version_control(folder: Path, run: Run) -> None:
    run("check", folder)
    assert (folder / cache.FOLDER_NAME / ".gitignore").read_text(encoding="utf-8") == "*\n"
