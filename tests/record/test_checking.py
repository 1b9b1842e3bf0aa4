"""A log that was altered or damaged: which entry it is, and what can still be had of it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from pathlib import Path

import pytest

from log_entries import one_of_each, said
from trysquare.record.faults import LogError
from trysquare.record.log import Head, open_log


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    with open_log(tmp_path, machine="Small frame") as log:
        log.append(one_of_each())
    return tmp_path


def altered(folder: Path, *statements: str) -> list[tuple[str, int]]:
    """Code and entry of each fault that a check finds once somebody has forced these changes."""
    connection = sqlite3.connect(folder / "log.sqlite")
    for (trigger,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f"DROP TRIGGER {trigger}")
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()
    with open_log(folder, machine="Small frame") as log:
        return [(fault.code, fault.seq) for fault in log.verify()]


def test_a_log_as_it_was_written_has_no_fault(folder: Path) -> None:
    with open_log(folder, machine="Small frame") as log:
        assert log.verify() == ()
        assert log.verify(log.head()) == ()


@pytest.mark.parametrize(
    "change",
    [
        "step = 'rail'", "subject = 'x'", "at_utc = '2031-05-04T08:00:00.001Z'", "device = 'x'", "seen = 1",
        "received_utc = '2031-05-04T08:00:00.001Z'", "kind = 'note'", "data = '{}'", "data = 'no json'",
        "data = '[1]'", "data = data || ' '",
        "hash = iif(hash LIKE 'a%', 'b', 'a') || substr(hash, 2)", "id = 'other'",
    ],
)  # fmt: skip
def test_an_altered_entry_is_named(folder: Path, change: str) -> None:
    found = altered(folder, f"UPDATE log SET {change} WHERE seq = 8")
    assert found[0] == ("changed", 8)
    # A hash that is another one makes the next entry's wrong too; after it the chain is whole again.
    assert set(found) <= {("changed", 8), ("changed", 9)}


def test_entries_taken_out_are_named(folder: Path) -> None:
    assert altered(folder, "DELETE FROM log WHERE seq IN (5, 6, 9)") == [("missing", 5), ("missing", 9)]


def test_entries_put_in_another_order_are_named(folder: Path) -> None:
    found = altered(
        folder,
        "UPDATE log SET seq = 99 WHERE seq = 5", "UPDATE log SET seq = 5 WHERE seq = 6",
        "UPDATE log SET seq = 6 WHERE seq = 99",
    )  # fmt: skip
    assert {seq for _, seq in found} == {5, 6, 7}


def test_an_end_that_was_cut_off_shows_to_whoever_noted_it(folder: Path) -> None:
    with open_log(folder, machine="Small frame") as log:
        noted = log.head()
    assert altered(folder, "DELETE FROM log WHERE seq > 20") == []
    with open_log(folder, machine="Small frame") as log:
        (fault,) = log.verify(noted)
        assert (fault.code, fault.seq) == ("not-there", 23)
        log.append([said("note", id=str(number), says="x") for number in range(3)])
        assert [one.code for one in log.verify(noted)] == ["not-there"], "other entries took its numbers"


def test_a_head_of_another_log_is_not_there(folder: Path) -> None:
    with open_log(folder, machine="Small frame") as log:
        assert [one.code for one in log.verify(Head(seq=3, hash="f" * 64))] == ["not-there"]


def test_an_entry_that_is_no_json_stops_the_replay_with_its_number_and_not_the_export(folder: Path) -> None:
    altered(folder, "UPDATE log SET data = 'no json' WHERE seq = 8")
    with open_log(folder, machine="Small frame") as log:
        with pytest.raises(LogError, match="entry 8: "):
            log.state()
        assert log.export(folder / "log.jsonl") == 22
    (folder / "new").mkdir()
    with open_log(folder / "new", machine="Small frame") as log:
        taken = log.take_in(folder / "log.jsonl")
        assert (taken.added, taken.altered) == (22, ())
        assert log.state().seq == 22
        assert log.verify() == ()


@pytest.mark.parametrize(
    "change", ["at_utc = 'noon'", "received_utc = ''", "at_utc = '2031-05-04T08:00:00.000'"]
)
def test_a_time_that_is_none_stops_the_replay_with_what_to_do(folder: Path, change: str) -> None:
    altered(folder, f"UPDATE log SET {change} WHERE seq = 1")
    with open_log(folder, machine="Small frame") as log, pytest.raises(LogError, match="log verify"):
        log.state()


def long_log(folder: Path, entries: int) -> bytes:
    with open_log(folder, machine="Small frame") as log:
        log.append(
            [said("note", id=f"{number:05d}", says=f"note {number} " * 20) for number in range(entries)]
        )
    return (folder / "log.sqlite").read_bytes()


def spoilt(folder: Path, content: bytes, pages: Iterable[int]) -> None:
    """Writes a log file with whole pages of it overwritten, as a failing disk does."""
    page = int.from_bytes(content[16:18], "big")
    spoil = bytearray(content)
    for number in pages:
        spoil[number * page : (number + 1) * page] = b"\xa5" * page
    (folder / "log.sqlite").write_bytes(bytes(spoil))


@pytest.mark.slow
@pytest.mark.parametrize("where", [0.3, 0.5, 0.7, 0.9])
def test_of_a_file_with_a_spoilt_page_everything_else_can_be_had(tmp_path: Path, where: float) -> None:
    content = long_log(tmp_path, 600)
    pages = len(content) // int.from_bytes(content[16:18], "big")
    spoilt(tmp_path, content, [int(where * pages)])
    with open_log(tmp_path, machine="Small frame", read_only=True) as log:
        faults = log.verify()
        assert faults
        assert faults[0].code == "database"
        got = log.export(tmp_path / "log.jsonl")
    # A page of an index costs nothing, one of entries about a dozen.
    assert got >= 600 - 40
    assert got == 600 or any(fault.code in ("unreadable", "changed", "missing") for fault in faults)
    (tmp_path / "new").mkdir()
    with open_log(tmp_path / "new", machine="Small frame") as log:
        assert log.take_in(tmp_path / "log.jsonl").added == got
        assert log.verify() == ()


@pytest.mark.slow
def test_a_file_that_is_cut_off_is_told_and_its_beginning_can_be_had(tmp_path: Path) -> None:
    content = long_log(tmp_path, 600)
    (tmp_path / "log.sqlite").write_bytes(content[: len(content) // 4096 // 2 * 4096])
    with open_log(tmp_path, machine="Small frame", read_only=True) as log:
        says = [fault.says for fault in log.verify()]
        got = log.export(tmp_path / "log.jsonl")
        assert got > 100
        assert any(f"No entry from {got + 1} on can be read" in one for one in says)
