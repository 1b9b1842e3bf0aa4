"""A log as JSON lines: written out, and taken in again. The same log gives the same bytes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import msgspec
from sqlalchemy import Connection, select

from trysquare.ground.errors import ReadingError, ReadingErrors, Where
from trysquare.record.checking import good_lines
from trysquare.record.database import LOG, Database, reading, writing
from trysquare.record.events import (
    FIRST_HASH,
    Line,
    Logged,
    chained,
    check_event,
    event_of,
    hash_after,
    line_bytes,
    line_from,
    time_of,
)
from trysquare.record.faults import LogNotWritable
from trysquare.record.kinds import kinds
from trysquare.record.rows import Head, add_rows, head_of, row_of, stored
from trysquare.record.whole_files import write_whole

FORM = 1
MOST_PROBLEMS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """What came of taking in another log's lines.

    `added`, `known`: how many are new here, and how many were here already. `differing`: ids of those here
    already that say something else here; ours stand. `altered`: lines of the file that are not what was once
    written; they were taken in as they read. `as_it_stood`: whether numbers, times and hashes were kept.
    `machine`: whose log it was.
    """

    machine: str
    added: int
    known: int
    differing: tuple[str, ...]
    altered: tuple[int, ...]
    as_it_stood: bool


class _Top(msgspec.Struct, frozen=True, kw_only=True):
    """The file's first line."""

    entries: int
    machine: str
    trysquare_log: int


