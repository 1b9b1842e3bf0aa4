"""`trysquare import`: a parts list or a CAD file into a machine folder; the file's kind decides."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from trysquare.cli import words
from trysquare.cli.answers import UNREADABLE, NotThere, tell_problems
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option

_CAD_ENDINGS = (".step", ".stp", ".p21", ".3mf", ".stl")


@click.command(
    "import",
    cls=Taught,
    learns="Bring in what you have: a parts list, or an assembly from a CAD program.",
    inputs=(
        (
            "FILE",
            (
                "a parts list: CSV, TSV, XLSX, ODS or XLS with a name and a number in each row; or an "
                "assembly: STEP, 3MF or STL"
            ),
        ),
        ("FOLDER", "where the machine is to be, or is: a new folder, or a machine folder"),
        ("names.toml", "which part a name means; --confirm and the answers at a terminal write it"),
        ("columns.toml", "which column of a list is what; --columns writes it"),
        ("imports.toml", "what you said of an assembly's unsure parts; holds for its next revision"),
    ),
    examples=(
        "trysquare import demo/reed/list.csv build/reed-list --no-questions",
        "trysquare import demo/reed/list.csv build/reed-list --look",
        "trysquare import build/reed.step build/reed-step --no-questions",
    ),
    exits=(
        (0, "every row, or every part and screw, is understood"),
        (1, "something is asked or to be looked at, or texts of yours would give way"),
        *COMMON_EXITS,
    ),
)
@click.argument("file", metavar="FILE")
@click.argument("folder", metavar="FOLDER")
@click.option(
    "--columns",
    metavar="SORT=COLUMN,…",
    multiple=True,
    help="List: which column is the name, pieces, packs, pack_size, standard, size, length, material or "
    "note; a heading, a letter or a number (name=B where two could be the names).  "
    "[default: found by headings, then by what stands in them]",
)
@click.option(
    "--sheet",
    metavar="NAME",
    default="",
    help="List: this sheet alone, even if hidden.  [default: all shown with a list]",
)
@click.option(
    "--confirm",
    "confirms",
    metavar="NAME=PART",
    multiple=True,
    help="List: what a name means; NAME=own an own part, NAME= no part of this machine, NAME alone takes "
    "the first choice; may be given several times.  [default: nothing]",
)
@click.option(
    "--pieces",
    metavar="NAME=NUMBER",
    multiple=True,
    help="List: how many, where the row does not say; may be given several times.  [default: nothing]",
)
@click.option(
    "--yes",
    is_flag=True,
    help="Assembly: take what is likeliest, and let texts of yours give way after a backup.  [default: asked "
    "at a terminal, else they stay]",
)
@click.option(
    "--no-proposals",
    is_flag=True,
    help="Assembly: leave empty holes empty.  [default: a standard screw where holes stand in line]",
)
@click.option(
    "--name",
    metavar="NAME",
    default="",
    help="What a new machine is called.  [default: list: as the folder; assembly: as in the file]",
)
@click.option(
    "--built",
    metavar="STEP",
    default="",
    help="The last step that is done; a new revision then says what to undo.  [default: none]",
)
@click.option("--look", is_flag=True, help="Write nothing.  [default: written]")
@click.option("--no-questions", is_flag=True, help="Ask nothing.  [default: asked at a terminal]")
@click.option("--all", "tell_all", is_flag=True, help="Long lists whole.  [default: their first rows]")
@json_option
def command(
    file: str,
    folder: str,
    columns: tuple[str, ...],
    sheet: str,
    confirms: tuple[str, ...],
    pieces: tuple[str, ...],
    yes: bool,
    no_proposals: bool,
    name: str,
    built: str,
    look: bool,
    no_questions: bool,
    tell_all: bool,
    as_json: bool,
) -> int:
    """Chooses by the file's kind."""
    from trysquare.ground.errors import ReadingErrors
    from trysquare.intake.list_tables import ENDINGS

    path = Path(file)
    if path.is_dir():
        raise NotThere(f"{words.one_line(file)} is a folder. Name a parts list or an assembly.")
    if not path.exists():
        raise NotThere(f"{words.one_line(file)} is not there. Check its name and place.")
    asks = not no_questions and not as_json and sys.stdin.isatty() and sys.stderr.isatty()
    ending = path.suffix.casefold()
    try:
        if ending in _CAD_ENDINGS:
            from trysquare.cli.import_cad import run as run_cad

            return run_cad(
                file,
                folder,
                asks=asks and not yes,
                look=look,
                tell_all=tell_all,
                as_json=as_json,
                yes=yes,
                propose=not no_proposals,
                name=name,
                built=built,
            )
        if ending not in ENDINGS:
            raise NotThere(
                f"{words.one_line(file)}: an ending nothing reads. Parts lists end in {', '.join(ENDINGS)}, "
                f"assemblies in {', '.join(_CAD_ENDINGS)}."
            )
        from trysquare.cli.import_list import Asked, run

        asked = Asked(columns=columns, sheet=sheet, confirms=confirms, pieces=pieces, name=name)
        return run(file, folder, asked, asks=asks, look=look, tell_all=tell_all, as_json=as_json, built=built)
    except ReadingErrors as errors:
        tell_problems(errors, file, as_json=as_json)
        return UNREADABLE
