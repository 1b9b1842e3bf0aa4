"""Faults in what is read: lines of machine files, lists and recordings; bits of logs, caches and pictures."""

from __future__ import annotations

import gzip
import shutil
from collections.abc import Callable
from pathlib import Path
from random import Random

from faulting.commands import Command, commands, example
from faulting.family import Verdict, Workplace, called, problem
from faulting.folders import ROOT, entries_lost, files_of, texts, texts_lost
from faulting.outcome import Limits
from faulting.spoil import bytes_spoiled, text_spoiled

Spoiling = Callable[[bytes, Random], bytes]
LINES = (".toml", ".csv", ".jsonl", ".json")
SERVES_SECONDS = 4.0
OLD_FILES = ROOT / "tests" / "files"
STEP_FILES = ROOT / "tests" / "intake" / "files"


def spoiled_lines(workplace: Workplace, chance: Random) -> Verdict:
    """Any command on a folder one of whose text files has been changed."""
    return _on_spoiled(workplace, chance, lambda path: path.suffix in LINES, text_spoiled)


def spoiled_bits(workplace: Workplace, chance: Random) -> Verdict:
    """Any command on a folder one of whose files, of whatever sort, has been damaged."""
    return _on_spoiled(workplace, chance, lambda path: path.suffix != ".md", bytes_spoiled)


def _on_spoiled(
    workplace: Workplace, chance: Random, wanted: Callable[[Path], bool], spoiling: Spoiling
) -> Verdict:
    command = chance.choice([each for each in commands() if each.words not in {("why",), ("new",)}])
    with workplace.place() as place:
        words = example(command, place, workplace.templates, chance)
        named = [place / word for word in words if (place / word).is_file()]
        files = [path for path in files_of(place) if wanted(path)]
        read = [path for path in files if path in named]
        if not files:
            return Verdict(tried=0)
        file = chance.choice(read if read and chance.random() < 0.7 else files)
        file.write_bytes(spoiling(file.read_bytes(), chance))
        before = texts(place)
        outcome = called(words, place, _limits(command))
        kept = _evidence(workplace, outcome.wrong, file)
        return Verdict(
            wrong=problem(outcome, f"{file.name} spoiled{kept}"), lost=tuple(texts_lost(before, place))
        )


def _limits(command: Command) -> Limits | None:
    return Limits(stop_after_seconds=SERVES_SECONDS) if command.serves else None


def _evidence(workplace: Workplace, wrong: str, file: Path) -> str:
    """Where the file lies that something was wrong with."""
    if not wrong or not file.is_file():
        return ""
    folder = workplace.home / "evidence"
    folder.mkdir(exist_ok=True)
    name = f"{len(list(folder.iterdir()))}-{file.name}"
    shutil.copy(file, folder / name)
    return f", kept as {name}"


def spoiled_log(workplace: Workplace, chance: Random) -> Verdict:
    """A damaged log is said to be damaged, and what was in it is not made worse."""
    with workplace.place() as place:
        folder = workplace.templates.copy("frame", place)
        file = folder / "log.sqlite"
        whole = file.read_bytes()
        file.write_bytes(bytes_spoiled(whole, chance))
        spoiled = file.read_bytes()
        outcome = called(["log", "verify", "frame"], place)
        wrong = problem(outcome, f"log spoiled{_evidence(workplace, outcome.wrong, file)}")
        lost: list[str] = []
        if outcome.status == 0 and spoiled != whole:
            lost = entries_lost(folder, workplace.templates.log_ids)  # said to be whole: then it must be
        for words in (["log", "frame"], ["log", "export", "frame", "copy.jsonl"], ["check", "frame"]):
            wrong += problem(called(words, place), "log spoiled")
        if file.read_bytes() != spoiled and outcome.status == 2:
            lost.append("a log that cannot be read was changed by looking at it")
        return Verdict(tried=4, wrong=wrong, lost=tuple(lost))


def spoiled_picture(workplace: Workplace, chance: Random) -> Verdict:
    """Damaged caches are made anew: the answer is the one that it was. A damaged picture is told."""
    with workplace.place() as place:
        folder = workplace.templates.copy("frame", place)
        words = chance.choice((["check", "frame", "--json"], ["need", "frame", "--json"], ["show", "frame"]))
        first = called(words, place)
        caches = [each for each in files_of(folder) if ".trysquare-cache" in each.parts]
        for file in caches:
            if chance.random() < 0.7:
                file.write_bytes(bytes_spoiled(file.read_bytes(), chance))
        second = called(words, place)
        wrong = problem(first) + problem(second, "cache spoiled")
        if not wrong and (first.out, first.status) != (second.out, second.status):
            wrong += (f"trysquare {' '.join(words)}: another answer from a spoiled cache",)
        picture = next(path for path in files_of(folder) if "log-files" in path.parts)
        picture.write_bytes(bytes_spoiled(picture.read_bytes(), chance))
        wrong += problem(called(["log", "verify", "frame"], place), "picture spoiled")
        return Verdict(tried=2, wrong=wrong, lost=tuple(entries_lost(folder, workplace.templates.log_ids)))


def old_files(workplace: Workplace, chance: Random) -> Verdict:
    """Logs of every released version: read, added to, taken in; whole, and spoiled in some way."""
    with workplace.place() as place:
        folder = workplace.templates.copy("frame", place)
        (folder / "log.sqlite").unlink()
        stem = chance.choice(sorted(OLD_FILES.glob("log-*.sqlite"))).stem
        shutil.copy(OLD_FILES / f"{stem}.jsonl", place / "old.jsonl")
        shutil.copy(OLD_FILES / f"{stem}.sqlite", folder / "log.sqlite")
        wrong: tuple[str, ...] = ()
        for words in (["log", "frame"], ["log", "verify", "frame"], ["log", "export", "frame", "new.jsonl"]):
            wrong += problem(called(words, place), stem)
        lost = entries_lost(folder, workplace.templates.log_ids)
        if not wrong and (place / "new.jsonl").read_bytes() != (place / "old.jsonl").read_bytes():
            lost.append(f"{stem} came out otherwise than it was written")
        (folder / "log.sqlite").unlink()
        lines = (place / "old.jsonl").read_bytes()
        (place / "old.jsonl").write_bytes(chance.choice((text_spoiled, bytes_spoiled))(lines, chance))
        wrong += problem(called(["log", "take-in", "frame", "old.jsonl"], place), f"{stem} spoiled")
        wrong += problem(called(["log", "verify", "frame"], place), f"{stem} spoiled and taken in")
        return Verdict(tried=5, wrong=wrong, lost=tuple(lost))


def spoiled_step(workplace: Workplace, chance: Random) -> Verdict:
    """STEP files damaged: the reader answers in our words."""
    importing = next((each for each in commands() if each.words[0] == "import"), None)
    sources = sorted(STEP_FILES.glob("*simple.step.gz"))
    if importing is None or not sources:
        return Verdict(tried=0)
    with workplace.place() as place:
        content = gzip.decompress(chance.choice(sources).read_bytes())
        spoiling = chance.choice((text_spoiled, bytes_spoiled))
        (place / "given.step").write_bytes(spoiling(content, chance))
        words = [*importing.words, "given.step", "made", "--no-questions"]
        outcome = called(words, place)
        kept = _evidence(workplace, outcome.wrong, place / "given.step")
        return Verdict(wrong=problem(outcome, f"spoiled{kept}"))
