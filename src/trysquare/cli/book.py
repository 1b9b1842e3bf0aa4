"""`trysquare book`: the build book as PDF."""

from __future__ import annotations

import gc
from pathlib import Path
from typing import Any

import click

from trysquare.cli import cache, words
from trysquare.cli.answers import CLEAN, UNREADABLE, print_json, talk, tell_problems
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option


@click.command(
    "book",
    cls=Taught,
    learns="Build beside a book of your own machine: pictures, parts, torques, readings, wires, first power.",
    inputs=(FOLDER_INPUT,),
    examples=(
        "trysquare book demo/larch --out build/larch.pdf",
        "trysquare book demo/reed-joints --page-size letter --out build/reed.pdf",
    ),
    exits=((0, "the PDF is written"), *COMMON_EXITS),
)
@folder_argument
@click.option(
    "--out", metavar="FILE", required=True, help="Where the PDF goes.  [default: none, it has to be said]"
)
@click.option(
    "--page-size",
    type=click.Choice(("a4", "letter")),
    default="a4",
    help="What it is printed on.  [default: a4]",
)
@click.option(
    "--no-pictures", is_flag=True, help="Words and tables alone.  [default: a picture of each step]"
)
@click.option(
    "--no-cache",
    is_flag=True,
    help="Draw everything anew, keep nothing.  [default: pictures are kept in .trysquare-cache]",
)
@json_option
def command(
    folder: str,
    papers: tuple[str, ...],
    out: str,
    page_size: str,
    no_pictures: bool,
    no_cache: bool,
    as_json: bool,
) -> int:
    """Computes, draws, sets and writes."""
    from trysquare.cli.files_out import look_at, write
    from trysquare.cli.labels import FONT_WORDS
    from trysquare.ground.errors import ReadingErrors

    look_at(Path(out), b"%PDF-", "PDF", ".pdf")
    gc.disable()  # one short run: what it makes is needed to the end, and looking for waste costs a tenth
    try:
        pdf, facts, fonts = _book(folder, papers, page_size, pictures=not no_pictures, use_cache=not no_cache)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    write(Path(out), pdf)
    if fonts in FONT_WORDS:
        talk(FONT_WORDS[fonts])
    facts = {"folder": folder, "out": out, "page_size": page_size, "fonts": fonts, **facts}
    if as_json:
        print_json(facts)
    else:
        _tell(facts)
    return CLEAN


def _book(
    folder: str, papers: tuple[str, ...], page_size: str, *, pictures: bool, use_cache: bool
) -> tuple[bytes, dict[str, Any], str]:
    from trysquare.cli.book_facts import keep_known, picture_store, read_known
    from trysquare.cli.true_built import sheet_of
    from trysquare.publish.book import book_pdf
    from trysquare.publish.book_pictures import pictures_of
    from trysquare.publish.part_picture import part_pictures

    known, kept = read_known(folder, papers, use_cache=use_cache, with_findings=True)
    drawn = {}
    parts = {}
    if pictures:
        store = picture_store(folder, use_cache=use_cache)
        drawn = pictures_of(known, store, cache.source_stamp())
        parts = part_pictures(known, 13.0, 9.0, store, cache.source_stamp())
        if use_cache:
            keep_known(known)  # the scenes have asked for more
    built, signed = sheet_of(known.machine)
    shown = {name: one.facts() for name, one in drawn.items()}
    pages = book_pdf(known, page_size, kept, shown, parts, built, signed)
    without = [step.id for step in known.machine.steps if step.id not in drawn]
    facts = {
        "machine": known.machine.name,
        "pages": pages.count,
        "steps": len(known.machine.steps),
        "pictures": sum(1 for name in drawn if name),
        "steps_without_picture": without if pictures else [],
        "not_in_pictures": {name: list(one.told) for name, one in drawn.items() if one.told},
        "findings": len(known.findings),
        "as_built": {name: one.verdict for name, one in built.items()},
        "signed": {one.of: one.who for one in signed},
    }
    return pages.pdf, facts, str(pages.fonts)


def _tell(facts: dict[str, Any]) -> None:
    page = Page()
    page.title(facts["machine"], facts["folder"])
    page.gap()
    said = f"{words.count(facts['steps'], 'step')}, {words.count(facts['pictures'], 'picture')}"
    page.line(f"{facts['out']}: {words.count(facts['pages'], 'page')}, {said}", style=STRONG)
    if facts["steps_without_picture"] and facts["pictures"]:
        names = words.listed(facts["steps_without_picture"], 8)
        page.line(
            f"nothing to draw in {names}: no part of theirs is there yet, or seen, or has a shape",
            style=QUIET,
        )
    for name, told in facts["not_in_pictures"].items():
        page.line(f"picture of {name or 'the machine'}: {words.listed(told, 3)}", style=QUIET)
    if facts["findings"]:
        page.line(f"{words.count(facts['findings'], 'finding')} under Open points", style=QUIET)
    page.print()
