"""`trysquare need`: the whole, the steps, and who asks for a part."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line import DEMO, Run
from log_entries import said
from small_frame import STEPS, write_frame
from trysquare.record.log import open_log


def test_text_and_json_name_the_same_parts_and_counts(folder: Path, run: Run) -> None:
    facts = run("need", folder, "--json").json
    text = run("need", folder).out
    rows = {tuple(line.split(maxsplit=1)) for line in text.splitlines() if line[:1] == " "}
    for line in facts["lines"]:
        assert any(
            row[0] == str(line["pieces"]) and row[1].startswith(line["part"]) for row in rows if len(row) == 2
        ), line["part"]
    for tool in facts["tools"]:
        assert tool["tool"] in text
    for supply in facts["supplies"]:
        assert supply["supply"] in text


def test_the_pieces_of_the_lines_add_up(folder: Path, run: Run) -> None:
    facts = run("need", folder, "--json").json
    assert facts["pieces"] == sum(line["pieces"] for line in facts["lines"])
    assert facts["pieces"] == sum(line["pieces"] for step in facts["steps"] for line in step["lines"])


def test_one_step_gives_its_pick_list_with_tools_and_slots(folder: Path, run: Run) -> None:
    text = run("need", folder, "--step", "nuts").out
    assert "slide-in nut slot 6 M3" in text
    assert "slot +z of frame/beam: 10 ×" in text
    assert "at 90, 110, 130" in text
    (step,) = run("need", folder, "--step", "nuts", "--json").json["steps"]
    assert step["slot_nuts"][0]["from_end_a_mm"][0] == 90.0
    assert "hexagon key 3 mm" in run("need", folder, "--step", "frame").out


def test_all_steps_come_in_their_order(folder: Path, run: Run) -> None:
    steps = run("need", folder, "--steps", "--json").json["steps"]
    assert [step["step"] for step in steps] == ["nuts", "frame", "rail", "plate", "drive"]
    text = run("need", folder, "--steps").out
    assert [text.index(f"{step['step']} · ") for step in steps] == sorted(
        text.index(f"{step['step']} · ") for step in steps
    )


def test_an_unknown_step_is_answered_with_the_nearest(folder: Path, run: Run) -> None:
    answer = run("need", folder, "--step", "nutz")
    assert (answer.status, answer.out) == (2, "")
    assert "Did you mean 'nuts'?" in answer.err


@pytest.mark.parametrize(
    "asked", ["ISO 4762 M3x6", "iso4762 m3 × 6", "ISO 4762 - M3 x 6", "rail screw S6", "RAIL SCREW S6"]
)
def test_who_asks_for_a_part_is_answered_under_any_of_its_names(folder: Path, run: Run, asked: str) -> None:
    answer = run("need", folder, "--why", asked)
    assert answer.status == 0
    assert "10 × ISO 4762 M3x6" in answer.out
    assert "10 for frame/rail" in answer.out
    assert "frame/rail/screw.10" in answer.out
    (reason,) = run("need", folder, "--why", asked, "--json").json["line"]["asked_by"]
    assert (reason["unit"], reason["steps"], reason["pieces"]) == ("frame", ["rail"], 10)
    assert len(reason["places_at_mm"]) == 10


@pytest.mark.parametrize("asked", ["traverse", "cross beam", "beam"])
def test_own_parts_are_found_by_id_name_and_other_names(folder: Path, run: Run, asked: str) -> None:
    assert "frame/beam" in run("need", folder, "--why", asked).out


def test_a_standard_part_that_nothing_asks_for_ends_with_one(folder: Path, run: Run) -> None:
    answer = run("need", folder, "--why", "ISO 4762 M5x20")
    assert answer.status == 1
    assert "Nothing in this machine asks for ISO 4762 M5x20." in answer.out
    assert run("need", folder, "--why", "ISO 4762 M5x20", "--json").json["line"] is None


def test_a_word_that_is_no_part_at_all_ends_with_two(folder: Path, run: Run) -> None:
    answer = run("need", folder, "--why", "beem")
    assert answer.status == 2
    assert "Did you mean 'beam'?" in answer.err


def test_only_one_question_at_a_time(folder: Path, run: Run) -> None:
    assert run("need", folder, "--steps", "--why", "beam").status == 2


def test_what_no_step_picks_up_and_what_is_placed_twice_is_told(tmp_path: Path, run: Run) -> None:
    steps = STEPS.replace('{ place = ["block"] },', '{ place = ["rail"] },')
    folder = write_frame(tmp_path, steps_toml=steps)
    facts = run("need", folder, "--json").json
    assert [row["asked_by"] for row in facts["in_no_step"]] == ["frame/block"]
    assert facts["placed_twice"] == [{"part": "frame/rail", "first_step": "rail", "again_step": "rail"}]
    for text in (run("need", folder).out, run("need", folder, "--steps").out):
        assert "In no step" in text
        assert "Placed twice" in text


def test_the_build_log_tells_what_was_counted_used_and_lost_unless_it_is_left_out(
    folder: Path, run: Run
) -> None:
    assert run("need", folder, "--json").json["log"] is None
    with open_log(folder, machine="Small frame") as log:
        log.append(
            [
                said("done", "frame"),
                said("counted", sort="ISO 4762 M3x6", count=9, minutes=1),
                said("deviation", "rail", what="damaged", part="ISO 4762 M3x6", count=1, minutes=2),
            ]
        )
    facts = run("need", folder, "--json").json["log"]
    rows = {row["part"]: row for row in facts["sorts"]}
    assert set(rows) == {"ISO 4762 M3x6"}  # without packing lists only what was counted is known
    screw = rows["ISO 4762 M3x6"]
    assert (screw["asked"], screw["here"], screw["lost"], screw["short"]) == (10, 8, 1, 2)
    text = run("need", folder).out
    assert "By the build log" in text
    assert "2 short, 1 lost, counted" in text
    assert run("need", folder, "--json", "--no-log").json["log"] is None
    assert "build log" not in run("need", folder, "--no-log").out


def test_a_member_is_told_with_its_profile_and_length(run: Run) -> None:
    lines = {line["part"]: line for line in run("need", DEMO / "larch", "--json").json["lines"]}
    assert (lines["x-beam"]["profile"], lines["x-beam"]["each_mm"]) == ("profile 20x20 slot 6", 372)
    assert (lines["foot"]["profile"], lines["foot"]["each_mm"]) == ("", None)
    assert "x-beam (X beam 372): profile 20x20 slot 6, 372 mm" in run("need", DEMO / "larch").out
