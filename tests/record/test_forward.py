"""Logs of older and newer versions."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path

import pytest

from log_entries import one_of_each, said
from trysquare.record import forward, schema
from trysquare.record.faults import LogError, LogNotWritable
from trysquare.record.log import open_log
from trysquare.record.schema import MIGRATIONS, Migration

LATER = Migration(
    number=2,
    says="a column that a later version might want",
    sqlite=("ALTER TABLE log ADD COLUMN weather TEXT", "CREATE INDEX log_by_weather ON log (weather)"),
    postgresql=(),
)


def with_steps(monkeypatch: pytest.MonkeyPatch, *later: Migration) -> None:
    monkeypatch.setattr(schema, "MIGRATIONS", (*MIGRATIONS, *later))


def test_steps_are_numbered_from_one_without_gaps() -> None:
    assert [one.number for one in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))
    assert all(one.sqlite and one.postgresql for one in MIGRATIONS)


def test_an_old_log_is_brought_forward_and_the_old_file_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_log(tmp_path, machine="Small frame") as log:
        entries = log.append(one_of_each())
    with_steps(monkeypatch, LATER)
    with open_log(tmp_path, machine="Small frame") as log:
        assert (log.version, log.read_only) == (2, False)
        assert tuple(log.events()) == entries
        assert log.verify() == ()
        log.append([said("done", "rail")])
    assert sorted(path.name for path in tmp_path.iterdir()) == ["log-before-2.sqlite", "log.sqlite"]
    monkeypatch.undo()
    with open_log(tmp_path / "log-before-2.sqlite", machine="Small frame") as log:
        assert (log.version, tuple(log.events())) == (1, entries)


def test_every_step_is_noted_with_its_time_and_version(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_steps(monkeypatch, LATER)
    open_log(tmp_path, machine="Small frame").close()
    connection = sqlite3.connect(tmp_path / "log.sqlite")
    rows = connection.execute("SELECT number, says, applied_utc, trysquare FROM migration").fetchall()
    connection.close()
    assert [(number, says) for number, says, *_ in rows] == [(1, MIGRATIONS[0].says), (2, LATER.says)]
    assert all(when.endswith("Z") and version for *_, when, version in rows)
    assert [path.name for path in tmp_path.iterdir()] == ["log.sqlite"], "a new log has no older file"


@pytest.mark.parametrize("bad", [("ALTER TABLE log ADD COLUMN weather TEXT", "NONSENSE")])
def test_a_step_that_fails_leaves_the_log_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bad: Sequence[str]
) -> None:
    with open_log(tmp_path, machine="Small frame") as log:
        entries = log.append(one_of_each())
    with_steps(monkeypatch, Migration(number=2, says="fails", sqlite=tuple(bad), postgresql=()))
    with pytest.raises(LogNotWritable):
        open_log(tmp_path, machine="Small frame")
    monkeypatch.undo()
    with open_log(tmp_path, machine="Small frame") as log:
        assert (log.version, tuple(log.events())) == (1, entries)
        assert log.append([said("done", "rail")])


def test_a_copy_that_is_there_already_is_not_written_over(tmp_path: Path) -> None:
    open_log(tmp_path, machine="Small frame").close()
    first = forward.keep_copy(tmp_path / "log.sqlite", 2)
    second = forward.keep_copy(tmp_path / "log.sqlite", 2)
    assert [first.name, second.name] == ["log-before-2.sqlite", "log-before-2-2.sqlite"]


def test_a_log_of_a_newer_version_opens_only_to_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_steps(monkeypatch, LATER)
    with open_log(tmp_path, machine="Small frame") as log:
        entries = log.append(one_of_each())
    monkeypatch.undo()
    with open_log(tmp_path, machine="Small frame") as log:
        assert log.why_read_only == "a newer Trysquare has written this log; this one only reads it"
        assert tuple(log.events()) == entries
        assert log.verify() == ()
        with pytest.raises(LogNotWritable, match="newer Trysquare"):
            log.append([said("done", "rail")])


def test_a_log_without_its_tables_is_refused(tmp_path: Path) -> None:
    open_log(tmp_path, machine="Small frame").close()
    connection = sqlite3.connect(tmp_path / "log.sqlite")
    connection.execute("DROP TABLE migration")
    connection.commit()
    connection.close()
    with pytest.raises(LogError):
        open_log(tmp_path, machine="Small frame")
