"""`trysquare need`: every part, how many, and which joint asks for it."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import Any

import click

from trysquare.cli import cache, words
from trysquare.cli.answers import CLEAN, FOUND, UNREADABLE, NotThere, print_json, tell_problems
from trysquare.cli.page import QUIET, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

KIND_TITLES = {
    "member": "Members",
    "plate": "Plates",
    "printed": "Printed parts",
    "bought": "Bought parts",
    "fastener": "Fasteners",
    "guide": "Rails and blocks",
    "drive": "Belts, pulleys, lead screws",
    "wire": "Wires",
    "consumable": "Consumables",
    "jig": "Jigs",
}

TABLES = {".csv": (b"\xef\xbb\xbfpart,name,kind,", "table of ours"), ".xlsx": (b"PK\x03\x04", "workbook")}
"""How our tables begin, so that nothing else is written over, and what they are called."""


@click.command(
    "need",
    cls=Taught,
    learns="Know every part the machine needs, how many, and which joint, step and paper asks for it.",
    inputs=(
        FOLDER_INPUT,
        ("", "A build log (log.sqlite) says what was counted, used and lost; --no-log leaves it out."),
    ),
    examples=(
        "trysquare need demo/larch --steps",
        'trysquare need demo/larch --why "ISO 7380-1 M5x8"',
        "trysquare need demo/reed --json",
        "trysquare need demo/larch --out build/need.xlsx",
    ),
    exits=((0, "listed"), (1, "nothing in the machine asks for the part of --why"), *COMMON_EXITS),
)
@folder_argument
@click.option(
    "--step", metavar="ID", help="What this one step picks up, with tools.  [default: the whole machine]"
)
@click.option(
    "--steps", "each_step", is_flag=True, help="A pick list for each step.  [default: the whole machine]"
)
@click.option(
    "--why",
    metavar="PART",
    help="Who asks for a part: a designation, an own id or another paper's name.  [default: no part]",
)
@click.option(
    "--no-log",
    is_flag=True,
    help="Leave out what the build log says was counted, used, lost or replaced.  [default: it is told]",
)
@click.option(
    "--out", metavar="FILE",
    help="Write the whole need as a table too: a name ending in .csv or .xlsx.  [default: no file]",
)  # fmt: skip
@json_option
@click.option(
    "--no-cache", is_flag=True, help="Count anew, keep nothing.  [default: kept in .trysquare-cache]"
)
def command(
    folder: str,
    papers: tuple[str, ...],
    step: str | None,
    each_step: bool,
    why: str | None,
    out: str | None,
    no_log: bool,
    as_json: bool,
    no_cache: bool,
) -> int:
    """Lists the whole need, the steps' pick lists, or one part's reasons."""
    from trysquare.cli.answers import unreadable
    from trysquare.cli.log_care import log_file
    from trysquare.ground.errors import ReadingError, ReadingErrors

    if sum((step is not None, each_step, why is not None)) > 1:
        raise click.UsageError("Ask for one of --step, --steps and --why.", click.get_current_context())
    _look(out)

    def compute() -> dict[str, Any]:
        from trysquare.cli.need_facts import need_facts

        return need_facts(folder, papers)

    paper_files = [Path(paper) for paper in papers]
    try:
        facts = cache.answer("need", Path(folder), paper_files, compute, use=not no_cache)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    head: dict[str, Any] = {"folder": folder, "machine": facts["machine"]}
    head |= _write_table(facts, out)
    if why is not None:
        return _answer_why(head, facts, why, as_json=as_json)
    if step is not None or each_step:
        chosen = facts["steps"] if step is None else [_step_of(facts, step)]
        answer = {**head, "steps": chosen}
        if step is None:
            answer |= {"in_no_step": facts["in_no_step"], "placed_twice": facts["placed_twice"]}
    else:
        try:
            log = None if no_log or not log_file(folder).is_file() else _log_facts(folder, papers)
        except ReadingErrors as errors:
            tell_problems(errors, folder, as_json=as_json)
            return UNREADABLE
        except ReadingError as problem:
            return unreadable(problem, folder, as_json=as_json)
        answer = {**head, **facts, "log": log}
    if as_json:
        print_json(answer)
    else:
        _tell(answer, len(facts["lines"]))
    return CLEAN


def _tell(answer: dict[str, Any], rows: int) -> None:
    page = Page()
    page.title(answer["machine"], answer["folder"])
    if "lines" in answer:
        _tell_whole(page, answer)
    else:
        _tell_steps(page, answer)
    if "out" in answer:
        page.gap()
        page.line(f"{answer['out']}: {words.count(rows, 'row')}", style="bold")
    page.print()


def _look(out: str | None) -> None:
    """Whether the table can be written, before the work."""
    from trysquare.cli.files_out import look_at

    if out is None:
        return
    ending = Path(out).suffix.lower()
    if ending not in TABLES:
        raise click.UsageError("--out names a file that ends in .csv or .xlsx.", click.get_current_context())
    look_at(Path(out), *TABLES[ending])


def _write_table(facts: dict[str, Any], out: str | None) -> dict[str, str]:
    """Writes the table, if one is wanted, and says where it is."""
    from trysquare.cli.files_out import write
    from trysquare.publish.need_table import csv_bytes, need_rows, xlsx_bytes

    if out is None:
        return {}
    rows = need_rows(facts["lines"])
    is_csv = Path(out).suffix.lower() == ".csv"
    write(Path(out), csv_bytes(rows) if is_csv else xlsx_bytes(rows, f"{facts['machine']}: need"))
    return {"out": out}


def _log_facts(folder: str, papers: tuple[str, ...]) -> dict[str, Any] | None:
    from trysquare.cli.need_log import log_facts

    return log_facts(folder, papers)


def _step_of(facts: dict[str, Any], step: str) -> dict[str, Any]:
    from trysquare.ground.errors import nearest

    steps: dict[str, dict[str, Any]] = {row["step"]: row for row in facts["steps"]}
    if step not in steps:
        raise NotThere(f"There is no step '{words.one_line(step)}'. {nearest(step, steps)}")
    return steps[step]


# --- the whole need


def _tell_whole(page: Page, facts: dict[str, Any]) -> None:
    for kind, rows in groupby(facts["lines"], key=lambda line: line["kind"]):
        page.heading(KIND_TITLES[kind])
        page.table(
            ("", "", ""),
            [(str(line["pieces"]), _part_cell(line), _units_cell(line)) for line in rows],
            right=frozenset({0}),
        )
    if facts["tools"]:
        page.heading("Tools, not parts")
        page.table(("", ""), [(tool["tool"], _served(tool)) for tool in facts["tools"]])
    if facts["supplies"]:
        page.heading("Used up")
        page.table(
            ("", ""),
            [(supply["supply"] + _listed_mm(supply), _served(supply)) for supply in facts["supplies"]],
        )
    _tell_left(page, facts)
    if facts["log"]:
        from trysquare.cli.need_log import tell_log

        tell_log(page, facts["log"])
    page.gap()
    sorts = words.count(len(facts["lines"]), "sort")
    page.line(f"{words.count(facts['pieces'], 'piece')} of {sorts}", style="bold")
    if facts["lines"]:
        folder, last = words.quoted(facts["folder"]), facts["lines"][-1]["part"]
        page.line(f"trysquare need {folder} --why {words.quoted(last)} says who asks for it.", style=QUIET)


def _part_cell(line: dict[str, Any]) -> str:
    """The part's id, what people call it, how long, and under which other names it goes."""
    text = str(line["part"])
    plain = text.replace("-", " ").casefold()
    if line["name"] != line["part"] and line["name"].casefold() != plain:
        text += f" ({line['name']})"
    if line["cuts_mm"]:
        cuts = ", ".join(f"{words.number(cut)}" for cut in line["cuts_mm"])
        text += f": {cuts} mm"
        if len(line["cuts_mm"]) > 1:
            text += f", together {words.length(sum(line['cuts_mm']))}"
    elif line.get("each_mm"):
        text += f": {line['profile']}, {words.length(line['each_mm'])}"
    else:
        text += _listed_mm(line)
    if line.get("also_called"):
        text += f", also called {words.listed(line['also_called'])}"
    return text


