"""Facts kept in files: whole, believed only while undamaged."""

from __future__ import annotations

from pathlib import Path

from trysquare.publish.kept_files import keep_facts, kept_facts, written_whole


def test_kept_facts_come_back_and_git_does_not_see_them(tmp_path: Path) -> None:
    file = tmp_path / "kept" / "one.json"
    assert keep_facts(file, {"b": 1, "a": ["ö"]})
    assert kept_facts(file) == {"b": 1, "a": ["ö"]}
    assert (tmp_path / "kept" / ".gitignore").read_text() == "*\n"


def test_facts_with_one_byte_changed_are_not_believed(tmp_path: Path) -> None:
    file = tmp_path / "one.json"
    keep_facts(file, {"pieces": 12})
    file.write_bytes(file.read_bytes().replace(b"12", b"13"))
    assert kept_facts(file) is None


def test_a_place_that_is_a_file_keeps_nothing_and_leaves_nothing_behind(tmp_path: Path) -> None:
    (tmp_path / "kept").write_text("mine")
    assert not keep_facts(tmp_path / "kept" / "one.json", {})
    assert not written_whole(tmp_path / "kept" / "one.json", b"")
    assert [path.name for path in tmp_path.iterdir()] == ["kept"]
