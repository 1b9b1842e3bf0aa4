"""`trysquare tune maintenance`: what is due, by hours, travel, dates and the machine's own record."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from command_line import Run
from trysquare.cli.tune_maintenance import TASK_NAMES
from trysquare.tuning.maintenance import TASKS

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
JOBS = LARCH / "recordings" / "jobs.csv"


@pytest.fixture
def larch_folder(tmp_path: Path) -> Path:
    folder = tmp_path / "larch"
    shutil.copytree(LARCH, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "boxes", "*.sqlite"))
    return folder


def verdicts(facts: Any) -> dict[str, str]:
    return {part["data"]["task"]: part["verdict"] for part in facts["parts"]}


def test_nothing_is_good_when_nothing_is_known(run: Run) -> None:
    facts = run("tune", "maintenance", "--machine", LARCH, "--json").json
    assert set(verdicts(facts).values()) == {"cannot tell"}
    assert len(facts["parts"]) == 5


def test_after_the_first_hours_what_settles_is_due(run: Run) -> None:
    answer = run(
        "tune", "maintenance", "--hours", "26", "--since", "2026-01-01", "--today", "2026-02-01", "--json"
    )
    assert answer.status == 1
    found = verdicts(answer.json)
    assert {found[name] for name in ("guides", "belts", "screws", "lead-screws")} == {"bad"}
    assert found["terminals"] == "good"


def test_the_calendar_alone_can_make_it_due(run: Run) -> None:
    words = ("--hours", "1", "--since", "2024-01-01", "--today", "2026-02-01")
    found = verdicts(run("tune", "maintenance", *words, "--json").json)
    assert set(found.values()) == {"bad"}


def test_a_young_machine_has_nothing_due(run: Run) -> None:
    words = ("--hours", "5", "--since", "2026-01-25", "--today", "2026-02-01")
    answer = run("tune", "maintenance", *words)
    assert answer.status == 0
    assert "15 h are left" in answer.out


def test_jobs_are_summed(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "jobs.csv"
    file.write_text("date;hours;travel_m\n2026-01-02;3,5;600\n2026-01-03;4;\n")
    facts = run("tune", "maintenance", "--jobs", file, "--mean-speed", "60", "--json").json
    assert facts["inputs"]["hours"] == pytest.approx(7.5)
    # 600 m as said, and four hours at 60 mm/s.
    assert facts["inputs"]["travel_km"] == pytest.approx(0.6 + 4 * 3600 * 60 / 1e6)


@pytest.mark.slow
def test_what_was_done_is_recorded_and_counted_from(run: Run, larch_folder: Path) -> None:
    machine = ("--machine", larch_folder)
    done = run("tune", "maintenance", *machine, "--hours", "30", "--done", "guides", "--log", "--json")
    assert done.status == 0
    assert len(done.json["logged"]["entries"]) == 1
    later = run("tune", "maintenance", *machine, "--hours", "40", "--json").json
    guides = later["parts"][0]
    assert guides["data"]["first_time"] is False
    assert guides["verdict"] == "good"
    # Ten hours at 50 mm/s.
    assert guides["data"]["shares"]["travel"] == pytest.approx(10 * 3600 * 50 / 1e6 / 100, rel=1e-3)
    assert verdicts(later)["screws"] == "bad"


@pytest.mark.slow
def test_a_counter_that_runs_backwards_is_told(run: Run, larch_folder: Path) -> None:
    machine = ("--machine", larch_folder)
    run("tune", "maintenance", *machine, "--hours", "30", "--done", "guides", "--log")
    answer = run("tune", "maintenance", *machine, "--hours", "3")
    assert answer.status == 2
    assert "it was 30 h" in " ".join(answer.err.split())


@pytest.mark.slow
def test_belts_that_were_measured_good_count_as_done(run: Run, larch_folder: Path) -> None:
    for name in ("a", "b"):
        file = LARCH / "recordings" / f"belt-{name}.flac"
        run("tune", "belt", file, "--machine", larch_folder, "--belt", f"belt-{name}", "--log")
    facts = run("tune", "maintenance", "--machine", larch_folder, "--hours", "5", "--json").json
    belts = next(part for part in facts["parts"] if part["data"]["task"] == "belts")
    assert belts["data"]["last_done"]
    assert "every belt was measured good" in belts["lines"][0]["says"]


def test_a_machine_is_asked_only_for_what_it_has(run: Run) -> None:
    reed = LARCH.parent / "reed-joints"
    facts = run("tune", "maintenance", "--machine", reed, "--json").json
    assert "belts" not in verdicts(facts)
    assert "Belts" in facts["inputs"]["not_on_this_machine"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--hours", "1", "--jobs", str(JOBS)), "one of the two"),
        (("--done", "guides", "--log"), "--machine"),
        (("--done", "gides"), "guides"),
        (("--machine", str(LARCH.parent / "reed-joints"), "--done", "belts"), "this machine has no belts"),
        (("--since", "yesterday"), "2026-03-31"),
        (("--jobs", "none.csv"), "none.csv"),
        (("--hours", "-3"), "-3"),
    ],
)
def test_what_cannot_be_is_told(run: Run, words: tuple[str, ...], said: str) -> None:
    answer = run("tune", "maintenance", *words)
    assert answer.status == 2
    assert said in " ".join((answer.out + answer.err).split())


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("2026-13-01,3,100", "2026-13-01"),
        ("2026-01-01,-3,100", "above 0"),
        ("2026-01-01,9000,1", "up to 2000"),
    ],
)
def test_a_job_that_cannot_be_is_told_by_line(run: Run, tmp_path: Path, row: str, said: str) -> None:
    file = tmp_path / "jobs.csv"
    file.write_text(f"date,hours,travel_m\n{row}\n")
    answer = run("tune", "maintenance", "--jobs", file)
    assert answer.status == 2
    assert said in " ".join((answer.out + answer.err).split())
    assert "jobs.csv:2" in answer.out + answer.err


def test_what_was_done_counts_only_once_it_is_in_the_log(run: Run) -> None:
    answer = run("tune", "maintenance", "--done", "guides", "--hours", "30")
    assert answer.status == 0
    assert "It counts once it is in the machine's build log." in answer.out


def test_every_task_can_be_said_to_be_done() -> None:
    assert tuple(task.id for task in TASKS) == TASK_NAMES


def test_a_machine_that_is_finished_in_the_future_is_refused(run: Run) -> None:
    answer = run("tune", "maintenance", "--hours", "1", "--since", "2036-01-01", "--today", "2026-03-01")
    assert answer.status == 2
    assert "after today, 2026-03-01" in answer.err


def test_a_job_of_the_future_is_refused_with_its_line(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "jobs.csv"
    file.write_text("date,hours\n2026-01-02,3\n2036-01-12,3\n")
    answer = run("tune", "maintenance", "--jobs", file, "--today", "2026-03-01")
    assert answer.status == 2
    assert f"{file}:3" in answer.err
    assert "a day up to today" in answer.err


def test_the_plot_sets_what_ran_against_each_interval(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "due.svg"
    run(
        "tune",
        "maintenance",
        "--hours",
        "26",
        "--since",
        "2026-01-01",
        "--today",
        "2026-02-01",
        "--plot",
        out,
    )
    svg = out.read_text("utf-8")
    assert "Guides: hours" in svg
    assert "26 h of 20 h" in svg
    assert 'class="over"' in svg


def test_a_plot_of_nothing_known_is_not_written_and_that_is_said(run: Run, tmp_path: Path) -> None:
    answer = run("tune", "maintenance", "--plot", tmp_path / "use.svg")
    assert answer.status == 1
    assert "Nothing to draw" in answer.err
    assert not (tmp_path / "use.svg").exists()


def test_the_drawing_for_a_phone_is_asked_for_by_the_bench_alone(run: Run, tmp_path: Path) -> None:
    asked = ("tune", "maintenance", "--hours", 26, "--plot", tmp_path / "use.svg")
    run(*asked)
    assert [file.name for file in tmp_path.iterdir()] == ["use.svg"]
    run(*asked, "--plot-narrow", tmp_path / "use-narrow.svg")
    assert 'viewBox="0 0 90 ' in (tmp_path / "use-narrow.svg").read_text("utf-8")
    assert "--plot-narrow" not in run("tune", "maintenance", "--help").out
