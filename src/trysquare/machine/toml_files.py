"""Reading one text file of the machine folder: only from inside it, only of a sane size, never failing.

Every fault of a file as a whole (missing, locked, not UTF-8, not TOML, a flood) is noted here, once.
"""

from __future__ import annotations

import re
import stat
import tomllib
from collections.abc import Iterable
from pathlib import Path as DiskPath
from typing import Any

from trysquare.ground.errors import ReadingError, Where
from trysquare.machine.not_there import unread
from trysquare.machine.toml_lines import Path
from trysquare.machine.toml_slips import slip_in
from trysquare.machine.tree import Raw, SourceFile

LARGEST_TEXT_BYTES = 8_000_000  # a machine of 1,000 parts takes some 200 kB
DEEPEST = 20  # a paper's new hole lies 8 deep
MOST_WORDS_IN_A_KEY = 100  # the standard reader's work grows with the square of them
_SHORT_TEXT = 20_000  # too short for that to be felt

_KEY_RUN = re.compile(
    r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')(?:[ \t]*+\.[ \t]*+(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+'))*+"""
)
_KEY_OF_ROW = re.compile(r"\[*\s*([^\[\]=#]+?)\s*(?:\]|=|$)")


def inside(file: DiskPath, root: DiskPath) -> bool:
    """Whether a path, its links followed, lies inside a folder whose links are followed too."""
    try:
        return file.resolve().is_relative_to(root)
    except (OSError, ValueError, RuntimeError):  # a name too long, a zero byte, a circle of links
        return False


def read_text(root: DiskPath, file: DiskPath, problems: list[ReadingError]) -> SourceFile | None:
    """A file's text, or None after noting the problem. A file outside `root` was named by the user."""
    name = file.relative_to(root).as_posix() if file.is_relative_to(root) else file.name

    def problem(read: str, expected: str, remedy: str, line: int = 0) -> None:
        problems.append(
            ReadingError(where=Where(file=name, line=line), read=read, expected=expected, remedy=remedy)
        )

    if file.is_relative_to(root) and not inside(file, root.resolve()):
        problem("a link out of the folder", "a file inside the machine folder", "Copy the file itself here.")
        return None
    try:
        status = file.stat()
        if not stat.S_ISREG(status.st_mode):  # reading a pipe would wait for ever
            what = "a folder" if stat.S_ISDIR(status.st_mode) else "no ordinary file"
            problem(what, "a text file", "Give it another name, or take it out of here.")
            return None
        if status.st_size > LARGEST_TEXT_BYTES:
            problem(
                f"{status.st_size / 1e6:.1f} MB",
                f"a text file of at most {LARGEST_TEXT_BYTES / 1e6:g} MB",
                "This is no machine description; put data and shapes elsewhere.",
            )
            return None
        data = file.read_bytes()
    except OSError as error:
        says, remedy = unread(file, error)
        problem(says, "a file that can be read", remedy)
        return None
    try:
        return SourceFile(name, data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        # Without a mark at its beginning the text starts where the file does.
        at = error.start + (3 if data.startswith(b"\xef\xbb\xbf") else 0)
        problem(
            f"byte 0x{data[at]:02x} at position {at}",
            "UTF-8 text",
            "Save the file as UTF-8 in your editor.",
            line=data.count(b"\n", 0, at) + 1,
        )
        return None


def read_toml(root: DiskPath, file: DiskPath, problems: list[ReadingError]) -> tuple[SourceFile, Raw] | None:
    """A TOML file's text and values, or None after noting the problem."""
    source = read_text(root, file, problems)
    if source is None:
        return None

    def problem(line: int, read: str, expected: str, remedy: str, key: str = "") -> None:
        where = Where(file=source.name, line=line, key=key)
        problems.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))

    if flood := _line_of_a_flood(source.text):
        expected = f"keys of at most {MOST_WORDS_IN_A_KEY} words"
        problem(flood, "a key of very many words", expected, "Check for a run of stray dots.")
        return None
    try:
        raw = tomllib.loads(source.text)
    except RecursionError:
        line = _line_of_depth(source.text)
        problem(line, "brackets nested hundreds deep", "lists and tables nested a few deep",
                "Check for a run of stray brackets.")  # fmt: skip
        return None
    except ValueError as error:  # TOMLDecodeError, and what Python says of a number of thousands of digits
        if "(at " not in str(error) and "digits" in str(error):
            rows = source.text.split("\n")
            line = next((i for i, row in enumerate(rows, 1) if re.search(r"\d{4000}", row)), 0)
            problem(line, "a number of thousands of digits", "a number that means something", "Check it.")
            return None
        problems.append(toml_problem(source.name, source.text, str(error)))
        return None
    strange = _strange_value(raw)
    if strange is not None:
        path, read, expected = strange
        where = source.where(path)
        problems.append(ReadingError(where=where, read=read, expected=expected, remedy="Check this value."))
        return None
    return source, raw


def toml_problem(name: str, text: str, message: str) -> ReadingError:
    """What is wrong with the text of a file that is no TOML; `message` is the standard reader's."""
    slip = slip_in(text, message)
    key = _KEY_OF_ROW.match(slip.row.strip())
    where = Where(file=name, line=slip.line, column=slip.column, key=key.group(1)[:80] if key else "")
    read = slip.row.strip() or "the end of the file"
    return ReadingError(where=where, read=read, expected=slip.expected, remedy=slip.remedy, row=slip.row)


def _line_of_a_flood(text: str) -> int:
    """Line of the first key of more words than anybody writes; 0 when there is none."""
    if len(text) < _SHORT_TEXT:
        return 0
    for run in _KEY_RUN.finditer(text):
        if run.end() - run.start() > MOST_WORDS_IN_A_KEY and run.group().count(".") >= MOST_WORDS_IN_A_KEY:
            return text.count("\n", 0, run.start()) + 1
    return 0


def _line_of_depth(text: str) -> int:
    found = re.search(r"(?:[\[{][^\[\]{}]{0,80}?){" + str(DEEPEST) + "}", text)
    return text.count("\n", 0, found.start()) + 1 if found else 0


def _strange_value(raw: Raw) -> tuple[Path, str, str] | None:
    """The first value too deep, or too large for any TOML reader; None when all are ordinary."""
    todo: list[tuple[Path, Any]] = [((), raw)]
    while todo:
        path, value = todo.pop()
        if len(path) >= DEEPEST:
            return path, f"brackets nested more than {DEEPEST} deep", "lists and tables nested a few deep"
        rows: Iterable[tuple[str | int, Any]] = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in rows:
            if isinstance(inner, (dict, list)):
                todo.append(((*path, key), inner))
            elif isinstance(inner, int) and inner.bit_length() > 64:
                return (*path, key), "a number of more than 64 bits", "a number that means something"
    return None
