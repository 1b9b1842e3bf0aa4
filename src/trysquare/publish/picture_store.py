"""Pictures kept by all that they follow from, so that a book of which one step changed is set at once.

One file a picture in a folder that can be deleted at any time. A damaged file is not believed.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import tempfile
from pathlib import Path
from typing import Any

MOST_FILES = 600
_OURS = re.compile(r"picture-[0-9a-f]{40}\.json")


class PictureStore:
    """A folder of kept pictures; None as folder keeps nothing."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder if folder is not None and not folder.is_symlink() else None

    def read(self, key: str) -> dict[str, Any] | None:
        """The kept picture of this key; None when there is none or it is damaged."""
        if self.folder is None:
            return None
        try:
            check, _, body = (self.folder / f"picture-{key}.json").read_bytes().partition(b"\n")
            if check.decode("ascii") != hashlib.sha256(body).hexdigest():
                return None
            facts = json.loads(body)
        except (OSError, ValueError):
            return None
        return facts if isinstance(facts, dict) else None

    def keep(self, key: str, facts: dict[str, Any]) -> None:
        """Writes whole or not at all; a place that cannot be written keeps nothing."""
        if self.folder is None:
            return
        body = json.dumps(facts, ensure_ascii=True).encode()
        written = ""
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            ignore = self.folder / ".gitignore"
            if not ignore.exists():
                ignore.write_text("*\n", encoding="utf-8")
            handle, written = tempfile.mkstemp(dir=self.folder, prefix="writing-", suffix=".tmp")
            with os.fdopen(handle, "wb") as file:
                file.write(hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
            Path(written).replace(self.folder / f"picture-{key}.json")
        except OSError:
            if written:
                with contextlib.suppress(OSError):
                    Path(written).unlink(missing_ok=True)

    def thin(self) -> None:
        """Drops the oldest pictures beyond the bound, and nothing that is not ours."""
        if self.folder is None:
            return
        with contextlib.suppress(OSError):
            kept = [file for file in self.folder.iterdir() if _OURS.fullmatch(file.name)]
            kept.sort(key=lambda file: file.stat().st_mtime_ns, reverse=True)
            for file in kept[MOST_FILES:]:
                file.unlink(missing_ok=True)
