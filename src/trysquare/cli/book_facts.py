"""What book, pictures and cards are made of: the machine and its answers, recalled where they are kept."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from trysquare.cli import cache, order_memory, solid_memory
from trysquare.cli.beside import beside
from trysquare.cli.facts import read_machine
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.machine.values import Machine
from trysquare.sequence.memory import Memory
from trysquare.sequence.reach import Reach
from trysquare.solid.shared import know_apart, known_apart
from trysquare.stock.counting import read_count
from trysquare.stock.letters import KeptLetter, read_letters
from trysquare.stock.need import Need, need

if TYPE_CHECKING:
    from trysquare.publish.known import Known
    from trysquare.publish.picture_store import PictureStore
    from trysquare.sequence.wrong_ways import WrongWay

MEMORY_FILE = "book-memory.bin"


def read_known(
    folder: str, papers: Sequence[str], *, use_cache: bool, with_findings: bool
) -> tuple[Known, tuple[KeptLetter, ...]]:
    """The machine's answers and the letters kept. Raises ReadingErrors."""
    from trysquare.cli.check_facts import all_findings, boxes_unread
    from trysquare.publish.known import Judged, known_of

    machine = read_machine(folder, papers)
    problems: list[ReadingError] = []
    kept = read_letters(Path(machine.folder), problems)
    whole = need(machine)
    if problems:
        raise ReadingErrors(problems)
    boxes = _boxes(machine, whole, problems) if with_findings else {}
    unread = boxes_unread(problems)
    reach = _recalled(machine) if use_cache else Reach(machine)
    looking = beside(partial(_ways, machine, reach))

    def judged() -> Judged:
        findings = [*all_findings(machine, whole, reach), *unread] if with_findings else []
        ways, memory, apart = looking()
        reach.learn(memory)
        know_apart(apart)
        return Judged(ways=ways, findings=tuple(findings))

    known = known_of(machine, kept, reach=reach, judged=judged, boxes_of=boxes)
    if use_cache:
        keep_known(known)
    return known, kept


def _ways(machine: Machine, reach: Reach) -> tuple[tuple[WrongWay, ...], Memory, frozenset[bytes]]:
    """What takes longest to know, and what was learned on the way there."""
    from trysquare.sequence.wrong_ways import wrong_ways

    return wrong_ways(machine, reach), reach.remembered(), known_apart()


def _recalled(machine: Machine) -> Reach:
    """The geometry of a machine with what the last book found out about it."""
    file = Path(machine.folder) / cache.FOLDER_NAME / MEMORY_FILE
    if file.parent.is_symlink():
        return Reach(machine)
    solid_memory.recall(solid_memory.file_of(machine), cache.source_stamp())
    return Reach(machine, order_memory.recall(file, cache.source_stamp()))


def keep_known(known: Known) -> None:
    """Keeps what is known by now beside the machine, where that can be written and is no link."""
    machine = known.machine
    file = Path(machine.folder) / cache.FOLDER_NAME / MEMORY_FILE
    if not file.parent.is_symlink():
        order_memory.keep(file, cache.source_stamp(), known.timeline.walk.reach.remembered())
        solid_memory.keep(solid_memory.file_of(machine), cache.source_stamp())


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
