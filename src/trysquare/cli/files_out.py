"""Writing a finished file: whole or not at all, and never over somebody's other work."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from trysquare.cli import words
from trysquare.cli.answers import NotThere


def look_at(out: Path, begins: bytes, kind: str, ending: str = "") -> None:
    """Raises NotThere when `out` is a folder, is named as another kind of file than `ending` (such as .pdf),
    is there and does not begin as our files of this kind do, or lies where nothing can be written."""
    if out.is_dir():
        raise NotThere(f"{words.one_line(out)} is a folder. Name a file in it.")
    if ending and out.suffix.lower() != ending:
        better = f"{words.one_line(out.stem)}{ending}"
        raise NotThere(f"{words.one_line(out)} would hold a {kind}. Name it {better}.")
    if out.is_file() and out.stat().st_size:
        with out.open("rb") as file:
            if file.read(len(begins)) != begins:
                raise NotThere(f"{words.one_line(out)} is there and is no {kind}. Choose another name.")

    look_at_folder(out.parent)


def look_at_folder(folder: Path) -> None:
    """Raises NotThere when `folder` is there and is none, or cannot be written or made: before the work."""
    there = next((place for place in (folder, *folder.parents) if place.exists()), Path())
    if not there.is_dir():
        raise NotThere(f"{words.one_line(there)} is a file and no folder. Choose another place.")
    if not os.access(there, os.W_OK | os.X_OK):
        raise NotThere(f"Nothing can be written in {words.one_line(there)}. Choose another place.")


def write(out: Path, content: bytes) -> None:
    """Writes the file; on any failure nothing is left behind."""
    out.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=out.parent, prefix=".writing-", suffix=out.suffix)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        mask = os.umask(0)
        os.umask(mask)
        Path(name).chmod(0o666 & ~mask)  # as any new file; a temporary one is for its maker alone
        Path(name).replace(out)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink(missing_ok=True)
        raise
