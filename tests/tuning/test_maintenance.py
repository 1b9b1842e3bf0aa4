"""What is due: intervals, counts and their doubts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from trysquare.ground.errors import ReadingErrors
from trysquare.tuning.maintenance import (
    TASKS,
    Done,
    Interval,
    iso_day,
    months_between,
    parse_jobs,
    shares,
    since,
    use_of_hours,
    use_of_jobs,
)
from trysquare.tuning.maintenance_report import MaintenanceCase, due_after, maintenance_report

GUIDES = TASKS[0]


@pytest.mark.outside
def test_four_hundred_years_are_a_whole_cycle_of_the_calendar() -> None:
    # Source: the Gregorian calendar: 146 097 days in 400 years, 97 of them leap years.
    assert months_between("1600-03-01", "2000-03-01") == pytest.approx(146_097 / 30.4375)
    assert months_between("2023-02-28", "2024-02-28") == pytest.approx(12, abs=0.02)


@pytest.mark.parametrize("text", ["today", "now", "NaT", "2026-02-30", "26-01-01", "", "2026-1-1", "2026"])
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        iso_day(text)


def test_a_guessed_speed_makes_travel_unsure_and_a_given_one_less() -> None:
    guessed, given = use_of_hours(100, None).travel_km, use_of_hours(100, 50).travel_km
    # 100 h at 50 mm/s are 18 km.
    assert guessed.value == given.value == pytest.approx(18)
    assert guessed.expanded > 2 * given.expanded


def test_what_is_near_its_limit_and_unsure_cannot_be_told() -> None:
    # 500 h at a guessed 50 mm/s: 90 km of 100, give or take the half.
    by_travel = replace(GUIDES, then=Interval(travel_km=100, months=6))
    case = MaintenanceCase(
        tasks=[by_travel],
        today="2026-06-01",
        use={"guides": use_of_hours(500, None)},
        done={"guides": Done(date="2026-05-01")},
    )
    part = maintenance_report(case).parts[0]
    assert part.verdict == "cannot tell"
    assert "too unsure" in part.says[0]


def test_only_jobs_since_it_was_done_count() -> None:
    text = "date,hours,travel_m\n2026-01-01,10,1000\n2026-02-01,5,500\n2026-03-01,2,200\n,1,100\n"
    jobs = parse_jobs(text, "jobs.csv")
    later = use_of_jobs(jobs, None, after="2026-02-01")
    # That day's own job counts, and the one without a date.
    assert later.hours.value == 8
    assert later.travel_km.value == pytest.approx(0.8)
    assert later.travel_km.standard_uncertainty == 0


def test_a_counter_nobody_wrote_down_counts_whole() -> None:
    use = use_of_hours(30, 50)
    assert since(use, Done(date="2026-01-01")) == use
    part = since(use, Done(date="2026-01-01", hours=20))
    assert part is not None
    assert part.hours.value == 10
    assert part.travel_km.value == pytest.approx(use.travel_km.value / 3)


def test_a_share_is_told_for_each_count_that_is_known() -> None:
    interval = Interval(hours=20, months=12)
    found = shares(interval, use_of_hours(10, 50), "2026-01-01", "2026-07-01")
    assert [(one.of, round(one.part.value, 1)) for one in found] == [("hours", 0.5), ("months", 0.5)]
    assert shares(interval, None, None, "2026-07-01") == ()


def test_cautions_stand_only_beside_what_is_to_be_done() -> None:
    young = {task.id: use_of_hours(1, 50) for task in TASKS}
    good = maintenance_report(MaintenanceCase(tasks=TASKS, today="2026-01-02", use=young, built="2026-01-01"))
    assert good.verdict == "good"
    assert good.cautions == ()
    old = maintenance_report(MaintenanceCase(tasks=TASKS, today="2029-01-02", use=young, built="2026-01-01"))
    assert "mains" in old.cautions


def test_a_table_of_jobs_without_hours_is_told() -> None:
    with pytest.raises(ReadingErrors) as caught:
        parse_jobs("date,time\n2026-01-01,3\n", "jobs.csv")
    assert "hours" in caught.value.problems[0].expected


def test_the_page_s_intervals_are_the_tool_s() -> None:
    page = (Path(__file__).parents[2] / "docs" / "tuning" / "maintenance.md").read_text(encoding="utf-8")
    table = page.partition("## Intervals")[2].partition("\n## ")[0]
    rows = [line for line in table.splitlines() if line.startswith("|")][2:]
    assert rows == [
        f"| {task.title} | {due_after(task.first, task.first_if_hot)} | {due_after(task.then)} |"
        for task in TASKS
    ]
