"""Files that are there whole or not at all, and facts kept in them with a check."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any


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


def kept_facts(file: Path) -> dict[str, Any] | None:
    """The facts kept in a file, or None when there are none or they are damaged."""
    try:
        check, _, body = file.read_bytes().partition(b"\n")
        if check.decode("ascii") != hashlib.sha256(body).hexdigest():
            return None
        facts = json.loads(body)
    except (OSError, ValueError):
        return None
    return facts if isinstance(facts, dict) else None


def keep_facts(file: Path, facts: Mapping[str, Any]) -> bool:
    """Keeps facts in a folder that git shall not see; False when this place cannot be written."""
    # Not sorted: the text follows the facts' own order. Odd bytes of a file's name are kept as escapes.
    body = json.dumps(facts, ensure_ascii=True).encode()
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        ignore = file.parent / ".gitignore"
        if not ignore.exists():
            ignore.write_text("*\n", encoding="utf-8")
    except OSError:
        return False
    return written_whole(file, hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
