"""Letters of our own for the sorts of a machine: A, B, … AA, stable over papers.

A letter belongs to a sort, which is one physical piece however many names papers give it. Letters that were
kept once (`letters.toml` in the machine folder) stay with their parts for ever and are never given to
another; a part that goes takes its letter along and gets it back when it comes again. I and O are left out:
on a label they read as 1 and 0.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.toml_files import toml_problem

FILE_NAME = "letters.toml"
ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ"
LARGEST_FILE_BYTES = 1_000_000
_LETTER = re.compile(f"[{ALPHABET}]{{1,3}}")


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptLetter:
    """One letter as it was kept: the parts it stands for, and other names under which they are known.

    No parts: the letter is in no use, as its part is now one piece with another letter's.
    """

    letter: str
    parts: tuple[str, ...]
    also_called: tuple[str, ...] = ()


def letters() -> Iterator[str]:
    """A, B, … Z, AA, AB, … without I and O."""
    yield from ALPHABET
    for first in letters():
        for last in ALPHABET:
            yield first + last


def read_letters(folder: Path, problems: list[ReadingError]) -> tuple[KeptLetter, ...]:
    """The letters kept in a machine folder; none without the file. What is wrong in it is a problem."""
    path = folder / FILE_NAME
    if not path.is_file():
        return ()

    def problem(key: str, read: object, expected: str, remedy: str) -> None:
        where = Where(file=FILE_NAME, key=key)
        problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))

    keep = "trysquare sort --keep writes the file; restore it from your last version or delete it."
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            problem("", f"{path.stat().st_size} bytes", f"at most {LARGEST_FILE_BYTES} bytes", keep)
            return ()
        text = path.read_text(encoding="utf-8")
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        problems.append(toml_problem(FILE_NAME, text, str(error)))
        return ()
    except (OSError, UnicodeDecodeError, RecursionError) as error:
        problem("", str(error), "the letters as TOML", keep)
        return ()
    found: list[KeptLetter] = []
    holder: dict[str, str] = {}
    table = raw.get("letter", {})
    if not isinstance(table, dict):
        problem("letter", table, "a table for each letter", keep)
        return ()
    for letter, row in table.items():
        if not _LETTER.fullmatch(letter):
            problem(
                f"letter.{letter}", letter, "capital letters without I and O", "Write, for example, A or AB."
            )
            continue
        parts = _names(row, "parts")
        also = _names(row, "also_called")
        if parts is None or also is None or not (parts or also):
            problem(
                f"letter.{letter}", row, 'parts = ["part id"]', "Name the part that this letter stands for."
            )
            continue
        twice = [part for part in parts if part in holder]
        if twice:
            expected = f"each part under one letter; {holder[twice[0]]} has it already"
            problem(f"letter.{letter}.parts", twice[0], expected, "Take it out of one of the two.")
            continue
        for part in parts:
            holder[part] = letter
        found.append(KeptLetter(letter=letter, parts=tuple(parts), also_called=tuple(also)))
    return tuple(found)


def _names(row: object, key: str) -> list[str] | None:
    """The texts of a row's list; [] when it is not there, None when it is something else."""
    names = row.get(key, []) if isinstance(row, dict) else None
    if isinstance(names, list) and all(isinstance(name, str) and name for name in names):
        return names
    return None


def give_letters(
    sorts: Sequence[Sequence[str]],
    kept: Iterable[KeptLetter] = (),
    also_called: Mapping[str, Sequence[str]] | None = None,
) -> tuple[str, ...]:
    """A letter for each sort, in their order. `sorts` are the part names of each; `also_called`: other names
    of a part (aliases over papers), by its name.

    A kept letter goes to the sort that has one of its parts, else one of its names; where several sorts claim
    it (one piece has become two), to the one with the part that is named first; where a sort could have
    several (two have become one), it takes the first. New sorts take the first letters never given.
    """
    also_called = also_called or {}
    names = [{*parts, *(name for part in parts for name in also_called.get(part, ()))} for parts in sorts]
    given: dict[int, str] = {}
    entries = sorted(kept, key=lambda entry: (len(entry.letter), entry.letter))
    used: set[str] = set()
    for by_part in (True, False):  # a part's own letter goes before one that only knows it as another name
        for entry in entries:
            for name in entry.parts if by_part else entry.also_called:
                sort = next((i for i in range(len(sorts)) if i not in given and name in names[i]), None)
                if sort is not None and entry.letter not in used:
                    given[sort] = entry.letter
                    used.add(entry.letter)
    taken = {entry.letter for entry in entries}
    free = (letter for letter in letters() if letter not in taken)
    return tuple(given[index] if index in given else next(free) for index in range(len(sorts)))


def kept_after(given: Sequence[KeptLetter], kept: Iterable[KeptLetter] = ()) -> tuple[KeptLetter, ...]:
    """What to keep: the letters now given, with all names they ever had, and those that are in no use now."""
    before = {entry.letter: entry for entry in kept}
    now: dict[str, KeptLetter] = {}
    parts_now = {part for entry in given for part in entry.parts}
    for entry in given:
        old = before.get(entry.letter)
        names = [*entry.also_called, *((*old.parts, *old.also_called) if old else ())]
        also = [name for name in dict.fromkeys(names) if name not in parts_now]
        now[entry.letter] = KeptLetter(letter=entry.letter, parts=entry.parts, also_called=tuple(also))
    for letter, entry in before.items():
        if letter not in now:
            left = tuple(part for part in entry.parts if part not in parts_now)
            also = [*(part for part in entry.parts if part in parts_now), *entry.also_called]
            now[letter] = KeptLetter(letter=letter, parts=left, also_called=tuple(dict.fromkeys(also)))
    return tuple(sorted(now.values(), key=lambda entry: (len(entry.letter), entry.letter)))


def letters_text(kept: Iterable[KeptLetter]) -> str:
    """The text of `letters.toml`."""
    lines = [
        "# Which letter stands for which part, on labels and sheets. Written by trysquare sort --keep.",
        "# Letters stay with their parts when papers change; none is ever given to another part.",
        "format = 1",
    ]
    for entry in kept:
        lines += ["", f"[letter.{entry.letter}]", f"parts = {_array(entry.parts)}"]
        if entry.also_called:
            lines.append(f"also_called = {_array(entry.also_called)}")
    return "\n".join(lines) + "\n"


def _array(names: Iterable[str]) -> str:
    return "[" + ", ".join(f'"{_escaped(name)}"' for name in names) + "]"


def _escaped(name: str) -> str:
    """A TOML basic string: backslash, quote and control characters escaped."""
    text = name.replace("\\", "\\\\").replace('"', '\\"')
    return "".join(char if char.isprintable() else f"\\U{ord(char):08X}" for char in text)
