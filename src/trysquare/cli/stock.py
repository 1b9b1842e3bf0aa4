"""`trysquare stock`: what the boxes hold against what the machine needs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, FOUND, UNREADABLE, NotThere, print_json, talk, tell_problems
from trysquare.cli.page import Page
from trysquare.cli.stock_tell import MOST_SHOWN, tell, tell_balance
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option


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
        "trysquare stock demo/larch --machines 30",
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
    if order is not None:
        _look_at_order(Path(order))
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
        tell_balance(facts)
    else:
        tell(facts, tell_all=tell_all)
    short = facts["short"] or any(not one["box"] for one in facts["supplies"])
    return FOUND if short or facts["waiting"] else CLEAN


def _remember(folder: str, machine: Any, whole: Any, count: Any, confirms: tuple[str, ...]) -> None:
    """Writes what was confirmed into names.toml, whole or not at all."""
    from trysquare.cli.files_out import write
    from trysquare.cli.stock_facts import confirmed_parts
    from trysquare.stock.remembered import FILE_NAME, with_names

    found, refused = confirmed_parts(machine, whole, count, confirms)
    if refused:
        raise NotThere(" ".join(words.one_line(text) for text in refused) + " Nothing was written.")
    file = Path(folder) / FILE_NAME
    text = file.read_text(encoding="utf-8") if file.is_file() else ""
    write(file, with_names(text, found).encode("utf-8"))
    for name, parts in found.items():
        talk(f"{file}: '{words.one_line(name)}' is {words.listed(parts) or 'no part of this machine'}.")


def _look_at_order(file: Path) -> None:
    """Whether the order list can be written there, over nothing but an order list: before the work."""
    from trysquare.cli.files_out import look_at
    from trysquare.stock.shortage import order_csv

    if file.suffix.casefold() == ".xlsx":
        look_at(file, b"PK", "workbook")
    else:
        look_at(file, order_csv(()).encode("utf-8-sig"), "order list")


def _write_order(file: Path, lines: Any) -> None:
    from trysquare.cli.files_out import write
    from trysquare.stock.shortage import order_csv, order_xlsx

    is_workbook = file.suffix.casefold() == ".xlsx"
    write(file, order_xlsx(lines) if is_workbook else order_csv(lines).encode("utf-8-sig"))
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
