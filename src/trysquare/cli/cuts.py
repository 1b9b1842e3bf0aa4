"""`trysquare cuts`: the frame's cut list with a drilling drawing for each different member, as PDF."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, UNREADABLE, print_json, tell_problems
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

TOO_LONG = 1


@click.command(
    "cuts",
    cls=Taught,
    learns="Saw and drill the frame: every member's length and holes, measured from its stated end.",
    inputs=(FOLDER_INPUT,),
    examples=(
        "trysquare cuts demo/larch --out build/larch-cuts.pdf",
        "trysquare cuts demo/larch --bar-mm 2000 --kerf-mm 3 --out build/larch-bars.pdf",
        "trysquare cuts demo/reed-joints --page-size letter --out build/reed-cuts.pdf --json",
    ),
    exits=((0, "the PDF is written"), (1, "it is written, and a member is longer than a bar"), *COMMON_EXITS),
)
@folder_argument
@click.option(
    "--out", metavar="FILE", required=True, help="Where the PDF goes.  [default: none, it has to be said]"
)
@click.option(
    "--bar-mm", type=click.FloatRange(50, 20_000), metavar="LENGTH",
    help="Length of the bars you cut from.  [default: no plan of bars]",
)  # fmt: skip
@click.option(
    "--kerf-mm", type=click.FloatRange(0, 20), default=3.0, metavar="LENGTH",
    help="What the saw takes away with each cut.  [default: 3 mm]",
)  # fmt: skip
@click.option(
    "--page-size", type=click.Choice(("a4", "letter")), default="a4", help="The paper.  [default: a4]"
)
@json_option
def command(
    folder: str, papers: tuple[str, ...], out: str, bar_mm: float | None, kerf_mm: float, page_size: str,
    as_json: bool,
) -> int:  # fmt: skip
    """Sets the pages and writes them."""
    from trysquare.cli.facts import read_machine
    from trysquare.cli.files_out import look_at, write
    from trysquare.ground.errors import ReadingErrors
    from trysquare.publish.cut_list import bar_plan, cut_list_pdf, cut_members, member_facts

    look_at(Path(out), b"%PDF", "PDF", ".pdf")
    try:
        machine = read_machine(folder, papers)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    members = cut_members(machine)
    plans, too_long = bar_plan(members, bar_mm, kerf_mm) if bar_mm else ([], [])
    pages = cut_list_pdf(machine, members, plans, bar_mm or 0.0, kerf_mm, page_size)
    write(Path(out), pages.pdf)
    facts: dict[str, Any] = {
        "folder": folder,
        "machine": machine.name,
        "out": out,
        "pages": pages.count,
        "members": [member_facts(machine, one) for one in members],
        "bar_mm": bar_mm,
        "kerf_mm": kerf_mm if bar_mm else None,
        "bars": [
            {
                "profile": plan.profile,
                "cuts": [{"part": part, "length_mm": length} for part, length in plan.cuts],
                "rest_mm": round(plan.rest_mm, 3),
            }
            for plan in plans
        ],
        "too_long": too_long,
    }
    if as_json:
        print_json(facts)
    else:
        _tell(facts)
    return TOO_LONG if too_long else CLEAN


def _tell(facts: dict[str, Any]) -> None:
    page = Page()
    page.title(facts["machine"], facts["folder"])
    page.table(
        ("", "member", "profile", "length", "holes"),
        [
            (
                str(one["pieces"]), words.listed(one["parts"]), one["profile"],
                words.length(one["length_mm"]), str(one["holes"]),
            )
            for one in facts["members"]
        ],
        right=frozenset({0}),
    )  # fmt: skip
    page.gap()
    pages = words.count(facts["pages"], "page")
    page.line(f"{facts['out']}: {words.count(len(facts['members']), 'member')}, {pages}", style=STRONG)
    if facts["bars"]:
        bars = words.count(len(facts["bars"]), "bar")
        page.line(
            f"{bars} of {words.length(facts['bar_mm'])}, the saw takes {words.number(facts['kerf_mm'])} mm"
        )
    if facts["too_long"]:
        page.line(f"longer than a bar: {words.listed(facts['too_long'])}", style=STRONG)
    if not facts["members"]:
        page.line("This machine has no members with a profile.", style=QUIET)
    page.print()
