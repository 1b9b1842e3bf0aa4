"""Puts an imported folder in its place: never over a builder's text without a backup and a diff.

`.imported/` keeps what the last import wrote: a file that is still like that is nobody's work and gives way.
Where the builder changed one and the new revision another line, both stand; where both changed the same,
nothing at all is written until the builder says so.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from trysquare.cli.files_out import write
from trysquare.cli.import_merge import differences, merged

BASE, BACKUPS, WAITING = ".imported", ".before-import", ".import-waits"
TEXT = ".toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One file of the folder. `diff`: yours against what comes.

    `does`: "new", "same", "updated" (it was as the last import left it), "merged" (the builder's changes
    stand), "conflict" (both changed the same lines), "retired" (no longer in the file, and untouched), "left"
    (no longer in the file, but the builder changed it).
    """

    name: str
    does: str
    content: bytes = b""
    diff: tuple[str, ...] = ()

    @property
    def touches(self) -> bool:
        """Whether something that is there gives way."""
        return self.does in ("updated", "merged", "conflict", "retired")


def planned(folder: Path, files: Mapping[str, bytes]) -> list[Change]:
    """What writing these files into the folder would do to each; nothing is written."""
    changes = []
    for name, content in files.items():
        place, base = folder / name, folder / BASE / name
        if not place.exists():
            changes.append(Change(name=name, does="new", content=content))
            continue
        there = place.read_bytes()
        was = base.read_bytes() if base.is_file() else None
        if there == content:
            changes.append(Change(name=name, does="same", content=content))
        elif there == was:
            changes.append(
                Change(name=name, does="updated", content=content, diff=_diff(name, there, content))
            )
        else:
            changes.append(_both_changed(name, was, there, content))
    changes += _gone(folder, files)
    return changes


def _both_changed(name: str, was: bytes | None, mine: bytes, theirs: bytes) -> Change:
    if was is not None and was == theirs:  # the file says nothing new here: the builder's text stands
        return Change(name=name, does="same", content=mine)
    if was is not None and name.endswith(TEXT):
        try:
            text, agree = merged(was.decode(), mine.decode(), theirs.decode())
        except UnicodeDecodeError:
            pass
        else:
            content = text.encode()
            does = "merged" if agree else "conflict"
            return Change(name=name, does=does, content=content, diff=_diff(name, mine, content))
    return Change(name=name, does="conflict", content=theirs, diff=_diff(name, mine, theirs))


def _gone(folder: Path, files: Mapping[str, bytes]) -> list[Change]:
    """Files of the last import that the new one no longer has."""
    base = folder / BASE
    if not base.is_dir():
        return []
    found = []
    for old in sorted(base.rglob("*")):
        name = old.relative_to(base).as_posix()
        place = folder / name
        if old.is_dir() or name in files or not place.is_file():
            continue
        untouched = place.read_bytes() == old.read_bytes()
        diff = _diff(name, place.read_bytes(), b"") if untouched else ()
        found.append(Change(name=name, does="retired" if untouched else "left", diff=diff))
    return found


def _diff(name: str, old: bytes, new: bytes) -> tuple[str, ...]:
    if not name.endswith(TEXT):
        return (f"{name}: {len(old)} bytes, now {len(new)}",)
    return tuple(differences(old.decode("utf-8", "replace"), new.decode("utf-8", "replace"), name))


def written(folder: Path, changes: list[Change], files: Mapping[str, bytes]) -> str:
    """Does what was planned, conflicts as well; the name of the backup folder, "" when nothing gave way.

    The backup is complete before the first file is written.
    """
    backup = ""
    giving_way = [change for change in changes if change.touches]
    if giving_way:
        place = _next(folder / BACKUPS)
        for change in giving_way:
            copy = place / change.name
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(folder / change.name, copy)
        diff = "\n".join(line for change in giving_way for line in change.diff)
        write(place / "changes.diff", (diff + "\n").encode())
        backup = place.relative_to(folder).as_posix()
    for change in changes:
        if change.does in ("new", "updated", "merged", "conflict"):
            write(folder / change.name, change.content)
        elif change.does == "retired":
            (folder / change.name).unlink()
    keep_base(folder, files)
    shutil.rmtree(folder / WAITING, ignore_errors=True)
    return backup


def keep_base(folder: Path, files: Mapping[str, bytes]) -> None:
    """Remembers what this import wrote, for the next one."""
    base = folder / BASE
    with tempfile.TemporaryDirectory(dir=folder, prefix=".writing-") as new:
        fresh = Path(new) / "base"
        for name, content in files.items():
            write(fresh / name, content)
        shutil.rmtree(base, ignore_errors=True)
        fresh.replace(base)


def left_waiting(folder: Path, files: Mapping[str, bytes]) -> str:
    """Writes the new files beside the builder's, where nothing reads them; the name of that folder."""
    place = folder / WAITING
    shutil.rmtree(place, ignore_errors=True)
    for name, content in files.items():
        write(place / name, content)
    return WAITING


def _next(place: Path) -> Path:
    number = 1 + max((int(one.name) for one in place.glob("[0-9]*") if one.name.isdecimal()), default=0)
    return place / str(number)
