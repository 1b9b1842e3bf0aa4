"""The database under the log: how it is opened, and what its errors mean for whoever wrote or read."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import BigInteger, Column, Connection, Engine, MetaData, Table, Text, create_engine, event
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError
from sqlalchemy.pool import ConnectionPoolEntry, QueuePool

from trysquare.record.faults import LogError, LogNotWritable

BUSY_SECONDS = 10.0  # how long to wait while another program writes; common practice, no source

_METADATA = MetaData()
LOG = Table(
    "log",
    _METADATA,
    Column("seq", BigInteger, primary_key=True),
    *(Column(name, Text) for name in ("id", "kind", "step", "subject", "at_utc", "device")),
    Column("seen", BigInteger),
    *(Column(name, Text) for name in ("data", "received_utc", "hash")),
)
ABOUT = Table("about", _METADATA, Column("name", Text, primary_key=True), Column("value", Text))
MIGRATION = Table(
    "migration",
    _METADATA,
    Column("number", BigInteger, primary_key=True),
    Column("says", Text),
    Column("applied_utc", Text),
    Column("trysquare", Text),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Database:
    """An engine with what the log must know of it. `name`: what to call it in an error; `file`: None for
    one that is reached by URL; `copy`: a folder that goes when the log is closed, "" for none."""

    engine: Engine
    name: str
    file: Path | None
    copy: str = ""

    @property
    def is_sqlite(self) -> bool:
        return self.engine.dialect.name == "sqlite"

    def close(self) -> None:
        self.engine.dispose()
        if self.copy:
            shutil.rmtree(self.copy, ignore_errors=True)


def open_file(file: Path, *, read_only: bool) -> Database:
    """An SQLite file; made when it is not there, unless it is only to be read."""
    if not read_only:
        return Database(engine=_sqlite_engine(f"{_uri(file)}?mode=rwc"), name=str(file), file=file)
    if can_write(file):
        # Not mode=ro: whoever reads last then leaves SQLite's helping files behind.
        engine = _sqlite_engine(f"{_uri(file)}?mode=rw", only_reads=True)
        return Database(engine=engine, name=str(file), file=file)
    waiting = file.with_name(f"{file.name}-wal")
    if not (waiting.is_file() and waiting.stat().st_size):
        # Nobody can write here, so nothing changes under our eyes and no lock is needed.
        return Database(engine=_sqlite_engine(f"{_uri(file)}?immutable=1"), name=str(file), file=file)
    # The last entries wait in a file beside it, and SQLite reads them only where it may write.
    copy = tempfile.mkdtemp(prefix="trysquare-log-")
    for each in (file, waiting):
        shutil.copyfile(each, Path(copy) / each.name)
    engine = _sqlite_engine(f"{_uri(Path(copy) / file.name)}?mode=rw")
    return Database(engine=engine, name=str(file), file=file, copy=copy)


def open_url(url: str) -> Database:
    """A database by its URL, such as postgresql+psycopg://…; raises LogError for one that cannot be used."""
    shown = url.rpartition("@")[2]  # never a password
    try:
        engine = create_engine(url, pool_pre_ping=True)
    except (ArgumentError, NoSuchModuleError, ModuleNotFoundError, ValueError) as error:
        raise LogError(
            where=shown,
            read=str(error),
            expected="a database URL whose driver is installed",
            remedy="Write postgresql+psycopg://user@host/name, and: pip install 'psycopg[binary]'.",
        ) from error
    if engine.dialect.name not in ("sqlite", "postgresql"):
        raise LogError(
            where=shown,
            read=engine.dialect.name,
            expected="sqlite or postgresql",
            remedy="Keep the log in log.sqlite or in PostgreSQL.",
        )
    if engine.dialect.name == "sqlite":
        raise LogError(
            where=shown,
            read=url,
            expected="the path of the file itself",
            remedy="Name the machine folder or its log.sqlite.",
        )
    return Database(engine=engine, name=shown, file=None)


def can_write(file: Path) -> bool:
    """Whether the file, and beside it the files that SQLite needs, can be written here."""
    folder_too = os.access(file.parent, os.W_OK | os.X_OK)
    return folder_too and (not file.exists() or os.access(file, os.W_OK))


def _uri(file: Path) -> str:
    return f"file:{quote(str(file.absolute()))}"


