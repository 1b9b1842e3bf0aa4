"""`trysquare check`: what does not fit, before a screw turns."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import Any

import click

from trysquare.cli import cache, words
from trysquare.cli.answers import CLEAN, FOUND, UNREADABLE, print_json, tell_problems
from trysquare.cli.page import QUIET, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

FIRST_OF_A_CODE = 5  # as many findings of one code and unit are told whole; more only with --all

_HEADINGS = {
    "stop": ("Stops the build", "bold red"),
    "doubt": ("To be looked at", "bold yellow"),
    "note": ("Good to know", "bold"),
}


@click.command(
    "check",
    cls=Taught,
    learns="See what does not fit before a screw turns: each finding with its place and its remedy.",
    inputs=(FOLDER_INPUT,),
    examples=("trysquare check demo/larch", "trysquare check demo/reed --json"),
    exits=(
        (0, "nothing stops the build"),
        (1, "some finding stops the build"),
        *COMMON_EXITS,
    ),
)
@folder_argument
@json_option
@click.option(
    "--no-cache",
    is_flag=True,
    help="Check anew, keep nothing.  [default: answers are kept in .trysquare-cache]",
)
@click.option(
    "--all",
    "tell_all",
    is_flag=True,
    help=f"Tell each finding.  [default: the first {FIRST_OF_A_CODE} of a code in a unit]",
)
def command(folder: str, papers: tuple[str, ...], as_json: bool, no_cache: bool, tell_all: bool) -> int:
    """Checks, answers, and says by the exit status whether to go on."""
    from trysquare.ground.errors import ReadingErrors

    def compute() -> dict[str, Any]:
        import gc

        from trysquare.cli.check_facts import check_facts

        # Over in seconds and then the process ends: looking for garbage would only cost time.
        gc.disable()
        try:
            return check_facts(folder, papers, remember=not no_cache)
        finally:
            gc.enable()

    paper_files = [Path(paper) for paper in papers]
    try:
        facts = cache.answer("check", Path(folder), paper_files, compute, use=not no_cache)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    facts = {"folder": folder, **facts}
    if as_json:
        print_json(facts)
    else:
        tell(facts, tell_all=tell_all)
    return FOUND if facts["weights"]["stop"] else CLEAN


def tell(facts: dict[str, Any], *, tell_all: bool) -> None:
    """The findings by weight and unit, then one line of summary."""
    page = Page()
    page.title(facts["machine"], facts["folder"])
    for weight, of_weight in groupby(facts["findings"], key=lambda fact: fact["weight"]):
        heading, style = _HEADINGS[weight]
        page.heading(heading, style)
        for unit, of_unit in groupby(of_weight, key=_told_in):
            page.line(f"in {unit}" if unit else "in the machine as a whole", indent=2, style=QUIET)
            for code, rows in groupby(of_unit, key=lambda fact: fact["code"]):
                _tell_code(page, code, list(rows), tell_all=tell_all)
    _summary(page, facts)
    page.print()


def _told_in(fact: dict[str, Any]) -> str:
    """The unit that a finding is told in: its own, or that of what it follows from."""
    cause = fact["follows_from"]
    return str(fact["unit"] if cause is None else cause["unit"])


def _follows(fact: dict[str, Any]) -> str:
    cause = fact["follows_from"]
    if cause is None:
        return ""
    of = cause["joint"] or next(iter(cause["parts"]), "") or cause["step"]
    return f"from {cause['code']}{f' of {of}' if of else ''}: settle that first"


def _tell_code(page: Page, code: str, rows: list[dict[str, Any]], *, tell_all: bool) -> None:
    shown = rows if tell_all or len(rows) <= FIRST_OF_A_CODE else rows[:FIRST_OF_A_CODE]
    for fact in shown:
        page.line(code, indent=4, style="bold")
        page.line(fact["says"], indent=6)
        page.pairs(
            (
                ("follows", _follows(fact)),
                ("where", words.place(fact["where"])),
                ("parts", words.listed(fact["parts"], 0 if tell_all else 6)),
                ("joint", fact["joint"]),
                ("step", fact["step"]),
                ("value", _value(fact)),
                ("at", words.point(fact["at_mm"]) if fact["at_mm"] else ""),
                ("remedy", fact["remedy"]),
            ),
            indent=6,
        )
    if len(shown) < len(rows):
        page.line(f"{len(rows) - len(shown)} more {code}; --all tells them.", indent=4, style=QUIET)


def _value(fact: dict[str, Any]) -> str:
    if fact["value"] is None:
        return ""
    unit = f" {fact['value_unit']}" if fact["value_unit"] else ""
    limit = f", limit {words.number(fact['limit'])}{unit}" if fact["limit"] is not None else ""
    return f"{words.number(fact['value'])}{unit}{limit}"


def _summary(page: Page, facts: dict[str, Any]) -> None:
    counts, weights = facts["counts"], facts["weights"]
    page.gap()
    found = [
        words.count(weights["stop"], "stop"),
        words.count(weights["doubt"], "doubt"),
        words.count(weights["note"], "note"),
    ]
    reached = [level for level, there in facts["levels"].items() if there]
    page.line(
        f"{', '.join(found)} · {words.count(counts['pieces'], 'part')} of "
        f"{words.count(counts['part_types'], 'sort')}, {words.count(counts['joints'], 'joint')}, "
        f"{words.count(counts['steps'], 'step')}, {words.count(counts['papers'], 'paper')} · "
        f"checked: {', '.join(reached) or 'nothing'}",
        style="bold",
    )
    for missing in facts["not_checked"]:
        page.line(f"not checked · {missing}", style=QUIET)
    if facts["findings"]:
        page.line(
            f"trysquare why {facts['findings'][0]['code']} says what follows from such a finding.",
            style=QUIET,
        )
