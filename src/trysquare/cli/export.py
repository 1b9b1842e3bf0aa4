"""`trysquare export`: the machine as built up to a step, as STEP for CAD and GLB for looking at."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, UNREADABLE, NotThere, print_json, tell_problems
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.publish.given_tree import GivenUnit

STEP_ENDINGS = (".step", ".stp")
NOTHING = 1


@click.command(
    "export",
    cls=Taught,
    learns="Give the machine to a CAD program or a viewer, whole or as it stands after a step.",
    inputs=(FOLDER_INPUT,),
    examples=(
        "trysquare export demo/larch --step build/larch.step",
        "trysquare export demo/larch --glb build/larch.glb --at y-rails",
        "trysquare export demo/reed-joints --step build/reed.step --glb build/reed.glb --json",
    ),
    exits=((0, "the files are written"), (1, "nothing that is there has a shape"), *COMMON_EXITS),
)
@folder_argument
@click.option(
    "--step", "step_file", metavar="FILE",
    help="A STEP file: exact solids in mm, by unit, each sort of part once.  [default: none]",
)  # fmt: skip
@click.option(
    "--glb", "glb_file", metavar="FILE", help="A GLB file: triangles and colours, in metres.  [default: none]"
)
@click.option(
    "--at", metavar="STEP",
    help="A step's id or number: only what is there after it.  [default: the finished machine]",
)  # fmt: skip
@click.option(
    "--schema",
    type=click.Choice(("ap214", "ap242")),
    default="ap214",
    help="Which edition of STEP; older programs read ap214.  [default: ap214]",
)
@json_option
def command(
    folder: str, papers: tuple[str, ...], step_file: str | None, glb_file: str | None, at: str | None,
    schema: str, as_json: bool,
) -> int:  # fmt: skip
    """Writes one or both files."""
    from trysquare.cli.facts import read_machine
    from trysquare.ground.errors import ReadingErrors
    from trysquare.publish.given_tree import given_tree, left_out

    if step_file is None and glb_file is None:
        raise click.UsageError("Say --step FILE, --glb FILE or both.", click.get_current_context())
    _look(step_file, glb_file)
    try:
        machine = read_machine(folder, papers)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    number, present = _present(machine, at)
    whole = given_tree(machine, present)
    pieces = list(whole.all_pieces())
    facts: dict[str, Any] = {
        "folder": folder,
        "machine": machine.name,
        "after_step": machine.steps[number].id if number is not None else None,
        "pieces": len(pieces),
        "sorts": len({piece.type.id for piece in pieces}),
        "without_shape": left_out(machine, present),
        "flat_faced": [],
        "files": [],
    }
    if pieces:
        _write(facts, whole, machine.folder, step_file, glb_file, schema.upper())
    if as_json:
        print_json(facts)
    else:
        _tell(facts)
    return CLEAN if pieces else NOTHING


def _look(step_file: str | None, glb_file: str | None) -> None:
    """Whether the files can be written, before the work."""
    from trysquare.cli.files_out import look_at

    if step_file is not None:
        suffix = Path(step_file).suffix.lower()
        ending = suffix if suffix in STEP_ENDINGS else STEP_ENDINGS[0]
        look_at(Path(step_file), b"ISO-10303-21;", "STEP file", ending)
    if glb_file is not None:
        look_at(Path(glb_file), b"glTF", "GLB file", ".glb")


def _present(machine: Machine, at: str | None) -> tuple[int | None, set[str] | None]:
    """The step's place in the order, and the ids of what is there after it; None: the whole machine."""
    from trysquare.ground.errors import nearest
    from trysquare.stock.bringing import bringing

    if at is None:
        return None, None
    ids = [step.id for step in machine.steps]
    if at in ids:
        number = ids.index(at)
    elif at.isdecimal() and 0 < int(at) <= len(ids):
        number = int(at) - 1
    else:
        raise NotThere(f"There is no step '{words.one_line(at)}'. {nearest(at, ids)}")
    return number, {piece.id for entry in bringing(machine) if entry.step <= number for piece in entry.pieces}


def _write(
    facts: dict[str, Any], whole: GivenUnit, folder: str, step_file: str | None, glb_file: str | None,
    schema: str,
) -> None:  # fmt: skip
    from trysquare.cli.files_out import write

    if step_file is not None:
        from trysquare.publish.step_file import flat_faced, step_bytes

        content = step_bytes(whole, folder, schema)
        write(Path(step_file), content)
        facts["files"].append({"file": step_file, "format": f"STEP {schema}", "bytes": len(content)})
        facts["flat_faced"] = flat_faced(whole, folder)
    if glb_file is not None:
        from trysquare.publish.glb_file import glb_bytes

        content = glb_bytes(whole, folder)
        write(Path(glb_file), content)
        facts["files"].append({"file": glb_file, "format": "GLB", "bytes": len(content)})


def _tell(facts: dict[str, Any]) -> None:
    page = Page()
    after = facts["after_step"]
    page.title(f"{facts['machine']} · {f'after {after}' if after else 'finished'}", facts["folder"])
    page.gap()
    what = f"{words.count(facts['pieces'], 'piece')} of {words.count(facts['sorts'], 'sort')}"
    for file in facts["files"]:
        page.line(f"{file['file']}: {what}, {file['bytes'] / 1e6:.1f} MB", style=STRONG)
    if not facts["files"]:
        page.line("Nothing that is there has a shape. No file is written.")
    if facts["flat_faced"]:
        names = words.listed(facts["flat_faced"], 8)
        page.line(f"known as a mesh only, so flat where they are round: {names}", style=QUIET)
    if facts["without_shape"]:
        page.line(f"without a shape, left out: {words.listed(facts['without_shape'], 8)}", style=QUIET)
    page.print()
