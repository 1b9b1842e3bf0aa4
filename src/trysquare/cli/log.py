"""`trysquare log`: what was done, what it took, what stands open; and the care of the log itself."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import log_care, words
from trysquare.cli.answers import CLEAN, FOUND, UNREADABLE, print_json, tell_problems, unreadable
from trysquare.cli.log_care import BEGINS, head_words, log_file, opened_log
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.machine.values import Machine

LAST_ENTRIES = 5


class _Log(Taught, click.Group):
    """Without the name of a sub-command it shows the log."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if args and args[0] not in self.commands and args[0] not in ctx.help_option_names:
            args = ["show", *args]
        return super().parse_args(ctx, args)

    def collect_usage_pieces(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  # as click calls it
        return ["FOLDER | COMMAND FOLDER …"]

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  # as click calls it
        return list(self.commands)


@click.group(
    "log",
    cls=_Log,
    learns="See what is done, what it took and what stands open; check, copy and join build logs.",
    inputs=(
        FOLDER_INPUT,
        ("", "log.sqlite in it is the log; photos and files lie in log-files/. Entries are only added."),
    ),
    examples=("trysquare log demo/larch", "trysquare log demo/larch --json"),
    exits=((0, "told; nothing is open"), (1, "told; something stands open"), *COMMON_EXITS),
)
def command() -> None:
    """`trysquare log FOLDER` is `trysquare log show FOLDER`."""


@command.command(
    "show",
    cls=Taught,
    learns="See the steps done, the time they took, and the open points. 'trysquare log FOLDER' is the same.",
    inputs=(FOLDER_INPUT,),
    examples=("trysquare log demo/larch", "trysquare log demo/larch --last 20 --json"),
    exits=((0, "told; nothing is open"), (1, "told; something stands open"), *COMMON_EXITS),
)
@folder_argument
@click.option(
    "--last",
    type=click.IntRange(0, 100_000),
    default=LAST_ENTRIES,
    metavar="NUMBER",
    help=f"Tell so many of the last entries.  [default: {LAST_ENTRIES}]",
)
@json_option
def show(folder: str, papers: tuple[str, ...], last: int, as_json: bool) -> int:
    """Replays the log beside the machine."""
    from trysquare.cli.facts import read_machine
    from trysquare.ground.errors import ReadingError, ReadingErrors

    try:
        machine = read_machine(folder, papers)
        facts = {"folder": folder, **_overview(machine, folder, last)}
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    except ReadingError as problem:
        return unreadable(problem, folder, as_json=as_json)
    if as_json:
        print_json(facts)
    else:
        _tell(facts)
    return FOUND if facts.get("open") or facts.get("order") else CLEAN


def _overview(machine: Machine, folder: str, last: int) -> dict[str, Any]:
    from trysquare.cli.log_facts import log_facts

    if not log_file(folder).is_file():
        return {"machine": machine.name, "entries": None}
    with opened_log(folder, machine.name) as log:
        return log_facts(machine, log, log.state(), last)


def _tell(facts: dict[str, Any]) -> None:
    page = Page()
    page.title(facts["machine"], facts["folder"])
    page.gap()
    if facts["entries"] is None:
        page.line(BEGINS)
        page.print()
        return
    steps, done = facts["steps"], facts["steps_done"]
    page.line(
        f"{done} of {words.count(len(steps), 'step')} done · {_time(facts['seconds_spent'])} spent"
        + (f" · about {_time(facts['seconds_left'])} left as planned" if done < len(steps) else ""),
        style=STRONG,
    )
    rows = []
    for unit, of_unit in groupby(steps, key=lambda step: step["unit"]):
        some = list(of_unit)
        ready = sum(step["done"] for step in some)
        rows.append(
            (unit or "the machine", f"{ready} of {len(some)}", _time(sum(s["seconds"] for s in some)))
        )
    page.table(("unit", "done", "spent"), rows, right=frozenset({1, 2}))
    if facts["open"]:
        page.heading("Open")
        for line in facts["open"]:
            where = f" ({line['step']})" if line["step"] and line["step"] != line["item"] else ""
            page.line(f"{line['sort']} · {line['item']}{where}: {line['says']}", indent=2)
    if facts["order"]:
        page.heading("Not in the machine's order")
        for fault in facts["order"]:
            page.line(fault["says"], indent=2)
    if facts["signed"]:
        page.heading("Signed off")
        for one in facts["signed"]:
            who = words.one_line(one["who"]) or "nobody said who"
            where = f" ({one['step']})" if one["step"] else ""
            page.line(f"{one['at'][:10]} · {who} · {words.one_line(one['says'])}{where}", indent=2)
    _tell_end(page, facts)
    page.print()


def _tell_end(page: Page, facts: dict[str, Any]) -> None:
    counts = facts["counts"]
    told = [
        words.count(counts[name], one, many)
        for name, one, many in (
            ("readings", "reading", ""),
            ("sorts_counted", "sort counted", "sorts counted"),
            ("deviations", "deviation", ""),
            ("photos", "photo", ""),
            ("files", "file", ""),
            ("notes", "note", ""),
            ("undone", "entry undone", "entries undone"),
        )
        if counts[name]
    ]
    if told:
        page.gap()
        page.line(" · ".join(told))
    if facts["last"]:
        page.heading("Last entries")
        page.table(
            ("", "at (UTC)", "", "", ""), [_entry_row(entry) for entry in facts["last"]], right=frozenset({0})
        )
    page.gap()
    if facts["steps_elsewhere"]:
        page.line(
            f"Logged, but no step of this machine: {words.listed(facts['steps_elsewhere'], 6)}.", style=QUIET
        )
    if counts["unknown"]:
        unknown = words.count(counts["unknown"], "entry", "entries")
        page.line(f"{unknown} of a kind that only a newer Trysquare knows.", style=QUIET)
    page.line(
        f"{words.count(facts['entries'], 'entry', 'entries')}, {head_words(facts['head'])}", style=QUIET
    )


def _entry_row(entry: dict[str, Any]) -> tuple[str, ...]:
    told = ", ".join(
        words.listed(value, 3)
        if isinstance(value, list)
        else words.one_line(name if value is True else value)
        for name, value in entry["data"].items()
        if not isinstance(value, dict) and value is not False
    )
    at = entry["at"][:19].replace("T", " ")
    undone = " (undone)" if entry["undone"] else ""
    return (
        str(entry["entry"]),
        at,
        entry["device"],
        f"{entry['kind']}{undone}",
        f"{entry['step'] or ''} {told[:60]}",
    )


def _time(seconds: float) -> str:
    from trysquare.publish.chapters import clock

    return clock(seconds, hours=True)


for _care in (log_care.verify, log_care.export, log_care.take_in, log_care.undo):
    command.add_command(_care)
