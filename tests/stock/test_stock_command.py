"""`trysquare stock` as a builder calls it, and what check says when boxes run out."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from command_line import Run, caller
from small_frame import write_frame
from trysquare.machine.load import load_machine
from trysquare.stock.need import need

NAMES = '# my boxes\n[names]\n"Foam" = ""  # packing\n'


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.delenv("TRYSQUARE_DEBUG", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    return caller(capsys)


def boxes(folder: Path, **but: int) -> Path:
    """The small frame with boxes that hold what it needs, but for these numbers of own parts."""
    write_frame(folder)
    (folder / "boxes").mkdir()
    with (folder / "boxes" / "kit.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["part", "pieces", "length"])
        for line in need(load_machine(folder)).lines:
            pieces = but.get(line.part, 1 if line.cuts_mm else line.pieces)
            rows.writerow([line.part, pieces, round(line.length_mm) if line.cuts_mm else ""])
        rows.writerows([["grease NLGI 2", 1, ""], ["threadlocker medium", 1, ""]])
    return folder


def add(folder: Path, *rows: str) -> None:
    with (folder / "boxes" / "kit.csv").open("a", encoding="utf-8") as file:
        file.write("".join(f"{row}\n" for row in rows))


def test_boxes_that_hold_everything_are_clean(run: Run, tmp_path: Path) -> None:
    answer = run("stock", boxes(tmp_path))
    assert answer.status == 0, answer.out
    assert "You can build all 5 steps." in answer.out
    assert "no better way exists" in answer.out


def test_without_boxes_the_command_says_where_they_go(run: Run, tmp_path: Path) -> None:
    answer = run("stock", write_frame(tmp_path))
    assert answer.status == 1
    assert "boxes/*.csv" in answer.out


def test_what_is_short_is_said_with_the_step_that_goes_without(run: Run, tmp_path: Path) -> None:
    answer = run("stock", boxes(tmp_path, post=1), "--json")
    assert answer.status == 1
    assert [(row["part"], row["pieces"], row["first_step"]) for row in answer.json["short"]] == [
        ("post", 1, "frame")
    ]
    assert answer.json["reach"]["last_step"] == "nuts"
    assert answer.json["allocation"]["proven"] is True


def test_text_and_json_tell_the_same_pieces(run: Run, tmp_path: Path) -> None:
    folder = boxes(tmp_path, post=1)
    facts = run("stock", folder, "--json").json["allocation"]
    assert f"{facts['pieces_served']} of {facts['pieces_wanted']} pieces" in run("stock", folder).out


def test_the_same_boxes_give_the_same_answer(run: Run, tmp_path: Path) -> None:
    folder = boxes(tmp_path, post=1)
    assert run("stock", folder, "--json") == run("stock", folder, "--json")


def test_a_confirmed_name_is_written_and_counts_from_then_on(run: Run, tmp_path: Path) -> None:
    folder = boxes(tmp_path, post=0)
    add(folder, "Upright tubes,2,", "Foam,1,")
    (folder / "names.toml").write_text(NAMES, encoding="utf-8")
    before = run("stock", folder, "--json").json
    assert [row["name"] for row in before["waiting"]] == ["Upright tubes"]
    assert before["short"]
    after = run("stock", folder, "--confirm", "Upright tubes=post", "--json")
    assert (after.status, after.json["short"], after.json["waiting"]) == (0, [], [])
    text = (folder / "names.toml").read_text(encoding="utf-8")
    assert text.startswith(NAMES)
    assert '"Upright tubes" = "post"' in text


def test_a_name_alone_confirms_its_first_guess(run: Run, tmp_path: Path) -> None:
    folder = boxes(tmp_path)
    add(folder, "M3x6 SHCS,5,")
    answer = run("stock", folder, "--confirm", "M3x6 SHCS")
    assert answer.status == 0, answer.err
    assert '"M3x6 SHCS" = "ISO 4762 M3x6"' in (folder / "names.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("said", ["Tubes=no such part", "Tubes", "=post"])
def test_what_cannot_be_confirmed_writes_nothing(run: Run, tmp_path: Path, said: str) -> None:
    folder = boxes(tmp_path)
    answer = run("stock", folder, "--confirm", "Foam=", "--confirm", said)
    assert answer.status == 2
    assert "Nothing was written" in answer.err
    assert not (folder / "names.toml").exists()


def test_bad_rows_are_all_named_and_nothing_is_counted(run: Run, tmp_path: Path) -> None:
    folder = boxes(tmp_path)
    add(folder, "post,-1,", "beam,1.5,", "foot,2 packs,")
    answer = run("stock", folder, "--json")
    assert answer.status == 2
    assert [problem["file"] for problem in answer.json["problems"]] == ["boxes/kit.csv"] * 3


@pytest.mark.parametrize("name", ["order.csv", "order.xlsx"])
def test_the_order_list_is_written_where_it_was_asked_for(run: Run, tmp_path: Path, name: str) -> None:
    folder, file = boxes(tmp_path / "frame", post=1), tmp_path / name
    assert run("stock", folder, "--order", file).status == 1
    assert file.stat().st_size > 40
    assert run("stock", folder, "--order", tmp_path / "order.pdf").status == 2


def test_a_size_s_running_balance_is_told_step_by_step(run: Run, tmp_path: Path) -> None:
    folder = boxes(tmp_path)
    row: dict[str, Any] = run("stock", folder, "--balance", "iso 4762 m3x6", "--json").json["balance"][0]
    assert (row["had"], [(one["step"], one["left"]) for one in row["steps"]]) == (10, [("rail", 0)])
    assert "rail" in run("stock", folder, "--balance", "ISO 4762 M3x6").out
    assert run("stock", folder, "--balance", "ISO 4762 M3x7").status == 2


def test_a_reading_of_the_scale_is_told_with_what_it_leaves_open(run: Run, tmp_path: Path) -> None:
    folder = boxes(tmp_path)
    told = run("stock", folder, "--weigh", "ISO 4762 M3x6=70", "--json")
    assert told.status == 1
    assert told.json["weighing"]["tells_apart"] > 1
    assert run("stock", folder, "--weigh", "foot=70").status == 1
    assert run("stock", folder, "--weigh", "nothing=70").status == 2
    assert run("stock", folder, "--weigh", "ISO 4762 M3x6").status == 2


def test_boxes_may_lie_elsewhere_and_be_shared(run: Run, tmp_path: Path) -> None:
    folder = boxes(tmp_path / "one")
    bare = write_frame(tmp_path / "two")
    assert run("stock", bare, "--boxes", folder / "boxes").status == 0
    shared = run("stock", bare, "--boxes", folder / "boxes", "--machines", 2, "--json").json
    assert shared["reach"]["whole_machines"] == 1
    assert run("stock", bare, "--boxes", tmp_path / "none").status == 2


@pytest.mark.slow
def test_check_says_when_a_step_needs_more_than_the_boxes_hold(run: Run, tmp_path: Path) -> None:
    folder = boxes(tmp_path)
    assert "boxes-run-out" not in run("check", folder).out
    text = (folder / "boxes" / "kit.csv").read_text(encoding="utf-8")
    (folder / "boxes" / "kit.csv").write_text(text.replace("post,2", "post,1"), encoding="utf-8")
    answer = run("check", folder, "--json")
    assert answer.status == 1
    found = [one for one in answer.json["findings"] if one["code"] == "boxes-run-out"]
    assert [(one["step"], one["value"], one["limit"]) for one in found] == [("frame", 2, 1)]


def test_check_names_rows_of_boxes_that_cannot_be_read(run: Run, tmp_path: Path) -> None:
    folder = boxes(tmp_path)
    add(folder, "post,-1,")
    answer = run("check", folder, "--json")
    assert answer.status == 1  # the machine's own findings; the boxes are no part of it
    (finding,) = [one for one in answer.json["findings"] if one["code"] == "boxes-unread"]
    assert finding["where"]["file"] == "boxes/kit.csv"
    assert "'-1'" in finding["says"]


def test_an_order_list_is_never_written_over_another_file(run: Run, tmp_path: Path) -> None:
    folder = write_frame(tmp_path / "frame")
    mine = tmp_path / "mine.csv"
    mine.write_text("what,I wrote\n", "utf-8")
    answer = run("stock", folder, "--order", mine)
    assert answer.status == 2
    assert "is no order list" in " ".join(answer.err.split())
    assert mine.read_text("utf-8") == "what,I wrote\n"
    own = tmp_path / "own.csv"
    for _ in range(2):  # its own list is written anew
        assert run("stock", folder, "--order", own).status in (0, 1)


def test_stock_and_import_take_and_leave_the_same_rows(run: Run, tmp_path: Path) -> None:
    names = {"Linsenkopf M5x12 ISO 7380-1": True, "M3x5 ISO 4762": True, "M8 hex nut decal": False}
    folder = boxes(tmp_path / "frame")
    add(folder, *(f"{name},5," for name in names))
    waiting = [row["name"] for row in run("stock", folder, "--json").json["waiting"]]
    assert waiting == [name for name, sure in names.items() if not sure]
    (tmp_path / "list.csv").write_text(
        "part,qty\n" + "".join(f"{name},5\n" for name in names), encoding="utf-8"
    )
    answer = run("import", tmp_path / "list.csv", tmp_path / "new", "--look", "--json")
    rows = {row["name"]: row["outcome"] == "recognised" for row in answer.json["rows"]}
    assert rows == names
