"""Where what was computed is kept: a folder of facts by key, and of drawings and meshes by content.

Everything in it can be deleted at any time; a damaged file is not believed.
"""

from __future__ import annotations

import contextlib
import gzip
import hashlib
import os
import re
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from trysquare.bench.facts import PARTS

FOLDER_NAME = "bench"
MOST_KEYS = 4
MOST_DRAWINGS = 3000
_FACTS = re.compile(r"(?P<part>[a-z]+)-(?P<key>[0-9a-f]{64})\.json")
_DRAWING = re.compile(r"[0-9a-f]{40}\.(svg|bin|json)\.gz")

Value = TypeVar("Value")


class KeptAnswers:
    """One folder of kept answers. Its files are written whole or not at all."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def read(self, part: str, key: str) -> Any:
        """A part of this key as the value it is; None when it is not kept or damaged."""
        try:
            check, _, body = (self.folder / f"{part}-{key}.json").read_bytes().partition(b"\n")
            if check.decode("ascii") != hashlib.sha256(body).hexdigest():
                return None
            return msgspec.json.decode(body, type=PARTS[part])
        except (OSError, ValueError, msgspec.MsgspecError):
            return None

    def keep(self, part: str, key: str, value: object) -> None:
        """Keeps a part. Raises OSError where the folder does not take it."""
        body = msgspec.json.encode(value)
        self._write(f"{part}-{key}.json", hashlib.sha256(body).hexdigest().encode() + b"\n" + body)

    def keep_drawing(self, content: bytes, suffix: str) -> str:
        """Keeps a drawing or mesh under its content's name, packed; gives the name without ".gz"."""
        name = f"{hashlib.blake2b(content, digest_size=20).hexdigest()}.{suffix}"
        place = self.folder / f"{name}.gz"
        if place.exists():
            with contextlib.suppress(OSError):
                os.utime(place)
        else:
            self._write(place.name, gzip.compress(content, 6, mtime=0))
        return name

    def drawing(self, name: str) -> bytes | None:
        """A kept drawing as it is packed (gzip); None for any other name and for what is not kept."""
        if not _DRAWING.fullmatch(f"{name}.gz"):
            return None
        try:
            return (self.folder / f"{name}.gz").read_bytes()
        except OSError:
            return None

    def has_drawings(self, names: Iterable[str]) -> bool:
        """Whether all of these are still kept."""
        return all((self.folder / f"{name}.gz").is_file() for name in names)

    def thin(self) -> None:
        """Drops the oldest keys and drawings beyond the bounds, and nothing that is not ours."""
        with contextlib.suppress(OSError):
            keys: dict[str, list[Path]] = {}
            drawings: list[Path] = []
            for file in sorted(self.folder.iterdir(), key=lambda file: -file.stat().st_mtime_ns):
                facts = _FACTS.fullmatch(file.name)
                if facts is not None:
                    keys.setdefault(facts["key"], []).append(file)
                elif _DRAWING.fullmatch(file.name):
                    drawings.append(file)
            for files in list(keys.values())[MOST_KEYS:]:
                for file in files:
                    file.unlink(missing_ok=True)
            for file in drawings[MOST_DRAWINGS:]:
                file.unlink(missing_ok=True)

    def _write(self, name: str, content: bytes) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        handle, written = tempfile.mkstemp(dir=self.folder, prefix="writing-", suffix=".tmp")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            Path(written).replace(self.folder / name)
        except OSError:
            with contextlib.suppress(OSError):
                Path(written).unlink(missing_ok=True)
            raise


def open_kept(places: Iterable[Path]) -> KeptAnswers:
    """Kept answers in the first of these places that can be written; a link is not followed. Else a new
    temporary folder."""
    for place in places:
        folder = place / FOLDER_NAME
        try:
            if place.is_symlink() or folder.is_symlink():
                continue
            folder.mkdir(parents=True, exist_ok=True)
            ignore = place / ".gitignore"
            if not ignore.exists():
                ignore.write_text("*\n", encoding="utf-8")
            handle, probe = tempfile.mkstemp(dir=folder, prefix="writing-", suffix=".tmp")
            os.close(handle)
            Path(probe).unlink()
        except OSError:
            continue
        return KeptAnswers(folder)
    return KeptAnswers(Path(tempfile.mkdtemp(prefix="trysquare-")))
