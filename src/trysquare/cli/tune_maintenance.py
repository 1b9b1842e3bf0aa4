"""`trysquare tune maintenance`: what is due on the running machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import NotThere
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.cli.tune_shared import log_option, machine_options, machine_or_none, plot_option, unreadable

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.tuning.maintenance import Done, Job, Task, Use

TASK_NAMES = ("guides", "lead-screws", "belts", "screws", "terminals")
_JOBS = "demo/larch/recordings/jobs.csv"


@click.command(
    "maintenance",
    cls=Taught,
    learns="Know what is due: grease, belts, screws, terminals; by hours, travel and the calendar.",
    inputs=(
        ("", "no file: --hours, or --jobs, a CSV of what ran"),
        ("--jobs", "CSV with the column hours; as you like date (2026-03-31) and travel_m, the tool's path"),
        ("", "with --machine its build log tells what was done last, and --done with --log records it"),
    ),
    examples=(
        "trysquare tune maintenance --machine demo/larch --hours 26",
        f"trysquare tune maintenance --machine demo/larch --jobs {_JOBS}",
        "trysquare tune maintenance --hours 140 --mean-speed 60 --since 2026-01-15 --json",
    ),
    exits=((0, "all is in good time"), (1, "something is due, or nobody can tell"), *COMMON_EXITS),
)
@machine_options
@click.option(
    "--hours",
    metavar="HOURS",
    type=click.FloatRange(0, 1e6),
    help="The machine's counter, all its hours.  [default: none]",
)
@click.option("--jobs", metavar="FILE", help="What ran, as CSV.  [default: none]")
@click.option(
    "--mean-speed",
    metavar="MM/S",
    type=click.FloatRange(0, 5000, min_open=True),
    help="Speed of the tool over a job, ± 20 %.  [default: 50 ± 50 %]",
)
@click.option(
    "--since", metavar="DATE", help="The day the machine was finished.  [default: the log's last step]"
)
@click.option("--today", metavar="DATE", help="The day to reckon for, such as 2026-03-31.  [default: today]")
@click.option(
    "--done",
    "finished",
    type=click.Choice(TASK_NAMES),
    multiple=True,
    help="It was done now; with --log it is recorded.  [default: none]",
)
@plot_option
@log_option
@json_option
def command(
    folder: str | None, papers: tuple[str, ...], hours: float | None, jobs: str | None,
    mean_speed: float | None, since: str | None, today: str | None, finished: tuple[str, ...],
    plot: str | None, into_log: bool, as_json: bool,
) -> int:  # fmt: skip
    """Counts, compares with the record, and tells what is due."""
    from trysquare.cli.table_in import read_table
    from trysquare.cli.tune_report import finish
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.record.log import now_utc
    from trysquare.tuning.maintenance import parse_jobs, tasks_of
    from trysquare.tuning.maintenance_report import MaintenanceCase, done_report, maintenance_report

    if hours is not None and jobs is not None:
        raise click.UsageError("--hours is the whole counter, --jobs what ran: give one of the two.")
    day = _day(today, "--today") or now_utc().date().isoformat()
    built = _day(since, "--since")
    if built > day:
        raise click.UsageError(f"--since read '{words.one_line(since)}', which is after today, {day}.")
    try:
        machine = machine_or_none(folder, papers, into_log=into_log)
        tasks, left = tasks_of(machine)
        ran = parse_jobs(read_table(jobs), jobs, day) if jobs is not None else None
        whole = _whole_use(hours, ran, mean_speed)
        drawing = None
        if finished:
            report = done_report(_named(tasks, finished), whole, day, recorded=into_log)
        else:
            recorded, started = _recorded(folder, machine, tasks)
            case = MaintenanceCase(
                tasks=tasks,
                today=day,
                use={task.id: _use(whole, ran, mean_speed, recorded.get(task.id)) for task in tasks},
                done=recorded,
                built=built or started,
                left_out=left,
            )
            report = maintenance_report(case)
            if plot is not None:
                from trysquare.publish.limits_plot import maintenance_plot

                drawing = maintenance_plot(case, " ".join(part.says[0] for part in report.parts))
        return finish(
            report, machine=machine, folder=folder, as_json=as_json, into_log=into_log,
            files=[Path(jobs)] if jobs is not None else [], plot=plot, drawing=drawing,
            inputs={
                "hours": whole and whole.hours.value, "travel_km": whole and round(whole.travel_km.value, 3),
                "jobs": jobs, "today": day, "not_on_this_machine": list(left),
            },
        )  # fmt: skip
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, jobs or folder or "what was typed", as_json=as_json)
    except ValueError as error:
        raise click.UsageError(words.sentence(error)) from error


def _day(text: str | None, option: str) -> str:
    from trysquare.tuning.maintenance import iso_day

    if text is None:
        return ""
    try:
        return iso_day(text)
    except ValueError:
        raise click.UsageError(
            f"{option} read '{words.one_line(text)}'; expected a day such as 2026-03-31."
        ) from None


def _named(tasks: Sequence[Task], names: Sequence[str]) -> list[Task]:
    from trysquare.ground.errors import nearest

    known = {task.id: task for task in tasks}
    for name in names:
        if name not in known:
            raise NotThere(f"--done: this machine has no {words.one_line(name)}. {nearest(name, known)}")
    return [known[name] for name in dict.fromkeys(names)]


def _whole_use(hours: float | None, jobs: Sequence[Job] | None, speed: float | None) -> Use | None:
    from trysquare.tuning.maintenance import use_of_hours, use_of_jobs

    if jobs is not None:
        return use_of_jobs(jobs, speed)
    return None if hours is None else use_of_hours(hours, speed)


def _use(whole: Use | None, jobs: Sequence[Job] | None, speed: float | None, done: Done | None) -> Use | None:
    """What ran since the task was done: by the jobs' dates, or by the counter."""
    from trysquare.tuning.maintenance import since, use_of_jobs

    if jobs is not None and done is not None:
        return use_of_jobs(jobs, speed, done.date[:10])
    return since(whole, done)


def _recorded(
    folder: str | None, machine: Machine | None, tasks: Sequence[Task]
) -> tuple[dict[str, Done], str]:
    """When each task was done last, and when the last step was done, as the build log has it.

    A belt's measurement that was found good counts for the belts. Nothing is made or changed.
    """
    from trysquare.record.log import FILE_NAME, open_log
    from trysquare.tuning.maintenance import Done
    from trysquare.tuning.maintenance_report import name_in_log

    if folder is None or machine is None or not (Path(folder) / FILE_NAME).is_file():
        return {}, ""
    with open_log(Path(folder), machine=machine.name, read_only=True) as log:
        state = log.state()
    found: dict[str, Done] = {}
    for task in tasks:
        for result in state.results.get(name_in_log(task), ()):
            values: Any = result.values
            if isinstance(values, Mapping) and values.get("done") is True:
                found[task.id] = Done(
                    date=result.said.at, hours=_number(values.get("hours_counter")),
                    travel_km=_number(values.get("travel_km_counter")),
                )  # fmt: skip
    belts = [joint.id for joint in machine.joints if joint.belt is not None]
    good = [[one.said.at for one in state.results.get(belt, ()) if one.verdict == "good"] for belt in belts]
    if good and all(good):
        # Since the belt that was heard longest ago.
        at = min(max(each) for each in good)
        if "belts" not in found or at > found["belts"].date:
            found["belts"] = Done(date=at, says="every belt was measured good")
    done = [step.done.at for step in state.steps.values() if step.done is not None]
    return found, max(done, default="")


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
