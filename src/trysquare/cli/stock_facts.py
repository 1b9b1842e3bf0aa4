"""What the boxes hold against what the machine needs, as facts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from trysquare.cli.facts import read_machine, rounded, where_fact
from trysquare.ground.errors import ReadingError, ReadingErrors
from trysquare.machine.values import Machine
from trysquare.stock.allocation import Allocation, allocate
from trysquare.stock.boxes import FOLDER_NAME
from trysquare.stock.counting import Count, RowCount, read_count, scale_half_width_gram, type_of
from trysquare.stock.matching import is_part
from trysquare.stock.need import Need, need
from trysquare.stock.optimum import SECONDS
from trysquare.stock.reach_step import Reach, balance, reach
from trysquare.stock.shortage import OrderLine, order_lines, pack_sizes_of
from trysquare.stock.weighing import Weighed, mass_of_one, weighed


def load(folder: str, papers: Sequence[str], boxes: str | None) -> tuple[Machine, Need, Count]:
    """The machine, its need and the count of its boxes. Raises ReadingErrors with all problems."""
    machine = read_machine(folder, papers)
    whole = need(machine)
    problems: list[ReadingError] = []
    place = Path(boxes) if boxes is not None else Path(folder) / FOLDER_NAME
    if boxes is not None and not place.is_dir():
        raise ReadingErrors(
            [
                ReadingError(
                    where=str(boxes),
                    read="no folder",
                    expected="a folder with packing lists",
                    remedy="Give the folder that holds the CSV or XLSX files.",
                )
            ]
        )
    count = read_count(machine, whole, problems, place)
    if problems:
        raise ReadingErrors(problems)
    return machine, whole, count


def stock_facts(
    machine: Machine,
    whole: Need,
    count: Count,
    machines: int = 1,
    *,
    substitutes: bool = True,
    seconds: float = SECONDS,
) -> tuple[dict[str, Any], tuple[OrderLine, ...]]:
    """The whole answer, and the order list as values for those who write it to a file."""
    allocation = allocate(machine, whole, count.lots, machines, seconds=seconds, substitutes=substitutes)
    reached = reach(whole, allocation.demands, count.lots, allocation.supplies, machines)
    steps = [step.step for step in whole.picking.steps]
    packs = pack_sizes_of((part, row.row.pack_size) for row in count.rows for part in row.match.parts)
    order = order_lines(machine, allocation, steps, packs)
    return {
        "machine": machine.name,
        "machines": machines,
        "boxes": _boxes(count),
        "waiting": [_waiting(row) for row in count.waiting],
        "remarks": [
            {"name": row.row.name, "box": row.row.box, "says": says, "where": where_fact(row.row.where)}
            for row in count.rows
            for says in row.remarks
        ],
        "passed_over": list(count.boxes.passed_over),
        "counted": [_row(row) for row in count.rows],
        "allocation": _allocation(allocation),
        "from": _from(allocation, steps),
        "short": [
            {
                "part": short.part,
                "pieces": short.pieces,
                "served": short.served,
                "places": list(short.places),
                "cuts_mm": [rounded(cut, 1) for cut in short.cuts_mm],
                "first_step": _step(steps, short.step),
            }
            for short in allocation.short
        ],
        "supplies": [
            {
                "supply": one.supply,
                "part": one.part,
                "box": one.box,
                "steps": list(one.steps),
                "points": one.compromise.points,
                "says": one.compromise.says,
            }
            for one in allocation.supplies
        ],
        "over": [
            {"part": lot.part, "box": lot.box, "pieces": left, "length_mm": rounded(lot.length_mm) or None}
            for lot, left in zip(allocation.lots, allocation.left, strict=True)
            if left and not _is_supply(allocation, lot.part)
        ],
        "order": [_order(line) for line in order],
        "reach": _reach(reached, steps),
        "balance": _balance(allocation, steps),
    }, order


def _is_supply(allocation: Allocation, part: str) -> bool:
    return any(part in (one.part, one.supply) for one in allocation.supplies)


def _boxes(count: Count) -> list[dict[str, Any]]:
    rows: dict[str, list[RowCount]] = {}
    for row in count.rows:
        rows.setdefault(row.row.box, []).append(row)
    return [
        {
            "box": box,
            "rows": len(inside),
            "pieces": sum(row.pieces for row in inside if not row.waits),
            "waiting": sum(row.waits for row in inside),
        }
        for box, inside in rows.items()
    ]


def _row(row: RowCount) -> dict[str, Any]:
    return {
        "name": row.row.name,
        "box": row.row.box,
        "parts": list(row.match.parts),
        "how": row.match.how or "waits",
        "pieces": row.pieces,
        "length_mm": rounded(row.length_mm) or None,
        "grade": row.row.grade,
        "weighed": _weighed(row.weighed) if row.weighed is not None else None,
        "where": where_fact(row.row.where),
    }


def _waiting(row: RowCount) -> dict[str, Any]:
    return {
        "name": row.row.name,
        "box": row.row.box,
        "pieces": row.row.pieces,
        "where": where_fact(row.row.where),
        "guesses": [{"part": one.part, "confidence": one.confidence} for one in row.match.guesses],
    }


def _allocation(allocation: Allocation) -> dict[str, Any]:
    return {
        "pieces_wanted": allocation.wanted,
        "pieces_served": allocation.served,
        "points": allocation.points,
        "boxes_opened": list(allocation.boxes),
        "proven": allocation.proven,
        "gap": {
            "pieces": allocation.pieces_gap,
            "points": allocation.points_gap,
            "boxes": allocation.boxes_gap,
        },
    }


def _from(allocation: Allocation, steps: Sequence[str]) -> list[dict[str, Any]]:
    return [
        {
            "asked": one.asked,
            "part": one.part,
            "box": one.box,
            "pieces": one.pieces,
            # with many machines the same places come again for each: said once is enough
            "places": list(dict.fromkeys(one.places)),
            "steps": [name for name in dict.fromkeys(_step(steps, step) for step in one.steps) if name],
            "cuts_mm": [rounded(cut, 1) for cut in one.cuts_mm],
            "grade": one.grade,
            "compromise": {
                "points": one.compromise.points,
                "sort": one.compromise.sort,
                "says": one.compromise.says,
            }
            if one.compromise.points
            else None,
        }
        for one in allocation.allotments
    ]


def _step(steps: Sequence[str], number: int) -> str:
    return steps[number] if 0 <= number < len(steps) else ""


def _order(line: OrderLine) -> dict[str, Any]:
    return {
        "part": line.part,
        "name": line.name,
        "pieces": line.pieces,
        "packs": line.packs,
        "pack_size": line.pack_size,
        "pack_basis": line.pack_basis,
        "cuts_mm": [rounded(cut, 1) for cut in line.cuts_mm],
        "first_step": line.first_step,
    }


def _reach(reached: Reach, steps: Sequence[str]) -> dict[str, Any]:
    return {
        "steps": reached.steps,
        "steps_whole": reached.last + 1,
        "last_step": _step(steps, reached.last),
        "next_step": _step(steps, reached.last + 1),
        "whole_machines": reached.machines,
        "lacks": [
            {
                "step": _step(steps, lack.step),
                "part": lack.part,
                "pieces": lack.pieces,
                "places": list(lack.places),
            }
            for lack in reached.lacks
        ],
    }


def _balance(allocation: Allocation, steps: Sequence[str]) -> list[dict[str, Any]]:
    found = balance(
        [(one.asked, one.part, one.steps, one.cuts_mm) for one in allocation.allotments], allocation.lots
    )
    return [
        {
            "part": part,
            "had": rounded(had, 1),
            "steps": [
                {
                    "step": _step(steps, row.step),
                    "takes": rounded(row.takes, 1),
                    "instead_of_another": rounded(row.instead, 1),
                    "left": rounded(row.left, 1),
                }
                for row in rows
            ],
        }
        for part, (had, rows) in found.items()
    ]


def weighing_fact(
    machine: Machine, word: str, reading_gram: float, half_width_gram: float | None
) -> dict[str, Any] | None:
    """What a scale's reading says of a part; None when nobody knows the part. `pieces` is None where nobody
    knows what one weighs."""
    part = is_part(machine, word)
    part_type = type_of(machine, part) if part is not None else None
    if part is None or part_type is None:
        return None
    scale = scale_half_width_gram(machine) if half_width_gram is None else half_width_gram
    one = mass_of_one(part_type, machine.folder)
    fact: dict[str, Any] = {"part": part, "reading_gram": reading_gram, "scale_plus_minus_gram": scale}
    if one is None:
        return fact | {"one_gram": None}
    return fact | {
        "one_gram": rounded(one.gram, 3),
        "one_plus_minus_gram": rounded(one.half_width_gram, 3),
        "basis": one.basis,
        **_weighed(weighed(reading_gram, one, scale)),
    }


def _weighed(reading: Weighed) -> dict[str, Any]:
    return {
        "pieces": reading.pieces,
        "plus_minus": rounded(reading.plus_minus, 1),
        "from": reading.low,
        "to": reading.high,
        "agrees": reading.agrees,
        "decides": reading.decides,
        "tells_apart": reading.tells_apart,
        "decides_up_to": reading.decides_up_to,
    }


def confirmed_parts(
    machine: Machine, whole: Need, count: Count, said: Sequence[str]
) -> tuple[Mapping[str, tuple[str, ...]], list[str]]:
    """What "vendor name=part" texts confirm, and sentences on those that cannot be taken.

    A text without "=" takes the first guess, or what the name is taken for already; "name=" says that it is
    no part of this machine; several parts stand with " + " between.
    """
    words = {line.name.casefold(): line.name for line in whole.supplies}
    guessed = {
        row.row.name.casefold(): row.match.parts or tuple(one.part for one in row.match.guesses[:1])
        for row in count.rows
    }
    found: dict[str, tuple[str, ...]] = {}
    refused: list[str] = []
    for text in said:
        name, equals, right = (piece.strip() for piece in text.rpartition("="))
        if not equals:
            name, meant = right, guessed.get(right.casefold(), ())
            if not meant:
                refused.append(f"'{right}': there is no guess to confirm. Write \"{right}=part\".")
            else:
                found[name] = meant
            continue
        parts: list[str] = []
        for word in filter(None, (piece.strip() for piece in right.split(" + "))):
            part = words.get(word.casefold()) or is_part(machine, word)
            if part is None:
                refused.append(f"'{word}' is no part of this machine and no standard part.")
            else:
                parts.append(part)
        if not name:
            refused.append(f"'{text}': the vendor's name is missing before '='.")
        found[name] = tuple(parts)
    return found, refused
