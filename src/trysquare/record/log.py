"""The build log on disk: entries are added, and never changed."""

from __future__ import annotations

import gc
import threading
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, select

from trysquare.record import checking, forward, lines, schema
from trysquare.record.database import ABOUT, Database, can_write, open_file, open_url, reading, writing
from trysquare.record.events import Event, Logged, chained, check_event, data_text, line_of, time_text
from trysquare.record.faults import Fault, LogError, LogNotWritable
from trysquare.record.lines import TakenIn
from trysquare.record.replay import BuildState, replay
from trysquare.record.rows import Head, add_rows, head_of, logged_of, next_rows, row_of, stored

__all__ = ["BuildLog", "Head", "TakenIn", "now_utc", "open_log"]

FILE_NAME = "log.sqlite"
CHUNK = 5_000  # entries read at a time


def now_utc() -> datetime:
    """The log's clock."""
    return datetime.now(UTC)


class BuildLog:
    """A log that is open. Close it, or use it with `with`. May be used from several threads and programs
    at once.

    `machine`: the name it was begun for. `read_only`: whether it refuses entries, and `why_read_only` in
    words. `version`: of its tables.
    """

    def __init__(
        self,
        database: Database,
        *,
        machine: str,
        version: int,
        why_read_only: str,
        now: Callable[[], datetime],
    ) -> None:
        self.machine = machine
        self.version = version
        self.why_read_only = why_read_only
        self._database = database
        self._now = now
        self._one_writer = threading.Lock()

    @property
    def read_only(self) -> bool:
        return bool(self.why_read_only)

    @property
    def name(self) -> str:
        """What to call it: its file, or its URL without a password."""
        return self._database.name

    def append(self, events: Sequence[Event]) -> tuple[Logged, ...]:
        """Adds events in one transaction and gives each as it stands in the log, in the order given.

        An id that is there already is given back as it stands, and nothing is added for it. When this
        returns, the entries are on the disk. Raises ReadingError for an event that `check_event` refuses
        (none is added then) and LogNotWritable when the disk does not take them (none was added).
        """
        for number, event in enumerate(events):
            check_event(event, "event" if len(events) == 1 else f"event {number + 1}")
        self.refuse_if_read_only()
        with self._one_writer, writing(self._database) as connection:
            stands = stored(connection, [event.id for event in events])
            head = head_of(connection)
            received = time_text(self._now())
            rows: list[dict[str, Any]] = []
            for event in events:
                if event.id in stands:
                    continue
                line = chained(head.hash, line_of(head.seq + 1, received, event, data_text(event.data)))
                head = Head(seq=line.seq, hash=line.hash)
                stands[event.id] = Logged(seq=line.seq, received=received, event=event, hash=line.hash)
                rows.append(row_of(line))
            add_rows(connection, rows)
        return tuple(stands[event.id] for event in events)

    def events(self, after: int = 0) -> Iterator[Logged]:
        """All entries after a number, in order. Raises LogError at one that cannot be read."""
        while True:
            with reading(self._database) as connection:
                rows = next_rows(connection, after, CHUNK)
            if not rows:
                return
            try:
                for row in rows:
                    after = _following(row[0], after)
                    yield logged_of(row)
            except ValueError as error:
                raise self._not_as_written(f"entry {after}: {error}") from error

    def _not_as_written(self, read: str) -> LogError:
        remedy = "Run 'trysquare log verify' on the folder: it names the entry."
        return LogError(where=self.name, read=read, expected="entries as they were written", remedy=remedy)

    def state(self) -> BuildState:
        """The state of the build after all entries. Raises LogError at one that cannot be read."""
        # A long log makes some hundred thousand values and no garbage: looking for it would only cost time.
        was_on = gc.isenabled()
        gc.disable()
        try:
            return replay(self.events())
        except (ValueError, TypeError) as error:  # a time that is none, in an entry that somebody altered
            raise self._not_as_written(str(error)) from error
        finally:
            if was_on:
                gc.enable()

    def head(self) -> Head:
        with reading(self._database) as connection:
            return head_of(connection)

    def verify(self, noted: Head | None = None) -> tuple[Fault, ...]:
        """Reads everything again: the database's own check, the numbers, the chain of hashes.

        `noted`: a head that somebody noted earlier, which must still be in the log.
        """
        return checking.faults(self._database, None if noted is None else (noted.seq, noted.hash))

    def export(self, path: Path) -> int:
        """Writes all entries that can be read as JSON lines, whole or not at all; gives their number."""
        return lines.export(self._database, self.machine, path)

    def take_in(self, path: Path) -> TakenIn:
        """Adds what another log's JSON lines hold and this one does not, in one transaction.

        Lines that follow on this log's last entry (or fill an empty log) are kept exactly as they stand;
        others get new numbers and this log's time. Raises ReadingErrors for lines that cannot be read
        (nothing is added then) and LogNotWritable.
        """
        self.refuse_if_read_only()
        with self._one_writer:
            return lines.take_in(self._database, path, time_text(self._now()))

    def refuse_if_read_only(self) -> None:
        """Raises LogNotWritable when the log takes no entries."""
        if self.read_only:
            raise LogNotWritable(
                where=self.name,
                read=self.why_read_only,
                expected="a log that takes entries",
                remedy="Nothing was kept.",
                passing=False,
            )

    def close(self) -> None:
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_log(
    place: Path | str, *, machine: str, read_only: bool = False, now: Callable[[], datetime] = now_utc
) -> BuildLog:
    """Opens the log of a machine folder (a folder, a path to the file, or a database URL); makes it when it
    is not there.

    A log of an older version is brought forward, and the old file is kept beside it. One of a newer version,
    or in a folder that cannot be written, opens read-only: see `BuildLog.why_read_only`. With `read_only`
    nothing is made or changed. Raises LogError for a file that is no log, is too damaged to open, or is not
    there and cannot be made.
    """
    database, why = _database_of(place, read_only=read_only)
    try:
        if not why:
            forward.use_write_ahead(database)
            forward.bring_forward(database, machine, time_text(now()))
        with reading(database) as connection:
            version = forward.version_of(connection)
            begun_for = _begun_for(connection) if version > 0 else ""
        _check_ours(database, version, begun_for, machine)
    except BaseException:
        database.close()
        raise
    if version > schema.newest():
        why = why or "a newer Trysquare has written this log; this one only reads it"
    return BuildLog(database, machine=begun_for or machine, version=version, why_read_only=why, now=now)


