"""The log in PostgreSQL, where there is one to try it on.

TRYSQUARE_TEST_POSTGRESQL=postgresql+psycopg://user@/name   an empty database that may be written to, and the
driver psycopg: without them these tests are left out.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine
from sqlalchemy.exc import DBAPIError

from log_entries import one_of_each, said
from trysquare.record.faults import LogError
from trysquare.record.log import open_log
from trysquare.record.replay import replay

URL = os.environ.get("TRYSQUARE_TEST_POSTGRESQL", "")
pytestmark = pytest.mark.skipif(not URL, reason="no database given")


@pytest.fixture(autouse=True)
def empty() -> Iterator[None]:
    engine = create_engine(URL)
    with engine.begin() as connection:
        connection.exec_driver_sql("DROP TABLE IF EXISTS log, about, migration")
        connection.exec_driver_sql("DROP FUNCTION IF EXISTS log_only_grows")
    yield
    engine.dispose()


def test_a_log_in_postgresql_is_the_log_that_sqlite_keeps(tmp_path: Path) -> None:
    with open_log(URL, machine="Small frame") as log:
        entries = log.append(one_of_each())
        assert log.append(one_of_each()) == entries
        log.export(tmp_path / "a.jsonl")
    with open_log(URL, machine="Small frame") as log, open_log(tmp_path, machine="Small frame") as copy:
        assert tuple(log.events()) == entries
        assert log.state() == replay(entries)
        assert log.verify() == ()
        assert copy.take_in(tmp_path / "a.jsonl").as_it_stood
        copy.export(tmp_path / "b.jsonl")
    assert (tmp_path / "a.jsonl").read_bytes() == (tmp_path / "b.jsonl").read_bytes()


@pytest.mark.parametrize("statement", ["UPDATE log SET step = 'x'", "DELETE FROM log", "TRUNCATE log"])
def test_postgresql_itself_refuses_to_change_an_entry(statement: str) -> None:
    with open_log(URL, machine="Small frame") as log:
        log.append([said("done", "frame")])
    engine = create_engine(URL)
    with pytest.raises(DBAPIError, match="only grows"), engine.begin() as connection:
        connection.exec_driver_sql(statement)
    engine.dispose()


def test_one_database_holds_one_machines_log() -> None:
    open_log(URL, machine="Small frame").close()
    with pytest.raises(LogError, match="One database holds one machine's log"):
        open_log(URL, machine="Reed")


def test_many_writers_leave_no_gap_in_postgresql() -> None:
    def add(name: str) -> None:
        with open_log(URL, machine="Small frame") as log:
            for number in range(10):
                log.append([said("note", id=f"{name}-{number}", says="x")])

    threads = [threading.Thread(target=add, args=(f"thread-{each}",)) for each in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with open_log(URL, machine="Small frame") as log:
        assert log.head().seq == 40
        assert log.verify() == ()
