"""What the build log says of the need, as facts and as a page: counted, used, lost, served by another."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from trysquare.cli import words
from trysquare.cli.facts import read_machine
from trysquare.cli.log_care import log_file, opened_log
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.publish.sorts import labelled_sorts
from trysquare.record.replay_stock import Holding, StockNow, stock_now
from trysquare.stock.asking import asked_of, part_of
from trysquare.stock.boxes import FOLDER_NAME as BOXES
from trysquare.stock.boxes import box_files
from trysquare.stock.counting import read_count
from trysquare.stock.holdings import Asked
from trysquare.stock.letters import read_letters
from trysquare.stock.lots import StockLot
from trysquare.stock.need import need


def log_facts(folder: str, papers: Sequence[str]) -> dict[str, Any] | None:
    """What lies there by boxes and log together; None without a log. Raises ReadingErrors, ReadingError."""
    if not log_file(folder).is_file():
        return None
    machine = read_machine(folder, papers)
    whole = need(machine)
    problems: list[ReadingError] = []
    listed = bool(box_files(Path(folder) / BOXES))
    lots: Sequence[StockLot] = read_count(machine, whole, problems).lots if listed else ()
    sorts = labelled_sorts(machine, read_letters(Path(folder), problems), whole=whole)
    if problems:
        raise ReadingErrors(problems)
    of = {part: sort.part for sort in sorts for part in (sort.part, *sort.parts, *sort.also_called)}

    def sort_of(ref: str) -> str:
        part = of.get(ref) or part_of(machine, whole, ref)
        return of.get(part, part)

    asked = asked_of(machine, whole, lots)
    with opened_log(folder, machine.name) as log:
        state = log.state()
    found = stock_now(asked, state, sort_of, listed=listed)
    return {
        "entries": state.seq,
        "packing_lists": listed,
        "steps_reached": found.last + 1 if listed else None,
        "steps": len(asked.steps),
        "sorts": [{"part": part, **_holding(held)} for part, held in found.sorts.items()],
        "goes_without": _lacks(asked, found),
        "picked_instead": [
            {
                "step": (*asked.steps, "")[min(one.step, len(asked.steps))],
                "part": one.sort,
                "by": one.by,
                "box": one.box,
                "pieces": one.pieces,
            }
            for one in found.instead
        ],
    }


def _holding(held: Holding) -> dict[str, Any]:
    return {
        "asked": held.asked,
        "used": held.used,
        "needed": held.needed,
        "here": held.here,
        "counted": held.counted,
        "lost": held.lost,
        "served_by": dict(held.others),
        "serves_for": dict(held.lent),
        "short": held.short,
        "spare": held.spare,
    }


def _lacks(asked: Asked, found: StockNow) -> list[dict[str, Any]]:
    steps = (*asked.steps, "")
    return [
        {"step": steps[min(lack.step, len(asked.steps))], "part": lack.part, "pieces": lack.pieces}
        for lack in found.lacks
    ]


def tell_log(page: Page, facts: dict[str, Any]) -> None:
    """The sorts of which the log says something, and those that are short or served by another."""
    page.heading("What lies there, by boxes and build log" if facts["packing_lists"] else "By the build log")
    told = [row for row in facts["sorts"] if any(row[name] for name in ("counted", "used", "lost", "short"))
            or row["served_by"]]  # fmt: skip
    if not told:
        page.line("Nothing was counted, used or lost yet.", style=QUIET)
    page.table(
        ("", "asked", "used", "to come", "there", ""),
        [
            (row["part"], str(row["asked"]), str(row["used"] or ""), str(row["needed"]),
             str(row["here"]) if facts["packing_lists"] or row["counted"] else "", _balance(row))
            for row in told
        ],
        right=frozenset({1, 2, 3, 4}),
    )  # fmt: skip
    if facts["picked_instead"]:
        page.heading("Picked instead, step by step")
        page.table(
            ("step", "for", "pick", "out of"),
            [
                (row["step"] or "none", row["part"], f"{row['pieces']} × {row['by']}", row["box"])
                for row in facts["picked_instead"]
            ],
        )
    short = sum(bool(row["short"]) for row in facts["sorts"])
    page.gap()
    if short:
        page.line(f"{words.count(short, 'sort')} short", style=STRONG)
    elif facts["packing_lists"]:
        page.line(f"Enough for {words.count(facts['steps'], 'step')}", style=STRONG)
    page.line("--no-log leaves the build log out.", style=QUIET)


def _balance(row: dict[str, Any]) -> str:
    found = []
    if row["short"]:
        found.append(f"{row['short']} short")
    if row["served_by"]:
        found.append(f"served by {words.listed(f'{n} {part}' for part, n in row['served_by'].items())}")
    if row["lost"]:
        found.append(f"{row['lost']} lost")
    if row["counted"]:
        found.append("counted")
    return ", ".join(found)