def _listed_mm(row: dict[str, Any]) -> str:
    """How long the list says that pieces are, behind a colon; "" where it says nothing."""
    rows = row.get("listed_mm") or ()
    said = [
        (f"{one['pieces']} of " if one["pieces"] > 1 or len(rows) > 1 else "")
        + words.length(one["length_mm"])
        for one in rows
    ]
    return f": {words.listed(said)}" if said else ""


def _units_cell(line: dict[str, Any]) -> str:
    by_unit = line["pieces_by_unit"]
    text = ", ".join(f"{unit or 'list'} {pieces}" for unit, pieces in by_unit.items())
    if line["papers"]:
        text += f" · {words.listed(line['papers'])}"
    if line["pieces_listed"] is not None and line["pieces_listed"] != line["pieces"]:
        text += f" · list has {line['pieces_listed']}"
    return text


def _served(row: dict[str, Any]) -> str:
    return "; ".join(
        text
        for text in (
            f"steps {words.listed(row['steps'], 8)}" if row["steps"] else "",
            f"joints {words.listed(row['joints'], 6)}" if row["joints"] else "",
        )
        if text
    )


def _tell_left(page: Page, facts: dict[str, Any]) -> None:
    if facts["in_no_step"]:
        page.heading("In no step")
        page.table(
            ("", "", ""),
            [(str(row["pieces"]), row["part"], row["asked_by"]) for row in facts["in_no_step"]],
            right=frozenset({0}),
        )
    if facts["placed_twice"]:
        page.heading("Placed twice")
        page.table(
            ("", ""),
            [
                (row["part"], f"in step {row['first_step']} and again in step {row['again_step']}")
                for row in facts["placed_twice"]
            ],
        )


