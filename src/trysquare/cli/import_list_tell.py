"""What an import of a parts list says and asks: every row with what it became, and what changed."""

from __future__ import annotations

from collections import Counter
from typing import Any

import click

from trysquare.cli import words
from trysquare.cli.answers import talk
from trysquare.cli.facts import where_fact
from trysquare.cli.import_list_decide import settle, settle_pieces
from trysquare.cli.import_list_read import Imported
from trysquare.cli.import_list_write import Written
from trysquare.cli.import_tell import tell_changes
from trysquare.cli.page import QUIET, Page
from trysquare.intake.list_columns import letter_of
from trysquare.intake.list_decide import Decided, pieces_key
from trysquare.intake.list_files import run_of
from trysquare.intake.list_hidden import HiddenLines, HiddenSheet
from trysquare.stock.remembered import plain_name

MOST_SHOWN = 20
_NOTHING_PLACED = "no part that is placed becomes another: nothing is to be redone"


def ask(found: Imported) -> None:
    """Asks at the terminal for each name once; an empty answer leaves it for later."""
    seen: set[str] = set()
    for one in found.waiting:
        plain = plain_name(one.row.text)
        if plain in seen:
            continue
        seen.add(plain)
        if one.choices:
            _ask_part(found, one)
    keys: set[tuple[str, str]] = set()
    for one in found.waiting:
        key = pieces_key(one.row.text, one.row.quantity)
        if "pieces asked" in one.state and key not in keys:
            keys.add(key)
            _ask_pieces(found, one)
    found.decide()


def _ask_part(found: Imported, one: Decided) -> None:
    talk(f"{words.one_line(one.row.text)}: {one.question}")
    for number, choice in enumerate(one.choices, start=1):
        talk(f"  {number}  {choice.designation}  ({choice.confidence:.0%})")
    while True:
        said = click.prompt(
            "  number, another part, own, none, or Enter for later", default="", show_default=False, err=True
        ).strip()
        if not said:
            return
        if said.isascii() and said.isdigit() and 1 <= int(said[:4]) <= len(one.choices):
            said = one.choices[int(said) - 1].designation
        if settle(found, one, "" if said.casefold() == "none" else said):
            return
        talk("  That is no part of this machine and no standard part.")


def _ask_pieces(found: Imported, one: Decided) -> None:
    talk(f"{words.one_line(one.row.text)}: {one.question}")
    while True:
        said = click.prompt("  pieces, or Enter for later", default="", show_default=False, err=True).strip()
        if not said or settle_pieces(found, [one], said):
            return
        talk("  Write a whole number.")


def import_facts(found: Imported, plan: Written, written: list[str], kept: list[str]) -> dict[str, Any]:
    """Everything as data."""
    outcomes = Counter(one.outcome for one in found.decided)
    return {
        "rows": [_row(one) for one in found.decided],
        "counts": {
            "rows": len(found.decided),
            **{key.replace(" ", "_"): outcomes[key] for key in ("recognised", "asked", "own", "left out")},
        },
        "columns": [
            {
                "heading_line": each.heading_line,
                "columns": {
                    sort: {"column": column.letter, "heading": column.heading}
                    for sort, column in each.found.items()
                },
                "guessed": list(each.how),
            }
            for each in found.columns
        ],
        "passed_over": list(found.rows.passed_over),
        "hidden": [_hidden(one) for one in found.hidden],
        "reissued": plan.reissued,
        "changes": [
            {"part": one.part, "before": one.before, "after": one.after, "names": list(one.names)}
            for one in plan.changes
        ],
        "changed_files": sorted(plan.texts),
        "diffs": {name: list(lines) for name, lines in plan.diffs.items()},
        "written": written,
        "kept": kept,
    }


def _hidden(one: HiddenSheet | HiddenLines) -> dict[str, Any]:
    if isinstance(one, HiddenSheet):
        return {"sheet": one.sheet, "is_read": False, "rows": one.rows, "says": one.says}
    return {
        "sheet": one.sheet,
        "is_read": True,
        "hidden_rows": list(one.rows),
        "hidden_columns": [letter_of(at) for at in one.columns],
        "says": one.says,
    }


def _row(one: Decided) -> dict[str, Any]:
    read = one.understood
    run = run_of(one)
    return {
        "name": one.row.text,
        "where": where_fact(one.row.where),
        "outcome": one.outcome,
        "parts": list(one.parts),
        "pieces": one.pieces,
        "pieces_asked": "pieces asked" in one.state,
        "quantity": one.row.quantity,
        "how": one.how,
        "length_mm": run,
        "says": [*one.says, *([f"{words.length(run)} long, kept in list.csv."] if run else [])],
        "question": one.question,
        "choices": [
            {"part": choice.designation, "confidence": round(choice.confidence, 2)} for choice in one.choices
        ],
        "kind": one.own.kind if one.own is not None else None,
        "strength": read.strength if read is not None else "",
        "coating": read.coating if read is not None else "",
    }


