"""`trysquare labels`: labels, the sheet to lay screws on, and the sorting sheet, as PDF."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, print_json, talk, unreadable
from trysquare.cli.files_out import look_at, write
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.publish.typst_page import Pages

LABELS, FASTENERS, SORTING = "labels", "fasteners", "sorting"
KINDS = ("member", "plate", "printed", "bought", "fastener", "guide", "drive", "wire")
PAGE_SIZES = ("a4", "letter")
SCHEME = "trysquare:"
FONT_WORDS = {
    "the computer's": "Our fonts lack some of the signs in your names: this computer's stand in for them, "
    "and another computer may set them otherwise.",
    "lacking": "No font here has some of the signs in your names; an empty box stands for each. Install "
    "a font of that script and print again.",
}


@click.command(
    "labels",
    cls=Taught,
    learns="Print labels for every part, a sheet to lay screws on, and the sheet that tells parts apart.",
    inputs=(
        FOLDER_INPUT,
        ("--sheet", "a sheet of labels by its name: paper, columns and rows, such as a4-3x8 or letter-3x10"),
    ),
    examples=(
        "trysquare labels demo/larch --out build/labels.pdf",
        "trysquare labels demo/larch --kind member --each --skip 5 --out build/members.pdf",
        "trysquare labels demo/larch --what fasteners --out build/screws.pdf",
        "trysquare labels demo/larch --what sorting --out build/sorting.pdf",
    ),
    exits=((0, "the PDF is written"), *COMMON_EXITS),
)
@folder_argument
@click.option(
    "--out", metavar="FILE", required=True, help="Where the PDF goes.  [default: none, it has to be said]"
)
@click.option(
    "--what",
    type=click.Choice((LABELS, FASTENERS, SORTING)),
    default=LABELS,
    help="Labels, all fasteners true to size, or the sorting sheet.  [default: labels]",
)
@click.option("--sheet", metavar="NAME", help="The sheet of labels.  [default: a plain sheet to cut]")
@click.option(
    "--page-size",
    type=click.Choice(PAGE_SIZES),
    help="What it is printed on.  [default: that of the sheet, else a4]",
)
@click.option(
    "--each",
    is_flag=True,
    help="A label for each piece, with its place; fasteners and wires stay together.  "
    "[default: one for each sort]",
)
@click.option(
    "--skip",
    type=click.IntRange(min=0),
    default=0,
    metavar="N",
    help="So many labels of the first sheet are used already.  [default: 0]",
)
@click.option(
    "--kind",
    "kinds",
    type=click.Choice(KINDS),
    multiple=True,
    help="Only parts of this kind; may be given several times.  [default: all]",
)
@click.option(
    "--base",
    metavar="ADDRESS",
    help=f"The bench's address, for the codes on labels; machine and part follow.  [default: {SCHEME}]",
)
@json_option
def command(
    folder: str,
    papers: tuple[str, ...],
    out: str,
    what: str,
    sheet: str | None,
    page_size: str | None,
    each: bool,
    skip: int,
    kinds: tuple[str, ...],
    base: str | None,
    as_json: bool,
) -> int:
    """Sets the pages and writes the file."""
    from trysquare.ground.errors import ReadingError, ReadingErrors

    if what != LABELS and (sheet or each or skip or base):
        raise click.UsageError("--sheet, --each, --skip and --base are for --what labels.")
    if what == FASTENERS and kinds:
        raise click.UsageError("--kind is for labels and for the sorting sheet.")
    look_at(Path(out), b"%PDF-", "PDF", ".pdf")
    try:
        pages, facts = _pages(folder, papers, what, sheet, page_size, each, skip, kinds, base)
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, folder, as_json=as_json)
    write(Path(out), pages.pdf)
    if pages.fonts != "ours":
        talk(FONT_WORDS[str(pages.fonts)])
    facts = {
        "folder": folder, "out": out, "what": what, "pages": pages.count, "fonts": str(pages.fonts), **facts
    }  # fmt: skip
    if as_json:
        print_json(facts)
    else:
        _tell(facts)
    return CLEAN


def _pages(
    folder: str,
    papers: tuple[str, ...],
    what: str,
    sheet_name: str | None,
    page_size: str | None,
    each: bool,
    skip: int,
    kind_names: tuple[str, ...],
    base: str | None,
) -> tuple[Pages, dict[str, Any]]:
    """The finished pages, and what is on them. Raises ReadingError and ReadingErrors."""
    from trysquare.catalogue.label_sheets import label_sheet
    from trysquare.cli.facts import read_machine
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.machine.values import Kind
    from trysquare.publish.fastener_sheet import fastener_sheet_pdf, fasteners_of
    from trysquare.publish.labels import labels_of, labels_pdf
    from trysquare.publish.qr_code import bench_address, checked_base
    from trysquare.publish.sorting_sheet import sorting_sheet_pdf
    from trysquare.publish.sorts import labelled_sorts
    from trysquare.stock.letters import read_letters

    sheet = label_sheet(sheet_name or f"{page_size or 'a4'}-cut")
    if page_size and sheet.paper != page_size:
        raise click.UsageError(
            f"The sheet {sheet.name} is {sheet.paper}, not {page_size}; leave --page-size out."
        )
    address = checked_base(base or SCHEME)
    machine = read_machine(folder, papers)
    problems: list[ReadingError] = []
    kept = read_letters(Path(machine.folder), problems)
    if problems:
        raise ReadingErrors(problems)
    kinds = [Kind(name) for name in kind_names]
    sorts = labelled_sorts(machine, kept, kinds)
    on = sheet.paper
    facts: dict[str, Any] = {"machine": machine.name, "page_size": on}
    if what == FASTENERS:
        sorts = fasteners_of(sorts)
        pages = fastener_sheet_pdf(machine, sorts, on)
    elif what == SORTING:
        sorts = tuple(sort for sort in sorts if sort.letter)
        pages = sorting_sheet_pdf(machine, on, kept, kinds)
    else:
        labels = labels_of(sorts, each=each)
        pages = labels_pdf(machine, labels, sheet, skip=skip, base=address)
        facts |= {"sheet": sheet.name, "labels": len(labels), "skipped": skip}
    facts["sorts"] = [
        {
            "letter": sort.letter,
            "part": sort.part,
            "also": [*sort.parts[1:], *sort.also_called],
            "name": sort.name,
            "kind": str(sort.kind),
            "pieces": sort.pieces,
            "address": bench_address(address, machine.id, sort.part),
        }
        for sort in sorts
    ]
    return pages, facts


def _tell(facts: dict[str, Any]) -> None:
    page = Page()
    page.title(facts["machine"], facts["folder"])
    page.gap()
    sorts = words.count(len(facts["sorts"]), "sort")
    if facts["what"] == LABELS:
        said = f"{words.count(facts['labels'], 'label')} for {sorts} on {facts['sheet']}"
    elif facts["what"] == FASTENERS:
        said = f"{sorts} of fasteners, true to size"
    else:
        said = f"{sorts} to tell apart"
    page.line(f"{facts['out']}: {said}, {words.count(facts['pages'], 'page')}", style=STRONG)
    page.line("Print it at 100 % (“actual size”), not “fit to page”.", style=QUIET)
    page.print()