# --- pick lists


def _tell_steps(page: Page, facts: dict[str, Any]) -> None:
    if not facts["steps"]:
        page.gap()
        page.line("There are no steps yet, so there are no pick lists.")
    for step in facts["steps"]:
        page.heading(f"{step['step']} · {step['title']}")
        page.line(f"unit {step['unit']}" + (f" · {step['paper']}" if step["paper"] else ""), 2, QUIET)
        page.table(
            ("", "", ""),
            [
                (str(line["pieces"]), _part_cell(line), words.listed(line["asked_by"], 4))
                for line in step["lines"]
            ],
            right=frozenset({0}),
        )
        page.pairs(
            (
                *(("into", _slot(nuts)) for nuts in step["slot_nuts"]),
                ("tools", words.listed(step["tools"])),
                ("use", words.listed(step["supplies"])),
            )
        )
        if not (step["lines"] or step["tools"] or step["supplies"]):
            page.line("nothing to pick up", 2, QUIET)
    if "in_no_step" in facts:
        _tell_left(page, facts)


def _slot(nuts: dict[str, Any]) -> str:
    places = ", ".join(words.number(at) for at in nuts["from_end_a_mm"])
    return (
        f"slot {nuts['face']} of {nuts['member']}: {nuts['pieces']} × {nuts['nut']} at {places} mm "
        f"from end a; end {nuts['nearer_end']} is nearer"
    )


# --- who asks for a part


def _answer_why(head: dict[str, Any], facts: dict[str, Any], asked: str, *, as_json: bool) -> int:
    line = _line_of(facts, asked)
    if as_json:
        print_json({**head, "asked": asked, "line": line})
        return CLEAN if line else FOUND
    page = Page()
    page.title(facts["machine"], str(head["folder"]))
    page.gap()
    if line is None:
        page.line(f"Nothing in this machine asks for {asked}.")
        page.print()
        return FOUND
    page.line(f"{line['pieces']} × {_part_cell(line)}", style="bold")
    for reason in line["asked_by"]:
        page.gap()
        page.line(f"{reason['pieces']} for {reason['by']}", indent=2)
        page.pairs(
            (
                ("unit", reason["unit"]),
                ("step", words.listed(reason["steps"]) or ("in no step" if facts["steps"] else "")),
                ("paper", reason["paper"]),
                ("cut", ", ".join(words.length(cut) for cut in reason["cuts_mm"])),
            ),
            indent=4,
        )
        places = [
            (place, words.point(at))
            for place, at in zip(reason["places"], reason["places_at_mm"], strict=False)
            if at is not None
        ]
        page.gap()
        page.table(("place", "at x, y, z"), places, indent=4)
    page.print()
    return CLEAN


def _line_of(facts: dict[str, Any], asked: str) -> dict[str, Any] | None:
    """The line of a part by own id, other name or designation; None when it is known but not needed.

    Raises NotThere for a word that neither the machine nor the catalogue knows.
    """
    from trysquare.catalogue.designation import tidy
    from trysquare.catalogue.lookup import UnknownDesignation, lookup
    from trysquare.ground.errors import nearest

    wanted = tidy(asked)
    lines: list[dict[str, Any]] = facts["lines"]
    by_name = {tidy(name): line for line in lines for name in (line["name"], *line["also_called"])}
    by_name |= {tidy(line["part"]): line for line in lines}  # an own id goes before another's name
    if wanted in by_name:
        return by_name[wanted]
    try:
        standard = lookup(asked).designation
    except UnknownDesignation as error:
        known = [name for line in lines for name in (line["part"], *line["also_called"])]
        close = nearest(asked, known)
        remedy = close if close.startswith("Did") or not error.remedy else error.remedy
        raise NotThere(
            f"'{words.one_line(asked)}' is no part of this machine and no standard part. {remedy}"
        ) from error
    return next((line for line in lines if line["part"] == standard), None)