def export(database: Database, machine: str, path: Path) -> int:
    """Writes every entry that can be read; gives their number. Raises LogNotWritable for the file."""
    with reading(database) as connection:
        found = [line_bytes(line) + b"\n" for line in good_lines(connection)]
    top = {"entries": len(found), "machine": machine, "trysquare_log": FORM}
    first = json.dumps(top, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode() + b"\n"
    try:
        write_whole(path, [first, *found])
    except OSError as error:
        raise LogNotWritable(
            where=str(path),
            read=error.strerror or str(error),
            expected="a file that can be written",
            remedy="Name another place, or make room.",
            passing=False,
        ) from error
    return len(found)


@dataclass(slots=True)
class _Read:
    """A file of lines. `line_numbers` in the file, beside each entry."""

    machine: str = ""
    entries: list[Line] = field(default_factory=list)
    line_numbers: list[int] = field(default_factory=list)


def take_in(database: Database, path: Path, received: str) -> TakenIn:
    """Adds what the file holds and the log does not, in one transaction."""
    read = _read(path)
    altered = _altered(read)
    with writing(database) as connection:
        head = head_of(connection)
        here = stored(connection, [line.id for line in read.entries])
        differing = tuple(
            line.id for line in read.entries if line.id in here and _differ(line, here[line.id])
        )
        fresh: dict[str, Line] = {}
        for line in read.entries:
            if line.id not in here:
                fresh.setdefault(line.id, line)
        follows = not altered and _follow(read.entries, list(fresh.values()), head)
        fork = _fork(connection, read.entries)
        rows = []
        for line in fresh.values():
            if not follows:
                # Nobody who spoke there knew what was said here since the two logs were one.
                here_now = {"seq": head.seq + 1, "received": received, "hash": "", "seen": fork}
                line = chained(head.hash, msgspec.structs.replace(line, **here_now))  # noqa: PLW2901
            head = Head(seq=line.seq, hash=line.hash)
            rows.append(row_of(line))
        add_rows(connection, rows)
    return TakenIn(
        machine=read.machine,
        added=len(rows),
        known=len(read.entries) - len(rows),
        differing=differing,
        altered=altered,
        as_it_stood=follows,
    )


def _follow(entries: Sequence[Line], fresh: Sequence[Line], head: Head) -> bool:
    """Whether the entries that are new here follow, in the file, on this log's last one, unbroken."""
    before = {line.seq: line.hash for line in entries}
    if head.seq and before.get(head.seq) != head.hash:
        return False
    return [line.seq for line in fresh] == list(range(head.seq + 1, head.seq + 1 + len(fresh)))


def _differ(line: Line, logged: Logged) -> bool:
    """Whether an id says something else here than there. What was seen counts in each log's own numbers."""
    replace = msgspec.structs.replace
    return replace(event_of(line), seen=None) != replace(logged.event, seen=None)


def _fork(connection: Connection, entries: Sequence[Line]) -> int:
    """The number of the last entry that both logs have in common, from when they were one."""
    there = {(line.seq, line.hash) for line in entries}
    with connection.execute(select(LOG.c.seq, LOG.c.hash).order_by(LOG.c.seq.desc())) as rows:
        return next((row.seq for row in rows if (row.seq, row.hash) in there), 0)


def _altered(read: _Read) -> tuple[int, ...]:
    """Line numbers of entries whose hash is not what it was written with. After a gap nobody can tell."""
    found: list[int] = []
    seq, before = 0, FIRST_HASH
    for number, line in zip(read.line_numbers, read.entries, strict=True):
        if line.seq == seq + 1 and hash_after(before, line) != line.hash:
            found.append(number)
        seq, before = line.seq, line.hash
    return tuple(found)


def _read(path: Path) -> _Read:
    """All lines of a file; raises ReadingErrors with the problems, in file order."""
    problems = _Problems(str(path))
    try:
        texts = path.read_bytes().split(b"\n")
    except OSError as error:
        problems.add(0, "", error.strerror or str(error), "a file of JSON lines", "Check the path.")
        raise ReadingErrors(problems.found) from error
    top = _top(texts[0])
    if top is None:
        said, expected = texts[0][:80].decode(errors="replace"), '{"entries":…,"machine":…,"trysquare_log":1}'
        problems.add(1, "", said, expected, "Name a file that 'trysquare log export' wrote.")
    elif top.trysquare_log > FORM:
        remedy = "Take it in with a newer Trysquare."
        problems.add(1, "trysquare_log", top.trysquare_log, f"at most {FORM}", remedy)
    if top is None or problems.found:
        raise ReadingErrors(problems.found)
    read = _Read(machine=top.machine)
    for number, text in enumerate(texts[1:], start=2):
        if text.strip() and len(problems.found) < MOST_PROBLEMS:
            _read_line(read, number, text, problems)
    if not problems.found and len(read.entries) < top.entries:
        remedy = f"The file is cut off. Copy it again, or write {len(read.entries)} there to take what came."
        expected = f"as many as there are lines, {len(read.entries)}"
        problems.add(1, "entries", top.entries, expected, remedy)
    if problems.found:
        raise ReadingErrors(problems.found)
    return read


class _Problems:
    """Problems of one file, in file order."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.found: list[ReadingError] = []

    def add(self, line: int, key: str, read: object, expected: str, remedy: str) -> None:
        where = Where(file=self.file, line=line, key=key)
        self.found.append(ReadingError(where=where, read=read, expected=expected, remedy=remedy))


def _read_line(read: _Read, number: int, text: bytes, problems: _Problems) -> None:
    try:
        line = line_from(text)
        _check(line)
    except ReadingError as error:
        problems.add(number, error.where.key, error.read, error.expected, error.remedy)
    except (ValueError, RecursionError) as error:
        problems.add(number, "", str(error), "one entry of a log", "Export the log again.")
    else:
        read.entries.append(line)
        read.line_numbers.append(number)


def _top(text: bytes) -> _Top | None:
    try:
        return msgspec.json.decode(text, type=_Top)
    except ValueError:
        return None


def _check(line: Line) -> None:
    """Raises ReadingError or ValueError. Kinds and fields that a newer version knows are kept unchecked."""
    event = event_of(line)
    kind = kinds().get(event.kind)
    data = dict(event.data)
    if kind is not None:
        data = {name: value for name, value in data.items() if name in kind.fields}
    check_event(msgspec.structs.replace(event, data=data), closed=kind is not None)
    time_of(line.received, "event", "received")
    if line.seq < 1:
        where = Where(file="event", key="seq")
        raise ReadingError(where=where, read=line.seq, expected="1 or more", remedy="Export the log again.")
