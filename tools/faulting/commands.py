"""Calls of every command, taken from click's own tables and from the examples of the help."""

from __future__ import annotations

import shlex
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random

import click

from faulting.folders import ROOT, Templates

FOLDERS = {"demo/larch": "larch", "demo/reed-joints": "reed", "demo/reed": "reed", "my-machine": "frame"}
PLAIN_FOLDER = ("frame", "frame", "reed")  # so a fault is tried in a moment; Larch stays for its recordings


@dataclass(frozen=True, slots=True)
class Command:
    """One command: its words, what click knows of it, and its examples without the first word."""

    words: tuple[str, ...]
    command: click.Command
    examples: tuple[tuple[str, ...], ...]

    @property
    def options(self) -> tuple[click.Option, ...]:
        return tuple(each for each in self.command.params if isinstance(each, click.Option))

    @property
    def serves(self) -> bool:
        """Whether it runs until it is stopped."""
        return self.words == ("bench",)


@cache
def commands() -> tuple[Command, ...]:
    """Every command of the program, whatever is added to it."""
    from trysquare.cli.main import trysquare  # noqa: PLC0415  # the program is on the path by now

    return tuple(_under(trysquare, (), click.Context(trysquare)))


def _under(command: click.Command, words: tuple[str, ...], context: click.Context) -> Iterator[Command]:
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            if inner is not None:
                inside = click.Context(inner, parent=context, info_name=name)
                yield from _under(inner, (*words, name), inside)
        return
    examples = tuple(tuple(shlex.split(line))[1:] for line in getattr(command, "examples", ()))
    yield Command(words, command, examples)


def example(command: Command, place: Path, templates: Templates, chance: Random) -> list[str]:
    """One of the command's examples, on copies of the folders it names, in this place."""
    words = list(chance.choice(command.examples)) if command.examples else list(command.words)
    copied: dict[str, str] = {}
    found: list[str] = []
    for word in words:
        begins = next((name for name in FOLDERS if word == name or word.startswith(f"{name}/")), None)
        if begins is None:
            found.append(_brought(word, place))
            continue
        rest = word.removeprefix(begins)
        if begins not in copied:
            recordings = any("recordings" in each for each in words)
            which = "larch" if recordings else chance.choice(PLAIN_FOLDER)
            if not (place / which).exists():
                templates.copy(which, place)
            copied[begins] = which
        if rest and (ROOT / word).is_file() and not (place / (copied[begins] + rest)).exists():
            shutil.copy(ROOT / word, place / (copied[begins] + rest))
        found.append(copied[begins] + rest)
    if command.serves:
        found += ["--port", "0", "--no-open-browser"]
        found = [word for word in found if word != "--lan"]
    return found


def _brought(word: str, place: Path) -> str:
    """A paper or a log that an example names lies beside the copy; everything else stays as it is."""
    if word == "log.jsonl":
        shutil.copy(ROOT / "tests" / "files" / "log-1.jsonl", place / word)
    source = ROOT / word
    if word.startswith("demo/") and source.is_file():
        shutil.copy(source, place / source.name)
        return source.name
    return word
