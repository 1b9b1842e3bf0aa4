"""Posts to the log: exactly once, all or none, what must not be left open, two devices, other programs."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from bench.asking import Browser, event, joined, opened
from log_entries import at
from trysquare.bench.bench import Bench
from trysquare.record.log import FILE_NAME, open_log

ALIGNED = ("rail-true: read rail-offset", "rail-true: read rail-parallel")


def test_what_is_said_is_in_the_log_with_its_device_and_shows_on_the_page(
    reed: tuple[Bench, Browser],
) -> None:
    bench, computer = reed
    answer = computer.say(
        event("laid-out", "feet", parts=["track/base"]), event("note", "feet", says="crisp")
    )
    assert answer.status_code == 200
    assert [row["seq"] for row in answer.json()["logged"]] == [1, 2]
    assert answer.json()["state"]["seq"] == 2
    assert ("feet", "track/base") in bench.desk.state.laid_out
    assert bench.desk.state.notes[0].said.device == "computer"
    text = computer.get("/step/feet").text
    assert "crisp" in text
    assert text.count("checked") >= 1


def test_the_same_post_again_adds_nothing_and_gets_the_same_answer(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    said = [event("note", says="once"), event("mark", label="twice")]
    first = computer.say(*said)
    again = computer.say(*said, event("note", says="more"))
    assert again.json()["logged"][:2] == first.json()["logged"]
    assert bench.desk.state.seq == 3


def test_nothing_of_a_post_with_one_bad_event_is_kept(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    answer = computer.say(event("note", says="good"), event("note", tells="no such field"))
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["read"] == "'tells'"
    assert "remedy" in answer.json()
    assert bench.desk.state.seq == 0


@pytest.mark.slow
@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"[]", b'{"events":1}', b'{"events":[{}]}', b'{"events":[],"more":1}', b"\xff\xfe",
     b"[" * 100000,
     b'{"events":[{"id":"a","kind":"note","at":"now","data":{"says":"x"}}]}',
     b'{"events":[{"id":"a","kind":"dance","at":"2031-05-04T08:00:00.000Z","data":{}}]}',
     b'{"events":[{"id":"a","kind":"note","at":"2031-05-04T08:00:00.000Z","device":"me","data":{"says":"x"}}]}',
     b'{"events":[{"id":"a","kind":"note","at":"2031-05-04T08:00:00.000Z","data":{"says":"\\ud800"}}]}',
     b'{"events":[{"id":"a","kind":"counted","at":"2031-05-04T08:00:00.000Z","data":{"sort":"x","count":1e400}}]}'],
)  # fmt: skip
def test_a_post_that_is_none_is_refused_with_a_reason(reed: tuple[Bench, Browser], body: bytes) -> None:
    bench, computer = reed
    answer = computer.post("/log", body)
    assert answer.status_code == 400
    assert set(answer.json()) >= {"error", "says", "remedy"}
    assert bench.desk.state.seq == 0


def test_too_many_events_and_too_much_of_anything_are_refused(computer: Browser) -> None:
    assert computer.say(*(event("note", says="x") for _ in range(201))).status_code == 413
    assert computer.post("/log", b'{"events":[' + b" " * 2_100_000 + b"]}").status_code == 413


def test_an_empty_post_is_answered(computer: Browser) -> None:
    assert computer.say().json()["logged"] == []


# --- what must not be left open


def test_a_step_is_not_left_while_an_alignment_is_open_and_nobody_says_why(
    reed: tuple[Bench, Browser],
) -> None:
    bench, computer = reed
    answer = computer.say(event("done", "rail-true"))
    assert answer.status_code == 409
    assert answer.json()["error"] == "still-open"
    assert [one["item"] for one in answer.json()["open"]] == list(ALIGNED)
    assert "Offset" in answer.json()["says"]
    assert bench.desk.state.seq == 0


def test_a_reason_lets_the_step_be_left_and_stays_an_open_point(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    reasons = [
        event("left-open", "rail-true", item=item, reason="no caliper", sort="alignment") for item in ALIGNED
    ]
    assert computer.say(*reasons, event("done", "rail-true")).status_code == 200
    assert set(bench.desk.state.open_points) == set(ALIGNED)
    assert "no caliper" in computer.get("/open").text
    assert computer.say(event("settled", "rail-true", item=ALIGNED[0])).status_code == 200
    assert set(bench.desk.state.open_points) == {ALIGNED[1]}


def test_a_step_that_was_only_looked_at_is_not_begun(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    looked = [
        {**event("opened", step), "at": at(minutes)} for step, minutes in (("rail-true", 1), ("feet", 1.2))
    ]
    computer.say(*looked, {**event("mark", "feet", label="step", auto=True), "at": at(1.3)})
    assert "begun" not in computer.get("/").text
    assert "Of steps that are begun" not in computer.get("/open").text
    computer.say({**event("note", "rail-true", says="a burr on the left end"), "at": at(1.4)})
    assert computer.get("/").text.count("begun<") == 1
    assert "Offset" in computer.get("/open").text


def test_a_step_that_stays_open_for_longer_than_a_look_is_begun(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    computer.say({**event("opened", "feet"), "at": at(1)}, {**event("opened", "nuts"), "at": at(4)})
    assert computer.get("/").text.count("begun<") == 1


def test_a_reason_for_one_item_does_not_answer_for_another(computer: Browser) -> None:
    reason = event("left-open", "rail-true", item=ALIGNED[0], reason="no caliper")
    answer = computer.say(reason, event("done", "rail-true"))
    assert answer.status_code == 409
    assert [one["item"] for one in answer.json()["open"]] == [ALIGNED[1]]


def test_good_readings_let_the_step_be_left_and_bad_ones_do_not(computer: Browser) -> None:
    def read(of: str, value: float) -> dict[str, object]:
        return event(
            "reading", "rail-true", of=of, value=value, unit="mm", instrument="caliper", uncertainty=0.03
        )

    done = event("done", "rail-true")
    assert computer.say(read("rail-offset", 0.1), read("rail-parallel", 0.3), done).status_code == 409
    assert computer.say(read("rail-offset", 0.1), read("rail-parallel", 0.02), done).status_code == 200


def test_a_reading_that_cannot_tell_is_no_good_reading(computer: Browser) -> None:
    """Half a millimetre is allowed; 0.3 mm of a rule leave 0.35 mm within doubt."""
    good = event("reading", "rail-true", of="rail-parallel", value=0.0, unit="mm", instrument="caliper")
    doubt = event("reading", "rail-true", of="rail-offset", value=0.35, unit="mm", uncertainty=0.3)
    answer = computer.say(good, doubt, event("done", "rail-true"))
    assert [one["item"] for one in answer.json()["open"]] == [ALIGNED[0]]
    assert "Cannot tell" not in computer.get("/step/rail-true").text  # nothing of a refused post is kept


def test_a_check_in_a_step_with_a_caution_must_be_seen_to(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    answer = computer.say(event("done", "run"))
    assert answer.status_code == 409
    items = answer.json()["open"]
    assert items[0]["sort"] == "safety"
    settled = [event("settled", "run", item=one["item"]) for one in items]
    assert computer.say(*settled).status_code == 200
    assert computer.say(event("done", "run")).status_code == 200
    assert bench.desk.state.open_points == {}


def test_a_done_step_is_not_asked_again_when_its_post_comes_twice(computer: Browser) -> None:
    done = event("done", "feet")
    assert computer.say(done).status_code == 200
    computer.say(event("reopened", "feet"))
    assert computer.say(done).status_code == 200


# --- several devices


def test_two_devices_that_contradict_each_other_are_both_kept_and_shown(reed: tuple[Bench, Browser]) -> None:
    bench, computer = reed
    phone = joined(bench, computer)
    phone.say({**event("done", "feet"), "at": at(10), "seen": 0})
    computer.say({**event("reopened", "feet"), "at": at(11), "seen": 0})
    conflicts = bench.desk.state.conflicts
    assert len(conflicts) == 1
    assert {conflicts[0].first.device, conflicts[0].second.device} == {"phone", "computer"}
    for path in ("/", "/open", "/step/feet"):
        assert "phone" in computer.get(path).text


def test_entries_that_another_program_adds_are_seen(reed: tuple[Bench, Browser], reed_folder: Path) -> None:
    import asyncio

    from log_entries import said

    bench, computer = reed
    computer.say(event("note", says="first"))
    with open_log(reed_folder, machine="Reed") as log:
        log.append([said("note", says="from elsewhere")])
    assert asyncio.run(bench.desk.look())
    assert [note.says for note in bench.desk.state.notes] == ["first", "from elsewhere"]


# --- the file


def test_whoever_only_looks_leaves_no_log_behind(reed_folder: Path, computer: Browser) -> None:
    for path in ("/", "/step/feet", "/parts"):
        computer.get(path)
    assert not (reed_folder / FILE_NAME).exists()


def test_the_log_is_an_ordinary_database_that_is_there_after_the_answer(
    reed_folder: Path, computer: Browser
) -> None:
    computer.say(event("counted", sort="base", count=1, box="box 1"))
    with sqlite3.connect(reed_folder / FILE_NAME) as database:
        rows = database.execute("SELECT kind, data FROM log").fetchall()
    database.close()
    assert rows[0][0] == "counted"
    assert json.loads(rows[0][1])["count"] == 1


def test_a_log_that_is_no_log_is_said_and_nothing_is_written_to_it(reed_folder: Path) -> None:
    (reed_folder / FILE_NAME).write_bytes(b"my shopping list\n" * 100)
    bench, browser = opened(reed_folder)
    assert "Nothing can be kept" in browser.get("/").text
    answer = browser.say(event("note", says="x"))
    assert answer.status_code == 503
    assert (reed_folder / FILE_NAME).read_bytes().startswith(b"my shopping list")
    bench.desk.close()


# --- the pages follow


def test_counts_and_deviations_make_the_balance(computer: Browser) -> None:
    computer.say(event("counted", sort="base", count=3))
    assert "2 to spare" in computer.get("/part/base").text
    computer.say(event("deviation", "feet", what="damaged", part="track/base", count=2))
    assert "exactly" in computer.get("/part/base").text
    computer.say(event("counted", sort="base", count=0))
    assert "1 short" in computer.get("/part/base").text


def test_a_deviation_shows_on_its_step_and_can_be_taken_back(computer: Browser) -> None:
    kept = event("deviation", "feet", what="skipped", part="track/base", why="not in the kit")
    computer.say(kept)
    assert "not in the kit" in computer.get("/open").text
    computer.say(event("undo", of=kept["id"]))
    assert "not in the kit" not in computer.get("/open").text


def test_a_reading_is_shown_with_its_verdict_and_can_be_set_aside(computer: Browser) -> None:
    read = event("reading", "rail-true", of="rail-parallel", value=0.3, unit="mm", instrument="caliper",
                 uncertainty=0.03)  # fmt: skip
    computer.say(read)
    for path in ("/step/rail-true", "/readings"):
        assert "Out: 0.3 mm is more than 0.1, even with ± 0.04." in computer.get(path).text
    computer.say(event("reading-set-aside", "rail-true", of=read["id"], why="the caliper was not closed"))
    text = computer.get("/step/rail-true").text
    assert "set-aside" in text
    assert "Out:" not in text


def test_progress_and_time_stand_on_the_order(computer: Browser) -> None:
    computer.say({**event("opened", "feet"), "at": at(0)}, {**event("done", "feet"), "at": at(7)})
    text = computer.get("/").text
    assert "1 of 10 steps done" in text
    assert "7 min" in text


def test_the_open_points_figure_counts_what_the_page_lists(reed: tuple[Bench, Browser]) -> None:
    _, computer = reed
    bad = event("reading", "rail-true", of="rail-parallel", value=0.9, unit="mm", instrument="caliper")
    left = event("left-open", "feet", item="feet: sign", reason="later")
    answer = computer.say(bad, left)
    assert answer.json()["state"]["open_points"] == 2
    text = computer.get("/open").text
    assert "0.9" in text
    assert "later" in text
    good = event("reading", "rail-true", of="rail-parallel", value=0.01, unit="mm", instrument="caliper")
    assert computer.say(good).json()["state"]["open_points"] == 1
