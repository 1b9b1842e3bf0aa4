"""`trysquare show`: one thing of the machine, and who says so."""

from __future__ import annotations

import click

from trysquare.cli.answers import CLEAN, UNREADABLE, print_json, tell_problems
from trysquare.cli.page import Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

_WHAT = (
    "a unit, placed part, part, profile, joint, screw, step, paper, or a line such as "
    "unit.frame.place.front; left out: the whole machine"
)


@click.command(
    "show",
    cls=Taught,
    learns="Look at one part, joint or step: where it stands, what holds it, and who says so.",
    inputs=(
        FOLDER_INPUT,
        ("WHAT", _WHAT),
    ),
    examples=(
        "trysquare show demo/larch",
        "trysquare show demo/reed-joints track/rail-screws",
        'trysquare show demo/reed-joints "ISO 4762 M3x8" --json',
    ),
    exits=((0, "shown"), *COMMON_EXITS),
)
@folder_argument
@click.argument("what", metavar="[WHAT]", required=False)
@json_option
def command(folder: str, papers: tuple[str, ...], what: str | None, as_json: bool) -> int:
    """Shows the overview, or the things that WHAT means."""
    from trysquare.cli.facts import read_machine
    from trysquare.cli.show_facts import thing_facts
    from trysquare.cli.show_find import find
    from trysquare.cli.show_overview import overview_facts, tell_overview
    from trysquare.cli.show_tell import tell_thing
    from trysquare.ground.errors import ReadingErrors

    try:
        machine = read_machine(folder, papers)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    head = {"folder": folder, "machine": machine.name}
    page = None if as_json else Page()
    if page is not None:
        page.title(machine.name, folder)
    if what is None:
        overview = overview_facts(machine)
        if page is None:
            print_json({**head, **overview})
        else:
            tell_overview(page, overview)
    else:
        shown = [thing_facts(machine, thing) for thing in find(machine, what)]
        if page is None:
            print_json({**head, "asked": what, "shown": shown})
        else:
            for facts in shown:
                tell_thing(page, facts)
    if page is not None:
        page.print()
    return CLEAN
