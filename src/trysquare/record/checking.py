"""Reading everything again: is the log still what was written? And what of a damaged one can be read."""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, func, select
from sqlalchemy.exc import DBAPIError

from trysquare.record.database import DAMAGED_REMEDY, LOG, Database, reading
from trysquare.record.events import FIRST_HASH, Line, data_of, hash_after
from trysquare.record.faults import Fault
from trysquare.record.rows import line_of_row, next_rows

CHUNK = 2_000
MOST_FAULTS = 1_000
GIVE_UP_AFTER = 2_000  # numbers in a row that cannot be read, where nobody knows the last one

_ALTERED_REMEDY = (
    "The entry was altered, or the disk lost it. Compare with an export or a copy of the folder; the log "
    "goes on, and this stays to be seen."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreadable:
    """Numbers in the log, from first to last, whose entries the database cannot give. `last` is None where
    even the log's last number cannot be read: nobody knows how many there were."""

    first: int
    last: int | None
    says: str


def faults(database: Database, noted: tuple[int, str] | None = None) -> tuple[Fault, ...]:
    """All faults, by number. `noted`: number and hash of an entry that must be there."""
    found: list[Fault] = []
    with reading(database) as connection:
        if database.is_sqlite:
            found += _of_sqlite(connection)
        seq, before = 0, FIRST_HASH
        ids: dict[str, int] = {}
        unseen = noted
        for row in readable(connection):
            if len(found) >= MOST_FAULTS:
                break
            if isinstance(row, Unreadable):
                found.append(_of_gap(row))
                seq, before = row.last or row.first, ""
                continue
            if row.seq > seq + 1:
                missing = (
                    f"Entries {seq + 1} to {row.seq - 1} are" if row.seq > seq + 2 else f"Entry {seq + 1} is"
                )
                found.append(_fault("missing", seq + 1, f"{missing} missing."))
                before = ""
            found += _of_row(row, before)
            if row.id in ids:
                says = f"The id {row.id} stands at {ids[row.id]} already."
                found.append(_fault("twice", row.seq, says))
            ids[row.id] = row.seq
            seq, before = row.seq, row.hash
            if unseen == (seq, before):
                unseen = None
    if unseen is not None:
        says = "The entry that was noted is not in the log: it was cut off, or this is another log."
        found.append(_fault("not-there", unseen[0], says))
    return tuple(found)


def good_lines(connection: Connection) -> Iterator[Line]:
    """The line of every entry that can be read and whose data is a JSON object, in order."""
    for row in readable(connection):
        if not isinstance(row, Unreadable):
            with contextlib.suppress(ValueError, TypeError, AttributeError):
                data_of(row.data)
                yield line_of_row(row)


def _fault(code: str, seq: int, says: str, remedy: str = _ALTERED_REMEDY) -> Fault:
    return Fault(code=code, seq=seq, says=says, remedy=remedy)


def _of_gap(gap: Unreadable) -> Fault:
    if gap.last is None:
        which = f"No entry from {gap.first} on"
    else:
        which = (
            f"Entry {gap.first}"
            if gap.last == gap.first
            else f"None of the entries {gap.first} to {gap.last}"
        )
    can = "cannot" if which.startswith("Entry") else "can"
    return _fault("unreadable", gap.first, f"{which} {can} be read: {gap.says}.", DAMAGED_REMEDY)


def _of_sqlite(connection: Connection) -> Iterator[Fault]:
    """SQLite's own check of its pages and indexes."""
    try:
        rows = connection.exec_driver_sql("PRAGMA integrity_check(20)").all()
    except DBAPIError as error:
        yield _fault("database", 0, f"SQLite says: {error.orig}", DAMAGED_REMEDY)
        return
    for (says,) in rows:
        if says != "ok":
            yield _fault("database", 0, f"SQLite says: {says}", DAMAGED_REMEDY)


def _of_row(row: Row[Any], before: str) -> Iterator[Fault]:
    """What is wrong with one entry. `before`: the hash before it; "" when nobody knows it any more."""
    try:
        data_of(row.data)
        line = line_of_row(row)
        right = not before or hash_after(before, line) == row.hash
    except (ValueError, TypeError, AttributeError) as error:
        yield _fault("changed", row.seq, f"The entry is not what was written: {error}")
        return
    if not right:
        yield _fault("changed", row.seq, "The entry is not what was written: its hash is another.")


def readable(connection: Connection) -> Iterator[Row[Any] | Unreadable]:
    """Every entry that the database can give, in order, and the numbers of those that it cannot."""
    after, last = 0, _last(connection)
    while True:
        try:
            rows = next_rows(connection, after, CHUNK)
        except DBAPIError:
            until = None if last is None else min(after + CHUNK, last)
            for row in _one_by_one(connection, after, until):
                yield row
                after = _end_of(row)
            if until in (None, last):
                return
            after = until or after
            continue
        if not rows:
            return
        for row in rows:
            if not isinstance(row.seq, int) or row.seq <= after:  # a torn page is read again and again
                says = f"after entry {after} the database gives {row.seq}"
                yield Unreadable(first=after + 1, last=None, says=says)
                return
            yield row
            after = row.seq


def _end_of(row: Row[Any] | Unreadable) -> int:
    if isinstance(row, Unreadable):
        return row.last or row.first
    seq: int = row.seq
    return seq


def _last(connection: Connection) -> int | None:
    try:
        last: int | None = connection.execute(select(func.max(LOG.c.seq))).scalar()
    except DBAPIError:
        return None
    return last or 0


def _one_by_one(connection: Connection, after: int, until: int | None) -> Iterator[Row[Any] | Unreadable]:
    """Each entry on its own, to `until`; None: as far as any is. Neighbours that fail are told as one."""
    first, says = 0, ""
    for seq in itertools.count(after + 1) if until is None else range(after + 1, until + 1):
        try:
            row = connection.execute(select(*LOG.c).where(LOG.c.seq == seq)).first()
        except DBAPIError as error:
            first, says = first or seq, str(error.orig)
            if until is None and seq - first > GIVE_UP_AFTER:
                break
            continue
        if first:
            yield Unreadable(first=first, last=seq - 1, says=says)
            first = 0
        if row is not None:
            yield row
    if first:
        yield Unreadable(first=first, last=until, says=says)
