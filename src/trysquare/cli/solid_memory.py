"""What is known of solids in a file: recalled before a check, kept after it. No harm comes of losing it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trysquare.cli.cache import FOLDER_NAME
from trysquare.publish.kept_files import written_whole
from trysquare.solid.shapes import know_sizes, known_sizes
from trysquare.solid.shared import know_apart, known_apart
from trysquare.solid.sizes import Kept, as_bytes, from_bytes

if TYPE_CHECKING:
    from trysquare.machine.values import Machine

LARGEST_BYTES = 8_000_000  # ten times what the bounds of what we keep let us write


def file_of(machine: Machine) -> Path:
    """Beside the machine."""
    return Path(machine.folder) / FOLDER_NAME / "solid-memory"


def recall(file: Path, program: str) -> None:
    """Takes over what a file knows of solids; nothing when there is no file, it is damaged or another
    program wrote it."""
    try:
        if file.stat().st_size > LARGEST_BYTES:
            return
        content = file.read_bytes()
    except OSError:
        return
    kept = from_bytes(content, program)
    know_sizes(kept.sizes)
    know_apart(kept.apart)


def keep(file: Path, program: str) -> bool:
    """Writes what is known of solids by now; False when the place cannot be written."""
    return written_whole(file, as_bytes(Kept(known_sizes(), known_apart()), program))
