"""`trysquare wrong`, `slots` and `state`: what the order's views tell, as text and as JSON."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest

from command_line import Run
from trysquare.cli.main import trysquare

REED = Path(__file__).resolve().parents[2] / "demo" / "reed-joints"
VIEWS = ("wrong", "slots", "state")


@pytest.fixture(autouse=True)
def known_commands(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in VIEWS:
        monkeypatch.setitem(trysquare.table, name, (f"trysquare.cli.{name}", name))


def test_wrong_tells_the_costliest_first_and_what_to_look_at(run: Run) -> None:
    answer = run("wrong", REED)
    assert answer.status == 0
    assert "2 steps to undo" in answer.out
    assert "The countersink of hole 'core' looks to the left" in answer.out
    assert "track/stop-left" not in answer.out


def test_wrong_with_all_tells_also_that_on_which_nothing_depends(run: Run) -> None:
    assert "track/stop-left" in run("wrong", REED, "--all").out
    ways = run("wrong", REED, "--all", "--json").json["ways"]
    assert {way["steps_to_undo"] for way in ways} == {0, 2}


def test_wrong_as_json_counts_what_it_leaves_out(run: Run) -> None:
    facts = run("wrong", REED, "--json").json
    assert facts["costly"] == len(facts["ways"]) == 2
    assert facts["harmless"] == 2


def test_slots_tells_what_closes_each_end(run: Run) -> None:
    text = run("slots", REED).out
    assert "13 × slide-in nut slot 6 M3" in text
    assert "looks to the left, closed by track/end-left in step ends" in text
    assert "6 slots, 4 empty" in text


def test_slots_of_one_member_are_asked_for_by_its_name(run: Run) -> None:
    facts = run("slots", REED, "base", "--json").json
    assert {row["member"] for row in facts["slots"]} == {"track/base"}
    assert sum(len(row["pieces"]) for row in facts["slots"]) == 17


def test_slots_of_a_member_that_is_not_there_suggests_one(run: Run) -> None:
    answer = run("slots", REED, "track/bas")
    assert answer.status == 2
    assert "Did you mean 'track/base'?" in answer.err


def test_state_tells_what_can_move(run: Run) -> None:
    text = run("state", REED, "run").out
    assert "right, left along track/rail" in text
    assert "rail-parallel" in text


def test_state_as_json_has_the_whole_report(run: Run) -> None:
    facts = run("state", REED, "rail", "--json").json
    assert set(facts) >= {"step", "up", "parts", "joints", "slots", "rails", "alignments", "works"}
    assert {joint["joint"]: joint["level"] for joint in facts["joints"]}["track/rail-screws"] == "snug"


def test_state_after_a_step_that_is_not_there_suggests_one(run: Run) -> None:
    answer = run("state", REED, "rial")
    assert answer.status == 2
    assert "Did you mean 'rail'?" in answer.err


@pytest.mark.parametrize("name", VIEWS)
def test_an_unreadable_folder_is_named(name: str, run: Run, tmp_path: Path) -> None:
    answer = run(name, tmp_path, *(["x"] if name == "state" else []))
    assert answer.status == 2


@pytest.mark.parametrize("name", VIEWS)
def test_the_help_has_examples_that_run(name: str, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    command = importlib.import_module(f"trysquare.cli.{name}").command
    monkeypatch.chdir(REED.parents[1])
    for example in command.examples:
        program, *words = example.split()
        if "larch" not in example:
            assert (program, run(*words).status) == ("trysquare", 0)
