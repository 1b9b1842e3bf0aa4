"""Logs that released versions wrote open for ever. `tests/files/make_log.py` says how they were made."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from trysquare.record.log import BuildLog, open_log

FILES = Path(__file__).resolve().parent.parent / "files"
LOGS = sorted(FILES.glob("log-*.sqlite"))
LINES = sorted(FILES.glob("log-*.jsonl"))


def test_there_is_a_file_of_every_version_so_far() -> None:
    assert [path.stem for path in LOGS] == [path.stem for path in LINES]
    assert LOGS


@pytest.mark.parametrize("file", LOGS, ids=lambda file: file.stem)
def test_an_old_log_opens_as_it_was_written_and_takes_entries(tmp_path: Path, file: Path) -> None:
    shutil.copy(file, tmp_path / "log.sqlite")
    with open_log(tmp_path, machine="Small frame") as log:
        assert not log.read_only
        _says_what_it_said(log)
        log.export(tmp_path / "log.jsonl")
    assert (tmp_path / "log.jsonl").read_bytes() == file.with_suffix(".jsonl").read_bytes()


@pytest.mark.parametrize("file", LOGS, ids=lambda file: file.stem)
def test_an_old_log_is_read_without_being_changed(file: Path) -> None:
    before = file.read_bytes()
    with open_log(file, machine="Small frame", read_only=True) as log:
        _says_what_it_said(log)
    assert file.read_bytes() == before


@pytest.mark.parametrize("file", LINES, ids=lambda file: file.stem)
def test_old_lines_are_taken_in(tmp_path: Path, file: Path) -> None:
    with open_log(tmp_path, machine="Small frame") as log:
        assert log.take_in(file).as_it_stood
        _says_what_it_said(log)


def _says_what_it_said(log: BuildLog) -> None:
    """The build of `one_of_each`, as far as every version tells it."""
    assert log.verify() == ()
    state = log.state()
    assert log.machine == "Small frame"
    assert state.seq == 23
    frame = state.steps["frame"]
    assert frame.done is not None
    assert (frame.done.id, frame.done.at, frame.done.device) == ("e-21", "2031-05-04T09:01:00.000Z", "tablet")
    assert frame.seconds == 19 * 60, "18 minutes, a pause, and one more"
    assert state.laid_out == {("frame", "frame/left")}
    assert state.counted["ISO 7380-1 M5x8"].boxes == {"B": 12}
    assert [(one.value, one.set_aside != "") for one in state.readings["frame", "corner"]] == [
        (0.04, False),
        (4.0, True),
    ]
    assert [one.what for one in state.deviations] == ["substitute"]
    assert list(state.open_points) == ["guard"]
    assert [one.clock_seconds for one in state.marks] == [61.5]
    assert [one.says for one in state.notes] == ["Its end is not square."]
    assert state.undone == {"e-22"}
