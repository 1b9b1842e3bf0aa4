"""What is due, as a report: one part for each task, with its counts against their limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from trysquare.tuning.maintenance import (
    Done,
    Interval,
    Share,
    Task,
    Use,
    counts_missing,
    shares,
)
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, TOLD, Line, Part, Report, Table

_UNITS = {"hours": "h", "travel": "km", "months": "months"}
_HOW = {
    "hours": "give --hours, or --jobs",
    "travel": "give --hours with --mean-speed, or --jobs with travel_m",
    "months": "give --since; later --done keeps the day in the log",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class MaintenanceCase:
    """What is asked. By task: when it was `done` last, and the `use` since then.

    `built`: the ISO date when the build was finished, "" when nobody knows; `today` an ISO date; `left_out`:
    tasks that the machine has not.
    """

    tasks: Sequence[Task]
    today: str
    use: Mapping[str, Use | None] = field(default_factory=dict)
    done: Mapping[str, Done] = field(default_factory=dict)
    built: str = ""
    left_out: Sequence[str] = ()


def maintenance_report(case: MaintenanceCase) -> Report:
    """One part for each task."""
    parts = tuple(_task(case, task) for task in case.tasks)
    busy = {
        caution
        for task, part in zip(case.tasks, parts, strict=True)
        if part.verdict != GOOD
        for caution in task.cautions
    }
    cautions = tuple(one for one in ("mains", "terminals", "motion") if one in busy)
    return Report(what="maintenance", title="Maintenance", parts=parts, cautions=cautions)


def done_report(tasks: Sequence[Task], use: Use | None, today: str, *, recorded: bool) -> Report:
    """What was just done, to be kept: the counters as they stand are in its data."""
    parts = []
    for task in tasks:
        counter = f" at {use.hours.value:g} h" if use is not None else ""
        says = [f"{task.title}: done on {today[:10]}{counter}."]
        if use is None:
            says.append("Without --hours or --jobs only the calendar counts from here on.")
        if not recorded:
            says.append("It counts once it is in the machine's build log.")
        parts.append(
            Part(
                of=name_in_log(task),
                title=task.title,
                verdict=TOLD,
                says=tuple(says),
                lines=(Line(label="next", says=_interval_words(task.then)),),
                main=use.hours if use is not None else None,
                data={
                    "done": True,
                    "hours_counter": use and round(use.hours.value, 3),
                    "travel_km_counter": use and round(use.travel_km.value, 3),
                },
            )
        )
    return Report(what="maintenance", title="Maintenance", parts=tuple(parts))


def name_in_log(task: Task) -> str:
    """The task's name in the build log."""
    return f"maintenance-{task.id}"


def counted_from(case: MaintenanceCase, task: Task) -> tuple[Interval, str | None]:
    """The interval that counts for a task now, and the date from which; None when nobody knows it."""
    done = case.done.get(task.id)
    if done is not None:
        return task.then, done.date
    return task.first, case.built or None


def _task(case: MaintenanceCase, task: Task) -> Part:
    done = case.done.get(task.id)
    interval, from_date = counted_from(case, task)
    found = shares(interval, case.use.get(task.id), from_date, case.today)
    missing = counts_missing(interval, found)
    verdict = _verdict(found, missing)
    says = [_due_words(task, verdict, found, missing, first=done is None)]
    if verdict == BAD:
        says += task.does
    elif verdict == CANNOT_TELL:
        says += [f"To know: {_HOW[name]}." for name in missing]
        says.append("If it was never done, do it now and record it with --done.")
    return Part(
        of=name_in_log(task),
        title=task.title,
        verdict=verdict,
        says=tuple(says),
        lines=(
            Line(label="last done", says=_last_words(case, done)),
            Line(label="due after", says=_interval_words(interval)),
        ),
        tables=(_table(found),) if found else (),
        notes=(f"Intervals: {interval.basis}; what the maker of a part says goes before.", *_notes(found)),
        main=found[0].since if found else None,
        data={
            "task": task.id,
            "first_time": done is None,
            "last_done": done and done.date[:10],
            "interval": {
                "hours": interval.hours or None,
                "travel_km": interval.travel_km or None,
                "months": interval.months or None,
                "basis": interval.basis,
            },
            "shares": {share.of: round(share.part.value, 4) for share in found},
            "not_known": list(missing),
            "done": False,
        },
    )


def _verdict(found: Sequence[Share], missing: Sequence[str]) -> str:
    """Due by any count that is surely over; in good time only if every count is known and surely under."""
    if any(share.part.value - share.part.expanded >= 1 for share in found):
        return BAD
    if missing or not found or any(share.part.value + share.part.expanded >= 1 for share in found):
        return CANNOT_TELL
    return GOOD


def _due_words(
    task: Task, verdict: str, found: Sequence[Share], missing: Sequence[str], *, first: bool
) -> str:
    times = "for the first time" if first else "again"
    if verdict == BAD:
        worst = max(found, key=lambda share: share.part.value)
        return (
            f"{task.title} are due {times}: {worst.since.value:.3g} {_UNITS[worst.of]} of "
            f"{worst.limit:g} {_UNITS[worst.of]}."
        )
    if verdict == GOOD:
        return f"{task.title} are in good time; {_left_words(found)}."
    if missing:
        return f"Whether {task.title.lower()} are due cannot be told: {' and '.join(missing)} not known."
    return f"{task.title} are due about now: the count is too unsure to say more. Do it, and record it."


def _left_words(found: Sequence[Share]) -> str:
    """What is left until the first limit."""
    next_one = max(found, key=lambda share: share.part.value + share.part.expanded)
    left = next_one.limit - next_one.since.value
    return f"about {left:.2g} {_UNITS[next_one.of]} are left"


def _last_words(case: MaintenanceCase, done: Done | None) -> str:
    if done is not None:
        counter = f" at {done.hours:g} h" if done.hours is not None else ""
        return f"{done.date[:10]}{counter}{f' ({done.says})' if done.says else ''}"
    if case.built:
        return f"never recorded; counted from the build, {case.built[:10]}"
    return "never recorded"


def _interval_words(interval: Interval) -> str:
    return f"{due_after(interval)}, whichever comes first"


def due_after(interval: Interval, also: str = "") -> str:
    """The counts of an interval with "or" between them; `also`: one more, in words."""
    parts = [also] if also else []
    if interval.hours:
        parts.append(f"{interval.hours:g} h")
    if interval.travel_km:
        parts.append(f"{interval.travel_km:g} km of travel")
    if interval.months:
        parts.append(f"{interval.months:g} months")
    return " or ".join(parts)


def _table(found: Sequence[Share]) -> Table:
    return Table(
        title="Counted since",
        columns=("count", "since", "±", "limit", "part"),
        rows=tuple(
            (
                share.of,
                f"{share.since.value:.1f}",
                f"{share.since.expanded:.1f}",
                f"{share.limit:g} {_UNITS[share.of]}",
                f"{share.part.value:.0%}",
            )
            for share in found
        ),
        right=frozenset({1, 2, 3, 4}),
    )


def _notes(found: Sequence[Share]) -> tuple[str, ...]:
    return tuple(
        f"Travel is the tool's path, the most that any one axis can have gone: {share.since.basis}."
        for share in found
        if share.of == "travel"
    )
