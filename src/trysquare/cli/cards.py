"""`trysquare cards`: cards for film and phone, the parts sheet, and the lists for a description."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import cache, words
from trysquare.cli.answers import CLEAN, UNREADABLE, NotThere, print_json, tell_problems
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.machine.values import Machine, Step


@click.command(
    "cards",
    cls=Taught,
    learns="Show each step's parts, counts and tools over a film or on a phone.",
    inputs=(
        FOLDER_INPUT,
        ("STEP", "ids or numbers of steps; left out: all"),
    ),
    examples=(
        "trysquare cards demo/larch base-nuts y-rails --out build/cards",
        "trysquare cards demo/reed-joints --shape tall --out build/reed-cards",
    ),
    exits=((0, "the cards are written"), *COMMON_EXITS),
)
@folder_argument
@click.argument("steps", metavar="[STEP]…", nargs=-1)
@click.option(
    "--out", metavar="FOLDER", required=True, help="Where the files go.  [default: none, it has to be said]"
)
@click.option(
    "--shape",
    type=click.Choice(("wide", "tall", "both")),
    default="both",
    help="1920 × 1080, 1080 × 1920, or both.  [default: both]",
)
@click.option(
    "--page-size",
    type=click.Choice(("a4", "letter")),
    default="a4",
    help="Of the parts sheet.  [default: a4]",
)
@json_option
def command(
    folder: str,
    papers: tuple[str, ...],
    steps: tuple[str, ...],
    out: str,
    shape: str,
    page_size: str,
    as_json: bool,
) -> int:
    """Draws and writes all files."""
    from trysquare.cli.book_facts import picture_store, read_known
    from trysquare.cli.files_out import look_at_folder, write
    from trysquare.ground.errors import ReadingErrors
    from trysquare.publish.cards import SHAPES_PX, card, parts_sheet_pdf, parts_text
    from trysquare.publish.part_picture import part_pictures
    from trysquare.publish.picture_png import png_of

    place = Path(out)
    if place.exists() and not place.is_dir():
        raise NotThere(f"{words.one_line(out)} is no folder. Name a folder for the cards.")
    look_at_folder(place)
    try:
        known, _ = read_known(folder, papers, use_cache=True, with_findings=False)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    chosen = _chosen(known.machine, steps)
    pictures = part_pictures(known, 26.0, 20.0, picture_store(folder, use_cache=True), cache.source_stamp())
    files: list[str] = []
    left_out: dict[str, list[str]] = {}
    for step in chosen:
        for name in SHAPES_PX if shape == "both" else (shape,):
            one = card(known, step, name, pictures)
            stem = f"{known.number_of[step.id]:02d}-{_safe(step.id)}-{name}"
            write(place / f"{stem}.svg", one.svg.encode())
            write(
                place / f"{stem}.png", png_of(one.svg, one.width_px, one.height_px, one.width_px, clear=True)
            )
            files += [f"{stem}.svg", f"{stem}.png"]
            if one.left_out:
                left_out[stem] = list(one.left_out)
    if not steps:
        write(place / "parts.pdf", parts_sheet_pdf(known, page_size, pictures).pdf)
        write(place / "parts.txt", parts_text(known).encode())
        files += ["parts.pdf", "parts.txt"]
    facts = {
        "folder": folder, "machine": known.machine.name, "out": out, "steps": [step.id for step in chosen],
        "files": files, "left_out": left_out,
    }  # fmt: skip
    if as_json:
        print_json(facts)
    else:
        _tell(facts)
    return CLEAN


def _chosen(machine: Machine, names: tuple[str, ...]) -> list[Step]:
    from trysquare.ground.errors import nearest

    ids = [step.id for step in machine.steps]
    found = []
    for name in names or ids:
        if name in ids:
            found.append(machine.steps[ids.index(name)])
        elif name.isdecimal() and 0 < int(name) <= len(ids):
            found.append(machine.steps[int(name) - 1])
        else:
            raise NotThere(f"There is no step '{words.one_line(name)}'. {nearest(name, ids)}")
    return found


def _safe(name: str) -> str:
    """A step's id as part of a file's name on any system."""
    return re.sub(r"[^A-Za-z0-9._-]", "_", name)[:60] or "step"


def _tell(facts: dict[str, Any]) -> None:
    page = Page()
    page.title(facts["machine"], facts["folder"])
    page.gap()
    files, steps = words.count(len(facts["files"]), "file"), words.count(len(facts["steps"]), "step")
    page.line(
        f"{facts['out']}: {files} for {steps}",
        style=STRONG,
    )
    for name, parts in facts["left_out"].items():
        page.line(f"{name} has no room for {words.listed(parts, 4)}", style=QUIET)
    page.print()