def _begun_for(connection: Connection) -> str:
    """The machine's name when the log was begun."""
    return connection.execute(select(ABOUT.c.value).where(ABOUT.c.name == "machine")).scalar() or ""


def _check_ours(database: Database, version: int, begun_for: str, machine: str) -> None:
    """A folder's machine may get another name; a database elsewhere might be another machine's."""
    if version < 1:
        raise LogError(
            where=database.name,
            read="a database without our tables",
            expected="a build log",
            remedy="Open it once where it can be written, or name another file.",
        )
    if database.file is None and begun_for != machine:
        raise LogError(
            where=database.name,
            read=begun_for,
            expected=f"the log of {machine}",
            remedy="One database holds one machine's log: name another database.",
        )


def _database_of(place: Path | str, *, read_only: bool) -> tuple[Database, str]:
    if isinstance(place, str) and "://" in place:
        return open_url(place), "it was opened only to be read" if read_only else ""
    file = Path(place)
    if file.is_dir():
        file /= FILE_NAME
    there = file.is_file()
    writable = can_write(file)
    if not there and (read_only or not writable):
        raise LogNotWritable(
            where=str(file),
            read="no such file",
            expected="a build log" if read_only else "a folder that can be written",
            remedy="Begin one at the bench." if read_only else "Give yourself the right to write there.",
            passing=False,
        )
    why = "it was opened only to be read" if read_only else ""
    if not why and not writable:
        why = "this folder cannot be written"
    return open_file(file, read_only=bool(why)), why


def _following(seq: int, after: int) -> int:
    """The number of the next entry. Raises ValueError when it does not follow: a torn page would be read
    again and again."""
    if seq <= after:
        raise ValueError(f"the one given after it is {seq}")
    return seq
