"""`trysquare changes`: what a new version of the papers means for whoever has begun with the old one."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, FOUND, UNREADABLE, NotThere, print_json, tell_problems
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.publish.changes import Changes
    from trysquare.publish.compare import Change

_SORTS = {
    "paper": "Papers",
    "part": "Parts",
    "place": "Places",
    "joint": "Joints",
    "reading": "Readings",
    "step": "Steps",
}


@click.command(
    "changes",
    cls=Taught,
    learns="Know what a new version means for your build: what to undo, swap, redo and read again.",
    inputs=(
        ("OLD", "the machine folder that you have built from"),
        ("NEW", "its new version: a folder with the same machine; left out: OLD with the papers of --paper"),
    ),
    examples=(
        "trysquare changes demo/reed-joints demo/reed-joints",
        "trysquare changes demo/larch --paper demo/mistakes/01-screw-too-long-in-slot.toml --built 30",
        "trysquare changes demo/reed-joints demo/reed-joints --built rail --json",
    ),
    exits=((0, "nothing that matters is another"), (1, "something is another"), *COMMON_EXITS),
)
@click.argument("old", metavar="OLD")
@click.argument("new", metavar="[NEW]", required=False)
@click.option(
    "--built",
    metavar="STEP",
    help="The last step of the old version that is done, its id or number.  [default: nothing is built yet]",
)
@click.option(
    "--paper",
    "papers",
    metavar="FILE",
    multiple=True,
    help="Lay a paper over the new version, such as an erratum; may be given several times.  [default: none]",
)
@json_option
def command(old: str, new: str | None, built: str | None, papers: tuple[str, ...], as_json: bool) -> int:
    """Reads both versions and tells what follows."""
    from trysquare.cli.facts import read_machine
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.publish.changes import changes

    if new is None and not papers:
        raise click.UsageError("Name the new version: a folder, or a paper over the old one with --paper.")
    new = old if new is None else new
    machines: list[Machine] = []
    for folder, laid in ((old, ()), (new, papers)):
        try:
            machines.append(read_machine(folder, laid))
        except ReadingErrors as errors:
            tell_problems(errors, folder, as_json=as_json)
            return UNREADABLE
    steps = [step.id for step in machines[0].steps]
    if built and built not in steps and built.isdecimal() and 0 < int(built) <= len(steps):
        built = steps[int(built) - 1]
    try:
        found = changes(machines[0], machines[1], built or "")
    except ReadingError as error:
        raise NotThere(f"'{words.one_line(built)}' is not {error.expected}. {error.remedy}") from error
    facts = {"old": old, "new": new, "papers": list(papers), **change_facts(found)}
    if as_json:
        print_json(facts)
    else:
        tell(facts)
    return FOUND if facts["matters"] else CLEAN


def change_facts(found: Changes) -> dict[str, Any]:
    """Everything as plain facts."""
    comparison = found.comparison
    return {
        "machine": comparison.new.name,
        "built": found.built,
        "matters": found.matters,
        "changes": [_change_fact(change) for change in comparison.changes],
        "swaps": [_listed(asdict(one)) for one in found.swaps],
        "undo": [_listed(asdict(one)) for one in found.undo],
        "no_way_found": list(found.stuck),
        "do_now": [_listed(asdict(one)) for one in found.do_now],
        "read_again": [_listed(asdict(one)) for one in found.reread],
        "words_only": list(found.words),
        "next_step": found.next_step,
        "ahead": list(found.ahead),
        "unaffected": list(found.unaffected),
    }


def _change_fact(change: Change) -> dict[str, Any]:
    facts = _listed(asdict(change))
    facts["reasons"] = [_listed(asdict(reason)) for reason in change.reasons]
    return facts


def _listed(facts: dict[str, Any]) -> dict[str, Any]:
    """Tuples as lists, as JSON reads them back."""
    return {key: list(value) if isinstance(value, tuple) else value for key, value in facts.items()}


def tell(facts: dict[str, Any]) -> None:
    """First what to do now, in the order in which it is done; then what is another, and what stays."""
    page = Page()
    laid = "".join(f" + {paper}" for paper in facts["papers"])
    page.title(facts["machine"], f"{facts['old']} → {facts['new']}{laid}")
    if not facts["changes"]:
        page.line("The two versions say the same.")
    elif not facts["matters"]:
        page.line("Nothing that matters is another: only names, words or papers.")
    if facts["matters"] and facts["built"]:
        _tell_now(page, facts)
    _tell_swaps(page, facts)
    _tell_changes(page, facts)
    _tell_rest(page, facts)
    page.print()


def _tell_now(page: Page, facts: dict[str, Any]) -> None:
    page.line(f"Built up to step {facts['built']}.")
    if facts["undo"]:
        page.heading("Undo first, in this order")
        page.table(
            ("", "", ""),
            [(str(number), one["says"], one["because"]) for number, one in enumerate(facts["undo"], 1)],
            right=frozenset({0}),
        )
    if facts["no_way_found"]:
        page.heading("No way was found to undo")
        for one in facts["no_way_found"]:
            page.line(one, indent=2)
    if facts["do_now"]:
        page.heading("Then do, in this order")
        for one in facts["do_now"]:
            again = "the whole step" if one["whole"] else "once more"
            page.line(f"{one['step']} · {one['title']}, {again}", indent=2)
            page.pairs(
                (("what", words.listed(one["does"])), *(("why", why) for why in one["because"][:3])), indent=4
            )
    if facts["read_again"]:
        page.heading("Read again before going on")
        page.table(
            ("", "limit", ""),
            [
                (one["characteristic"], f"{words.number(one['limit'])} {one['unit']}", one["because"])
                for one in facts["read_again"]
            ],
        )
    if not (facts["undo"] or facts["do_now"] or facts["read_again"]):
        page.heading("Nothing that is built must be touched")


def _tell_swaps(page: Page, facts: dict[str, Any]) -> None:
    if not facts["swaps"]:
        return
    page.heading("Swap, add, leave out")
    in_now = "in already" if facts["built"] else ""
    page.table(
        ("", "old", "new", in_now, "where"),
        [
            (
                str(one["pieces"]),
                one["old"] or "none",
                one["new"] or "none",
                (str(one["built"]) if one["old"] else f"{one['built']} now") if facts["built"] else "",
                words.listed(one["where"], 4),
            )
            for one in facts["swaps"]
        ],
        right=frozenset({0}),
    )


def _tell_changes(page: Page, facts: dict[str, Any]) -> None:
    for sort, title in _SORTS.items():
        rows = [change for change in facts["changes"] if change["sort"] == sort]
        if not rows:
            continue
        page.heading(title)
        for change in rows:
            does = f"{change['does']}, was {change['was']}" if change["was"] else change["does"]
            page.line(f"{change['id']}: {does}", indent=2, style=STRONG if change["matters"] else "")
            page.pairs(
                (
                    *(("", says) for says in change["says"]),
                    *(("says", _reason(one)) for one in change["reasons"]),
                ),
                indent=4,
                label_width=5,
            )


def _reason(reason: dict[str, Any]) -> str:
    edition = f", edition {reason['edition']}" if reason["edition"] else ""
    page = f", page {reason['page']}" if reason["page"] else ""
    return f"“{reason['title']}”{edition}{page}" + (f": {reason['says']}" if reason["says"] else "")


def _tell_rest(page: Page, facts: dict[str, Any]) -> None:
    if facts["words_only"]:
        page.heading("Done, and only worded otherwise")
        page.line(words.listed(facts["words_only"]), indent=2)
    if facts["built"]:
        page.heading("Not affected")
        page.line(words.listed(facts["unaffected"]) or "no step that is done", indent=2, style=QUIET)
        page.gap()
        page.line(f"Go on with step {facts['next_step']}." if facts["next_step"] else "No step is left.")
    if facts["ahead"] and facts["changes"]:
        what = "To come, and not as it was" if facts["built"] else "Steps that are not as they were"
        page.line(f"{what}: {words.listed(facts['ahead'], 12)}.")
