"""The log on disk: added to, never changed, opened again."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from log_entries import BEGIN, one_of_each, said
from trysquare.ground.errors import ReadingError
from trysquare.record.events import FIRST_HASH
from trysquare.record.faults import LogError, LogNotWritable
from trysquare.record.log import BuildLog, Head, open_log
from trysquare.record.replay import replay

OTHERS = "step, subject, at_utc, device, seen, data, received_utc, hash"


@pytest.fixture
def log(tmp_path: Path) -> Iterator[BuildLog]:
    with open_log(tmp_path, machine="Small frame") as log:
        yield log


def test_what_was_added_is_there_after_opening_again(tmp_path: Path) -> None:
    with open_log(tmp_path, machine="Small frame") as log:
        added = log.append(one_of_each())
        state = log.state()
    with open_log(tmp_path, machine="Small frame") as log:
        assert tuple(log.events()) == added
        assert log.state() == state == replay(added)
        assert log.head() == Head(seq=len(added), hash=added[-1].hash)
        assert log.verify() == ()


def test_an_empty_log_has_no_last_entry(log: BuildLog) -> None:
    assert (log.head(), list(log.events()), log.verify()) == (Head(seq=0, hash=FIRST_HASH), [], ())


def test_entries_are_numbered_without_gaps_and_told_from_any_number_on(log: BuildLog) -> None:
    for event in one_of_each():
        log.append([event])
    assert [entry.seq for entry in log.events()] == list(range(1, 24))
    assert [entry.seq for entry in log.events(after=20)] == [21, 22, 23]


def test_an_event_that_is_sent_twice_is_logged_once(log: BuildLog) -> None:
    first, second = said("done", "frame", id="1"), said("done", "rail", id="2")
    (logged,) = log.append([first])
    again = log.append([second, first, second])
    assert [entry.event.id for entry in again] == ["2", "1", "2"]
    assert again[1] == logged
    assert log.head().seq == 2


def test_an_id_that_says_something_else_is_given_back_as_it_stands(log: BuildLog) -> None:
    (logged,) = log.append([said("done", "frame", id="1")])
    assert log.append([said("done", "rail", id="1")]) == (logged,)


def test_one_bad_event_keeps_its_whole_company_out(log: BuildLog) -> None:
    with pytest.raises(ReadingError) as caught:
        log.append([said("done", "frame", id="1"), said("done", id="2")])
    assert str(caught.value.where) == "event 2, step"
    assert log.head().seq == 0


def test_a_device_whose_clock_jumps_is_kept_as_it_says_beside_the_logs_own_time(tmp_path: Path) -> None:
    times = iter([BEGIN, *(BEGIN + timedelta(minutes=minute) for minute in (1, 2, -500))])
    with open_log(tmp_path, machine="Small frame", now=lambda: next(times)) as log:
        for number, minutes in enumerate((0, 10_000_000, -10_000_000)):
            log.append([said("note", id=str(number), minutes=minutes, says="x")])
        entries = list(log.events())
    assert [entry.event.at[:4] for entry in entries] == ["2031", "2050", "2012"]
    assert [entry.received[11:16] for entry in entries] == ["08:01", "08:02", "23:40"]
    assert [entry.seq for entry in entries] == [1, 2, 3]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE log SET step = 'rail' WHERE seq = 1",
        "DELETE FROM log WHERE seq = 1",
        "DELETE FROM log",
        f"INSERT OR REPLACE INTO log SELECT seq, id, 'note', {OTHERS} FROM log WHERE seq = 1",
        f"INSERT INTO log SELECT seq + 99, id, kind, {OTHERS} FROM log WHERE seq = 1",
    ],
)
def test_the_database_itself_refuses_to_change_an_entry(tmp_path: Path, statement: str) -> None:
    with open_log(tmp_path, machine="Small frame") as log:
        entries = log.append(one_of_each())
    connection = sqlite3.connect(tmp_path / "log.sqlite")
    with pytest.raises(sqlite3.IntegrityError, match="only grows"):
        connection.execute(statement)
    connection.close()
    with open_log(tmp_path, machine="Small frame") as log:
        assert tuple(log.events()) == entries


def test_every_commit_waits_for_the_disk_and_readers_do_not_wait(log: BuildLog) -> None:
    with log._database.engine.connect() as connection:
        told = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("synchronous", "journal_mode", "foreign_keys", "busy_timeout")
        }
    assert told == {"synchronous": 2, "journal_mode": "wal", "foreign_keys": 1, "busy_timeout": 10_000}


def test_a_reader_sees_the_log_while_another_writes(tmp_path: Path) -> None:
    with open_log(tmp_path, machine="Small frame") as writer, open_log(tmp_path, machine="") as reader:
        entries = reader.events()
        writer.append([said("done", "frame", id="1")])
        assert next(entries).event.id == "1"
        writer.append([said("done", "rail", id="2")])
        assert [entry.event.id for entry in entries] == ["2"]


def test_many_threads_lose_nothing_and_leave_no_gap(log: BuildLog) -> None:
    def add(name: str) -> None:
        for number in range(20):
            log.append([said("note", id=f"{name}-{number}-{each}", says="x") for each in range(3)])

    threads = [threading.Thread(target=add, args=(f"thread-{each}",)) for each in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [entry.seq for entry in log.events()] == list(range(1, 241))
    assert log.verify() == ()


def test_many_that_open_a_new_log_at_once_make_one(tmp_path: Path) -> None:
    faults: list[BaseException] = []

    def begin(name: str) -> None:
        try:
            with open_log(tmp_path, machine="Small frame") as log:
                log.append([said("note", id=name, says="x")])
        except BaseException as error:  # noqa: BLE001 - a thread's error must reach the test
            faults.append(error)

    threads = [threading.Thread(target=begin, args=(f"thread-{each}",)) for each in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    with open_log(tmp_path, machine="Small frame") as log:
        assert log.head().seq == 6
        assert log.verify() == ()


def test_the_machine_may_get_another_name(tmp_path: Path) -> None:
    open_log(tmp_path, machine="Small frame").close()
    with open_log(tmp_path, machine="Large frame") as log:
        assert log.machine == "Small frame"


def test_a_closed_log_is_one_file(tmp_path: Path) -> None:
    for read_only in (False, True):
        with open_log(tmp_path, machine="Small frame", read_only=read_only) as log:
            list(log.events())
        assert [path.name for path in tmp_path.iterdir()] == ["log.sqlite"]


def test_a_log_that_is_only_read_refuses_entries_and_stays_as_it_is(tmp_path: Path) -> None:
    with open_log(tmp_path, machine="Small frame") as log:
        log.append(one_of_each())
    before = (tmp_path / "log.sqlite").read_bytes()
    with open_log(tmp_path, machine="Small frame", read_only=True) as log:
        assert log.read_only
        with pytest.raises(LogNotWritable) as caught:
            log.append([said("done", "rail")])
        assert not caught.value.passing
        assert log.state().seq == 23
    assert (tmp_path / "log.sqlite").read_bytes() == before


def test_there_is_nothing_to_read_where_no_log_is(tmp_path: Path) -> None:
    with pytest.raises(LogNotWritable, match="no such file"):
        open_log(tmp_path, machine="Small frame", read_only=True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("content", [b"no database at all" * 100, b"SQLite format 3\0" + b"\xff" * 4096])
def test_a_file_that_is_no_log_is_refused_and_left_alone(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "log.sqlite"
    file.write_bytes(content)
    with pytest.raises(LogError) as caught:
        open_log(tmp_path, machine="Small frame")
    assert str(file) in str(caught.value)
    assert file.read_bytes() == content


def test_somebody_elses_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "log.sqlite"
    connection = sqlite3.connect(file)
    connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.commit()
    connection.close()
    with pytest.raises(LogError, match="Move this file away"):
        open_log(tmp_path, machine="Small frame")
    connection = sqlite3.connect(file)
    assert [name for (name,) in connection.execute("SELECT name FROM sqlite_master")] == ["recipes"]
    connection.close()


@pytest.mark.parametrize(
    "url", ["sqlite:///x.sqlite", "nonsense://a:secret@b/c", "mysql://a:secret@b/c", "://"]
)
def test_an_address_that_is_none_is_refused_without_its_password(url: str) -> None:
    with pytest.raises(LogError) as caught:
        open_log(url, machine="Small frame")
    assert "secret" not in str(caught.value)
