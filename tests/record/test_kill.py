"""A log whose writer is killed at any moment, and one whose disk is full or cannot be written."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from log_entries import one_of_each, said
from trysquare.record.faults import LogNotWritable
from trysquare.record.log import BuildLog, open_log

HERE = Path(__file__).parent
SOURCES = HERE.parent.parent / "src"


def told_by(script: str, *arguments: object) -> Any:
    """What one of the programs beside this file prints."""
    done = subprocess.run(
        [sys.executable, str(HERE / script), *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        env=dict(os.environ, PYTHONPATH=str(SOURCES)),
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked children")
def test_at_two_hundred_random_kills_nothing_acknowledged_is_lost_and_nothing_is_half(tmp_path: Path) -> None:
    told = told_by("killing.py", tmp_path, 200)
    assert told["faults"] == []
    assert told["kills"] == 200
    assert told["batches"] > 0


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked children")
def test_at_some_random_kills_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    assert told_by("killing.py", tmp_path, 10, 7)["faults"] == []


def fill(log: BuildLog, name: str) -> int:
    """Appends until the disk takes no more; gives the number of acknowledged entries."""
    acknowledged: list[str] = []

    def append_for_ever() -> None:
        while True:
            event = said("note", id=f"{name}-{len(acknowledged)}", says="x" * 5000)
            log.append([event])
            acknowledged.append(event.id)

    with pytest.raises(LogNotWritable) as caught:
        append_for_ever()
    assert caught.value.passing
    assert caught.value.remedy.startswith("Nothing was kept.")
    return len(acknowledged)


def test_a_full_database_takes_nothing_half_and_goes_on_once_there_is_room(tmp_path: Path) -> None:
    with open_log(tmp_path, machine="Small frame") as log:
        log.append(one_of_each())

        def allow(pages: int) -> None:
            with log._database.engine.connect().execution_options(bare=True) as connection:
                connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")

        allow(40)
        acknowledged = fill(log, "first")
        assert 0 < acknowledged < 40
        assert log.head().seq == 23 + acknowledged
        assert log.state().seq == 23 + acknowledged
        allow(100_000)
        log.append(
            [said("note", id=f"first-{number}", says="x" * 5000) for number in range(acknowledged + 5)]
        )
        assert log.head().seq == 23 + acknowledged + 5, "what had come is not added again"
        assert log.verify() == ()


@pytest.mark.skipif(sys.platform == "win32", reason="needs limits of the system")
@pytest.mark.slow
def test_a_file_that_may_not_grow_any_more_takes_nothing_half(tmp_path: Path) -> None:
    told = told_by("full_disk.py", tmp_path)
    assert told["refused"] == "LogNotWritable"
    assert told["passing"]
    assert "Nothing was kept." in told["remedy"]
    assert told["file"] == "LogNotWritable"
    assert told["left_behind"] == []
    assert told["faults"] == []
    assert told["after"] == told["acknowledged"] + 1
    with open_log(tmp_path, machine="Small frame") as log:
        assert log.head().seq == told["after"]


@pytest.mark.skipif(sys.platform == "win32", reason="rights of the system")
@pytest.mark.slow
def test_in_a_folder_that_cannot_be_written_the_log_is_read_and_refuses_entries() -> None:
    told = told_by("no_rights.py")
    if "skipped" in told:
        pytest.skip(told["skipped"])
    assert told == {
        "without a log": "LogNotWritable",
        "closed": [23, "this folder cannot be written", "LogNotWritable", []],
        # The last entries wait in the file beside the log, for its writer was killed.
        "killed": [24, "this folder cannot be written", "LogNotWritable", []],
        "only read": [24, "it was opened only to be read", "LogNotWritable", []],
        "photo": "LogNotWritable",
        "left in the folder": {"closed": ["log.sqlite"], "killed": ["log.sqlite", "log.sqlite-wal"]},
    }


@pytest.mark.slow
def test_two_programs_that_write_at_once_lose_nothing(tmp_path: Path) -> None:
    writers = [
        subprocess.Popen(
            [sys.executable, str(HERE / "writing.py"), str(tmp_path), str(number)],
            env=dict(os.environ, PYTHONPATH=str(SOURCES)),
        )
        for number in range(2)
    ]
    assert [writer.wait() for writer in writers] == [0, 0]
    with open_log(tmp_path, machine="Small frame") as log:
        names = [entry.event.id for entry in log.events()]
        assert sorted(names) == sorted(
            [f"own-{writer}-{number}" for writer in range(2) for number in range(40)]
            + [f"shared-{number}" for number in range(40)]
        )
        assert log.verify() == ()