def _sqlite_engine(uri: str, *, only_reads: bool = False) -> Engine:
    def connect() -> sqlite3.Connection:
        return sqlite3.connect(
            uri, uri=True, timeout=BUSY_SECONDS, isolation_level=None, check_same_thread=False
        )

    # Said, because by this URL alone each thread would keep a connection of its own, also after its end.
    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool, pool_size=8, max_overflow=-1)

    @event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _entry: ConnectionPoolEntry) -> None:
        connection.execute(f"PRAGMA busy_timeout = {int(BUSY_SECONDS * 1000)}")
        if only_reads:
            connection.execute("PRAGMA query_only = ON")
            # So that of a file which lost its end the beginning can be read.
            connection.execute("PRAGMA writable_schema = ON")
            return
        connection.execute("PRAGMA foreign_keys = ON")
        # Each commit is on the disk before it is answered, also on a Mac.
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA fullfsync = ON")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        options = connection.get_execution_options()
        if not options.get("bare"):
            connection.exec_driver_sql("BEGIN IMMEDIATE" if options.get("writes") else "BEGIN")

    return engine


@contextlib.contextmanager
def reading(database: Database) -> Iterator[Connection]:
    """A transaction that only reads; raises LogError."""
    try:
        # Not committed at its end: of a damaged file even that may fail.
        with database.engine.connect() as connection:
            yield connection
    except DBAPIError as error:
        raise read_error(database, error) from error


@contextlib.contextmanager
def writing(database: Database) -> Iterator[Connection]:
    """A transaction that writes, alone: whole or not at all. Raises LogNotWritable."""
    try:
        with database.engine.execution_options(writes=True).begin() as connection:
            if not database.is_sqlite:
                # For as long as this transaction: whoever else writes to this database waits.
                connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK})")
            yield connection
    except DBAPIError as error:
        raise write_error(database, error) from error


_LOCK = 7_392_840_113  # any number, always the same


def read_error(database: Database, error: DBAPIError) -> LogError:
    """What a database's error means for a reader."""
    code = _code(error)
    if not database.is_sqlite:
        expected, remedy = "a database that answers", "Check the URL, the server and your rights there."
    elif code in ("SQLITE_CORRUPT", "SQLITE_NOTADB"):
        expected, remedy = "a build log", DAMAGED_REMEDY
    elif code == "SQLITE_CANTOPEN":
        expected, remedy = "a file that can be opened", "Check the path and its rights."
    else:
        expected, remedy = "a build log", "Run 'trysquare log verify' on the folder."
    return LogError(where=database.name, read=str(error.orig), expected=expected, remedy=remedy)


DAMAGED_REMEDY = (
    "Keep the file. 'trysquare log export' writes out what can still be read; move the damaged file away and "
    "'trysquare log take-in' begins a new log with it."
)

_WRITE_ERRORS: dict[str, tuple[str, str, bool]] = {
    "SQLITE_FULL": ("room on the disk", "Nothing was kept. Make room; what waits is sent again.", True),
    "SQLITE_IOERR": (
        "a disk that takes what is written",
        "Nothing was kept. Look at the disk and its room; what waits is sent again.",
        True,
    ),
    "SQLITE_BUSY": (
        "a log that nobody else holds",
        "Nothing was kept. Another program has written for long; end it, then ask again.",
        True,
    ),
    "SQLITE_READONLY": (
        "a folder that can be written",
        "Nothing was kept. Give yourself the right to write to the folder, or copy it to where you may.",
        False,
    ),
    "SQLITE_CANTOPEN": (
        "a folder that can be written",
        "Nothing was kept. Check the path and its rights.",
        False,
    ),
    "SQLITE_CORRUPT": ("a build log", DAMAGED_REMEDY, False),
    "SQLITE_NOTADB": ("a build log", DAMAGED_REMEDY, False),
}


def write_error(database: Database, error: DBAPIError) -> LogNotWritable:
    """What a database's error means for whoever wrote: nothing was kept."""
    otherwise = ("a database that takes entries", "Nothing was kept. Look at what it says.", True)
    expected, remedy, passing = _WRITE_ERRORS.get(_code(error), otherwise)
    return LogNotWritable(
        where=database.name, read=str(error.orig), expected=expected, remedy=remedy, passing=passing
    )


def is_busy(error: DBAPIError) -> bool:
    """Whether another program holds the database."""
    return _code(error) == "SQLITE_BUSY"


def _code(error: DBAPIError) -> str:
    """SQLite's main code by name, without its particulars: SQLITE_IOERR_WRITE is SQLITE_IOERR."""
    name = getattr(error.orig, "sqlite_errorname", None) or ""
    if name == "SQLITE_LOCKED":
        return "SQLITE_BUSY"
    return "_".join(name.split("_")[:2])
