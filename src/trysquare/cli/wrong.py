"""`trysquare wrong`: what goes in the wrong way round, how late it shows, and how to tell beforehand."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, UNREADABLE, print_json, tell_problems
from trysquare.cli.page import QUIET, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.sequence.wrong_ways import WrongWay


@click.command(
    "wrong",
    cls=Taught,
    learns="See which parts also go in wrong, how many steps later it shows, and what to look at before.",
    inputs=(FOLDER_INPUT,),
    examples=("trysquare wrong demo/reed-joints", "trysquare wrong demo/larch --all"),
    exits=((0, "told"), *COMMON_EXITS),
)
@folder_argument
@json_option
@click.option(
    "--all",
    "tell_all",
    is_flag=True,
    help="Also those on which nothing depends.  [default: those that cost steps]",
)
def command(folder: str, papers: tuple[str, ...], as_json: bool, tell_all: bool) -> int:
    """Looks for wrong ways and tells them, the costliest first."""
    from trysquare.cli.facts import read_machine
    from trysquare.ground.errors import ReadingErrors

    try:
        machine = read_machine(folder, papers)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    facts = wrong_facts(machine)
    if not tell_all and facts["steps"]:
        facts["ways"] = [way for way in facts["ways"] if way["steps_to_undo"]]
    facts = {"folder": folder, **facts}
    if as_json:
        print_json(facts)
    else:
        tell(facts)
    return CLEAN


def wrong_facts(machine: Machine) -> dict[str, Any]:
    """All wrong ways of a machine as plain facts, and how many there are of each weight."""
    from trysquare.sequence.wrong_ways import wrong_ways

    ways = [way_fact(way) for way in wrong_ways(machine)]
    return {
        "machine": machine.name,
        "steps": len(machine.steps),
        "costly": sum(way["steps_to_undo"] > 0 for way in ways),
        "harmless": sum(way["steps_to_undo"] == 0 for way in ways),
        "ways": ways,
    }


def way_fact(way: WrongWay) -> dict[str, Any]:
    """One wrong way; `turn` has the wrong part's own axes as rows, in the machine frame."""
    from trysquare.cli.facts import point_fact

    return {
        "part": way.part,
        "part_type": way.part_type,
        "step": way.step,
        "sort": way.sort,
        "way": way.way,
        "instead": way.instead,
        "at_mm": point_fact(way.placement.origin_mm),
        "turn": [point_fact(axis) for axis in way.placement.turn.T],
        "code": way.code,
        "joint": way.joint,
        "noticed": way.noticed,
        "steps_to_undo": way.steps_to_undo,
        "consequence": way.consequence,
        "tells": way.tells,
    }


def tell(facts: dict[str, Any]) -> None:
    """Wrong ways by what they cost; those of one part that fail alike stand together."""
    page = Page()
    page.title(facts["machine"], facts["folder"])
    for steps, of_cost in groupby(facts["ways"], key=lambda way: way["steps_to_undo"]):
        page.heading(f"{words.count(steps, 'step')} to undo" if steps else _nothing(facts["steps"]))
        for _, alike in groupby(of_cost, key=_story):
            _tell_story(page, list(alike))
    page.gap()
    page.line(
        f"{words.count(facts['costly'], 'wrong way')} that a later step notices, or none; "
        f"{facts['harmless']} on which nothing depends.",
        style="bold",
    )
    if facts["harmless"] and len(facts["ways"]) == facts["costly"]:
        page.line("--all tells these too.", style=QUIET)
    if not facts["steps"]:
        page.line("no steps: when each would be noticed is not known", style=QUIET)
    page.print()


def _nothing(steps: int) -> str:
    return "Nothing depends on it" if steps else "Cost not known without steps"


def _story(way: dict[str, Any]) -> tuple[str, ...]:
    return (way["part"], way["instead"], way["code"], way["joint"], way["noticed"])


def _tell_story(page: Page, ways: list[dict[str, Any]]) -> None:
    first = ways[0]
    how = "; or ".join(dict.fromkeys(way["way"] for way in ways))
    instead = f"{first['sort']}: {first['instead']}, {how}" if first["instead"] else how
    page.line(first["part"], indent=2, style="bold")
    page.pairs(
        (
            ("wrong", instead),
            ("placed", first["step"]),
            ("then", first["consequence"]),
            ("look", first["tells"]),
        ),
        indent=4,
    )
