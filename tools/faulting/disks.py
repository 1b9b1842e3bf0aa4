"""Faults of the disk: no room, no right to write, and programs killed while they write."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path
from random import Random

from faulting.commands import Command, commands, example
from faulting.family import Verdict, Workplace, called, problem
from faulting.folders import ROOT, entries_lost, files_of, texts, texts_lost
from faulting.outcome import HANGS_AFTER_SECONDS, Limits, Outcome

WRITING = frozenset(
    {
        "new",
        "need",
        "draw",
        "book",
        "cuts",
        "export",
        "cards",
        "labels",
        "sort",
        "true",
        "tune",
        "log",
        "stock",
        "order",
        "import",
    }
)
SERVES_SECONDS = 4.0


def full_disk(workplace: Workplace, chance: Random) -> Verdict:
    """A command that writes, where no file may grow beyond so many bytes, as on a full disk."""
    most = chance.choice((0, 1, 100, 4096, 20_000, 100_000))
    return _writing(workplace, chance, Limits(file_bytes=most), f"no file larger than {most} bytes")


def no_rights(workplace: Workplace, chance: Random) -> Verdict:
    """Any command where nothing may be written, and now and then something not even read."""
    command = chance.choice(commands())
    with workplace.place() as place:
        words = example(command, place, workplace.templates, chance)
        (place / "said").mkdir()
        files = files_of(place)
        before = texts(place)
        for path in [*files, *(path for path in place.rglob("*") if path.is_dir())]:
            path.chmod(0o555 if path.is_dir() else 0o444)
        place.chmod(0o555)
        hidden = chance.choice(files) if files and chance.random() < 0.3 else None
        if hidden is not None:
            hidden.chmod(0)
        (place / "said").chmod(0o777)
        stop = SERVES_SECONDS if command.serves else None
        outcome = called(words, place, Limits(plain_user=True, stop_after_seconds=stop))
        _give_back(place)
        lost = texts_lost(before, place) + _log_lost(workplace, place)
        more = f"nothing may be written{f', {hidden.name} not read' if hidden is not None else ''}"
        return Verdict(wrong=problem(outcome, more), lost=tuple(lost))


def no_screen(workplace: Workplace, chance: Random) -> Verdict:
    """A command, as its own process, whose words go nowhere: a stream closed, a full disk, a reader gone."""
    command = chance.choice([each for each in commands() if not each.serves])
    with workplace.place() as place:
        words = example(command, place, workplace.templates, chance)
        before = texts(place)
        redirected = chance.choice((">&-", "2>&-", "<&-", ">&- 2>&-", "<&- >&- 2>&-", ">/dev/full", "| true",
                                    ">/dev/full 2>&1", "2>/dev/full"))  # fmt: skip
        line = f"{shlex.join([sys.executable, '-m', 'trysquare.cli.main', *words])} {redirected}"
        done = subprocess.run(
            ["bash", "-c", f"{line}; exit ${{PIPESTATUS[0]}}"], cwd=place, capture_output=True, check=False,
            stdin=subprocess.DEVNULL, env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
            timeout=HANGS_AFTER_SECONDS,
        )  # fmt: skip
        out, err = (text.decode("utf-8", "replace") for text in (done.stdout, done.stderr))
        outcome = Outcome(tuple(words), done.returncode, out, err or redirected)
        lost = texts_lost(before, place) + _log_lost(workplace, place)
        return Verdict(wrong=problem(outcome, redirected), lost=tuple(lost))


def killed(workplace: Workplace, chance: Random) -> Verdict:
    """A command that writes, killed at any moment; then called once more, and it must do its work."""
    command = chance.choice(_writers())
    seconds = chance.choice((0.0, 0.02)) + chance.random() ** 2 * 3.0
    with workplace.place() as place:
        words = example(command, place, workplace.templates, chance)
        before = texts(place)
        first = called(words, place, Limits(kill_after_seconds=seconds))
        again = called(words, place)
        wrong = problem(first, f"killed after {seconds:.2f} s") + problem(again, "after being killed")
        lost = texts_lost(before, place) + _log_lost(workplace, place)
        return Verdict(tried=1, wrong=wrong, lost=tuple(lost))


def _writing(workplace: Workplace, chance: Random, limits: Limits, more: str) -> Verdict:
    command = chance.choice(_writers())
    with workplace.place() as place:
        words = example(command, place, workplace.templates, chance)
        if any(option.name == "log" and option.is_flag for option in command.options):
            words.append("--log")
        before = texts(place)
        outcome = called(words, place, limits)
        wrong = problem(_on_full_screen(outcome, limits), more)
        if left := [path.name for path in files_of(place) if path.name.endswith(".tmp")]:
            wrong = wrong or (f"trysquare {' '.join(words)} ({more}): left behind {', '.join(left)}",)
        lost = texts_lost(before, place) + _log_lost(workplace, place)
        return Verdict(wrong=wrong, lost=tuple(lost))


def _on_full_screen(outcome: Outcome, limits: Limits) -> Outcome:
    """What it says goes to files, too: where they take little, no word or half an answer is right."""
    wrong = outcome.wrong
    if wrong.startswith("no JSON") or (wrong.endswith("without a word") and (limits.file_bytes or 0) < 4096):
        return Outcome(outcome.words, 0, "", "")
    return outcome


def _writers() -> list[Command]:
    return [each for each in commands() if each.words[0] in WRITING]


def _log_lost(workplace: Workplace, place: Path) -> list[str]:
    """Of every log that was there: which entries are not there any more."""
    found: list[str] = []
    for folder in sorted(place.iterdir()):
        if folder.name in {"frame", "reed", "larch"}:
            found += entries_lost(folder, workplace.templates.log_ids)
    return found


def _give_back(place: Path) -> None:
    for path in [place, *place.rglob("*")]:
        path.chmod(0o755 if path.is_dir() else 0o644)
