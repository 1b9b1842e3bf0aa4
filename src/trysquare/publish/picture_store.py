"""Pictures kept by all that they follow from, so that a book of which one step changed is set at once.

One file a picture in a folder that can be deleted at any time. A damaged file is not believed.
"""

from __future__ import annotations

import contextlib
import re
from pathlib import Path
from typing import Any

from trysquare.publish.kept_files import keep_facts, kept_facts

MOST_FILES = 600
_OURS = re.compile(r"picture-[0-9a-f]{40}\.json")


class PictureStore:
    """A folder of kept pictures; None as folder keeps nothing."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder if folder is not None and not folder.is_symlink() else None

    def read(self, key: str) -> dict[str, Any] | None:
        """The kept picture of this key; None when there is none or it is damaged."""
        return None if self.folder is None else kept_facts(self.folder / f"picture-{key}.json")

    def keep(self, key: str, facts: dict[str, Any]) -> None:
        """Writes whole or not at all; a place that cannot be written keeps nothing."""
        if self.folder is not None:
            keep_facts(self.folder / f"picture-{key}.json", facts)

    def thin(self) -> None:
        """Drops the oldest pictures beyond the bound, and nothing that is not ours."""
        if self.folder is None:
            return
        with contextlib.suppress(OSError):
            kept = [file for file in self.folder.iterdir() if _OURS.fullmatch(file.name)]
            kept.sort(key=lambda file: file.stat().st_mtime_ns, reverse=True)
            for file in kept[MOST_FILES:]:
                file.unlink(missing_ok=True)
