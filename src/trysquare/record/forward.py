"""Making a log's tables, and bringing those of an older version forward."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from sqlalchemy import Connection, func, insert, inspect, select
from sqlalchemy.exc import DBAPIError

from trysquare import __version__
from trysquare.record import schema
from trysquare.record.database import ABOUT, MIGRATION, Database, is_busy, read_error, reading, writing
from trysquare.record.faults import LogError
from trysquare.record.whole_files import to_disk

NOTHING, FOREIGN = 0, -1


def version_of(connection: Connection) -> int:
    """The number of the last step that was made; NOTHING for an empty database, FOREIGN for one of somebody
    else."""
    tables = inspect(connection).get_table_names()
    if MIGRATION.name not in tables:
        return (
            FOREIGN if {"log", "about"} & set(tables) or _is_file_of_others(connection, tables) else NOTHING
        )
    number: int | None = connection.execute(select(func.max(MIGRATION.c.number))).scalar()
    return number or FOREIGN


def _is_file_of_others(connection: Connection, tables: Sequence[str]) -> bool:
    """An SQLite file with any table is somebody's; a PostgreSQL database may hold other things beside."""
    return bool(tables) and connection.dialect.name == "sqlite"


def bring_forward(database: Database, machine: str, now_utc: str) -> int:
    """Makes every step that is missing, each in a transaction of its own; gives the version before.

    The file of an older version is kept beside it first. Raises LogError for a database that is no log.
    """
    with reading(database) as connection:
        before = version_of(connection)
    if before == FOREIGN:
        raise LogError(
            where=database.name,
            read="a database without our tables",
            expected="a build log, or nothing yet",
            remedy="Move this file away; the log is made anew.",
        )
    if before >= schema.newest():
        return before
    kept = before == NOTHING
    for migration in schema.MIGRATIONS:
        with writing(database) as connection:
            # Another program may have been quicker while we waited.
            if version_of(connection) >= migration.number:
                continue
            if not kept and database.file is not None:
                keep_copy(database.file, migration.number)
                kept = True
            for statement in migration.sqlite if database.is_sqlite else migration.postgresql:
                connection.exec_driver_sql(statement)
            note = {"number": migration.number, "says": migration.says, "applied_utc": now_utc}
            connection.execute(insert(MIGRATION).values(**note, trysquare=__version__))
            if migration.number == 1:
                about = [{"name": "machine", "value": machine}, {"name": "begun_utc", "value": now_utc}]
                connection.execute(insert(ABOUT), about)
    return before


def use_write_ahead(database: Database) -> None:
    """Readers do not wait for writers then. Where the file system cannot do it, the log is slower, not less
    safe. Raises LogError for a file that is no database."""
    if not database.is_sqlite:
        return
    try:
        with database.engine.connect().execution_options(bare=True) as connection:
            # Fetched, since a statement whose answer waits keeps the next transaction from its end.
            connection.exec_driver_sql("PRAGMA journal_mode = WAL").all()
    except DBAPIError as error:
        if not is_busy(error):  # another program holds it, and has done the same
            raise read_error(database, error) from error


def keep_copy(file: Path, number: int) -> Path:
    """A copy of the log as it was before a step, whole or not at all, under a name that is free."""
    stem = f"{file.stem}-before-{number}"
    names = (f"{stem}{file.suffix}", *(f"{stem}-{again}{file.suffix}" for again in range(2, 1000)))
    target = next(path for name in names if not (path := file.with_name(name)).exists())
    written = target.with_name(f".writing-{target.name}")
    try:
        with (
            contextlib.closing(sqlite3.connect(file)) as source,
            contextlib.closing(sqlite3.connect(written)) as copy,
        ):
            source.backup(copy)
        to_disk(written)
        written.rename(target)
    except BaseException:
        written.unlink(missing_ok=True)
        raise
    to_disk(target.parent)
    return target
