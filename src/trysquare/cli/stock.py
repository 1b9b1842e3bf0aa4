"""`trysquare stock`: what the boxes hold against what the machine needs."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, FOUND, UNREADABLE, NotThere, print_json, talk, tell_problems
from trysquare.cli.page import QUIET, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

MOST_SHOWN = 12


@click.command(
    "stock",
    cls=Taught,
    learns="Know what is short, what may serve instead and at what price, and how far you can build.",
    inputs=(
        FOLDER_INPUT,
        (
            "boxes/*.csv, *.xlsx",
            (
                "packing lists: columns for a name and for pieces (or packs and pack size, or weighed in "
                "grams); if wanted box, length, grade, mass"
            ),
        ),
        ("names.toml", "which part a vendor's name means; --confirm writes it"),
    ),
    examples=(
        "trysquare stock demo/larch",
        'trysquare stock demo/larch --balance "ISO 4762 M3x8"',
        'trysquare stock demo/reed --weigh "camera-plate=70" --json',
        "trysquare stock demo/larch --machines 30 --boxes demo/larch/boxes",
    ),
    exits=((0, "nothing is short, no name waits"), (1, "something is short or waits"), *COMMON_EXITS),
)
@folder_argument
@click.option("--boxes", metavar="FOLDER", help="Packing lists from elsewhere.  [default: FOLDER/boxes]")
@click.option(
    "--machines",
    metavar="NUMBER",
    type=click.IntRange(1, 1000),
    default=1,
    help="So many machines share the boxes.  [default: 1]",
)
@click.option(
    "--confirm",
    "confirms",
    metavar="NAME=PART",
    multiple=True,
    help="Remember what a vendor's name means; NAME alone takes the first guess, NAME= says it is no part "
    "of this machine; may be given several times.  [default: nothing]",
)
@click.option(
    "--order",
    metavar="FILE",
    help="Write what is short as an order list, .csv or .xlsx.  [default: not written]",
)
@click.option(
    "--balance",
    metavar="PART",
    help="How one size runs down, step by step.  [default: all sizes, only in --json]",
)
@click.option(
    "--weigh",
    metavar="PART=GRAMS",
    help="How many pieces a scale's reading means.  [default: nothing weighed]",
)
@click.option(
    "--scale",
    "scale_gram",
    metavar="GRAMS",
    type=click.FloatRange(0),
    help="The scale's limits, plus and minus.  [default: the machine's scale, else 2 g]",
)
@click.option("--only-asked", is_flag=True, help="No substitutes.  [default: substitutes where permitted]")
@click.option("--all", "tell_all", is_flag=True, help=f"Long lists whole.  [default: the first {MOST_SHOWN}]")
@json_option
def command(
    folder: str,
    papers: tuple[str, ...],
    boxes: str | None,
    machines: int,
    confirms: tuple[str, ...],
    order: str | None,
    balance: str | None,
    weigh: str | None,
    scale_gram: float | None,
    only_asked: bool,
    tell_all: bool,
    as_json: bool,
) -> int:
    """Counts, allots, and says what to order."""
    from trysquare.cli.stock_facts import load, stock_facts
    from trysquare.ground.errors import ReadingErrors

    if order is not None and Path(order).suffix.casefold() not in (".csv", ".xlsx"):
        raise click.UsageError("--order writes .csv or .xlsx.", click.get_current_context())
    try:
        machine, whole, count = load(folder, papers, boxes)
        if confirms:
            _remember(folder, machine, whole, count, confirms)
            machine, whole, count = load(folder, papers, boxes)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    if weigh is not None:
        return _weigh(folder, machine, weigh, scale_gram, as_json=as_json)
    facts, lines = stock_facts(machine, whole, count, machines, substitutes=not only_asked)
    facts = {"folder": folder, **facts}
    if order is not None:
        _write_order(Path(order), lines)
    if balance is not None:
        facts["balance"] = [_balance_of(facts, balance)]
    if as_json:
        print_json(facts)
    elif balance is not None:
        _tell_balance(facts)
    else:
        tell(facts, tell_all=tell_all)
    short = facts["short"] or any(not one["box"] for one in facts["supplies"])
    return FOUND if short or facts["waiting"] else CLEAN


def _remember(folder: str, machine: Any, whole: Any, count: Any, confirms: tuple[str, ...]) -> None:
    """Writes what was confirmed into names.toml, whole or not at all."""
    from trysquare.cli.stock_facts import confirmed_parts
    from trysquare.stock.remembered import FILE_NAME, with_names

    found, refused = confirmed_parts(machine, whole, count, confirms)
    if refused:
        raise NotThere(" ".join(words.one_line(text) for text in refused) + " Nothing was written.")
    file = Path(folder) / FILE_NAME
    text = file.read_text(encoding="utf-8") if file.is_file() else ""
    written = file.with_name(f"{FILE_NAME}.new")
    written.write_text(with_names(text, found), encoding="utf-8")
    written.replace(file)
    for name, parts in found.items():
        talk(f"{file}: '{words.one_line(name)}' is {words.listed(parts) or 'no part of this machine'}.")


def _write_order(file: Path, lines: Any) -> None:
    from trysquare.stock.shortage import order_csv, order_xlsx

    if file.suffix.casefold() == ".xlsx":
        file.write_bytes(order_xlsx(lines))
    else:
        file.write_text(order_csv(lines), encoding="utf-8-sig", newline="")
    talk(f"{file}: {words.count(len(lines), 'line')} to order.")


# --- weighing


def _weigh(folder: str, machine: Any, said: str, scale_gram: float | None, *, as_json: bool) -> int:
    from trysquare.cli.stock_facts import weighing_fact

    part, equals, gram = said.rpartition("=")
    try:
        reading = float(gram.strip().removesuffix("g").replace(",", "."))
    except ValueError:
        reading = 0.0
    if not equals or not 0 < reading < 1e6:
        raise click.UsageError(
            'Write the part and the reading in grams: --weigh "ISO 4762 M3x8=70".',
            click.get_current_context(),
        )
    fact = weighing_fact(machine, part.strip(), reading, scale_gram)
    if fact is None:
        raise NotThere(f"'{words.one_line(part)}' is no part of this machine and no standard part.")
    if as_json:
        print_json({"folder": folder, "machine": machine.name, "weighing": fact})
        return CLEAN if fact.get("decides") else FOUND
    page = Page()
    page.title(machine.name, folder)
    page.gap()
    if fact["one_gram"] is None:
        page.line(f"Nobody knows what one {fact['part']} weighs: count them, or add mass_gram to the part.")
        page.print()
        return FOUND
    page.line(_weighed_words(fact), style="bold")
    page.pairs(
        (
            ("one", f"{fact['one_gram']:g} g ± {fact['one_plus_minus_gram']:g} g ({fact['basis']})"),
            ("scale", f"± {fact['scale_plus_minus_gram']:g} g"),
            ("tells", f"two heaps apart from {words.count(fact['tells_apart'], 'piece')} of difference on"),
            ("counts", f"singly up to {fact['decides_up_to']}" if fact["decides_up_to"] else "never singly"),
        )
    )
    page.print()
    return CLEAN if fact["decides"] else FOUND


def _weighed_words(fact: dict[str, Any]) -> str:
    head = f"{words.number(fact['reading_gram'])} g of {fact['part']}: "
    if not fact["agrees"]:
        return head + "no whole number of pieces. Another part, or something else lay on the scale."
    if fact["decides"]:
        return head + words.count(fact["pieces"], "piece")
    return (
        head + f"some {fact['pieces']}, from {fact['from']} to {fact['to']}. It does not decide: count them."
    )


# --- the whole answer


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
    page.line(f'trysquare stock {facts["folder"]} --confirm "{first["name"]}={part}" remembers it.', 2, QUIET)


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
                ("" if row["box"] in opened else "need not be opened")
                + (f"{row['waiting']} of {row['rows']} names wait" if row["waiting"] else ""),
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


# --- running balance


def _balance_of(facts: dict[str, Any], asked: str) -> dict[str, Any]:
    from trysquare.catalogue.designation import tidy
    from trysquare.ground.errors import nearest

    by_name: dict[str, dict[str, Any]] = {tidy(row["part"]): row for row in facts["balance"]}
    row = by_name.get(tidy(asked))
    if row is None:
        known = [row["part"] for row in facts["balance"]]
        raise NotThere(f"No box holds '{words.one_line(asked)}'. {nearest(asked, known)}")
    return row


def _tell_balance(facts: dict[str, Any]) -> None:
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
