"""The heavy work for the bench's pages, done in child processes that end when they are done.

`make_facts` computes the facts of a machine part by part, keeps each and says so; `make_pictures` draws,
which takes longest. They are two processes one after the other, so that what the first needed is given back
before the second begins. The server only reads what is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Protocol

from trysquare.bench.facts import FindingsFacts, OrderFacts
from trysquare.bench.kept_answers import KeptAnswers
from trysquare.bench.making_drawn import Drawer, drawn_facts, picture_facts
from trysquare.bench.making_lists import findings_facts, line_facts, steps_facts
from trysquare.bench.making_order import order_facts
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.ground.findings import Finding
from trysquare.machine.values import Machine
from trysquare.publish.book_pictures import pictures_of
from trysquare.publish.known import Known, known_of
from trysquare.publish.picture_store import PictureStore
from trysquare.publish.step_picture import Picture
from trysquare.sequence.reach import Reach
from trysquare.stock.boxes import FOLDER_NAME as BOXES
from trysquare.stock.boxes import box_files
from trysquare.stock.counting import Count, read_count
from trysquare.stock.letters import KeptLetter, read_letters
from trysquare.stock.need import Need, need

Say = Callable[[str, Sequence[ReadingError]], None]
"""Says that a part is kept ("order", "steps" …), or with the part "problems" what cannot be read."""


class Answers(Protocol):
    """What the program computes and keeps elsewhere: the way to the machine and to earlier answers."""

    def machine(self) -> Machine:
        """Reads the machine; raises ReadingErrors."""

    def reach(self, machine: Machine) -> Reach:
        """Its geometry, with what earlier checks found."""

    def remember(self, machine: Machine, reach: Reach) -> None:
        """Keeps what is known now."""

    def findings(self, machine: Machine, whole: Need, reach: Reach) -> Sequence[Finding]:
        """All findings of the machine and of its boxes; raises ReadingErrors."""

    def not_checked(self, machine: Machine, whole: Need) -> Sequence[str]:
        """What could not be checked, in words."""


def make_facts(
    answers: Answers, kept: KeptAnswers, key: str, stamp: str, store: PictureStore, say: Say
) -> None:
    """Computes and keeps every part but the pictures of steps, in order.

    Raises ReadingErrors when the machine cannot be read, and OSError when nothing can be kept.
    """
    machine, letters = _read(answers)
    whole = need(machine)
    order = order_facts(machine, whole, letters)
    kept.keep("order", key, order)
    say("order", ())
    count = _count(machine, whole, say)
    reach = answers.reach(machine)
    known = known_of(machine, letters, reach=reach, boxes_of=_boxes(count))
    kept.keep("steps", key, steps_facts(known, order, letters, Drawer(kept).sketch))
    say("steps", ())
    kept.keep("lines", key, line_facts(machine))
    say("lines", ())
    kept.keep("findings", key, _findings(answers, known, order, reach, count, say))
    say("findings", ())
    answers.remember(machine, reach)
    kept.keep("drawn", key, drawn_facts(known, store, stamp, kept))
    say("drawn", ())


def _read(answers: Answers) -> tuple[Machine, tuple[KeptLetter, ...]]:
    machine = answers.machine()
    problems: list[ReadingError] = []
    letters = read_letters(Path(machine.folder), problems)
    if problems:
        raise ReadingErrors(problems)
    return machine, letters


def _count(machine: Machine, whole: Need, say: Say) -> Count | None:
    """The packing lists; those that cannot be read are told and count for nothing."""
    if not box_files(Path(machine.folder) / BOXES):
        return None
    problems: list[ReadingError] = []
    count = read_count(machine, whole, problems)
    if problems:
        say("problems", problems)
        return None
    return count


def _boxes(count: Count | None) -> dict[str, tuple[tuple[str, int], ...]]:
    found: dict[str, dict[str, int]] = {}
    for lot in count.lots if count is not None else ():
        if lot.pieces:
            row = found.setdefault(lot.part, {})
            row[lot.box] = row.get(lot.box, 0) + lot.pieces
    return {part: tuple(row.items()) for part, row in found.items()}


def _findings(
    answers: Answers, known: Known, order: OrderFacts, reach: Reach, count: Count | None, say: Say
) -> FindingsFacts:
    try:
        findings = answers.findings(known.machine, known.whole, reach)
    except ReadingErrors as errors:
        say("problems", errors.problems)
        findings = ()
    return findings_facts(known, order, findings, answers.not_checked(known.machine, known.whole), count)


def make_pictures(
    answers: Answers, kept: KeptAnswers, key: str, stamp: str, store: PictureStore, say: Say
) -> None:
    """Draws the steps, keeping what there is again and again. Raises as `make_facts` does."""
    machine, letters = _read(answers)
    known = known_of(machine, letters, reach=answers.reach(machine))
    pictures: dict[str, Picture] = {}
    most = len(machine.steps) + 1

    def told(fresh: Mapping[str, Picture]) -> None:
        pictures.update(fresh)
        kept.keep("pictures", key, picture_facts(pictures, most, kept))
        say("pictures", ())

    if machine.placed:
        pictures_of(known, store, stamp, workers=1, told=told)
    whole = picture_facts(pictures, len(pictures), kept)
    kept.keep("pictures", key, whole)
    say("pictures", ())
    kept.thin()