def tell(facts: dict[str, Any], *, tell_all: bool) -> None:
    """The answer for people."""
    page = Page()
    counts = facts["counts"]
    page.title(
        f"{words.count(counts['rows'], 'row')}: {counts['recognised']} recognised, {counts['asked']} asked, "
        f"{counts['own']} own part{'' if counts['own'] == 1 else 's'}"
        + (f", {counts['left_out']} left out" if counts["left_out"] else ""),
        f"{facts['file']} → {facts['folder']}",
    )
    for each in facts["columns"]:
        said = (f"{sort} = {one['heading'] or one['column']}" for sort, one in each["columns"].items())
        page.pairs((("columns", ", ".join(said)), ("guessed", " ".join(each["guessed"]))))
    _rows(page, "Recognised", [one for one in facts["rows"] if one["outcome"] == "recognised"], tell_all)
    _rows(page, "Own parts", [one for one in facts["rows"] if one["outcome"] == "own"], tell_all)
    _rows(
        page,
        "Left out, as you said",
        [one for one in facts["rows"] if one["outcome"] == "left out"],
        tell_all,
    )
    _asked(page, [one for one in facts["rows"] if one["outcome"] == "asked"], facts, tell_all)
    if facts["hidden"]:
        page.heading("Hidden in the file")
        _some(page, [one["says"] for one in facts["hidden"]], tell_all)
    if facts["passed_over"]:
        page.heading("No parts")
        _some(page, facts["passed_over"], tell_all)
    if facts["reissued"]:
        _changes(page, facts, tell_all)
        most = len(facts["rows"]) + len(facts["changes"]) if tell_all else MOST_SHOWN
        tell_changes(page, facts.get("machine_changes"), most, _NOTHING_PLACED)
    _files(page, facts)
    page.print()


def _rows(page: Page, heading: str, rows: list[dict[str, Any]], tell_all: bool) -> None:
    if not rows:
        return
    page.heading(heading)
    shown = rows if tell_all else rows[:MOST_SHOWN]
    page.table(
        ("pieces", "part", "written", ""),
        [
            (
                str(one["pieces"]),
                " and ".join(one["parts"]),
                one["name"],
                " ".join([one["how"].rstrip(".") + ".", *one["says"]]) if one["says"] else one["how"],
            )
            for one in shown
        ],
        right=frozenset((0,)),
    )
    _left(page, len(rows) - len(shown))


def _asked(page: Page, rows: list[dict[str, Any]], facts: dict[str, Any], tell_all: bool) -> None:
    if not rows:
        return
    page.heading("Asked")
    shown = rows if tell_all else rows[:MOST_SHOWN]
    for one in shown:
        spot = (
            f"{one['where']['file']}:{one['where']['line']}" if one["where"]["line"] else one["where"]["file"]
        )
        page.line(f"{one['pieces']} × {one['name']}", indent=2)
        choices = ", ".join(f"{each['part']} ({each['confidence']:.0%})" for each in one["choices"])
        page.pairs(
            (("at", spot), ("ask", one["question"]), ("choices", choices), ("say", _say(one))), indent=4
        )
    _left(page, len(rows) - len(shown))
    again = f"trysquare import {words.quoted(facts['file'])} {words.quoted(facts['folder'])}"
    page.line(
        "Until then they count as shown, as own parts where there is a choice. Decide at a terminal, or with "
        f"these options behind {again}.",
        indent=2,
        style=QUIET,
    )


def _say(one: dict[str, Any]) -> str:
    said = []
    if one["choices"]:
        said.append(
            f'--confirm "{one["name"]}={one["choices"][0]["part"]}", or =own, or = (not of this machine)'
        )
    if one["pieces_asked"]:
        said.append(f'--pieces "{one["name"]}=NUMBER"')
    return "; ".join(said)


def _changes(page: Page, facts: dict[str, Any], tell_all: bool) -> None:
    page.heading("Otherwise than in the list before")
    rows = facts["changes"]
    if not rows:
        page.line("Nothing.", indent=2)
        return
    shown = rows if tell_all else rows[:MOST_SHOWN]
    page.table(
        ("before", "now", "part", "written"),
        [
            (
                "–" if one["before"] is None else str(one["before"]),
                "–" if one["after"] is None else str(one["after"]),
                one["part"],
                ", ".join(one["names"]),
            )
            for one in shown
        ],
        right=frozenset((0, 1)),
    )
    _left(page, len(rows) - len(shown))


def _files(page: Page, facts: dict[str, Any]) -> None:
    for name, lines in facts["diffs"].items():
        page.heading(f"{name}: what becomes otherwise")
        for line in lines[2 : 2 + 2 * MOST_SHOWN]:
            if not line.startswith("@@"):
                page.line(line, indent=2)
        _left(page, len(lines) - 2 - 2 * MOST_SHOWN)
    page.gap()
    if facts["looked"]:
        page.line(
            f"Nothing was written (--look); {words.listed(facts['changed_files']) or 'no file'} would change."
        )
    elif not facts["written"]:
        page.line("Nothing changed; nothing was written.")
    else:
        page.pairs((("written", ", ".join(facts["written"])), ("kept", ", ".join(facts["kept"]))))


def _some(page: Page, lines: list[str], tell_all: bool) -> None:
    shown = lines if tell_all else lines[:MOST_SHOWN]
    for line in shown:
        page.line(line, indent=2)
    _left(page, len(lines) - len(shown))


def _left(page: Page, number: int) -> None:
    if number > 0:
        page.line(f"and {number} more: --all", indent=2, style=QUIET)
