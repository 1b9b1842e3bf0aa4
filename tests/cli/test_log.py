"""`trysquare log` as it is typed."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

import pytest

from command_line import Run
from log_entries import SHA256_OF_NOTHING, one_of_each, said
from small_frame import write_frame
from trysquare.record.keeping import keep
from trysquare.record.log import open_log


@pytest.fixture
def logged_folder(folder: Path) -> Path:
    """The small frame with a log in which every kind of entry comes once."""
    with open_log(folder, machine="Small frame") as log:
        log.append(one_of_each())
    for suffix in (".jpg", ""):
        keep(folder, b"", suffix)
    return folder


def test_a_folder_without_a_log_says_where_it_begins(folder: Path, run: Run) -> None:
    answer = run("log", folder)
    assert (answer.status, answer.err) == (0, "")
    assert "There is no build log yet: it begins at the bench" in answer.out
    assert run("log", folder, "--json").json["entries"] is None
    assert not (folder / "log.sqlite").exists()


def test_the_overview_tells_steps_time_and_what_stands_open(logged_folder: Path, run: Run) -> None:
    answer = run("log", logged_folder)
    assert (answer.status, answer.err) == (1, ""), "a safety item stands open"
    assert "1 of 5 steps done · 0:19:00 spent · about " in answer.out
    assert ["frame", "1", "of", "4", "0:19:00"] in [line.split() for line in answer.out.splitlines()]
    assert "left-open · guard (frame): later" in answer.out
    assert "frame was done before nuts." in answer.out
    assert (
        "2 readings · 1 sort counted · 1 deviation · 1 photo · 1 file · 1 note · 1 entry undone" in answer.out
    )
    assert "22  2031-05-04 09:02:00  phone   reopened (undone)  frame a nut is missing" in answer.out
    assert re.search(r"23 entries, the last one 23:[0-9a-f]{64}\n", answer.out)


def test_show_is_the_same_with_its_name(logged_folder: Path, run: Run) -> None:
    assert run("log", "show", logged_folder).out == run("log", logged_folder).out
    assert run("log", "--json", logged_folder).json == run("log", "show", "--json", logged_folder).json


def test_the_overview_gives_the_same_facts_as_json(logged_folder: Path, run: Run) -> None:
    facts = run("log", logged_folder, "--json", "--last", "2").json
    assert (facts["entries"], facts["steps_done"], facts["seconds_spent"]) == (23, 1, 1140.0)
    assert [step["step"] for step in facts["steps"] if step["done"]] == ["frame"]
    assert [entry["entry"] for entry in facts["last"]] == [22, 23]
    assert facts["open"] == [
        {
            "sort": "left-open", "step": "frame", "item": "guard", "says": "later", "of": "safety",
            "entry": 11, "at": "2031-05-04T08:10:00.000Z", "device": "tablet",
        }
    ]  # fmt: skip
    assert [fault["code"] for fault in facts["order"]] == ["step-left-out"]


def test_steps_that_the_machine_does_not_have_any_more_are_told(folder: Path, run: Run) -> None:
    with open_log(folder, machine="Small frame") as log:
        log.append([said("done", "old step")])
    answer = run("log", folder)
    assert "Logged, but no step of this machine: old step." in answer.out


def test_a_mark_says_auto_when_the_bench_made_it_and_nothing_when_a_hand_did(folder: Path, run: Run) -> None:
    with open_log(folder, machine="Small frame") as log:
        log.append([said("mark", "frame", label="by hand", auto=False), said("mark", "frame", auto=True)])
    rows = [line.split() for line in run("log", folder).out.splitlines() if " mark " in line]
    assert [row[-2:] for row in rows] == [["by", "hand"], ["frame", "auto"]]


def test_names_in_a_log_cannot_steer_the_terminal(folder: Path, run: Run) -> None:
    with open_log(folder, machine="Small frame") as log:
        log.append([said("note", "frame", device="\x7fphone", says="\x1b[31mred\x07\n\x9b2J")])
    out = run("log", folder).out
    assert "\x1b" not in out
    assert "\x07" not in out
    assert "\x9b" not in out
    assert "\\x1b[31mred" in out


def test_a_folder_that_cannot_be_read_is_told_as_everywhere(tmp_path: Path, run: Run) -> None:
    bad = write_frame(tmp_path / "frame", machine_toml="format = 1\nnme = 3")
    answer = run("log", bad)
    assert (answer.status, answer.out) == (2, "")
    assert "machine.toml:2" in answer.err
    assert run("log", bad, "--json").json["problems"]


def test_a_file_that_is_no_log_is_told_with_its_remedy(folder: Path, run: Run) -> None:
    (folder / "log.sqlite").write_bytes(b"no log" * 1000)
    for words in ((), ("verify",)):
        answer = run("log", *words, folder)
        assert (answer.status, answer.out) == (2, "")
        assert "file is not a database" in answer.err
        assert "Keep the file." in answer.err
        assert run("log", *words, folder, "--json").json["problems"][0]["read"] == "file is not a database"


# --- verify


def test_verify_says_that_all_is_as_written_and_what_to_note(logged_folder: Path, run: Run) -> None:
    answer = run("log", "verify", logged_folder)
    assert (answer.status, answer.err) == (0, "")
    assert "All as it was written: 23 entries." in answer.out
    (noted,) = re.findall(r"23:[0-9a-f]{64}", answer.out)
    assert run("log", "verify", logged_folder, "--noted", noted).status == 0
    other = run("log", "verify", logged_folder, "--noted", f"23:{'f' * 64}", "--json")
    assert (other.status, [fault["code"] for fault in other.json["faults"]]) == (1, ["not-there"])


def test_verify_names_an_altered_entry_and_a_lost_file(logged_folder: Path, run: Run) -> None:
    for path in (logged_folder / "log-files").rglob(f"{SHA256_OF_NOTHING}*"):
        path.unlink()
    answer = run("log", "verify", logged_folder)
    assert answer.status == 1
    assert "file-missing" in answer.out
    connection = sqlite3.connect(logged_folder / "log.sqlite")
    connection.execute("DROP TRIGGER log_never_changes")
    connection.execute("UPDATE log SET device = 'x' WHERE seq = 8")
    connection.commit()
    connection.close()
    answer = run("log", "verify", logged_folder)
    assert answer.status == 1
    assert "entry 8 · changed" in answer.out
    assert run("log", "verify", logged_folder, "--json").json["faults"][0]["entry"] == 8


@pytest.mark.parametrize("noted", ["23", "x:y", f"-1:{'f' * 64}", "23:"])
def test_a_note_that_is_none_is_a_wrong_call(logged_folder: Path, run: Run, noted: str) -> None:
    answer = run("log", "verify", logged_folder, "--noted", noted)
    assert (answer.status, answer.out) == (2, "")
    assert "--noted takes ENTRY:HASH" in answer.err


# --- export and take-in


def test_an_export_is_taken_into_another_folder(logged_folder: Path, tmp_path: Path, run: Run) -> None:
    file = tmp_path / "log.jsonl"
    answer = run("log", "export", logged_folder, file)
    assert (answer.status, answer.err) == (0, "")
    assert "23 entries." in answer.out
    assert "Photos and files stay in log-files/" in answer.out
    other = write_frame(tmp_path / "other")
    assert "23 entries added, 0 known before." in run("log", "take-in", other, file).out
    assert run("log", "take-in", other, file, "--json").json["known"] == 23
    again = tmp_path / "again.jsonl"
    assert run("log", "export", other, again, "--json").json["entries"] == 23
    assert again.read_bytes() == file.read_bytes()


def test_an_export_writes_over_a_log_and_over_nothing_else(
    logged_folder: Path, tmp_path: Path, run: Run
) -> None:
    file = tmp_path / "diary.txt"
    file.write_text("dear diary", encoding="utf-8")
    answer = run("log", "export", logged_folder, file)
    assert answer.status == 2
    assert "is there and is no build log" in " ".join(answer.err.split())
    assert file.read_text("utf-8") == "dear diary"
    good = tmp_path / "log.jsonl"
    assert [run("log", "export", logged_folder, good).status for _ in range(2)] == [0, 0]


def test_another_machines_log_is_taken_in_and_said_so(logged_folder: Path, tmp_path: Path, run: Run) -> None:
    file = tmp_path / "log.jsonl"
    run("log", "export", logged_folder, file)
    file.write_text(file.read_text("utf-8").replace("Small frame", "Reed", 1), encoding="utf-8")
    other = write_frame(tmp_path / "other")
    assert (
        "The file is the log of 'Reed'; this machine is 'Small frame'."
        in run("log", "take-in", other, file).out
    )


def test_bad_lines_are_told_with_file_and_line(logged_folder: Path, tmp_path: Path, run: Run) -> None:
    file = tmp_path / "log.jsonl"
    run("log", "export", logged_folder, file)
    file.write_text(file.read_text("utf-8").replace('"count":12', '"count":"12"'), encoding="utf-8")
    answer = run("log", "take-in", logged_folder, file)
    assert answer.status == 2
    assert "log.jsonl:5" in answer.err
    assert "a whole number" in answer.err


# --- undo


def test_undo_takes_back_an_entry_and_undo_of_the_undo_gives_it_back(logged_folder: Path, run: Run) -> None:
    assert run("log", "undo", logged_folder, "21").out == "Entry 21 (done) is undone, by entry 24.\n"
    assert run("log", logged_folder, "--json").json["steps_done"] == 0
    facts = run("log", "undo", logged_folder, "24", "--json").json
    assert facts["undone"]["kind"] == "undo"
    assert facts["undo"]["device"] == "command line"
    assert run("log", logged_folder, "--json").json["steps_done"] == 1


def test_undo_says_what_it_cannot_find_or_need_not_do(logged_folder: Path, run: Run) -> None:
    answer = run("log", "undo", logged_folder, "99")
    assert answer.status == 2
    assert "The log has no entry 99; it has 23." in answer.err
    assert "undone already" in run("log", "undo", logged_folder, "e-22").err
    assert run("log", logged_folder, "--json").json["entries"] == 23


@pytest.mark.parametrize("words", [("verify",), ("export", "x.jsonl"), ("undo", "1")])
def test_without_a_log_the_others_say_so(folder: Path, run: Run, words: tuple[str, ...]) -> None:
    name, *rest = words
    answer = run("log", name, folder, *rest)
    assert answer.status == 2
    assert "There is no build log yet" in answer.err


def test_a_folder_that_is_none_is_said_so(tmp_path: Path, run: Run) -> None:
    assert "is no folder" in run("log", "verify", tmp_path / "no").err


@pytest.mark.parametrize("name", ["show", "verify", "export", "take-in", "undo"])
def test_every_sub_command_teaches_as_the_others_do(run: Run, name: str) -> None:
    out = run("log", name, "--help").out
    for word in ("Input:", "Examples:", "Options:", "Exit status:", "--json"):
        assert word in out
