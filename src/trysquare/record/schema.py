"""The log's tables, and the steps that bring an older log forward. SQL for SQLite and for PostgreSQL.

A step is numbered, goes forward only, and runs in one transaction together with the note that it ran. A step
that has been released is never changed: whoever needs another shape adds a step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Migration:
    """One step. `says`: what it is for; the statements of each kind of database, in order."""

    number: int
    says: str
    sqlite: tuple[str, ...]
    postgresql: tuple[str, ...]


# The hash takes the data as the very text it is, so it is text to both databases.
_LOG = """
CREATE TABLE log (
    seq {whole} PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL,
    step TEXT,
    subject TEXT,
    at_utc TEXT NOT NULL,
    device TEXT NOT NULL,
    seen {whole},
    data TEXT NOT NULL,
    received_utc TEXT NOT NULL,
    hash TEXT NOT NULL
)
"""
_ABOUT = "CREATE TABLE about (name TEXT NOT NULL PRIMARY KEY, value TEXT NOT NULL)"
_MIGRATION = """
CREATE TABLE migration (
    number {whole} PRIMARY KEY,
    says TEXT NOT NULL,
    applied_utc TEXT NOT NULL,
    trysquare TEXT NOT NULL
)
"""
_REFUSAL = "the build log only grows: an entry is never changed or taken out"

MIGRATIONS: Sequence[Migration] = (
    Migration(
        number=1,
        says="entries, what the log is about, and triggers that refuse every change of an entry",
        sqlite=(
            _MIGRATION.format(whole="INTEGER"),
            _ABOUT,
            _LOG.format(whole="INTEGER"),
            *(
                f"CREATE TRIGGER log_never_{verb} BEFORE {action} ON log "
                f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
                for verb, action in (("changes", "UPDATE"), ("shrinks", "DELETE"))
            ),
            # Without this an INSERT OR REPLACE would take an entry out and put another in its place: SQLite
            # runs no delete trigger for it.
            (
                "CREATE TRIGGER log_never_replaces BEFORE INSERT ON log "
                "WHEN EXISTS (SELECT 1 FROM log WHERE seq = NEW.seq OR id = NEW.id) "
                f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
            ),
        ),
        postgresql=(
            _MIGRATION.format(whole="BIGINT"),
            _ABOUT,
            _LOG.format(whole="BIGINT"),
            (
                "CREATE FUNCTION log_only_grows() RETURNS trigger LANGUAGE plpgsql AS "
                f"$$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$"
            ),
            (
                "CREATE TRIGGER log_never_changes BEFORE UPDATE OR DELETE ON log "
                "FOR EACH ROW EXECUTE FUNCTION log_only_grows()"
            ),
            (
                "CREATE TRIGGER log_never_empties BEFORE TRUNCATE ON log "
                "FOR EACH STATEMENT EXECUTE FUNCTION log_only_grows()"
            ),
        ),
    ),
)


def newest() -> int:
    """The number of the last step that this version knows."""
    return MIGRATIONS[-1].number
