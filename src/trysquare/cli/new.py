"""`trysquare new`: a first machine folder, with a frame that checks."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, NotThere, print_json
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option

_DEFAULTS = {"width": 300.0, "depth": 300.0, "height": 300.0}


@click.command(
    "new",
    cls=Taught,
    learns="Begin your own machine: a folder with a box frame that checks, to go on from.",
    inputs=(
        ("FOLDER", "where it goes: a new folder, or an empty one"),
        ("", "what no option says is asked at the terminal; elsewhere the defaults hold"),
    ),
    examples=(
        "trysquare new build/my-machine --width-mm 420 --depth-mm 420 --height-mm 480",
        'trysquare new build/my-slider --name "My slider" --profile 20x20 --no-questions',
    ),
    exits=((0, "the folder is there and has been checked"), *COMMON_EXITS),
)
@click.argument("folder", metavar="FOLDER")
@click.option("--name", metavar="NAME", help="What the machine is called.  [default: the folder's name]")
@click.option(
    "--width-mm", "width", metavar="MM", type=float, help="Outer size from left to right.  [default: 300]"
)
@click.option(
    "--depth-mm", "depth", metavar="MM", type=float, help="Outer size from front to back.  [default: 300]"
)
@click.option(
    "--height-mm", "height", metavar="MM", type=float, help="Outer size from the table up.  [default: 300]"
)
@click.option(
    "--profile",
    type=click.Choice(["15x15", "20x20", "30x30", "40x40"]),
    help="The T-slot members it is made of, by their side in mm.  [default: 20x20]",
)
@click.option("--no-questions", is_flag=True, help="Ask nothing.  [default: asked at a terminal]")
@json_option
def command(
    folder: str,
    name: str | None,
    profile: str | None,
    no_questions: bool,
    as_json: bool,
    **sizes: float | None,
) -> int:
    """Asks, writes, checks."""
    from trysquare.ground.errors import ReadingError
    from trysquare.machine.first_folder import PROFILES, FirstFrame, first_folder

    place = Path(folder)
    _look_at(place)
    asks = not no_questions and not as_json and sys.stdin.isatty() and sys.stdout.isatty()
    name = _name(name, place.resolve().name, asks=asks)
    said = {what: _size(what, value, asks=asks) for what, value in sizes.items()}
    if profile is None:
        choice = click.Choice(list(PROFILES))
        profile = click.prompt("Members", type=choice, default="20x20") if asks else "20x20"
    try:
        frame = FirstFrame(
            name=name,
            width_mm=said["width"],
            depth_mm=said["depth"],
            height_mm=said["height"],
            profile=PROFILES[profile],
        )
    except ReadingError as problem:
        raise click.UsageError(
            f"{problem.where.file} read {problem.read!r}, expected {problem.expected}. {problem.remedy}"
        ) from problem
    files = first_folder(frame)
    _write(place, files)
    facts = {"folder": folder, "name": name, "files": sorted(files), **_checked(folder)}
    if as_json:
        print_json(facts)
    else:
        _tell(facts)
    return CLEAN


def _look_at(place: Path) -> None:
    from trysquare.cli.files_out import look_at_folder

    if place.exists() and not place.is_dir():
        raise NotThere(f"{words.one_line(place)} is a file. Name a new folder.")
    if place.is_dir() and any(place.iterdir()):
        raise NotThere(
            f"{words.one_line(place)} has something in it; nothing was written. Name a new folder."
        )
    look_at_folder(place)


def _name(said: str | None, default: str, *, asks: bool) -> str:
    if said is None and asks:
        return str(click.prompt("Name of the machine", default=default))
    return default if said is None else said


def _size(what: str, said: float | None, *, asks: bool) -> float:
    if said is None and asks:
        question = f"Outer {what} in mm"
        return float(click.prompt(question, type=float, default=_DEFAULTS[what]))
    return _DEFAULTS[what] if said is None else said


def _write(place: Path, files: dict[str, str]) -> None:
    from trysquare.cli.files_out import write

    for name, text in files.items():
        write(place / name, text.encode())


def _checked(folder: str) -> dict[str, Any]:
    """What the checks say of the new folder; they say nothing, or this very program is at fault."""
    from trysquare.fit.check import check_fit
    from trysquare.machine.load import load_machine
    from trysquare.sequence.check import check_order

    machine = load_machine(Path(folder), [])
    findings = [*check_fit(machine), *check_order(machine)]
    return {
        "parts": len(machine.placed),
        "steps": len(machine.steps),
        "findings": sorted({finding.code for finding in findings}),
    }


def _tell(facts: dict[str, Any]) -> None:
    from trysquare.cli.page import Page

    page = Page()
    page.title(facts["name"], facts["folder"])
    page.gap()
    found = "nothing to find fault with" if not facts["findings"] else ", ".join(facts["findings"])
    page.line(f"{facts['parts']} parts, {facts['steps']} steps; checked: {found}.")
    page.pairs((("files", ", ".join(facts["files"])),))
    page.gap()
    shown = words.quoted(facts["folder"])
    page.line("Go on so:")
    page.pairs(
        (
            ("see it", f"trysquare bench {shown}"),
            ("parts", f"trysquare need {shown}"),
            ("change", "edit the files; each key is explained in docs/format.md"),
            ("judge", f"trysquare check {shown}"),
        )
    )
    page.print()
