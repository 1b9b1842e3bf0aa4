"""Answers kept beside the machine, so that an unchanged folder is answered at once.

The key is made of the folder's bytes, of our version and of our own source files; a changed file or
another Trysquare asks anew. A cache can be deleted at any time; a damaged one is not believed.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from trysquare import __version__
from trysquare.publish.kept_files import keep_facts, kept_facts

FOLDER_NAME = ".trysquare-cache"
MOST_FILES = 16
MOST_BYTES = 32_000_000  # some hundred large answers
_OURS = re.compile(r"(check|need)-[0-9a-f]{64}\.json")


def answer(
    sort: str,
    folder: Path,
    papers: Sequence[Path],
    compute: Callable[[], dict[str, Any]],
    *,
    use: bool = True,
) -> dict[str, Any]:
    """The kept answer of this sort ("check" or "need") of an unchanged folder, else `compute()`, then kept.

    What `compute` raises goes through: an unreadable folder is never kept.
    """
    if not use or not folder.is_dir():
        return compute()
    key = _key(sort, folder, papers)
    name = f"{sort}-{key}.json"
    for place in _places(folder):
        kept = kept_facts(place / name)
        if kept is not None:
            return kept
    facts = compute()
    # A file may have been saved while we were reading; then this answer has no key.
    if _key(sort, folder, papers) == key:
        for place in _places(folder):
            if _keep(place, name, facts):
                break
    return facts


def _key(sort: str, folder: Path, papers: Sequence[Path]) -> str:
    digest = hashlib.sha256()
    for part in (sort, __version__, source_stamp(), folder_digest(folder, papers)):
        digest.update(part.encode())
        digest.update(b"\0")
    return digest.hexdigest()


def source_stamp() -> str:
    """Changes whenever a file of the program itself changes: its name, size and time."""
    package = Path(__file__).resolve().parent.parent
    digest = hashlib.sha256()
    for path in sorted(package.rglob("*")):
        if path.suffix in (".py", ".csv"):
            stat = path.stat()
            digest.update(f"{path.relative_to(package)} {stat.st_size} {stat.st_mtime_ns}\n".encode())
    return digest.hexdigest()


_NOT_THE_MACHINE = ("imports.toml",)
"""Watched, since pages show what stands in it, but no word of it changes the machine."""


def watched_files(folder: Path) -> list[Path]:
    """Every file that a machine may be read from, sorted.

    `machine.folder.folder_files` names the files that are read, but that room loads numpy, and an answer
    that is kept must come without it. A test holds this list to that one.
    """
    found = sorted(folder.glob("*.toml")) + sorted(folder.glob("*.csv"))
    for name in ("parts", "steps", "units", "papers"):
        found += sorted((folder / name).glob("*.toml"))
    found += sorted((folder / "shapes").rglob("*"))
    # Packing lists are no part of the machine, but check looks whether they suffice.
    found += sorted((folder / "boxes").glob("*"))
    return [file for file in found if file.is_file()]


def folder_digest(folder: Path, papers: Sequence[Path] = ()) -> str:
    """A digest of the names and bytes of the watched files that the machine is read from and of the papers
    from outside."""
    digest = hashlib.sha256()
    for file in [*watched_files(folder), *papers]:
        if file.parent == folder and file.name in _NOT_THE_MACHINE:
            continue
        name = str(file.relative_to(folder) if file.is_relative_to(folder) else file.name)
        digest.update(os.fsencode(name))
        try:
            with file.open("rb") as stream:
                digest.update(b"\0" + hashlib.file_digest(stream, "sha256").digest())
        except OSError as error:
            digest.update(f"\0unreadable {error.errno}".encode())
    return digest.hexdigest()


def _places(folder: Path) -> list[Path]:
    """Beside the machine; else in the user's own cache. A link is not followed: it could lead anywhere."""
    places = []
    beside = folder / FOLDER_NAME
    if not beside.is_symlink():
        places.append(beside)
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or ""
    with contextlib.suppress(RuntimeError):  # no home folder
        places.append((Path(base) if base else Path.home() / ".cache") / "trysquare")
    return places


def _keep(place: Path, name: str, facts: dict[str, Any]) -> bool:
    """Writes whole or not at all; False when this place cannot be written."""
    if not keep_facts(place / name, facts):
        return False
    try:
        _thin(place)
    except OSError:
        return False
    return True


def _thin(place: Path) -> None:
    """Drops the oldest answers beyond the bounds, and nothing that is not ours."""
    kept = sorted(
        (file for file in place.iterdir() if _OURS.fullmatch(file.name)),
        key=lambda file: file.stat().st_mtime_ns,
        reverse=True,
    )
    total = 0
    for index, file in enumerate(kept):
        total += file.stat().st_size
        if index and (index >= MOST_FILES or total > MOST_BYTES):
            file.unlink(missing_ok=True)
