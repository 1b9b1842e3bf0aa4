"""What book, pictures and cards are made of: the machine and its answers, recalled where they are kept."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trysquare.cli import cache, order_memory
from trysquare.cli.facts import read_machine
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.machine.values import Machine
from trysquare.sequence.reach import Reach
from trysquare.stock.counting import read_count
from trysquare.stock.letters import KeptLetter, read_letters
from trysquare.stock.need import Need, need

if TYPE_CHECKING:
    from trysquare.publish.known import Known
    from trysquare.publish.picture_store import PictureStore

MEMORY_FILE = "book-memory.bin"


def read_known(
    folder: str, papers: Sequence[str], *, use_cache: bool, with_findings: bool
) -> tuple[Known, tuple[KeptLetter, ...]]:
    """The machine's answers and the letters kept. Raises ReadingErrors."""
    from trysquare.cli.check_facts import all_findings
    from trysquare.publish.known import known_of
    from trysquare.sequence.memory import Memory

    machine = read_machine(folder, papers)
    problems: list[ReadingError] = []
    kept = read_letters(Path(machine.folder), problems)
    whole = need(machine)
    boxes = _boxes(machine, whole, problems) if with_findings else {}
    if problems:
        raise ReadingErrors(problems)
    file = Path(folder) / cache.FOLDER_NAME / MEMORY_FILE
    use = use_cache and not file.parent.is_symlink()
    memory = order_memory.recall(file, cache.source_stamp()) if use else Memory()
    reach = Reach(machine, memory)
    findings = all_findings(machine, whole, reach) if with_findings else []
    known = known_of(machine, kept, reach=reach, findings=findings, boxes_of=boxes)
    if use:
        order_memory.keep(file, cache.source_stamp(), reach.remembered())
    return known, kept


def picture_store(folder: str, *, use_cache: bool) -> PictureStore:
    """Where pictures of this folder are kept."""
    from trysquare.publish.picture_store import PictureStore

    return PictureStore(Path(folder) / cache.FOLDER_NAME if use_cache and Path(folder).is_dir() else None)


def _boxes(
    machine: Machine, whole: Need, problems: list[ReadingError]
) -> dict[str, tuple[tuple[str, int], ...]]:
    """For each part the boxes that its pieces came in, as far as the packing lists are certain."""
    found: dict[str, dict[str, int]] = {}
    for lot in read_count(machine, whole, problems).lots:
        if lot.pieces:
            row = found.setdefault(lot.part, {})
            row[lot.box] = row.get(lot.box, 0) + lot.pieces
    return {part: tuple(row.items()) for part, row in found.items()}
