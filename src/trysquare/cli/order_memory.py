"""The order's answers in a file: recalled before a check, kept after it. No harm comes of losing it."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from trysquare.sequence.memory import Memory, as_bytes, from_bytes


def recall(file: Path, program: str) -> Memory:
    """The answers of a file; none when there is no file, it is damaged or another program wrote it."""
    try:
        content = file.read_bytes()
    except OSError:
        return Memory()
    return from_bytes(content, program)


def keep(file: Path, program: str, memory: Memory) -> bool:
    """Writes the answers whole or not at all; False when the place cannot be written."""
    written = ""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, written = tempfile.mkstemp(dir=file.parent, prefix="writing-", suffix=".tmp")
        with os.fdopen(handle, "wb") as stream:
            stream.write(as_bytes(memory, program))
        Path(written).replace(file)
    except OSError:
        if written:
            with contextlib.suppress(OSError):
                Path(written).unlink(missing_ok=True)
        return False
    return True
