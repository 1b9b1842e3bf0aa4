"""Files that are there whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path


def written_whole(file: Path, content: bytes) -> bool:
    """Writes a file whole or not at all; False when the place cannot be written."""
    written = ""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, written = tempfile.mkstemp(dir=file.parent, prefix="writing-", suffix=".tmp")
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        Path(written).replace(file)
    except OSError:
        if written:
            with contextlib.suppress(OSError):
                Path(written).unlink(missing_ok=True)
        return False
    return True
