"""The order's answers in a file: recalled before a check, kept after it. No harm comes of losing it."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING

from trysquare.cli.cache import FOLDER_NAME, source_stamp
from trysquare.publish.kept_files import written_whole
from trysquare.sequence.memory import Memory, as_bytes, from_bytes

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.sequence.reach import Reach


def recalled(machine: Machine) -> Reach:
    """The geometry of a machine with what the last check found out about it."""
    from trysquare.cli import solid_memory
    from trysquare.sequence.reach import Reach

    solid_memory.recall(solid_memory.file_of(machine), source_stamp())
    return Reach(machine, recall(_file(machine), source_stamp()))


def keep_for_next(machine: Machine, reach: Reach) -> None:
    """Keeps what is known now beside the machine, where that can be written and is no link."""
    from trysquare.cli import solid_memory

    file = _file(machine)
    if not file.parent.is_symlink() and keep(file, source_stamp(), reach.remembered()):
        solid_memory.keep(solid_memory.file_of(machine), source_stamp())
        ignore = file.parent / ".gitignore"
        if not ignore.exists():
            with contextlib.suppress(OSError):
                ignore.write_text("*\n", encoding="utf-8")


def _file(machine: Machine) -> Path:
    return Path(machine.folder) / FOLDER_NAME / "order-memory"


def recall(file: Path, program: str) -> Memory:
    """The answers of a file; none when there is no file, it is damaged or another program wrote it."""
    try:
        content = file.read_bytes()
    except OSError:
        return Memory()
    return from_bytes(content, program)


def keep(file: Path, program: str, memory: Memory) -> bool:
    """Writes the answers whole or not at all; False when the place cannot be written."""
    return written_whole(file, as_bytes(memory, program))
