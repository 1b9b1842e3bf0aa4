"""What is due on a machine that runs: grease, belts, screws; from hours, travel, dates and its own record."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.machine.values import Machine
from trysquare.tuning.belt_spans import belt_runs
from trysquare.tuning.named_rows import Row, named_rows, refuse_faults
from trysquare.tuning.values import Measured

COMMON = "common practice, no source"
DAYS_OF_MONTH = 365.25 / 12
# A printer's head over a whole job, slow walls and quick moves together. Common practice, no source.
MEAN_SPEED_MM_S, SPEED_WITHIN = 50.0, 0.5
EXAMPLE = "date,hours,travel_m"
MOST_JOB_HOURS, MOST_JOB_METRES = 2000.0, 1e7


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """After how much it is due: whichever comes first. 0: does not count. `basis` says who says so."""

    hours: float = 0.0
    travel_km: float = 0.0
    months: float = 0.0
    basis: str = COMMON


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Something to do again and again. `first`: the first time, for new things settle; `first_if_hot` is
    said beside it where the machine heats. `tells`: what the work shows, and what it means."""

    id: str
    title: str
    does: tuple[str, ...]
    first: Interval
    then: Interval
    tells: str
    cautions: tuple[str, ...] = ("motion",)
    first_if_hot: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What ran once: `date` ISO or "", `travel_m` the path of the tool or None."""

    hours: float
    date: str = ""
    travel_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How much the machine has run, in all or since a time. `travel_km`: the path of the tool."""

    hours: Measured
    travel_km: Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """When a task was done last. `date` ISO; the counters as they stood then, None when nobody wrote them."""

    date: str
    hours: float | None = None
    travel_km: float | None = None
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A count (hours, travel, months) against its limit. `part`: of the limit; at 1 it is due."""

    of: str
    since: Measured
    limit: float
    part: Measured


TASKS: tuple[Task, ...] = (
    Task(
        id="guides",
        title="Guides",
        does=(
            "Wipe the rails with a clean cloth, then look at it: grey is wear, brown is rust.",
            "Grease each block sparingly (NLGI 1 to 2, or as its maker says).",
            "Move it over its whole travel five times and wipe off what comes out.",
        ),
        first=Interval(hours=20, months=6),
        then=Interval(hours=200, travel_km=100, months=6),
        tells="Drag without belts, beside its first value. Never mix thickeners: note which grease is in.",
    ),
    Task(
        id="lead-screws",
        title="Lead screws",
        does=("Wipe the screws clean, grease their whole length thinly, run the axis up and down twice.",),
        first=Interval(hours=20, months=6),
        then=Interval(hours=200, months=6),
        tells="Backlash that a dial shows between up and down.",
    ),
    Task(
        id="belts",
        title="Belts",
        does=(
            "Look at the teeth and edges: fluff beside a pulley is a belt that rubs.",
            "Pluck and tension: trysquare tune belt.",
        ),
        first=Interval(hours=20, months=6),
        then=Interval(hours=500, months=6),
        tells="Black dust, a frayed edge, a pair more than 5 % apart.",
    ),
    Task(
        id="screws",
        title="Screws of frame and motion",
        does=(
            "Try every screw that was set to final, with its torque; write down those that moved.",
            "Frame first, then rails, carriages, motors, the pulleys' set screws.",
            "Where a screw has moved, read again what it holds true: trysquare true.",
        ),
        first=Interval(hours=20, months=6),
        then=Interval(hours=500, months=6),
        tells="One that turns on by over an eighth was loose; a line across shaft and hub shows creep.",
        first_if_hot="3 to 5 heat cycles",
    ),
    Task(
        id="terminals",
        title="Terminals and cables",
        does=(
            "Unplug and wait. Tug each wire, tighten screw terminals.",
            "Look for brown plastic and chafed sleeves.",
        ),
        first=Interval(hours=50, months=12),
        then=Interval(months=12),
        tells="Warm after a quarter of an hour, brown, or loose: make it anew.",
        cautions=("mains", "terminals", "motion"),
    ),
)  # fmt: skip


def tasks_of(machine: Machine | None) -> tuple[tuple[Task, ...], tuple[str, ...]]:
    """The tasks that this machine has, and why others are left out; all of them without a machine."""
    if machine is None:
        return TASKS, ()
    has = {
        "guides": any(joint.slides_on for joint in machine.joints),
        "belts": bool(belt_runs(machine)),
        "lead-screws": any("lead" in part.type.id or "lead" in part.type.name.casefold().split()
                           for part in machine.part.values()),
        "screws": any(joint.fastenings for joint in machine.joints),
        "terminals": any(joint.cable is not None for joint in machine.joints),
    }  # fmt: skip
    left = tuple(task.title for task in TASKS if not has[task.id])
    return tuple(task for task in TASKS if has[task.id]), left


def parse_jobs(text: str, file: str, today: str = "") -> list[Job]:
    """Rows of hours, and as you like date (2026-03-31) and travel_m, the path of the tool. Raises
    ReadingErrors, also for what ran after `today` where that is given.
    """
    rows = named_rows(text, file, ("hours",), EXAMPLE)
    jobs = [
        Job(
            hours=row.number("hours", above=0, most=MOST_JOB_HOURS),
            date=_date(row),
            travel_m=row.number("travel_m", above=0, most=MOST_JOB_METRES) if row.has("travel_m") else None,
        )
        for row in rows
    ]
    for row, job in zip(rows, jobs, strict=True):
        if today and job.date > today:
            row.fault("date", f"a day up to today, {today}", "Check the year; --today says another day.")
    refuse_faults(rows)
    return jobs


def iso_day(text: str) -> str:
    """The day of an ISO date or time. Raises ValueError for anything else, and for days that never were."""
    if not re.match(r"\d{4}-\d\d-\d\d($|T| )", text):
        raise ValueError(f"{text!r} is no day such as 2026-03-31")
    return str(np.datetime64(text[:10], "D"))


def _date(row: Row) -> str:
    text = row.cells.get("date", "")
    if not text:
        return ""
    try:
        return iso_day(text)
    except ValueError:
        row.fault("date", "a day such as 2026-03-31", "Write year, month and day with - between.")
        return ""


def use_of_hours(hours: float, speed_mm_s: float | None) -> Use:
    """Hours on a counter; travel by the mean speed, which is guessed where None."""
    speed, within = (MEAN_SPEED_MM_S, SPEED_WITHIN) if speed_mm_s is None else (speed_mm_s, 0.2)
    km = hours * 3600 * speed / 1e6
    basis = (
        f"{speed:g} mm/s on average, " + ("guessed: " + COMMON if speed_mm_s is None else "as given, ± 20 %")
    )  # fmt: skip
    return Use(
        hours=Measured(value=hours, standard_uncertainty=0.0, unit="h", basis="counter"),
        travel_km=Measured(value=km, standard_uncertainty=km * within / 3**0.5, unit="km", basis=basis),
    )


def use_of_jobs(jobs: Sequence[Job], speed_mm_s: float | None, after: str = "") -> Use:
    """The jobs summed; with `after` (ISO date) only later ones: a job of that very day counts, to be safe.

    A job without a date counts always. Where a job has no travel, the mean speed stands in.
    """
    counted = [job for job in jobs if not after or not job.date or job.date >= after]
    hours = sum(job.hours for job in counted)
    known = sum(job.travel_m or 0.0 for job in counted) / 1000
    rest = use_of_hours(sum(job.hours for job in counted if job.travel_m is None), speed_mm_s).travel_km
    basis = "jobs" if rest.value <= 0 else f"jobs; where they say nothing {rest.basis}"
    return Use(
        hours=Measured(value=hours, standard_uncertainty=0.0, unit="h", basis=f"{len(counted)} jobs"),
        travel_km=Measured(
            value=known + rest.value, standard_uncertainty=rest.standard_uncertainty, unit="km", basis=basis
        ),
    )


def since(use: Use | None, done: Done | None) -> Use | None:
    """A counter less what it stood at when the task was done; the whole of it when nobody wrote that."""
    if use is None or done is None or done.hours is None:
        return use
    hours = use.hours.value - done.hours
    if hours < 0:
        raise ValueError(
            f"the counter stands at {use.hours.value:g} h; it was {done.hours:g} h on {done.date}"
        )
    part = hours / use.hours.value if use.hours.value > 0 else 0.0
    km, spread = use.travel_km.value * part, use.travel_km.standard_uncertainty * part
    return Use(
        hours=Measured(value=hours, standard_uncertainty=0.0, unit="h", basis=use.hours.basis),
        travel_km=Measured(value=km, standard_uncertainty=spread, unit="km", basis=use.travel_km.basis),
    )


def months_between(earlier: str, later: str) -> float:
    """Months from one ISO date to another; a month is a twelfth of a year."""
    first, last = (np.datetime64(iso_day(each), "D") for each in (earlier, later))
    return float((last - first).astype(np.int64)) / DAYS_OF_MONTH


def shares(interval: Interval, use: Use | None, from_date: str | None, today: str) -> tuple[Share, ...]:
    """Each count that is known against its limit."""
    found = []
    if use is not None:
        counts = (("hours", use.hours, interval.hours), ("travel", use.travel_km, interval.travel_km))
        found += [_share(name, value, limit) for name, value, limit in counts if limit > 0]
    if from_date is not None and interval.months > 0:
        months = Measured(
            value=max(0.0, months_between(from_date, today)), standard_uncertainty=0.0, unit="months",
            basis=f"since {from_date[:10]}",
        )  # fmt: skip
        found.append(_share("months", months, interval.months))
    return tuple(found)


def _share(name: str, value: Measured, limit: float) -> Share:
    part = Measured(
        value=value.value / limit, standard_uncertainty=value.standard_uncertainty / limit, unit=""
    )
    return Share(of=name, since=value, limit=limit, part=part)


def counts_missing(interval: Interval, found: Sequence[Share]) -> tuple[str, ...]:
    """Which of the interval's counts nobody knows."""
    known = {share.of for share in found}
    wanted: Mapping[str, float] = {
        "hours": interval.hours, "travel": interval.travel_km, "months": interval.months,
    }  # fmt: skip
    return tuple(name for name, limit in wanted.items() if limit > 0 and name not in known)
