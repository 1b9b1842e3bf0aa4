"""What `trysquare stock` tells people: what waits, what is short, what serves instead, how far it goes."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from trysquare.cli import words
from trysquare.cli.page import QUIET, Page

MOST_SHOWN = 12


def tell(facts: dict[str, Any], *, tell_all: bool) -> None:
    """What waits, what is short, what serves instead, what is over, and how far it goes."""
    page = Page()
    page.title(facts["machine"], facts["folder"])
    if not facts["counted"]:
        page.gap()
        page.line("No packing list: put what came into boxes/*.csv, with the columns part and pieces.")
    most = 10**9 if tell_all else MOST_SHOWN
    _tell_waiting(page, facts, most)
    _tell_short(page, facts, most)
    _tell_instead(page, facts, most)
    _tell_used_up(page, facts)
    _tell_over(page, facts, most)
    _tell_remarks(page, facts, most)
    _tell_boxes(page, facts)
    _summary(page, facts)
    page.print()


def _tell_waiting(page: Page, facts: dict[str, Any], most: int) -> None:
    waiting = facts["waiting"]
    if not waiting:
        return
    page.heading("Names that wait: they count for nothing until they are confirmed", "bold yellow")
    page.table(
        ("", "in the box", "perhaps"),
        [
            (
                "?" if row["pieces"] is None else str(row["pieces"]),
                f"{row['name']} · {row['box']}",
                "; ".join(f"{one['part']} ({100 * one['confidence']:.0f} %)" for one in row["guesses"])
                or "–",
            )
            for row in waiting[:most]
        ],
        right=frozenset({0}),
    )
    _more(page, waiting, most)
    first = waiting[0]
    part = first["guesses"][0]["part"] if first["guesses"] else "PART"
    folder, named = words.quoted(facts["folder"]), words.quoted(f"{first['name']}={part}")
    page.line(
        f"trysquare stock {folder} --confirm {named} remembers it.",
        2,
        QUIET,
    )


def _tell_short(page: Page, facts: dict[str, Any], most: int) -> None:
    if not facts["short"]:
        return
    page.heading("Short", "bold red")
    packs = {line["part"]: line for line in facts["order"]}
    page.table(
        ("", "part", "first missed in", "order"),
        [
            (
                str(row["pieces"]),
                row["part"],
                row["first_step"],
                _packs(packs[row["part"]]) if row["part"] in packs else "",
            )
            for row in facts["short"][:most]
        ],
        right=frozenset({0}),
    )
    _more(page, facts["short"], most)


def _packs(line: dict[str, Any]) -> str:
    if line["cuts_mm"]:
        return words.length(sum(line["cuts_mm"]))
    if line["pack_size"] <= 1:
        return words.count(line["pieces"], "piece")
    return f"{words.count(line['packs'], 'pack')} of {line['pack_size']}, {line['pack_basis']}"


def _tell_instead(page: Page, facts: dict[str, Any], most: int) -> None:
    instead = [row for row in facts["from"] if row["compromise"]]
    if not instead:
        return
    page.heading("Serves instead, and what follows")
    groups = [
        list(rows)
        for _, rows in groupby(
            instead, key=lambda row: (row["asked"], row["part"], row["compromise"]["says"])
        )
    ]
    for rows in groups[:most]:
        first = rows[0]
        pieces = sum(row["pieces"] for row in rows)
        page.line(f"{pieces} × {first['part']} for {first['asked']}", indent=2, style="bold")
        steps = dict.fromkeys(step for row in rows for step in row["steps"])
        page.pairs(
            (
                ("box", words.listed(dict.fromkeys(row["box"] for row in rows))),
                ("step", words.listed(steps, 6)),
                ("where", words.listed((place for row in rows for place in row["places"]), 4)),
                ("then", first["compromise"]["says"]),
            ),
            indent=4,
        )
    _more(page, groups, most)


def _tell_used_up(page: Page, facts: dict[str, Any]) -> None:
    told = [one for one in facts["supplies"] if not one["box"] or one["points"]]
    if not told:
        return
    page.heading("Used up")
    page.table(
        ("", "", ""),
        [
            (
                one["supply"],
                f"{one['part']} · {one['box']}" if one["box"] else "in no box",
                one["says"] or f"step {words.listed(one['steps'], 4)}",
            )
            for one in told
        ],
    )


def _tell_over(page: Page, facts: dict[str, Any], most: int) -> None:
    if not facts["over"]:
        return
    over = sorted(facts["over"], key=lambda row: -row["pieces"])
    page.heading("Over")
    page.table(
        ("", "", ""),
        [
            (
                str(row["pieces"]),
                row["part"] + (f", rolls of {words.length(row['length_mm'])}" if row["length_mm"] else ""),
                row["box"],
            )
            for row in over[:most]
        ],
        right=frozenset({0}),
    )
    _more(page, over, most)


def _tell_remarks(page: Page, facts: dict[str, Any], most: int) -> None:
    if not facts["remarks"]:
        return
    page.heading("To be looked at", "bold yellow")
    for row in facts["remarks"][:most]:
        page.line(f"{row['name']} · {row['box']}", 2, "bold")
        page.line(row["says"], 4)
    _more(page, facts["remarks"], most)


def _tell_boxes(page: Page, facts: dict[str, Any]) -> None:
    if not facts["boxes"]:
        return
    page.heading("Boxes")
    opened = set(facts["allocation"]["boxes_opened"])
    page.table(
        ("", "", ""),
        [
            (
                str(row["pieces"]),
                row["box"],
                f"{row['waiting']} of {row['rows']} names wait"
                if row["waiting"]
                else ("" if row["box"] in opened else "need not be opened"),
            )
            for row in facts["boxes"]
        ],
        right=frozenset({0}),
    )


def _summary(page: Page, facts: dict[str, Any]) -> None:
    page.gap()
    allocation, reached = facts["allocation"], facts["reach"]
    machines = facts["machines"]
    if machines > 1:
        page.line(f"{reached['whole_machines']} of {machines} machines can be built whole.", style="bold")
    if reached["steps"] and machines == 1:
        if reached["next_step"]:
            lacks = [lack for lack in reached["lacks"] if lack["step"] == reached["next_step"]]
            missing = words.listed(
                (f"{lack['pieces']} × {lack['part']}" if lack["pieces"] else lack["part"] for lack in lacks),
                3,
            )
            done = f"up to {reached['last_step']}" if reached["last_step"] else "no step"
            page.line(
                f"You can build {done}, {reached['steps_whole']} of {words.count(reached['steps'], 'step')}; "
                f"{reached['next_step']} lacks {missing}.",
                style="bold",
            )
        else:
            page.line(f"You can build all {words.count(reached['steps'], 'step')}.", style="bold")
    page.line(
        f"{allocation['pieces_served']} of {words.count(allocation['pieces_wanted'], 'piece')} served out of "
        f"{words.count(len(allocation['boxes_opened']), 'box', 'boxes')}; {_proof(allocation)}",
        style="bold",
    )


def _proof(allocation: dict[str, Any]) -> str:
    if allocation["proven"]:
        return "no better way exists."
    gap = allocation["gap"]
    return (
        f"not proven the best: there may be {gap['pieces']} pieces more, {gap['points']} points of "
        f"compromise less or {gap['boxes']} boxes fewer."
    )


def _more(page: Page, rows: Any, most: int) -> None:
    if len(rows) > most:
        page.line(f"{len(rows) - most} more; --all tells them.", 2, QUIET)


def tell_balance(facts: dict[str, Any]) -> None:
    """How one size runs down, step by step."""
    (row,) = facts["balance"]
    page = Page()
    page.title(facts["machine"], facts["folder"])
    page.gap()
    page.line(f"{words.number(row['had'])} × {row['part']} in the boxes", style="bold")
    page.table(
        ("step", "takes", "left", ""),
        [
            (
                step["step"] or "in no step",
                words.number(step["takes"]),
                words.number(step["left"]),
                f"{words.number(step['instead_of_another'])} instead of another part"
                if step["instead_of_another"]
                else "",
            )
            for step in row["steps"]
        ],
        right=frozenset({1, 2}),
    )
    page.print()
