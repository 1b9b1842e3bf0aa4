"""Photos, recordings and other files of a build, beside its log, each under the hash of its content.

`log-files/<first two digits>/<sha256><suffix>`: a file is there whole or not at all, the same content is
kept once, and nothing is ever written over.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from trysquare.ground.errors import ReadingError, Where
from trysquare.record.events import Event
from trysquare.record.faults import Fault, LogNotWritable
from trysquare.record.whole_files import to_disk

FOLDER_NAME = "log-files"
LARGEST_BYTES = 500_000_000
_SUFFIX = re.compile(r"(\.[a-z0-9]{1,8})?")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_FILE_KINDS = frozenset({"photo", "file"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A file that is kept. `new`: whether it was not there before."""

    sha256: str
    suffix: str
    size_bytes: int
    path: Path
    new: bool


def keep(
    folder: Path, content: bytes | Iterable[bytes], suffix: str, most_bytes: int = LARGEST_BYTES
) -> Kept:
    """Keeps a file of a machine folder; `content` may come in pieces. `suffix`: ".jpg", or "" for none.

    Written beside its place, brought to the disk, then renamed. Raises ReadingError for a suffix that is
    none and for more than `most_bytes`; LogNotWritable when the disk does not take it. Nothing is left then.
    """
    if not _SUFFIX.fullmatch(suffix):
        expected = "a dot and 1 to 8 small letters or digits, or nothing"
        raise _error("suffix", suffix, expected, "Give the file's own ending, such as .jpg.")
    keeper = _Keeper(folder, most_bytes)
    try:
        return keeper.keep([content] if isinstance(content, bytes) else content, suffix)
    except OSError as error:
        raise LogNotWritable(
            where=str(folder / FOLDER_NAME),
            read=error.strerror or str(error),
            expected="a folder with room that can be written",
            remedy="Nothing was kept. Make room, or give yourself the right to write; then send it again.",
            passing=True,
        ) from error
    finally:
        keeper.clear()


class _Keeper:
    """One file on its way."""

    def __init__(self, folder: Path, most_bytes: int) -> None:
        self.home = folder / FOLDER_NAME
        self.most_bytes = most_bytes
        self.written: Path | None = None

    def keep(self, pieces: Iterable[bytes], suffix: str) -> Kept:
        self.home.mkdir(exist_ok=True)
        handle, name = tempfile.mkstemp(dir=self.home, prefix=".writing-")
        self.written = Path(name)
        digest, size_bytes = hashlib.sha256(), 0
        with os.fdopen(handle, "wb") as file:
            for piece in pieces:
                size_bytes += len(piece)
                if size_bytes > self.most_bytes:
                    expected = f"at most {self.most_bytes} bytes"
                    raise _error("content", f"more than {self.most_bytes} bytes", expected, "Send less.")
                digest.update(piece)
                file.write(piece)
            file.flush()
            os.fsync(file.fileno())
        sha256 = digest.hexdigest()
        target = self.home / sha256[:2] / f"{sha256}{suffix}"
        new = not (target.is_file() and _hash_of(target) == sha256)
        if new:
            target.parent.mkdir(exist_ok=True)
            mask = os.umask(0)
            os.umask(mask)
            self.written.chmod(0o666 & ~mask)
            self.written.replace(target)
            for each in (target.parent, self.home):
                to_disk(each)
        return Kept(sha256=sha256, suffix=suffix, size_bytes=size_bytes, path=target, new=new)

    def clear(self) -> None:
        """Nothing half is left behind."""
        if self.written is not None:
            with contextlib.suppress(OSError):
                self.written.unlink(missing_ok=True)


def find(folder: Path, sha256: str) -> Path | None:
    """The file with this content's hash; None when it is not kept. Its content is not looked at."""
    if not _SHA256.fullmatch(sha256):
        return None
    found = [path for path in (folder / FOLDER_NAME / sha256[:2]).glob(f"{sha256}*") if _named(path)]
    return min(found, default=None)


def check_files(folder: Path, events: Iterable[Event]) -> tuple[Fault, ...]:
    """Hashes again every file that photo and file events name; what is missing or changed is a fault.

    `seq` of each fault is 0: an event does not know its number.
    """
    return tuple(_faults(folder, sorted(_wanted(events).items())))


def _faults(folder: Path, wanted: Sequence[tuple[str, str]]) -> Iterator[Fault]:
    for sha256, event in wanted:
        path = find(folder, sha256)
        if path is None:
            says = f"The file {sha256[:12]}… of event {event} is not in {FOLDER_NAME}."
            remedy = f"Copy {FOLDER_NAME} from where the log came from."
            yield Fault(code="file-missing", seq=0, says=says, remedy=remedy)
            continue
        try:
            right = _hash_of(path) == sha256
        except OSError as error:
            right, remedy = False, f"It cannot be read: {error.strerror}."
        else:
            remedy = "It was altered, or the disk lost it: put an unaltered copy in its place."
        if not right:
            says = f"The file {path.relative_to(folder)} of event {event} is not what was kept."
            yield Fault(code="file-changed", seq=0, says=says, remedy=remedy)


def left_over(folder: Path, events: Iterable[Event]) -> Sequence[Path]:
    """Files that no event names: uploads whose event never came. Nothing is deleted."""
    wanted = _wanted(events)
    found = [path for path in (folder / FOLDER_NAME).glob("*/*") if _named(path)]
    return sorted(path for path in found if path.stem not in wanted)


def _wanted(events: Iterable[Event]) -> dict[str, str]:
    """Hashes that events name, each with the first event that does."""
    wanted: dict[str, str] = {}
    for event in events:
        named = [event.data.get("sha256")] if event.kind in _FILE_KINDS else []
        listed = event.data.get("files")
        for sha256 in [*named, *(listed if isinstance(listed, list | tuple) else ())]:
            if isinstance(sha256, str) and _SHA256.fullmatch(sha256):
                wanted.setdefault(sha256, event.id)
    return wanted


def _named(path: Path) -> bool:
    """Whether it is named as our files are, and no link that leads elsewhere."""
    ours = (
        _SHA256.fullmatch(path.stem) and _SUFFIX.fullmatch(path.suffix) and path.parent.name == path.stem[:2]
    )
    return bool(ours) and path.is_file() and not path.is_symlink()


def _hash_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _error(key: str, read: object, expected: str, remedy: str) -> ReadingError:
    return ReadingError(where=Where(file="upload", key=key), read=read, expected=expected, remedy=remedy)
