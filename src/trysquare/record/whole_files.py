"""Writing a file of the record: whole and on the disk, or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path


def write_whole(path: Path, pieces: Sequence[bytes]) -> None:
    """Puts the pieces, one after the other, in the place of what was there; on any failure nothing changes.

    Raises OSError.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".writing-", suffix=path.suffix)
    try:
        with os.fdopen(handle, "wb") as file:
            file.writelines(pieces)
            file.flush()
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        Path(name).chmod(0o666 & ~mask)
        Path(name).replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink(missing_ok=True)
        raise
    to_disk(path.parent)


def to_disk(path: Path) -> None:
    """Waits until a file, or the names in a folder, are on the disk. Some systems cannot for a folder."""
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0)
    if path.is_dir() and os.name == "nt":
        return
    handle = os.open(path, flags)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
