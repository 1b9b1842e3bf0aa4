"""Entries as the database has them, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, bindparam, insert, select

from trysquare.record.database import LOG
from trysquare.record.events import FIRST_HASH, Event, Line, Logged, data_of, line_of

_IDS_AT_ONCE = 500
_COLUMNS = tuple(LOG.c)
_NEXT = select(*_COLUMNS).where(LOG.c.seq > bindparam("after")).order_by(LOG.c.seq).limit(bindparam("most"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The last entry: its number (0: the log is empty) and hash. Whoever notes them can tell later whether
    the log still holds what it held."""

    seq: int
    hash: str


def next_rows(connection: Connection, after: int, most: int) -> Sequence[Row[Any]]:
    """So many entries after a number, in order."""
    return connection.execute(_NEXT, {"after": after, "most": most}).all()


def head_of(connection: Connection) -> Head:
    """The last entry."""
    row = connection.execute(select(LOG.c.seq, LOG.c.hash).order_by(LOG.c.seq.desc()).limit(1)).first()
    return Head(seq=0, hash=FIRST_HASH) if row is None else Head(seq=row[0], hash=row[1])


def stored(connection: Connection, ids: Sequence[str]) -> dict[str, Logged]:
    """Those of these ids that are in the log, as they stand."""
    found: dict[str, Logged] = {}
    for begin in range(0, len(ids), _IDS_AT_ONCE):
        some = ids[begin : begin + _IDS_AT_ONCE]
        for row in connection.execute(select(*_COLUMNS).where(LOG.c.id.in_(some))):
            found[row.id] = logged_of(row)
    return found


def logged_of(row: Any) -> Logged:
    """An entry from its row; raises ValueError when its data is no JSON object."""
    seq, identity, kind, step, subject, at, device, seen, data, received, digest = row
    return Logged(
        seq=seq,
        received=received,
        event=Event(
            id=identity,
            kind=kind,
            step=step,
            subject=subject,
            at=at,
            device=device,
            data=data_of(data),
            seen=seen,
        ),
        hash=digest,
    )


def add_rows(connection: Connection, rows: Sequence[dict[str, Any]]) -> None:
    """Adds entries."""
    if rows:
        connection.execute(insert(LOG), list(rows))


def line_of_row(row: Any) -> Line:
    """An entry's line, with its hash."""
    seq, identity, kind, step, subject, at, device, seen, data, received, digest = row
    event = Event(id=identity, kind=kind, step=step, subject=subject, at=at, device=device, seen=seen)
    return line_of(seq, received, event, data, digest)


def row_of(line: Line) -> dict[str, Any]:
    """An entry as the table has it, from its line with its hash."""
    return {
        "seq": line.seq,
        "id": line.id,
        "kind": line.kind,
        "step": line.step,
        "subject": line.subject,
        "at_utc": line.at,
        "device": line.device,
        "seen": line.seen,
        "data": bytes(line.data).decode(),
        "received_utc": line.received,
        "hash": line.hash,
    }
