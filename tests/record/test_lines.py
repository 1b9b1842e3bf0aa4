"""The log as JSON lines: written out, taken in, joined with another."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from log_entries import one_of_each, said
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.record.log import open_log


def exported(folder: Path, events: object = None) -> Path:
    """A log of these events, made in a folder and written out beside it."""
    folder.mkdir(exist_ok=True)
    with open_log(folder, machine="Small frame") as log:
        log.append(one_of_each() if events is None else events)  # type: ignore[arg-type]
        log.export(folder.with_suffix(".jsonl"))
    return folder.with_suffix(".jsonl")


def test_an_export_taken_into_an_empty_log_is_the_same_log_byte_for_byte(tmp_path: Path) -> None:
    file = exported(tmp_path / "first")
    (tmp_path / "second").mkdir()
    with (
        open_log(tmp_path / "first", machine="Small frame") as first,
        open_log(tmp_path / "second", machine="Small frame") as second,
    ):
        taken = second.take_in(file)
        assert (taken.added, taken.known, taken.as_it_stood, taken.machine) == (23, 0, True, "Small frame")
        assert list(second.events()) == list(first.events())
        assert second.export(tmp_path / "again.jsonl") == 23
        assert second.verify() == ()
    assert (tmp_path / "again.jsonl").read_bytes() == file.read_bytes()


def test_every_line_is_json_that_anybody_reads(tmp_path: Path) -> None:
    top, *lines = [json.loads(line) for line in exported(tmp_path / "a").read_text("utf-8").splitlines()]
    assert top == {"entries": 23, "machine": "Small frame", "trysquare_log": 1}
    assert [line["seq"] for line in lines] == list(range(1, 24))
    assert lines[4]["data"]["note"] == "second corner · 2. Ecke — 角"
    assert all(list(line) == sorted(line) for line in lines)


def test_what_is_here_already_is_not_added_again(tmp_path: Path) -> None:
    file = exported(tmp_path / "a")
    with open_log(tmp_path / "a", machine="Small frame") as log:
        taken = log.take_in(file)
        assert (taken.added, taken.known, taken.differing, taken.altered) == (0, 23, (), ())
        assert log.head().seq == 23


def test_a_copy_is_brought_forward_exactly(tmp_path: Path) -> None:
    early = exported(tmp_path / "a", one_of_each()[:10])
    (tmp_path / "copy").mkdir()
    with (
        open_log(tmp_path / "copy", machine="Small frame") as copy,
        open_log(tmp_path / "a", machine="Small frame") as log,
    ):
        copy.take_in(early)
        log.append(one_of_each()[10:])
        log.export(tmp_path / "late.jsonl")
        taken = copy.take_in(tmp_path / "late.jsonl")
        assert (taken.added, taken.known, taken.as_it_stood) == (13, 10, True)
        assert copy.head() == log.head()


def test_two_logs_that_parted_are_joined_and_contradictions_are_named(tmp_path: Path) -> None:
    early = exported(tmp_path / "a", [said("opened", "frame", id="0")])
    (tmp_path / "b").mkdir()
    with (
        open_log(tmp_path / "a", machine="Small frame") as ours,
        open_log(tmp_path / "b", machine="Small frame") as theirs,
    ):
        theirs.take_in(early)
        ours.append([said("counted", id="1", sort="M5x8", count=10, device="tablet", minutes=1, seen=1)])
        theirs.append([said("counted", id="2", sort="M5x8", count=12, device="phone", minutes=2, seen=1)])
        theirs.append([said("done", "frame", id="3", device="phone", minutes=3, seen=2)])
        theirs.export(tmp_path / "b.jsonl")
        taken = ours.take_in(tmp_path / "b.jsonl")
        assert (taken.added, taken.known, taken.as_it_stood) == (2, 1, False)
        state = ours.state()
        assert [entry.event.id for entry in ours.events()] == ["0", "1", "2", "3"]
        assert ours.verify() == ()
        assert [conflict.about for conflict in state.conflicts] == ["count of M5x8"]
        assert state.steps["frame"].done is not None
        again = ours.take_in(tmp_path / "b.jsonl")
        assert (again.added, again.known, again.differing) == (0, 3, ())


def test_an_id_that_says_something_else_there_is_named_and_ours_stands(tmp_path: Path) -> None:
    file = exported(tmp_path / "a", [said("done", "frame", id="1")])
    (tmp_path / "b").mkdir()
    with open_log(tmp_path / "b", machine="Small frame") as log:
        log.append([said("done", "rail", id="1")])
        taken = log.take_in(file)
        assert (taken.added, taken.differing) == (0, ("1",))
        assert set(log.state().steps) == {"rail"}


def test_a_line_that_was_altered_is_taken_in_and_named(tmp_path: Path) -> None:
    file = exported(tmp_path / "a")
    text = file.read_text("utf-8")
    file.write_text(text.replace("a chip lay", "no chip lay"), encoding="utf-8")
    (tmp_path / "b").mkdir()
    with open_log(tmp_path / "b", machine="Small frame") as log:
        taken = log.take_in(file)
        assert (taken.added, taken.altered, taken.as_it_stood) == (23, (8,), False)
        assert log.verify() == ()


def test_an_export_of_a_newer_version_keeps_what_this_one_does_not_know(tmp_path: Path) -> None:
    file = exported(tmp_path / "a", [said("note", id="1", says="x"), said("note", id="2", says="x")])
    text = file.read_text("utf-8").replace('"kind":"note"', '"kind":"weighed-again"', 1)
    file.write_text(text.replace('{"says":"x"}', '{"says":"x","shade":"blue"}'), encoding="utf-8")
    (tmp_path / "b").mkdir()
    with open_log(tmp_path / "b", machine="Small frame") as log:
        log.take_in(file)
        first, second = log.events()
        assert (first.event.kind, second.event.data) == ("weighed-again", {"says": "x", "shade": "blue"})
        assert log.state().unknown == 1


def _without_line(number: int) -> Callable[[str], str]:
    return lambda text: "\n".join(line for at, line in enumerate(text.split("\n"), 1) if at != number)


BAD: list[tuple[Callable[[str], str], int, str]] = [
    (lambda _: "", 1, ""),
    (lambda _: "[1, 2]\n", 1, ""),
    (lambda text: text.replace('"trysquare_log":1', '"trysquare_log":2', 1), 1, "trysquare_log"),
    (_without_line(24), 1, "entries"),
    (lambda text: text.replace('"seq":3', '"seq":"three"', 1), 4, ""),
    (lambda text: text.replace('"seq":3', '"seq":0', 1), 4, "seq"),
    (lambda text: text.replace('"count":12', '"count":-12', 1), 5, "data.count"),
    (lambda text: text.replace('"kind":"done"', '"kind":"done","colour":1', 1), 22, ""),
    (lambda text: text.replace('"received":"2', '"received":"x2', 1), 2, "received"),
    (lambda text: text.replace('{"of":"e-22"}', '"e-22"', 1), 24, ""),
    (lambda text: text.replace('{"of":"e-22"}', "[" * 5000, 1), 24, ""),
]


@pytest.mark.parametrize(("spoil", "line", "key"), BAD)
def test_a_file_with_a_bad_line_is_refused_whole_with_the_line(
    tmp_path: Path, spoil: Callable[[str], str], line: int, key: str
) -> None:
    file = exported(tmp_path / "a")
    file.write_text(spoil(file.read_text("utf-8")), encoding="utf-8")
    (tmp_path / "b").mkdir()
    with open_log(tmp_path / "b", machine="Small frame") as log:
        with pytest.raises(ReadingErrors) as caught:
            log.take_in(file)
        assert log.head().seq == 0
    problem = caught.value.problems[0]
    assert (problem.where.file, problem.where.line, problem.where.key) == (str(file), line, key)


def test_every_bad_line_is_named_up_to_a_limit(tmp_path: Path) -> None:
    file = exported(tmp_path / "a", [said("note", id=str(number), says="x") for number in range(100)])
    file.write_text(file.read_text("utf-8").replace('"says":"x"', '"says":1'), encoding="utf-8")
    with open_log(tmp_path / "a", machine="Small frame") as log, pytest.raises(ReadingErrors) as caught:
        log.take_in(file)
    assert [problem.where.line for problem in caught.value.problems] == list(range(2, 22))


def test_a_file_that_is_not_there_is_said_so(tmp_path: Path) -> None:
    with open_log(tmp_path, machine="Small frame") as log, pytest.raises(ReadingErrors, match=r"no\.jsonl"):
        log.take_in(tmp_path / "no.jsonl")


def test_an_export_leaves_no_half_file_where_it_cannot_be_written(tmp_path: Path) -> None:
    with open_log(tmp_path, machine="Small frame") as log, pytest.raises(ReadingError, match="no-folder"):
        log.export(tmp_path / "no-folder" / "log.jsonl")
