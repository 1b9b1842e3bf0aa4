"""`trysquare slots`: the slot ledger, every slot with what must be in it and until when."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, UNREADABLE, NotThere, print_json, tell_problems
from trysquare.cli.page import QUIET, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.sequence.slot_ledger import SlotRow


@click.command(
    "slots",
    cls=Taught,
    learns="Know what must lie in each slot, by which end it goes in, and which step shuts that end.",
    inputs=(
        FOLDER_INPUT,
        ("MEMBER", "a placed member, or a pattern with *; left out: all members"),
    ),
    examples=(
        "trysquare slots demo/reed-joints",
        "trysquare slots demo/reed-joints track/base --json",
    ),
    exits=((0, "told"), *COMMON_EXITS),
)
@folder_argument
@click.argument("member", metavar="[MEMBER]", required=False)
@json_option
def command(folder: str, papers: tuple[str, ...], member: str | None, as_json: bool) -> int:
    """Tells the slots of all members, or of those that are asked for."""
    from trysquare.cli.facts import read_machine
    from trysquare.ground.errors import ReadingErrors

    try:
        machine = read_machine(folder, papers)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    facts = {"folder": folder, **slot_facts(machine, member)}
    if as_json:
        print_json(facts)
    else:
        tell(facts)
    return CLEAN


def slot_facts(machine: Machine, member: str | None) -> dict[str, Any]:
    """The ledger as plain facts; raises NotThere when no member is meant."""
    from fnmatch import fnmatchcase

    from trysquare.ground.errors import nearest
    from trysquare.sequence.slot_ledger import slot_ledger

    members = [part.id for part in machine.placed if part.type.profile is not None]
    if member is not None:
        asked = [one for one in members if one == member or fnmatchcase(one, member)]
        asked = asked or [one for one in members if fnmatchcase(one.rpartition("/")[2], member)]
        if not asked:
            raise NotThere(
                f"No placed member is called '{words.one_line(member)}'. {nearest(member, members)}"
            )
        members = asked
    chosen = set(members)
    return {
        "machine": machine.name,
        "steps": len(machine.steps),
        "slots": [row_fact(row) for row in slot_ledger(machine) if row.member in chosen],
    }


def row_fact(row: SlotRow) -> dict[str, Any]:
    """One slot; places in it are measured from end a."""
    from trysquare.cli.facts import rounded

    return {
        "member": row.member,
        "slot": row.slot,
        "looks": row.looks,
        "length_mm": rounded(row.length_mm),
        "step": row.step,
        "ends": [
            {"end": end.name, "looks": end.looks, "closed_in": end.closed_in, "closed_by": end.closed_by}
            for end in row.ends
        ],
        "counts": dict(row.counts),
        "others": list(row.others),
        "pieces": [
            {
                "part": piece.part,
                "part_type": piece.part_type,
                "sort": piece.sort,
                "joint": piece.joint,
                "from_mm": rounded(piece.from_mm, 2),
                "at_mm": rounded(piece.at_mm, 2),
                "to_mm": rounded(piece.to_mm, 2),
                "step": piece.step,
                "ways": list(piece.ways),
                "closed_in": piece.closed_in,
                "closed_by": piece.closed_by,
            }
            for piece in row.pieces
        ],
    }


def tell(facts: dict[str, Any]) -> None:
    """Member by member: each slot's ends, then what lies in it from end a on."""
    page = Page()
    page.title(facts["machine"], facts["folder"])
    for member, of_member in groupby(facts["slots"], key=lambda row: row["member"]):
        rows = list(of_member)
        step = f", placed in {rows[0]['step']}" if rows[0]["step"] else ""
        page.heading(f"{member}, {words.length(rows[0]['length_mm'])}{step}")
        for row in rows:
            _tell_row(page, row, has_steps=bool(facts["steps"]))
    nuts = sum(piece["sort"] == "nut" for row in facts["slots"] for piece in row["pieces"])
    heads = sum(piece["sort"] == "head" for row in facts["slots"] for piece in row["pieces"])
    empty = sum(not row["pieces"] for row in facts["slots"])
    page.gap()
    page.line(
        f"{words.count(len(facts['slots']), 'slot')}, {empty} empty · {words.count(nuts, 'nut')}, "
        f"{words.count(heads, 'screw head')}",
        style="bold",
    )
    if not facts["steps"]:
        page.line("no steps: until when an end stays open is not known", style=QUIET)
    page.print()


def _tell_row(page: Page, row: dict[str, Any], *, has_steps: bool) -> None:
    counts = ", ".join(f"{pieces} × {name}" for name, pieces in row["counts"].items())
    looks = f" ({row['looks']})" if row["looks"] else ""
    page.line(f"{row['slot']}{looks}: {counts or 'empty'}", indent=2)
    page.pairs(
        (
            *((f"end {end['end']}", _end(end)) for end in row["ends"]),
            ("also in", words.listed(row["others"])),
        ),
        indent=4,
    )
    page.table(
        ("mm", "", "joint", "put in", "by end", "before"),
        [
            (
                words.number(piece["at_mm"]),
                piece["sort"],
                piece["joint"],
                piece["step"] or ("never" if has_steps else ""),
                " or ".join(piece["ways"]) or ("" if piece["sort"] == "set screw" else "none"),
                _before(piece),
            )
            for piece in row["pieces"]
        ],
        indent=4,
        right=frozenset({0}),
    )


def _end(end: dict[str, Any]) -> str:
    looks = f"looks {_to(end['looks'])}, " if end["looks"] else ""
    if not end["closed_by"]:
        return f"{looks}stays open"
    step = f" in step {end['closed_in']}" if end["closed_in"] else ""
    return f"{looks}closed by {end['closed_by']}{step}"


def _to(side: str) -> str:
    return {"top": "up", "bottom": "down"}.get(side, f"to the {side}")


def _before(piece: dict[str, Any]) -> str:
    if not piece["closed_by"]:
        return ""
    return f"{piece['closed_in']}, {piece['closed_by']}" if piece["closed_in"] else piece["closed_by"]
