"""`trysquare film`: chapter marks, subtitles, episodes and lists for whoever films a build."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, print_json, talk, unreadable
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.publish.chapters import Mark
    from trysquare.publish.durations import StepDuration
    from trysquare.publish.episodes import Episode

LARGEST_CLOCK_BYTES = 5_000_000
FORMATS = ("webvtt", "ffmetadata", "plain")


@click.command(
    "film",
    cls=Taught,
    learns="Get what a film of the build needs: chapter marks, subtitles to fill in, episodes, lists.",
    inputs=(FOLDER_INPUT,),
    examples=(
        "trysquare film demo/larch",
        "trysquare film demo/larch --chapters webvtt",
        "trysquare film demo/larch --chapters plain --log",
        "trysquare film demo/larch --episodes 45",
        "trysquare film demo/larch --lists",
    ),
    exits=((0, "told"), *COMMON_EXITS),
)
@folder_argument
@click.option("--chapters", type=click.Choice(FORMATS), help="Chapter marks in this form.  [default: none]")
@click.option(
    "--subtitles", is_flag=True, help="A skeleton of subtitles to write over, as WebVTT.  [default: none]"
)
@click.option(
    "--episodes",
    type=click.FloatRange(min=0, min_open=True, max=100_000),
    metavar="MINUTES",
    help="Cut the order into parts of about this length.  [default: none]",
)
@click.option(
    "--lists", is_flag=True, help="Parts, tools and what is used up, for a description.  [default: none]"
)
@click.option(
    "--clock",
    metavar="FILE",
    help="Where in the film each step begins: a CSV step,seconds.  [default: as the steps are planned]",
)
@click.option(
    "--log",
    "from_log",
    is_flag=True,
    help="Take times and marks from the folder's build log; what it lacks stays planned.  [default: planned]",
)
@click.option(
    "--length",
    type=click.FloatRange(min=0, min_open=True),
    metavar="SECONDS",
    help="The film's length, with --clock or --log.  [default: the last step as planned]",
)
@json_option
def command(
    folder: str,
    papers: tuple[str, ...],
    chapters: str | None,
    subtitles: bool,
    episodes: float | None,
    lists: bool,
    clock: str | None,
    from_log: bool,
    length: float | None,
    as_json: bool,
) -> int:
    """Writes what was asked for to the output, as it goes into a file; without a wish the planned times."""
    from trysquare.cli.facts import read_machine
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.publish.durations import durations, learned_from

    _check_wishes(chapters, subtitles, episodes, lists, clock, length, as_json=as_json, from_log=from_log)
    try:
        machine = read_machine(folder, papers)
        took, begins = _logged(folder, machine.name) if from_log else ({}, ())
        planned = durations(machine, learned_from(machine, took))
        if chapters is not None or subtitles:
            marks = _marks(machine, planned, clock, begins, length)
            text = _marked(machine, planned, marks, chapters)
        elif lists:
            text = _lists(machine)
        else:
            text = ""
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, folder, as_json=as_json)
    if text:
        # A file for players: the same bytes everywhere, whatever the terminal is.
        sys.stdout.write(text)
        sys.stdout.flush()
        return CLEAN
    facts: dict[str, Any] = {"folder": folder, "machine": machine.name}
    if episodes is not None:
        facts |= {"wished_minutes": episodes, "episodes": _episode_facts(machine, planned, episodes)}
    else:
        facts["steps"] = [_step_fact(step) for step in planned]
    if as_json:
        print_json(facts)
    elif episodes is not None:
        _tell_episodes(facts)
    else:
        _tell_steps(facts)
    return CLEAN


def _check_wishes(
    chapters: str | None,
    subtitles: bool,
    episodes: float | None,
    lists: bool,
    clock: str | None,
    length: float | None,
    *,
    as_json: bool,
    from_log: bool,
) -> None:
    context = click.get_current_context()
    marked = chapters is not None or subtitles
    if sum((chapters is not None, subtitles, episodes is not None, lists)) > 1:
        raise click.UsageError("Ask for one of --chapters, --subtitles, --episodes and --lists.", context)
    if clock is not None and not marked:
        raise click.UsageError("--clock is for --chapters and --subtitles.", context)
    if length is not None and clock is None and not (from_log and marked):
        raise click.UsageError("--length goes with --clock, or with --log and marks.", context)
    if as_json and (marked or lists):
        raise click.UsageError("--json is for the planned times and for --episodes.", context)


def _logged(folder: str, machine: str) -> tuple[dict[str, float], Sequence[tuple[str, float]]]:
    """What the build log knows: seconds of measured steps, and where in the film steps begin."""
    from trysquare.cli.log_care import BEGINS, log_file, opened_log
    from trysquare.cli.log_facts import LEAST_LEARNED_SECONDS
    from trysquare.record.replay_times import film_stretches, measured_steps

    if not log_file(folder).is_file():
        talk(f"{BEGINS} All times are as planned.")
        return {}, ()
    with opened_log(folder, machine) as log:
        state = log.state()
    took = {
        step: seconds for step, seconds in measured_steps(state).items() if seconds >= LEAST_LEARNED_SECONDS
    }
    return took, [(one.step, one.begins_seconds) for one in film_stretches(state.marks)]


def _marks(
    machine: Machine,
    planned: Sequence[StepDuration],
    clock: str | None,
    begins: Sequence[tuple[str, float]],
    length: float | None,
) -> tuple[Mark, ...]:
    from trysquare.publish.chapters import clocked_marks, marks_at

    if clock is None:
        known = {step.step for step in planned}
        gone = sorted({step for step, _ in begins} - known)
        if gone:
            talk(f"The log marks steps that the machine no longer has: {words.listed(gone, 6)}.")
        kept = [(step, at) for step, at in begins if step in known]
        without = len(known - {step for step, _ in kept})
        if kept and without:
            talk(f"{words.count(without, 'step')} without a mark: they follow as planned.")
        return marks_at(kept, planned, opening=machine.name, ends_seconds=length)
    return clocked_marks(
        _read_clock(Path(clock)), planned, opening=machine.name, file=clock, ends_seconds=length
    )


def _read_clock(path: Path) -> str:
    """The text of a table of clock marks; raises ReadingError for what is none."""
    from trysquare.ground.errors import ReadingError

    def error(read: object, expected: str, remedy: str) -> ReadingError:
        return ReadingError(where=str(path), read=read, expected=expected, remedy=remedy)

    if not path.is_file():
        raise error(str(path), "a CSV file step,seconds", "Check the path.")
    if path.stat().st_size > LARGEST_CLOCK_BYTES:
        raise error(f"{path.stat().st_size} bytes", f"at most {LARGEST_CLOCK_BYTES} bytes", "Name the table.")
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as problem:
        raise error(str(problem), "text in UTF-8", "Save it as CSV in UTF-8.") from problem


def _marked(
    machine: Machine, planned: Sequence[StepDuration], marks: Sequence[Mark], chapters: str | None
) -> str:
    from trysquare.publish import chapters as write

    if chapters is None:
        return write.subtitles_webvtt(machine, marks, planned)
    if chapters == "webvtt":
        return write.chapters_webvtt(marks)
    if chapters == "ffmetadata":
        return write.chapters_ffmetadata(marks, machine.name)
    return write.chapters_plain(marks)


def _lists(machine: Machine) -> str:
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.publish.lists import description_lists
    from trysquare.stock.letters import read_letters

    problems: list[ReadingError] = []
    kept = read_letters(Path(machine.folder), problems)
    if problems:
        raise ReadingErrors(problems)
    return description_lists(machine, kept)


# --- facts and their telling


def _step_fact(step: StepDuration) -> dict[str, Any]:
    return {
        "step": step.step,
        "title": step.title,
        "unit": step.unit,
        "seconds": round(step.seconds, 3),
        "film_seconds": round(step.film_seconds, 3),
        "basis": step.basis,
    }


def _episode_facts(machine: Machine, planned: Sequence[StepDuration], minutes: float) -> list[dict[str, Any]]:
    from trysquare.publish.episodes import episodes, stops_of

    return [_episode_fact(one) for one in episodes(planned, stops_of(machine), minutes * 60)]


def _episode_fact(one: Episode) -> dict[str, Any]:
    facts = asdict(one)
    return {
        **{key: list(value) if isinstance(value, tuple) else value for key, value in facts.items()},
        "seconds": round(one.seconds, 3),
        "passed": [{"step": step, "because": because} for step, because in one.passed],
    }


def _time(seconds: float) -> str:
    from trysquare.publish.chapters import clock

    return clock(seconds, hours=True)


def _tell_steps(facts: dict[str, Any]) -> None:
    page = Page()
    page.title(facts["machine"], facts["folder"])
    if not facts["steps"]:
        page.gap()
        page.line("There are no steps yet.")
    page.gap()
    page.table(
        ("step", "", "in a film", ""),
        [
            (step["step"], _time(step["seconds"]), _time(step["film_seconds"]), step["basis"])
            for step in facts["steps"]
        ],
        right=frozenset({1, 2}),
    )
    page.gap()
    total, film = (sum(step[key] for step in facts["steps"]) for key in ("seconds", "film_seconds"))
    page.line(f"{_time(total)} in all, {_time(film)} in a film without waits", style=STRONG)
    measured = sum(step["basis"] == "measured" for step in facts["steps"])
    if measured:
        page.line(
            f"{words.count(measured, 'step')} as the log measured it, the rest at that pace.", style=QUIET
        )
    page.line("Estimated times: common practice, no source.", style=QUIET)
    page.print()


def _tell_episodes(facts: dict[str, Any]) -> None:
    page = Page()
    page.title(facts["machine"], facts["folder"])
    if not facts["episodes"]:
        page.gap()
        page.line("There are no steps yet.")
    for one in facts["episodes"]:
        page.heading(f"{one['number']} · {_time(one['seconds'])} · {words.count(len(one['steps']), 'step')}")
        page.pairs(
            (
                ("from", f"{one['steps'][0]} · {one['titles'][0]}"),
                ("to", f"{one['steps'][-1]} · {one['titles'][-1]}"),
                ("ends as", "; ".join(one["ends"])),
                ("but", "; ".join(one["weak"])),
                *(("not at", f"{row['step']}: {row['because']}") for row in one["passed"]),
            )
        )
    page.print()
