"""Photos and files beside the log."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log_entries import SHA256_OF_NOTHING, said
from trysquare.ground.errors import ReadingError
from trysquare.record.faults import LogNotWritable
from trysquare.record.keeping import check_files, find, keep, left_over

PICTURE = b"\xff\xd8 not quite a picture " * 1000


def files(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def test_a_file_lies_under_the_hash_of_its_content(tmp_path: Path) -> None:
    kept = keep(tmp_path, PICTURE, ".jpg")
    sha256 = hashlib.sha256(PICTURE).hexdigest()
    assert (kept.sha256, kept.size_bytes, kept.new) == (sha256, len(PICTURE), True)
    assert files(tmp_path) == [f"log-files/{sha256[:2]}/{sha256}.jpg"]
    assert find(tmp_path, sha256) == kept.path
    assert kept.path.read_bytes() == PICTURE


def test_the_same_content_is_kept_once_in_whatever_pieces_it_comes(tmp_path: Path) -> None:
    first = keep(tmp_path, PICTURE, ".jpg")
    again = keep(tmp_path, (PICTURE[at : at + 7] for at in range(0, len(PICTURE), 7)), ".jpg")
    assert (again.sha256, again.new) == (first.sha256, False)
    assert len(files(tmp_path)) == 1


def test_a_spoilt_file_is_mended_when_its_content_comes_again(tmp_path: Path) -> None:
    kept = keep(tmp_path, PICTURE, ".jpg")
    kept.path.write_bytes(b"spoilt")
    assert keep(tmp_path, PICTURE, ".jpg").new
    assert kept.path.read_bytes() == PICTURE


def test_nothing_of_a_file_is_kept(tmp_path: Path) -> None:
    assert keep(tmp_path, b"", "").sha256 == SHA256_OF_NOTHING


@pytest.mark.parametrize("suffix", ["jpg", ".JPG", ".", "../x", ".a/b", ".aaaaaaaaa", ".a.b", ".\0"])
def test_an_ending_that_is_none_is_refused(tmp_path: Path, suffix: str) -> None:
    with pytest.raises(ReadingError):
        keep(tmp_path, PICTURE, suffix)
    assert files(tmp_path) == []


def test_too_large_a_file_is_refused_and_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match="at most 100 bytes"):
        keep(tmp_path, [b"x" * 60, b"x" * 60], ".jpg", most_bytes=100)
    assert files(tmp_path) == []


def test_a_sender_that_breaks_off_leaves_nothing(tmp_path: Path) -> None:
    def pieces() -> object:
        yield b"half"
        raise ConnectionResetError

    with pytest.raises(LogNotWritable):
        keep(tmp_path, pieces(), ".jpg")  # type: ignore[arg-type]
    assert files(tmp_path) == []


def test_a_folder_that_is_not_there_is_no_place(tmp_path: Path) -> None:
    with pytest.raises(LogNotWritable) as caught:
        keep(tmp_path / "no", PICTURE, ".jpg")
    assert caught.value.remedy.startswith("Nothing was kept.")


def test_files_that_are_gone_or_changed_are_named_and_those_of_nobody_too(tmp_path: Path) -> None:
    good, gone, changed, nobodys = (keep(tmp_path, bytes([number]) * 9, ".jpg") for number in range(4))
    events = [
        said("photo", id="good", sha256=good.sha256, suffix=".jpg"),
        said("reading", id="gone", of="x", value=1, unit="mm", files=[gone.sha256]),
        said("file", id="changed", sha256=changed.sha256, suffix=".jpg"),
        said("note", id="none", says="x"),
    ]
    assert check_files(tmp_path, events) == ()
    gone.path.unlink()
    changed.path.write_bytes(b"other")
    assert {(fault.code, "event gone" in fault.says) for fault in check_files(tmp_path, events)} == {
        ("file-missing", True),
        ("file-changed", False),
    }
    assert left_over(tmp_path, events) == [nobodys.path]


@given(word=st.text(max_size=80) | st.from_regex("[0-9a-f]{64}", fullmatch=True))
@pytest.mark.slow
def test_no_word_finds_a_file_that_is_not_ours(tmp_path_factory: pytest.TempPathFactory, word: str) -> None:
    folder = tmp_path_factory.getbasetemp()
    assert find(folder, word) is None


def test_a_link_is_not_followed(tmp_path: Path) -> None:
    kept = keep(tmp_path, PICTURE, ".jpg")
    secret = tmp_path / "secret"
    secret.write_bytes(PICTURE)
    kept.path.unlink()
    kept.path.symlink_to(secret)
    assert find(tmp_path, kept.sha256) is None
